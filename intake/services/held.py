"""The page of hazards: box by box what is under hold and why, noted, proposed, ruled; and what may be ruled on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Box, Listed, PartKey, Stamps
from intake.services.cautions import Caution, cautions_of
from intake.services.clearing import VERBS as HAZARD_VERBS
from intake.services.clearing import BoxName, Clearing, HazardRulings, Note, Proposal, hazard_rulings, puts_on_hold
from intake.services.dossiers import Dossier, dossiers_of_scans
from intake.services.hazards import BoxHazards, PieceHazard, box_hazards, nitrate_on, parts_of
from intake.services.home import Home
from intake.services.readings import seen_of
from intake.store import decisions, desk, scans
from intake.store.database import Connection

_SIZE_SHARE = 0.03  # sizes are grouped by the film size within this share; the names of sizes decide nothing


@dataclass(frozen=True, slots=True)
class HeldGroup:
    """Pieces under hold of one size and with one edge print: what may be ruled on together. ``why`` it is held."""

    token: str
    size: str
    edge: str
    why: str
    pieces: tuple[str, ...]

    @property
    def words(self) -> str:
        """Which they are."""
        return f"{self.size}, {self.edge}"


@dataclass(frozen=True, slots=True)
class ProposalView:
    """A proposal that waits for a second person. ``against``: what was seen since and keeps it from being ruled."""

    proposal: Proposal
    against: str
    seen: str


@dataclass(frozen=True, slots=True)
class ClearedView:
    """A clearing in force, its pieces, and those of them on which the hold is back."""

    clearing: Clearing
    pieces: tuple[str, ...]
    back: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BoxView:
    """One box with all that a ruling on its hazards rests on; ``seen`` changes whenever any of that does.

    ``named``: token -> piece, of every piece that is there or on the list. ``parts``: piece -> its parts and where each
    lies. ``nitrate``: piece -> parts on which NITRATE was ever read. ``kept`` are pieces not scanned, with the reason.
    """

    token: str
    consignment: str
    box: str
    groups: tuple[HeldGroup, ...]
    notes: tuple[Note, ...]
    proposals: tuple[ProposalView, ...]
    cleared: tuple[ClearedView, ...]
    kept: tuple[Listed, ...]
    named: Mapping[str, str]
    parts: Mapping[str, Mapping[PartKey, Box]]
    nitrate: Mapping[str, frozenset[PartKey]]
    cautions: tuple[Caution, ...]
    seen: str

    @property
    def held(self) -> int:
        """How many pieces are under hold."""
        return sum(len(g.pieces) for g in self.groups)

    @property
    def held_named(self) -> list[tuple[str, str]]:
        """(token, piece) of those under hold."""
        held = {piece for g in self.groups for piece in g.pieces}
        return [(t, piece) for t, piece in self.named.items() if piece in held]


def token(*name: str) -> str:
    """Stands for a box or piece in a form: names of folders and files may hold anything."""
    return seen_of(name)


def hazard_boxes(
    home: Home, config: Config, code: str, wanted: str, start: int, count: int
) -> tuple[list[BoxView], int, list[BoxName]]:
    """Some of a consignment's boxes of which something is to be said, how many those are, and the names of the others.

    Where a box is ``wanted``, that one alone.
    """
    with home.database.read() as connection:
        every = [name for name in _names(connection) if name[0] == code]
        shown = [name for name in every if token(*name) == wanted]
        if not shown:
            ruled = _ruled(connection)
            said = {b.name for b in box_hazards(connection, desk.shown_stamps(connection), set(every))}
            said |= {(p.consignment, p.box) for p in (*ruled.open, *(c.proposal for c in ruled.clearings))}
            shown = [name for name in every if name in said]
        others = [name for name in every if name not in set(shown)]
        return _views(connection, config, shown[start:][:count]), len(shown), others


def holds_by_consignment(home: Home) -> dict[str, int]:
    """Consignment -> how many of its pieces are under hold; every consignment is named."""
    with home.database.read() as connection:
        made = {c.code: 0 for c in scans.consignments(connection)}
        for box in box_hazards(connection, desk.shown_stamps(connection)):
            made[box.name[0]] = made.get(box.name[0], 0) + len(box.held)
    return made


def box_of(connection: Connection, config: Config, wanted: str) -> BoxView | None:
    """The box of this token."""
    found = [name for name in _names(connection) if token(*name) == wanted]
    return next(iter(_views(connection, config, found)), None)


def boxes_with_proposals(connection: Connection, config: Config) -> list[BoxView]:
    """The boxes of which a proposal waits."""
    return _views(connection, config, sorted({(p.consignment, p.box) for p in _ruled(connection).open}))


def _ruled(connection: Connection) -> HazardRulings:
    return hazard_rulings(decisions.decisions_of(connection, HAZARD_VERBS))


def _names(connection: Connection) -> list[BoxName]:
    received = {(s.consignment, s.box) for s in scans.all_scans(connection)}
    listed = {(c.code, x.box) for c in scans.consignments(connection) for x in scans.listed_pieces(connection, c.code)}
    return sorted(received | listed)


def _views(connection: Connection, config: Config, names: Sequence[BoxName]) -> list[BoxView]:
    stamps = desk.shown_stamps(connection)
    found = {b.name: b for b in box_hazards(connection, stamps, set(names))} if names else {}
    ruled = _ruled(connection)
    return [_view(connection, config, stamps, found.get(n, BoxHazards(n, (), ())), ruled) for n in names]


def _view(
    connection: Connection, config: Config, stamps: Stamps | None, found: BoxHazards, ruled: HazardRulings
) -> BoxView:
    name = found.name
    here = scans.scans_in(connection, *name)
    listed = [x for x in scans.listed_pieces(connection, name[0]) if x.box == name[1]]
    parts: dict[str, dict[PartKey, Box]] = {}
    found_in = parts_of(connection, stamps, {s.digest for s in here})
    for scan in here:
        several = found_in.get(scan.digest) or [None]
        for part in several:
            key = PartKey(scan.digest, part.part if part else 1)
            piece = scan.piece if len(several) == 1 else f"{scan.piece}.{key.part}"
            parts.setdefault(piece, {})[key] = part.box if part else Box(0, 0, 1, 1)
    held = [p for p in found.pieces if p.on_hold]
    digests = {key.digest for p in held for key in parts.get(p.name[2], ())}
    known = dossiers_of_scans(connection, stamps, [s for s in here if s.digest in digests]) if stamps else []
    said: dict[str, set[PartKey]] = {}
    for key in nitrate_on(connection, (s.digest for s in here)):
        said.setdefault(key.digest, set()).add(key)
    nitrate = {
        piece: frozenset(k for digest in {key.digest for key in keys} for k in said.get(digest, ()))
        for piece, keys in parts.items()
    }
    notes = (*found.notes, *(n for p in found.pieces for n in p.notes))
    groups = _groups(held, known, config)
    state = {p.name[2]: p for p in found.pieces}
    proposals = tuple(_waiting(p, nitrate, notes) for p in ruled.open if (p.consignment, p.box) == name)
    cleared = tuple(_cleared(c, state) for c in ruled.clearings if (c.proposal.consignment, c.proposal.box) == name)
    ruled_by = [c.clearing.confirmed.id for c in cleared]
    pieces = sorted({*parts, *(x.piece for x in listed)})
    return BoxView(
        token(*name),
        *name,
        groups,
        notes,
        proposals,
        cleared,
        tuple(x for x in listed if x.held and not any(s.piece == x.piece for s in here)),
        {token(*name, piece): piece for piece in pieces},
        parts,
        nitrate,
        tuple(cautions_of([found], config)),
        seen_of((groups, [n.decision.id for n in notes], [sorted(k) for k in nitrate.values()], ruled_by)),
    )


def _groups(held: Sequence[PieceHazard], known: Iterable[Dossier], config: Config) -> tuple[HeldGroup, ...]:
    of: dict[str, list[Dossier]] = {}
    for d in known:
        of.setdefault(d.piece, []).append(d)
    groups: dict[tuple[str, str, str], list[str]] = {}
    for p in held:
        scans_of = of.get(p.name[2], [])
        why = "its base was ruled safety, and something spoke against it since" if p.opposed else _why(p, scans_of)
        groups.setdefault((_size(scans_of, config), _edge(scans_of), why), []).append(p.name[2])
    made = [HeldGroup(token("group", *key), *key, tuple(pieces)) for key, pieces in groups.items()]
    return tuple(sorted(made, key=lambda g: g.pieces))


def _why(p: PieceHazard, of: Iterable[Dossier]) -> str:
    said = ["NITRATE is read on it"] if p.nitrate_read else []
    by = sorted({n.decision.who for n in p.notes if puts_on_hold(n)})
    said += [f"noted as film by {', '.join(by)}"] if by else []
    if any(f.stage == "classify" and f.code == "possible_nitrate" for d in of for f in d.findings):
        said.append("the picture may be of flexible film")
    return "; ".join(said) or "the picture may be of flexible film"


def _size(of: Iterable[Dossier], config: Config) -> str:
    for d in of:
        m = d.measured
        if m and m.width_mm and m.height_mm:
            short, long = sorted((m.width_mm, m.height_mm))
            for a, b in config.classify.film_sizes_mm:
                if abs(short - a) <= _SIZE_SHARE * a and abs(long - b) <= _SIZE_SHARE * b:
                    return f"about {a:g} × {b:g} mm"
            return "another size"
    return "size unknown"


def _edge(of: Iterable[Dossier]) -> str:
    read = sorted({m.value for d in of if d.parsed for m in d.parsed.marks if m.kind == "film_base"})
    return f"{' and '.join(read)} in the edge print" if read else "no base word read"


def _waiting(p: Proposal, nitrate: Mapping[str, frozenset[PartKey]], notes: Iterable[Note]) -> ProposalView:
    read = frozenset(k for _, _, piece in p.pieces for k in nitrate.get(piece, ())) - p.seen
    later = [n for n in notes if puts_on_hold(n) and n.name in p.pieces and n.decision.id > p.decision.id]
    against = "NITRATE has been read on one of these pieces since it was proposed." if read else ""
    if later:
        against = f"Since it was proposed, {later[-1].decision.who} noted film on one of these pieces."
    return ProposalView(p, against, seen_of((p.decision.id, sorted(read), [n.decision.id for n in later])))


def _cleared(c: Clearing, state: Mapping[str, PieceHazard]) -> ClearedView:
    pieces = sorted(piece for _, _, piece in c.proposal.pieces)
    back = tuple(p for p in pieces if p in state and state[p].on_hold)
    return ClearedView(c, tuple(pieces), back)
