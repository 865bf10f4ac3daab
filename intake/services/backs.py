"""What a back that no name joins to a front may be the back of: told by its size and by the order of scanning."""

import math
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from intake.model import FILM_KINDS, Measured, PartKey
from intake.services.dossiers import Dossier
from intake.store.relations import PieceId

# Nothing of these is paper with a back that would be scanned apart.
_NO_FRONT = FILM_KINDS | {"reverse", "target", "unknown"}


@dataclass(frozen=True, slots=True)
class FrontView:
    """A front that a back may belong to: box and piece, a picture of it, and why, with what leaves it in doubt."""

    name: PieceId
    key: PartKey
    words: str


def is_lone_back(of_piece: Collection[Dossier]) -> bool:
    """Are all pictures of a piece backs, none of them joined to a front by its name?"""
    return bool(of_piece) and all(d.kind == "reverse" for d in of_piece)


def fronts_for(back: Dossier, in_box: Iterable[Dossier], joined: Collection[PieceId]) -> list[FrontView]:
    """Fronts of the back's own box that it may be the back of, the likeliest first; none where none stands out.

    A front counts that is of the back's size within the error of both, and was scanned right before it, or right after
    it, or is the only one of that size. ``joined`` are pieces that have a back by a person's word. A back of unknown
    size is told nothing of: order alone is no reason.
    """
    pieces = [list(of) for _, of in groupby(sorted(in_box, key=_order), key=lambda d: d.scan.piece)]
    at = next((n for n, of in enumerate(pieces) if any(d.key == back.key for d in of)), None)
    if at is None:
        return []
    fit = {n: said for n, of in enumerate(pieces) if (said := _fits(back, of, joined))}
    beside = [n for n in (at - 1, at + 1) if n in fit]
    told = beside or (list(fit) if len(fit) == 1 else [])
    return [_view(pieces[n], fit[n], n - at, len(fit) - 1) for n in told]


def _order(d: Dossier) -> tuple[list[tuple[int, str]], PartKey]:
    """Files as they were numbered: 2 before 10."""
    return [(int(text), "") if text.isdecimal() else (0, text) for text in re.split(r"(\d{1,18})", d.scan.path)], d.key


def _fits(back: Dossier, front: Sequence[Dossier], joined: Collection[PieceId]) -> str:
    """In words how the sizes agree; empty where this cannot be the front."""
    if any(d.kind in _NO_FRONT or d.scan.side in ("verso", "detail") for d in front):
        return ""
    if (front[0].scan.box, front[0].scan.piece) in joined:
        return ""
    return next((said for d in front if (said := _same_size(back.measured, d.measured))), "")


def _same_size(a: Measured | None, b: Measured | None) -> str:
    """A back may lie turned, so the shorter edges are set beside each other, and the longer ones."""
    if a is None or b is None:
        return ""
    sides = [sorted(_edges(m)) for m in (a, b)]
    if not all(sides):
        return ""
    for (one, one_off), (other, other_off) in zip(*sides, strict=True):
        if abs(one - other) > math.hypot(one_off, other_off):
            return ""
    shorter, longer = sides[1]
    return f"both are {shorter[0]:.0f} × {longer[0]:.0f} mm within what they may be off"


def _edges(m: Measured) -> list[tuple[float, float]]:
    """Both edges with how far each may be off; none where either is not told, as then nothing agrees within it."""
    if m.width_mm is None or m.height_mm is None or m.width_off_mm is None or m.height_off_mm is None:
        return []
    return [(m.width_mm, m.width_off_mm), (m.height_mm, m.height_off_mm)]


def _view(front: Sequence[Dossier], size: str, away: int, others: int) -> FrontView:
    first = front[0]
    order = {-1: "it was scanned right before", 1: "it was scanned right after"}.get(
        away, "none else here has that size"
    )
    doubt = f"; {others} more of this box have that size too" if others else ""
    name = (first.scan.box, first.scan.piece)
    return FrontView(name, first.key, f"{order}, {size}{doubt}. Size and order alone prove nothing: look at both.")
