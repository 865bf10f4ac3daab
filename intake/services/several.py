"""What is several without being doubled: numbered sets, and sheets that were scanned or cut in sections."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from intake.config.load import Config
from intake.kin import Match, NumberedSet, Section
from intake.model import Evidence, Line, PartKey
from intake.services.dossiers import Dossier
from intake.stages.section import section
from intake.stages.sets import Caption, Card, sets

# Sections of one sheet that names tell; of more pictures under one name and side only neighbours are told.
_MOST_NAMED = 12


def numbered_sets(known: Iterable[Dossier], config: Config) -> list[NumberedSet]:
    """Numbered sets among the fronts; a piece is in a set with its first scan. Without a size no card is told."""
    cards: dict[tuple[str, str, str], Card] = {}
    for d in sorted(known, key=lambda d: (d.scan.consignment, d.scan.path, d.key)):
        if d.kind in config.sets.kinds and d.scan.side not in ("verso", "detail") and (card := _card(d, config)):
            cards.setdefault((d.scan.consignment, d.scan.box, d.piece), card)
    return sets({c.key: c for c in cards.values()}.values(), config.sets)


def weighed(
    matches: Iterable[Match], numbered: Iterable[NumberedSet], divided: Iterable[Section], config: Config
) -> list[Match]:
    """The matches as grouping weighs them, with what sets and sections say of their pairs as further evidence.

    Between two of a set, another number speaks against one design; a strip that is shared at an edge of each for it.
    """
    of = places(numbered)
    strips = {(s.a, s.b) for s in divided if s.shared_a}
    other = Evidence("number", "they bear different numbers of one set", config.sets.other_number)
    strip = Evidence("strip", "they share a strip at one edge of each, as sections do", config.sets.strip)
    made = []
    for m in matches:
        if m.relation != "shared_element" and differ(of.get(m.a), of.get(m.b)):
            m = replace(m, relation="same_design", evidence=(*m.evidence, other))
        elif (m.a, m.b) in strips:
            m = replace(m, evidence=(*m.evidence, strip))
        made.append(m)
    return made


def places(numbered: Iterable[NumberedSet]) -> dict[PartKey, tuple[int, int]]:
    """Part -> which set it is of, and its number there."""
    return {key: (n, number) for n, s in enumerate(numbered) for key, number in s.numbers}


def differ(one: tuple[int, int] | None, other: tuple[int, int] | None) -> bool:
    """Do two (set, number) stand in one set under different numbers?"""
    return one is not None and other is not None and one[0] == other[0] and one[1] != other[1]


def sections(known: Sequence[Dossier], matches: Iterable[Match], config: Config) -> list[Section]:
    """Pairs of pictures that show a sheet in sections: by their overlap, and by their names where those say so."""
    by_key: dict[PartKey, Dossier] = {}
    for d in known:
        by_key.setdefault(d.key, d)
    found = {pair: Section(*pair, 0.0, 0.0) for pair in _named(by_key)}
    for m in matches:
        a, b = by_key.get(m.a), by_key.get(m.b)
        if a and b and a.rendered and b.rendered and a.kind == b.kind:
            told = section(m, a.rendered.box, b.rendered.box, config.sets)
            if told is not None:
                found[told.a, told.b] = told
    return [found[pair] for pair in sorted(found)]


def _named(by_key: Mapping[PartKey, Dossier]) -> list[tuple[PartKey, PartKey]]:
    """Pictures between which the names divide one side of a piece (``p01``, ``p02``)."""
    sides: dict[tuple[str, str, str, str], list[PartKey]] = {}
    for key in sorted(by_key):
        scan = by_key[key].scan
        if scan.sequence and scan.side != "detail":
            sides.setdefault((scan.consignment, scan.box, by_key[key].piece, scan.side), []).append(key)
    pairs = []
    for keys in sides.values():
        some = sorted(keys, key=lambda k: (by_key[k].scan.sequence, k))[:_MOST_NAMED]
        pairs += [(min(p), max(p)) for p in combinations(some, 2) if len({by_key[k].scan.sequence for k in p}) > 1]
    return pairs


def _card(d: Dossier, config: Config) -> Card | None:
    if d.measured is None or d.measured.width_mm is None or d.measured.height_mm is None:
        return None
    if d.reading is None or d.rendered is None or d.reading.mirrored:
        return None
    marks = {m.text for m in d.parsed.marks} if d.parsed else set()
    sure = [x for x in d.reading.lines if x.confidence >= config.campaign.least_confidence and x.text not in marks]
    captions = tuple(Caption(x.text, *_place(x, d, d.reading.rotation)) for x in sure)
    return Card(d.key, d.scan.consignment, d.kind, d.measured.width_mm, d.measured.height_mm, captions)


def _place(line: Line, d: Dossier, rotation: int) -> tuple[float, float]:
    """The middle of a line as shares of the picture turned upright."""
    assert d.rendered is not None
    box, own = d.rendered.box, line.box
    x = (own.left + own.width / 2 - box.left) / box.width
    y = (own.top + own.height / 2 - box.top) / box.height
    return {0: (x, y), 90: (1 - y, x), 180: (1 - x, 1 - y), 270: (y, 1 - x)}[rotation]


def number_words(numbered: NumberedSet, number: int) -> str:
    """What is said of one card of a set."""
    numbers = sorted({n for _, n in numbered.numbers})
    named = ", ".join(map(str, numbers[:_MOST_NAMED])) + (", ..." if len(numbers) > _MOST_NAMED else "")
    return (
        f"seems to be number {number} of a set: {len(numbers)} cards of one size under one caption are here, numbers "
        f"{named}. A set, not duplicates."
    )


def section_words(shared: float, other: str) -> str:
    """What is said of one section; ``shared`` is the strip's share of its own picture, 0 where names alone tell it."""
    how = (
        f"shares a strip of {shared:.0%} at one edge with {other}"
        if shared
        else f"is by its name the same side of the piece as {other}"
    )
    return f"{how}: two sections of one sheet, not two copies."
