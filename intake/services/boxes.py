"""Does each box add up? Listed against received, from the owner's list and the files; counts are of pieces."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from intake.model import Listed, Received
from intake.store import scans
from intake.store.database import Connection

# Findings that mean: have it scanned again.
RESCAN = frozenset({"truncated", "damaged", "unreadable", "empty_file", "blank", "out_of_focus", "clipped"})


@dataclass(frozen=True, slots=True)
class BoxBalance:
    """One box. Where the owner gave no list, what depends on it is None: "no list" is not "0 missing".

    ``missing``: listed, neither received nor held. ``extra``: received, not listed. ``doubled``: lines and files
    too many (listed twice, or one side of a piece scanned twice).
    ``not_scanned``: listed and not received, with a reason. ``held``: those kept back, received or not.
    """

    consignment: str
    box: str
    listed: int | None
    received: int
    missing: int | None
    extra: int | None
    doubled: int | None
    not_scanned: int | None
    held: int
    missing_pieces: tuple[str, ...] = ()
    extra_pieces: tuple[str, ...] = ()


def balance(connection: Connection, code: str | None = None) -> list[BoxBalance]:
    """Every box of one consignment, or of all. Pictures that are not property are not counted."""
    made = []
    for consignment in scans.consignments(connection):
        if code is None or consignment.code == code:
            received: dict[str, list[Received]] = defaultdict(list)
            listed: dict[str, list[Listed]] = defaultdict(list)
            for s in scans.all_scans(connection, consignment.code):
                if not s.is_reference:
                    received[s.box].append(s)
            for x in scans.listed_pieces(connection, consignment.code):
                listed[x.box].append(x)
            made += [
                _box(consignment.code, box, received[box], listed[box], consignment.has_list)
                for box in sorted(received.keys() | listed.keys())
            ]
    return made


def _box(code: str, box: str, received: list[Received], listed: list[Listed], has_list: bool) -> BoxBalance:
    here = {s.piece for s in received}
    if not has_list:
        return BoxBalance(code, box, None, len(here), None, None, None, None, 0)
    names = Counter(x.piece for x in listed)
    held = {x.piece for x in listed if x.held}
    pictures = Counter((s.piece, s.side, s.sequence) for s in received if s.side != "detail")
    missing = sorted(set(names) - here - held)
    extra = sorted(here - set(names))
    return BoxBalance(
        code,
        box,
        len(names),
        len(here),
        len(missing),
        len(extra),
        sum(n - 1 for n in (*names.values(), *pictures.values())),
        len(held - here),
        len(held),
        tuple(missing),
        tuple(extra),
    )
