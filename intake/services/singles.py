"""Pieces that stand in no family: most of an archive. Like ones together, so that many are ruled on in one go."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Stamps
from intake.services.dossiers import dossiers_of
from intake.services.home import Home
from intake.services.orient import orientations
from intake.services.piecework import piece_seen
from intake.services.queueing import is_of_year
from intake.services.shown import MemberView, member_view
from intake.services.whose import Whose
from intake.store import desk, facts
from intake.store.facts import PieceFact


@dataclass(frozen=True, slots=True)
class SingleSieve:
    """What is asked for; empty says nothing. ``done``: those that a person had nothing to add to."""

    done: bool = False
    box: str = ""
    kind: str = ""
    format: str = ""
    country: str = ""
    year: int | None = None


@dataclass(frozen=True, slots=True)
class Single:
    """One piece as the page shows it; ``seen`` changes whenever what a ruling on it rests on does."""

    member: MemberView
    seen: str


@dataclass(frozen=True, slots=True)
class SinglesPage:
    """A page of them, by kind, format, box and piece. ``choices`` are what the sieves may say, each with its number."""

    rows: tuple[Single, ...]
    found: int
    open: int
    done: int
    choices: dict[str, list[tuple[str, int]]]


def singles_page(
    home: Home, config: Config, sieve: SingleSieve, start: int, count: int, whose: Whose | None = None
) -> SinglesPage:
    """The pieces in no family that pass the sieve, from ``start`` on; backs go with their fronts and are left out."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection) or Stamps({}, "", "")
        everyone = [f for f in facts.facts_of_singles(connection) if config.kinds.kinds[f.kind].matched]
        if whose is not None:
            everyone = [f for f in everyone if whose.may_show(f.consignment)]
        shown = [f for f in everyone if f.done == sieve.done]
        passing = sorted((f for f in shown if _passes(f, sieve)), key=_like)
        keys = [f.key for f in passing[start : start + count]]
        have = dossiers_of(connection, stamps, keys)
    turned = orientations(have, [])
    rows = [Single(member_view(have[k], turned[k], 0.0, ""), piece_seen(have[k])) for k in keys if k in have]
    done = sum(f.done for f in everyone)
    return SinglesPage(tuple(rows), len(passing), len(everyone) - done, done, _choices(shown))


def open_singles(home: Home, config: Config, whose: Whose | None = None) -> int:
    """How many pieces in no family wait for a word."""
    with home.database.read() as connection:
        everyone = facts.facts_of_singles(connection)
    shown = [f for f in everyone if config.kinds.kinds[f.kind].matched and not f.done]
    return sum(whose is None or whose.may_show(f.consignment) for f in shown)


def _like(f: PieceFact) -> tuple[object, ...]:
    return (f.kind, f.format, f.consignment, f.box, f.piece, f.key)


def _passes(f: PieceFact, sieve: SingleSieve) -> bool:
    asked_for = (
        (sieve.box, (f"{f.consignment} / {f.box}",)),
        (sieve.kind, (f.kind,)),
        (sieve.format, (f.format,)),
        (sieve.country, f.countries),
    )
    return all(not wanted or wanted in there for wanted, there in asked_for) and is_of_year(
        [(f.year_from, f.year_to)] if f.year_from or f.year_to else [], sieve.year
    )


def _choices(shown: Iterable[PieceFact]) -> dict[str, list[tuple[str, int]]]:
    counted: dict[str, Counter[str]] = {n: Counter() for n in ("box", "kind", "format", "country")}
    for f in shown:
        counted["box"][f"{f.consignment} / {f.box}"] += 1
        counted["kind"][f.kind] += 1
        if f.format:
            counted["format"][f.format] += 1
        counted["country"].update(f.countries)
    return {name: sorted(found.items()) for name, found in counted.items()}
