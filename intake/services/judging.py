"""What the pieces of a family tell of the order in which they were made, and what speaks against their own dates."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Mark, PartKey
from intake.services.dates import PieceDates, piece_dates
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.shown import MemberView
from intake.stages.clash import Clash, Looks, clashes
from intake.stages.order import Before, Made, order
from intake.stages.very_object import VeryObject, very_object
from intake.store import desk, differences, relations

_YEAR = re.compile(r"(1[89]|20)\d\d")


@dataclass(frozen=True, slots=True)
class Judged:
    """Of a family: pairs of which something tells the order, signs on single pieces, and what may be said of artwork
    and film of it. Members stand for their keys."""

    orders: tuple[tuple[MemberView, MemberView, Before], ...]
    signs: tuple[tuple[MemberView, tuple[Clash, ...]], ...]
    objects: tuple[tuple[MemberView, MemberView, VeryObject], ...]


def judged(home: Home, config: Config, members: Sequence[MemberView]) -> Judged:
    """Everything that may be shown of these members."""
    shown = {m.key: m for m in members if not m.withheld}
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            return Judged((), (), ())
        have = dossiers_of(connection, stamps, shown)
        reports = differences.differences_among(connection, shown.keys())
        dated = piece_dates(have.values(), relations.overlays(connection), config)
    dates = {d.key: one for one in dated for d in one.scans}
    made = {key: _made(shown[key], d, dates.get(key)) for key, d in have.items() if d.scan.side != "verso"}
    orders = order(made, reports, config.order)
    signs = [(shown[key], tuple(clashes(looks_of(d, config), config.clash))) for key, d in have.items()]
    objects = [
        (shown[r.a], shown[r.b], said)
        for r in reports
        if not r.why_not and (said := very_object(shown[r.a].kind, shown[r.b].kind, r)) is not None
    ]
    return Judged(
        tuple((shown[b.earlier], shown[b.later], b) for b in orders),
        tuple((m, found) for m, found in signs if found),
        tuple(objects),
    )


def by_making(members: Sequence[MemberView], told: Judged) -> list[MemberView]:
    """The members, each after all that were surely made before it; else in the order that they had."""
    before: dict[PartKey, set[PartKey]] = {}
    for earlier, later, b in told.orders:
        if b.sure:
            before.setdefault(later.key, set()).add(earlier.key)
    left, made = list(members), []
    while left:
        waiting = {m.key for m in left}
        first = next((m for m in left if not before.get(m.key, set()) & waiting), left[0])
        left.remove(first)
        made.append(first)
    return made


def _made(member: MemberView, d: Dossier, one: PieceDates | None) -> Made:
    lower = one.dated.not_before if one else None
    upper = one.dated.until if one else None
    return Made(
        member.place,
        d.kind,
        d.screened.tone if d.screened else "",
        lower.year if lower else None,
        bool(lower and lower.firm and not lower.doubtful),
        upper.year if upper else None,
    )


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
