"""The record of each piece and family, gathered once from the ledger: every paper and format is made from these values.

Only marks that a person accepted enter a record. What a person did not state stays open; a suggestion says that it is
one. Pieces of a kind that is private (config/records.toml) are left out unless asked for, and so are, where one
consignment is asked for, other owners' pieces that may not be shown beside it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.errors import UsageError
from intake.kin import Decision, Family
from intake.model import Box, PartKey
from intake.services.clearing import PieceName
from intake.services.dates import piece_dates
from intake.services.dossiers import Dossier
from intake.services.handover.light import light_view
from intake.services.handover.record import (
    ALL,
    LISTED,
    PROGRAM,
    DateRecord,
    FamilyRecord,
    ImageRecord,
    OtherDesign,
    PieceRecord,
    Records,
    RelationRecord,
    Source,
    Stated,
    Wanted,
)
from intake.services.handover.relating import Relating
from intake.services.handover.statements import (
    accepted_alone,
    by,
    condition_of,
    first_of,
    format_of,
    hazards_of,
    inscribed_of,
    kind_of,
    marks_of,
    materials_of,
    measured_of,
    ppi_of,
    remarks_of,
    rests_of,
)
from intake.services.home import Home
from intake.services.known import Known
from intake.services.materials import newest, stated
from intake.services.orient import orientations
from intake.services.rulings import standing
from intake.store import decisions, moves, relations, scans


def records(home: Home, config: Config, wanted: Wanted = ALL, known: Known | None = None) -> Records:
    """Gather the records asked for. Raises UsageError when there is no such consignment or family."""
    known = known or light_view(home, config)
    with home.database.read() as connection:
        gathered = _Ledger(
            {c.code: c for c in scans.consignments(connection)},
            decisions.all_decisions(connection),
            relations.standing(connection),
            {(m.consignment, m.box, m.piece): m.to_place for m in moves.all_moves(connection)},
        )
    if wanted.consignment and wanted.consignment not in gathered.consignments:
        raise UsageError(f"{wanted.consignment}: no such consignment is on record.")
    chosen = [f for f in known.families if f.code == wanted.family]
    if wanted.family and not chosen:
        raise UsageError(f"{wanted.family}: there is no such family. See: kinfold export families --to families.csv")
    made = _Gathering(config, known, gathered, wanted)
    if chosen and not wanted.consignment:
        made.refuse_several_owners(chosen[0])
    return made.made(chosen[0] if chosen else None)


@dataclass(frozen=True, slots=True)
class _Ledger:
    consignments: Mapping[str, scans.ConsignmentRow]
    decisions: Sequence[Decision]
    stated: Sequence[relations.Statement]
    places: Mapping[PieceName, str]


def name_of(d: Dossier) -> PieceName:
    """The piece that a part is a picture of."""
    return (d.scan.consignment, d.scan.box, d.piece)


class _Gathering:
    """What is needed of the whole ledger while records are made one by one."""

    def __init__(self, config: Config, known: Known, ledger: _Ledger, wanted: Wanted) -> None:
        self.config, self.known, self.ledger, self.wanted = config, known, ledger, wanted
        self.turns = orientations(known.by_key, known.matches)
        self.of: dict[PieceName, list[Dossier]] = {}
        for d in known.parts:
            if not d.scan.is_reference:
                self.of.setdefault(name_of(d), []).append(d)
        self.names: dict[PartKey, list[PieceName]] = {}
        for name, of in self.of.items():
            for d in of:
                if name not in (had := self.names.setdefault(d.key, [])):
                    had.append(name)
        self.family = {m.key: f for f in known.families for m in f.members}
        self.private = {name for name, of in self.of.items() if any(d.kind in config.records.private_kinds for d in of)}
        self.listed = {(code, x.box, x.piece): x for code, lines in known.listed.items() for x in lines}
        self.called: dict[str, str] = {str(k): v.called for k, v in config.condition.sorts.items()}
        self.formats = {f.id: f for f in config.formats}
        self.materials = stated(ledger.decisions)
        stand = standing(ledger.decisions)
        self.confirms = [d for d in stand if d.verb == "confirm"]
        self.namings = [d for d in stand if d.verb == "name_design"]
        self.lengths = {key: d for d in stand if d.verb == "note_measure" for key in d.parts}
        self.dates = {one.piece: one for one in piece_dates(map(accepted_alone, known.parts), known.overlays, config)}

    def may_show(self, name: PieceName) -> bool:
        """May this piece stand in what is handed out: by its kind, and by its owner's word?"""
        if name in self.private and not self.wanted.with_documents:
            return False
        return self._may_stand_beside(name[0])

    def _may_stand_beside(self, code: str) -> bool:
        owner = self.ledger.consignments.get(code)
        return self.wanted.consignment in ("", code) or (owner is not None and owner.shown_to_others)

    def refuse_several_owners(self, family: Family) -> None:
        """Of pieces of several owners, one of whom has not permitted it, nothing is shown side by side."""
        codes = sorted({n[0] for m in family.members for n in self.names.get(m.key, ())})
        if len(codes) > 1 and not all(self.ledger.consignments[c].shown_to_others for c in codes):
            raise UsageError(
                f"{family.code}: its pieces are of {' and '.join(codes)}, and not every owner permits that they are "
                "shown beside another's. Name one of them with --consignment."
            )

    def made(self, family: Family | None) -> Records:
        members = {n for m in family.members for n in self.names.get(m.key, ())} if family else None
        code = self.wanted.consignment
        names = [n for n in sorted(self.of) if (n in members if members is not None else code in ("", n[0]))]
        shown = [n for n in names if self.may_show(n)]
        relating = Relating(self.config, self.known, self.ledger.decisions, self.of, self.names, self.may_show)
        related = relating.pieces(self.ledger.stated, self._confirmed)
        pieces = tuple(self._piece(n, related.get(n, ())) for n in shown)
        held = set(shown)
        families = [family] if family else self.known.families
        visible = [f for f in self.known.families if any(self.may_show(n) for n in self._names(f))]
        made = (self._family(f, tuple(relating.designs(f, visible))) for f in families)
        kept = tuple(f for f in made if held & set(f.pieces))
        return Records(pieces, kept, len([n for n in names if n in self.private and n not in held]))

    def _piece(self, name: PieceName, related: Iterable[RelationRecord]) -> PieceRecord:
        of = self.of[name]
        first = first_of(of)
        family = next((self.family[d.key] for d in of if d.key in self.family), None)
        line = self.listed.get(name) or self.listed.get((*name[:2], name[2].split(".")[0]))  # of a scan of several
        description = Stated(line.description, "stated", Source(LISTED)) if line and line.description else None
        return PieceRecord(
            name,
            kind_of(first, self.config.kinds.kinds[first.kind].words),
            first.kind,
            self._title(family),
            inscribed_of(of),
            description,
            materials_of(newest(self.materials, [d.key for d in of])),
            tuple(marks_of(of)),
            tuple(measured_of(first, self.lengths.get(first.key))),
            format_of(first, self.formats),
            tuple(condition_of(of, self.turns[first.key], self.called)),
            tuple(remarks_of(of)),
            tuple(hazards_of(of)),
            self._date(name),
            tuple(sorted(related, key=lambda r: (r.word, r.other, r.certainty))),
            tuple(self._image(d) for d in of),
            family.code if family else "",
            family.status if family else "",
            self.ledger.places.get(name) or f"box {name[1]}",
            self.ledger.consignments[name[0]].received_at,
            name in self.private,
        )

    def _image(self, d: Dossier) -> ImageRecord:
        size = (d.checked.width_px, d.checked.height_px) if d.checked else (0, 0)
        shown = d.rendered or d.found
        box = shown.box if shown else Box(0, 0, 0, 0)
        working = (d.rendered.width_px, d.rendered.height_px) if d.rendered else (0, 0)
        return ImageRecord(
            d.key,
            d.scan.path,
            d.scan.side,
            size,
            box,
            ppi_of(d),
            self.turns[d.key],
            working,
        )

    def _title(self, family: Family | None) -> Stated | None:
        if family is None or not family.title:
            return None
        owners = {n[0] for m in family.members for n in self.names.get(m.key, ())}
        if not all(self._may_stand_beside(code) for code in owners):
            return None  # it may be another owner's words
        members = {m.key for m in family.members}
        if naming := next((d for d in reversed(self.namings) if 2 * len(members & set(d.parts)) > len(d.parts)), None):
            return Stated(family.title, "stated", by(naming))
        confirmed = self._confirmed(family)
        basis = "the lettering read on most pieces of the family, or the consignor's words"
        return Stated(
            family.title, "suggested", Source(PROGRAM, on=f"{basis}; family confirmed" if confirmed else basis)
        )

    def _confirmed(self, family: Family) -> Source | None:
        if family.status != "confirmed":
            return None
        keys = {m.key for m in family.members}
        of = [d for d in self.confirms if keys & set(d.parts)]
        return by(of[-1]) if of else None

    def _names(self, family: Family) -> list[PieceName]:
        return sorted({n for m in family.members for n in self.names.get(m.key, ())})

    def _family(self, family: Family, designs: tuple[OtherDesign, ...]) -> FamilyRecord:
        names = self._names(family)
        shown = tuple(n for n in names if self.may_show(n))
        codes = (family.code, family.status)
        return FamilyRecord(
            *codes, self._title(family), shown, self.known.campaigns.get(family.code, ""), self._confirmed(family),
            len(names) - len(shown), designs,
        )  # fmt: skip

    def _date(self, name: PieceName) -> DateRecord | None:
        one = self.dates.get(name)
        if one is None or not one.dated.edtf:
            return None
        paths = {d.key: d.scan.path for d in one.scans}
        bounds = [b for b in (one.dated.not_before, one.dated.certain, one.dated.until) if b]
        rests = tuple(dict.fromkeys(rests_of(b, paths) for b in bounds))
        return DateRecord(one.dated.words, one.dated.edtf, rests)
