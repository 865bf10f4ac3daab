"""What a consignor is told, box by box: listed, received, not scanned and why, missing, extra, held; of one owner."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from intake.model import Listed
from intake.services.handover.record import PieceRecord
from intake.services.progress import BoxProgress

RECEIVED, MISSING, EXTRA, NOT_SCANNED = "received", "missing", "not on the list", "not scanned"


@dataclass(frozen=True, slots=True)
class Line:
    """One piece of one box as the schedule shows it; ``record`` is None where no scan of it came."""

    box: str
    piece: str
    description: str
    state: str
    why: str
    scans: int
    record: PieceRecord | None


def schedule(listed: Sequence[Listed], pieces: Iterable[PieceRecord], held: set[tuple[str, str]]) -> list[Line]:
    """Every piece of one consignment, by box and number: those on its list and those that were received.

    A piece whose scan shows several things stands as each of them. ``held`` are (box, piece) under hold.
    """
    lines: list[Line] = []
    by_place = {(p.name[1], p.name[2]): p for p in pieces}
    here = Counter((box, piece.split(".")[0]) for box, piece in by_place)
    on_list = {(x.box, x.piece): x for x in listed}
    for (box, piece), record in by_place.items():
        line = on_list.get((box, piece)) or on_list.get((box, piece.split(".")[0]))
        state = RECEIVED if line or not listed else EXTRA
        why = "held: may be nitrate film, base unconfirmed" if (box, piece) in held else ""
        lines.append(Line(box, piece, line.description if line else "", state, why, len(record.images), record))
    for place, line in on_list.items():
        if not here[place] and place not in by_place:
            state = NOT_SCANNED if line.held else MISSING
            why = line.why or "held, no reason given" if line.held else "no scan came, and no reason is given"
            lines.append(Line(line.box, line.piece, line.description, state, why, 0, None))
    return sorted(lines, key=lambda x: (x.box, x.piece))


def balance_rows(boxes: Iterable[BoxProgress]) -> list[list[str]]:
    """Box, listed, received, not scanned, missing, extra, kept back by the list, on hold as film; and the sum."""
    counted = [
        (b.box, b.listed, b.received, b.not_scanned, b.missing, b.extra, b.held, b.on_hold) for b in boxes
    ]  # fmt: skip
    sums = [sum(row[i] or 0 for row in counted if isinstance(row[i], int)) for i in range(1, 8)]  # type: ignore[misc]
    known = [all(row[i] is not None for row in counted) for i in range(1, 8)]
    total = ["all boxes", *(str(n) if k else "no list" for n, k in zip(sums, known, strict=True))]
    return [[*(str(v) if v is not None else "no list" for v in row)] for row in counted] + [total]
