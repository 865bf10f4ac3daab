"""How many copies of one printing a design's pieces are, and which is the best preserved as far as people said.

Two pieces are of one printing unless something tells them apart: kind, format, or a kind of mark of which they bear no
value in common. A sheet that may be one scanned twice is counted so that both numbers are seen.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

# What tells printings apart where both of two pieces bear it. A film's own marks (copyright) do not.
_TELLING = ("certificate", "printer", "release_code", "deposit", "style", "origin", "market_word")
Piece = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Copy:
    """One piece: its kind, format ("" where not told), telling marks (kind -> values), its grade as (scale, how many
    better grades the scale has, its name), worn places that people confirmed or put, and those merely suggested (the
    sum of their certainties)."""

    piece: Piece
    kind: str
    format: str = ""
    marks: Mapping[str, frozenset[str]] | None = None
    grade: tuple[str, int, str] | None = None
    confirmed: int = 0
    suggested: float = 0.0
    looked: bool = False


@dataclass(frozen=True, slots=True)
class Printing:
    """Copies of one printing, as far as it is told. ``least`` is how many there are if every pair that may be one sheet
    scanned twice is one; ``best`` is the best preserved, None where nothing tells, and ``why`` says what it rests on.
    """

    copies: tuple[Copy, ...]
    least: int
    best: Piece | None
    why: str

    @property
    def marked(self) -> tuple[tuple[str, str], ...]:
        """(kind, value) of the marks that tell it from others."""
        found = {(k, v) for c in self.copies for k, values in (c.marks or {}).items() if k in _TELLING for v in values}
        return tuple(sorted(found))


def printings(
    copies: Iterable[Copy], one_sheet: Collection[frozenset[Piece]], kinds: Collection[str]
) -> list[Printing]:
    """The printings among pieces of these ``kinds``, the one with most copies first. ``one_sheet``: pairs of pieces
    that may be one sheet scanned twice."""
    groups: list[list[Copy]] = []
    for copy in sorted((c for c in copies if c.kind in kinds), key=lambda c: (-_told(c), c.piece)):
        home = next((g for g in groups if all(_may_be_one(copy, other) for other in g)), None)
        if home is None:
            groups.append([copy])
        else:
            home.append(copy)
    made = [_printing(sorted(g, key=lambda c: c.piece), one_sheet) for g in groups]
    return sorted(made, key=lambda p: (-len(p.copies), p.copies[0].piece))


def _told(copy: Copy) -> int:
    return len(copy.marks or {}) + bool(copy.format)


def _may_be_one(a: Copy, b: Copy) -> bool:
    if a.kind != b.kind or (a.format and b.format and a.format != b.format):
        return False
    one, other = a.marks or {}, b.marks or {}
    return all(one[k] & other[k] for k in _TELLING if one.get(k) and other.get(k))


def _printing(copies: Sequence[Copy], one_sheet: Collection[frozenset[Piece]]) -> Printing:
    sheets = {c.piece: c.piece for c in copies}

    def head(piece: Piece) -> Piece:
        while sheets[piece] != piece:
            piece = sheets[piece]
        return piece

    for pair in sorted(tuple(sorted(p)) for p in one_sheet if len(p) == 2 and p <= sheets.keys()):
        sheets[head(pair[0])] = head(pair[1])
    best, why = _best(copies) if len(copies) > 1 else (None, "")
    return Printing(tuple(copies), len({head(p) for p in sheets}), best, why)


def _best(copies: Sequence[Copy]) -> tuple[Piece | None, str]:
    """By grades where two or more were graded on one scale, else by places stated, else by those suggested."""
    scales = sorted({c.grade[0] for c in copies if c.grade})
    of_scale = {s: [c for c in copies if c.grade and c.grade[0] == s] for s in scales}
    scale = max(scales, key=lambda s: (len(of_scale[s]), s), default="")
    graded = sorted(of_scale.get(scale, ()), key=lambda c: (c.grade[1] if c.grade else 0, c.piece))
    if len(graded) > 1:
        first, second = (c.grade for c in graded[:2])
        assert first is not None and second is not None
        left = f"; {len(copies) - len(graded)} not graded on it" if len(graded) < len(copies) else ""
        if first[1] == second[1]:
            return None, f"two or more are graded {first[2]} ({scale} scale){left}"
        return graded[
            0
        ].piece, f"graded {first[2]}, the next {second[2]} ({scale} scale, as people examined them){left}"
    if len({c.confirmed for c in copies}) > 1:
        order = sorted(copies, key=lambda c: (c.confirmed, c.piece))
        if order[0].confirmed < order[1].confirmed:
            words = f"{order[0].confirmed} worn places stated by people, the next {order[1].confirmed}; not graded"
            return order[0].piece, words
        return None, "two or more have as few worn places stated"
    looked = sorted((c for c in copies if c.looked), key=lambda c: (c.suggested, c.piece))
    if len(looked) == len(copies) and looked[1].suggested - looked[0].suggested >= 1:
        words = (
            f"fewest worn places suggested ({looked[0].suggested:.1f}, the next {looked[1].suggested:.1f}, counted by "
            "their certainty); nobody has graded them"
        )
        return looked[0].piece, words
    return None, "nothing tells which: grade them with the pieces in hand"
