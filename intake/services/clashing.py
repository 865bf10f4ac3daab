"""What of a piece may clash with the year that it claims itself, gathered for the stage that says so."""

import re
from collections.abc import Sequence

from intake.config.load import Config
from intake.model import Mark
from intake.services.dossiers import Dossier
from intake.stages.clash import Looks

_YEAR = re.compile(r"(1[89]|20)\d\d")


def looks_of(d: Dossier, config: Config) -> Looks:
    """What of a piece may clash with the year that it claims."""
    marks = d.parsed.marks if d.parsed else ()
    on_strip = tuple(m for m in marks if d.sniped and d.sniped.bears(m.box))
    m = d.measured
    names = (m.candidates or ((m.format,) if m.format else ())) if m and m.format_fit in ("fits", "off-size") else ()
    return Looks(
        marks,
        _formats(names, marks, config),
        m.format_fit if m else "",
        bool(d.screened and d.screened.tone == "rescreened"),
        bool(d.folded and any(line.printed for line in d.folded.lines)),
        on_strip,
    )


def _formats(names: Sequence[str], marks: Sequence[Mark], config: Config) -> tuple[tuple[str, int | None], ...]:
    """What the formats that fit are called and from which year each is usual; those of the one country that the marks
    name, where they name one that has any: 27 by 40 inches is newer on US sheets alone."""
    fitting = [f for f in config.formats if f.id in names]
    named = {m.country for m in marks if m.accepted != "no" and m.country}
    own = [f for f in fitting if {f.country} == named]
    made = []
    for f in own or fitting:
        found = _YEAR.search(f.from_year)
        made.append((f"{f.country} {f.name}, {f.nominal}", int(found.group()) if found else None))
    return tuple(made)
