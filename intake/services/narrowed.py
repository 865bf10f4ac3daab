"""One view of the ledger without what may not be shown: other owners' pieces, and papers found in boxes."""

from collections.abc import Callable
from dataclasses import replace

from intake.kin import Family
from intake.model import PartKey
from intake.services.dates import PieceName
from intake.services.dossiers import Dossier
from intake.services.known import Known
from intake.services.progress import BoxProgress


def narrowed(known: Known, may_show: Callable[[str], bool]) -> Known:
    """The view as if nothing else had been received; ``may_show`` answers for a consignment.

    Pieces of a private kind (config/records.toml) are left out. A file that several owners handed in stays under those
    alone that may be shown; a family keeps the pieces that may, and its title only where that is all of them.
    """
    kinds = known.config.records.private_kinds
    private = [d for d in known.parts if d.kind in kinds]
    hidden, names = {d.key for d in private}, {_name(d) for d in private}
    paths = {(d.scan.consignment, d.scan.path) for d in private}
    parts = [_alone(d, may_show) for d in known.parts if may_show(d.scan.consignment) and _name(d) not in names]
    files = {d.key.digest for d in parts}

    def is_shown(*keys: PartKey) -> bool:
        return all(key.digest in files and key not in hidden for key in keys)

    families = (_family(f, is_shown) for f in known.families)
    return replace(
        known,
        parts=parts,
        matches=[m for m in known.matches if is_shown(m.a, m.b)],
        families=[f for f in families if f.members],
        sets=[s for s in known.sets if is_shown(*(key for key, _ in s.numbers))],
        sections=[s for s in known.sections if is_shown(s.a, s.b)],
        listed={
            code: [x for x in lines if (code, x.box, x.piece) not in names]
            for code, lines in known.listed.items()
            if may_show(code)
        },
        receipt={
            code: [(path, f) for path, f in found if (code, path) not in paths]
            for code, found in known.receipt.items()
            if may_show(code)
        },
        boxes=tuple(_unnamed(b, names) for b in known.boxes if may_show(b.consignment)),
        hazards=[b for b in known.hazards if may_show(b.name[0])],
        moves=[m for m in known.moves if may_show(m.consignment) and (m.consignment, m.box, m.piece) not in names],
        withdrawals=[w for w in known.withdrawals if may_show(w.consignment)],
        differences=[d for d in known.differences if is_shown(d.a, d.b)],
        points=[p for p in known.points if is_shown(p.key)],
    )


def _name(d: Dossier) -> PieceName:
    return (d.scan.consignment, d.scan.box, d.piece)


def _unnamed(b: BoxProgress, names: set[PieceName]) -> BoxProgress:
    """The box with the same counts, where pieces of a private kind are not named."""
    return replace(b, extra_pieces=tuple(p for p in b.extra_pieces if (b.consignment, b.box, p) not in names))


def _alone(d: Dossier, may_show: Callable[[str], bool]) -> Dossier:
    """The part without the copies of its file that are of other owners."""
    shown = tuple(c for c in d.copies if may_show(c.consignment))
    return d if len(shown) == len(d.copies) else replace(d, copies=shown)


def _family(f: Family, is_shown: Callable[[PartKey], bool]) -> Family:
    kept = tuple(m for m in f.members if is_shown(m.key))
    return f if len(kept) == len(f.members) else replace(f, members=kept, title="")
