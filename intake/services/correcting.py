"""Rulings on readings: one, or equal ones in one go. A row each, all in one transaction; what changed is left alone."""

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, get_args

from intake.config.load import Config
from intake.config.patterns import MarkKind
from intake.kin import Verb
from intake.model import Box, Line, PartKey
from intake.ocr.text import clean
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home, now
from intake.services.ledger import names_of, piece_names
from intake.services.readings import VERBS, RuledMark, is_same_place, kinds_of, seen_of
from intake.services.review import RulingRefused, named, one_at_a_time
from intake.services.ruled import follow
from intake.services.said import PAST, ago
from intake.store import decisions, desk

LINE = "line"  # stands for the kind where a person reads a line that gave no mark
KINDS: tuple[str, ...] = get_args(MarkKind)
MOST_AT_ONCE = 24
LONGEST_READING = 300


class AskedReading(NamedTuple):
    """A reading as a page showed it: its part, kind (or LINE) and place, and the digest of all that was shown."""

    key: PartKey
    kind: str
    box: Box
    seen: str


@dataclass(frozen=True, slots=True)
class RuledOn:
    """The rulings made, by number, and the parts of the readings that were left, as they had changed meanwhile."""

    numbers: tuple[int, ...]
    changed: tuple[PartKey, ...]


def rule_on_readings(
    home: Home, config: Config, who: str, verb: Verb, asked: Sequence[AskedReading], text: str = "", kind: str = ""
) -> RuledOn:
    """Accept, reject, or put ``text`` (as a mark of ``kind``, where it is another one) for each of these readings.

    Putting what is there already accepts it. Raises RulingRefused, and writes nothing, when the ruling makes no sense
    or when every reading has changed since it was shown.
    """
    who, asked = named(who), list(dict.fromkeys(asked))
    kind = kind if verb == "correct_reading" else ""
    text = _checked(verb, asked, text, kind)
    with one_at_a_time, home.database.write() as connection:
        stamps = desk.shown_stamps(connection)
        have = dossiers_of(connection, stamps, {a.key for a in asked}) if stamps else {}
        shown = {a: _shown(have.get(a.key), a, text, kind) for a in asked}
        rows = [(a.key, what) for a, what in shown.items() if what is not None]
        batch = {"batch": secrets.token_hex(8)} if len(rows) > 1 else {}
        numbers = []
        for key, what in rows:
            stands = what.pop("stands")
            is_so = verb == "correct_reading" and (what["text"], what["as"]) == (stands, what["kind"])
            made: Verb = "accept_reading" if is_so else verb
            numbers.append(decisions.add_decision(connection, now(), who, made, [key], what | batch))
        if rows:
            follow(connection, config, sorted({key for key, _ in rows}))
    changed = tuple(a.key for a, what in shown.items() if what is None)
    if not numbers:
        raise RulingRefused(f"Nothing was written. {left_words(home, changed)} Look again, then rule.")
    return RuledOn(tuple(numbers), changed)


def left_words(home: Home, changed: Sequence[PartKey]) -> str:
    """On which pieces readings were left alone, and who ruled on one of them last."""
    with home.database.read() as connection:
        names = ", ".join(dict.fromkeys(piece_names(names_of(connection, {k.digest for k in changed}), changed)))
        made = decisions.decisions_on_readings(connection, VERBS, {k.digest for k in changed})
    last = made[-1] if made else None
    by = f" The last ruling there: {last.who} {PAST[last.verb]} ({ago(last.made_at)})." if last else ""
    return f"Read or ruled on anew since the page was shown: {names}.{by}"


def line_seen(d: Dossier, line: Line) -> str:
    """What a page showed of a line: the line, and the readings that stand on it."""
    return seen_of((line, [r for r in d.readings if is_same_place(r.mark.box, line.box)]))


def _checked(verb: Verb, asked: Sequence[AskedReading], text: str, kind: str) -> str:
    if verb not in VERBS:
        raise RulingRefused("No such ruling on a reading.")
    if not asked:
        raise RulingRefused("Tick at least one reading, then rule.")
    if len(asked) > MOST_AT_ONCE:
        raise RulingRefused(f"At most {MOST_AT_ONCE} readings are ruled on in one go.")
    if kind and kind not in KINDS:
        raise RulingRefused("No such kind of mark.")
    if any(a.kind == LINE for a in asked) and (verb != "correct_reading" or not kind):
        raise RulingRefused("A line that gave no mark takes a kind of mark and a text.")
    if verb != "correct_reading":
        return ""
    if len(text) > LONGEST_READING or not (text := clean(text)):
        raise RulingRefused(f"A reading has 1 to {LONGEST_READING} characters.")
    return text


def _shown(d: Dossier | None, asked: AskedReading, text: str, kind: str) -> dict[str, Any] | None:
    """What the decision keeps of the reading and of what was put; None when the reading is not as it was shown."""
    if d is None:
        return None
    if asked.kind == LINE:
        lines = d.reading.lines if d.reading else ()
        line = next((x for x in lines if x.box == asked.box and line_seen(d, x) == asked.seen), None)
        return None if line is None else _of_line(line, text, kind)
    ruled = next((r for r in d.readings if (r.mark.kind, r.mark.box, r.seen) == asked[1:]), None)
    return None if ruled is None else _of_reading(ruled, text, kind)


def _of_line(line: Line, text: str, kind: str) -> dict[str, Any]:
    return {
        "kind": kind,
        "as": kind,
        "kinds": [kind],
        "place": list(line.box),
        "text": text,
        "read": "",
        "stands": "",
        "line": line.text,
        "country": "",
        "readers": [[r.reader, r.text[:LONGEST_READING], r.confidence, r.least] for r in line.readers],
    }


def _of_reading(ruled: RuledMark, text: str, kind: str) -> dict[str, Any]:
    mark = ruled.mark
    kinds = {mark.kind, kind or mark.kind} | (kinds_of(ruled.by) if ruled.by else set())
    return {
        "kind": mark.kind,
        "as": kind or mark.kind,
        "kinds": sorted(kinds),
        "place": list(mark.box),
        "text": text or mark.value,
        "read": ruled.read,
        "stands": mark.value,
        "line": mark.text,
        "country": mark.country,
        "readers": [[r.reader, r.text[:LONGEST_READING], r.confidence, r.least] for r in mark.readers],
    }
