"""One piece: where it is, all its scans, what is known of each, and what happened to it."""

from dataclasses import dataclass

from intake.config.load import Config
from intake.errors import KinfoldError
from intake.kin import Decision, PieceRelation
from intake.model import PartKey, Ruler, Stamps
from intake.services.backs import FrontView, fronts_for, is_lone_back
from intake.services.dates import PieceName, piece_dates
from intake.services.dossiers import Dossier, dossiers_of, dossiers_of_scans
from intake.services.home import Home, now
from intake.services.ledger import LedgerRow, ledger_rows
from intake.services.looks import may_see
from intake.services.orient import orientations
from intake.services.pictures import NoPicture
from intake.services.places import MoveRefused, write_move
from intake.services.review import named
from intake.services.rulings import standing
from intake.services.shown import MemberView, member_view
from intake.services.upright import at
from intake.services.whose import Whose
from intake.stages.dating import Dated
from intake.store import decisions, desk, families, moves, pairs, relations, scans
from intake.store.database import Connection
from intake.store.moves import Move
from intake.store.relations import PieceId


@dataclass(frozen=True, slots=True)
class ScanView:
    """One scan of the piece. ``outline`` are the corners of the piece as shares of the upright picture, where found.

    ``received_at`` is when the file came in; ``scanner`` and ``scanned_at`` are what the file itself says.
    """

    member: MemberView
    outline: tuple[tuple[float, float], ...]
    width_px: int
    height_px: int
    resolution: str
    file_format: str
    received_at: str
    scanner: str
    scanned_at: str
    copies: tuple[str, ...]
    ruler: Ruler | None = None


@dataclass(frozen=True, slots=True)
class PieceView:
    """A piece as the desk shows it. ``listed`` is what the owner's list says of it; None where it is not on the list.

    ``related`` are statements that name it: (box and piece, relation, box and piece). ``materials`` is the newest word
    on what it is made of. ``fronts`` are pieces that a back may be the other side of, where no name and no person says.
    """

    name: PieceName
    place: str
    moved: tuple[Move, ...]
    scans: tuple[ScanView, ...]
    listed: str | None
    related: tuple[tuple[str, str, str], ...]
    dated: Dated | None
    history: tuple[LedgerRow, ...]
    materials: Decision | None = None
    fronts: tuple[FrontView, ...] = ()


def piece_view(home: Home, config: Config, key: PartKey, whose: Whose) -> PieceView:
    """The piece of which a part is a picture.

    Raises NoPicture when there is none, Withheld when it may not be shown.
    """
    with home.database.read() as connection:
        may_see(connection, whose, [key.digest])
        stamps = desk.shown_stamps(connection)
        first = dossiers_of(connection, stamps, [key], whose.laid_for).get(key) if stamps else None
        if stamps is None or first is None:
            raise NoPicture
        name = _name(first)
        of_it = scans.pieces_like(connection, *name)
        have = {d.key: d for d in dossiers_of_scans(connection, stamps, of_it) if _name(d) == name}
        near = dossiers_of(connection, stamps, families.members_with(connection, have)) | have
        upright = orientations(near, pairs.matches_among(connection, stamps.match, sorted(near)))
        belongs = families.codes_of(connection, have)
        arrived = scans.arrivals(connection, sorted({k.digest for k in have}))
        views = [_scan_view(d, member_view(d, upright[k], 0.0, belongs.get(k, "")), arrived) for k, d in have.items()]
        code, box, piece = name
        lines = [x for x in scans.listed_pieces(connection, code) if (x.box, x.piece) == (box, piece)]
        related = relations.relations_of(connection, code, (box, piece))
        dated = piece_dates(have.values(), relations.overlays(connection), config)
        fronts = _fronts(connection, stamps, name, list(have.values()))
        said = decisions.later_on(connection, 0, frozenset(have))
        ruled = ledger_rows(connection, list(reversed(said)), whose)
        place, moved = moves.place_of(connection, *name), moves.moves_of(connection, *name)
    return PieceView(
        name,
        place,
        tuple(moved),
        tuple(views),
        lines[0].description if lines else None,
        tuple((" / ".join(a), relation, " / ".join(b)) for a, relation, b in related),
        dated[0].dated if dated else None,
        tuple(ruled),
        next((d for d in reversed(standing(said)) if d.verb == "materials"), None),
        fronts,
    )


def _fronts(connection: Connection, stamps: Stamps, name: PieceName, of_piece: list[Dossier]) -> tuple[FrontView, ...]:
    """What a back may be the back of, as long as nobody has said so."""
    code, box, piece = name
    stated = [s for s in relations.standing(connection, code) if s.relation == "side_of"]
    joined = {of for s in stated for of in (s.piece, s.other)}
    if (box, piece) in joined or not is_lone_back(of_piece):
        return ()
    in_box = dossiers_of_scans(connection, stamps, scans.scans_in(connection, code, box))
    return tuple(fronts_for(of_piece[0], in_box, joined))


def move_piece(home: Home, who: str, key: PartKey, whose: Whose, seen: str, to: str) -> None:
    """Write down that a piece went from the place that the page showed to another. A wrong move is set right by a move.

    Raises MoveRefused when it is somewhere else by now, or ``to`` is no place.
    """
    who = named(who)
    with home.database.write() as connection:
        name = seen_by(connection, key, whose)
        there = moves.place_of(connection, *name)
        if there != seen:
            last = next(iter(moves.moves_of(connection, *name)), None)
            by = f" by {last.who} ({last.at})" if last else ""
            raise MoveRefused(f"Since the page was shown, it was moved to {there}{by}. Look again, then move it.")
        write_move(connection, name, to, who)


STATED: tuple[PieceRelation, ...] = ("side_of", "overlay_of", "section_of", "unrelated")


class StatementRefused(KinfoldError):
    """A statement that cannot be written down; ``str(error)`` says why, and what to do."""


def state(home: Home, who: str, key: PartKey, whose: Whose, relation: str, other: PieceId) -> None:
    """Write down that a piece is (side, overlay, section) of ``other``, or that it is unrelated after all.

    The newest statement of two pieces holds; none is removed. Raises StatementRefused.
    """
    who, told = named(who), next((r for r in STATED if r == relation), None)
    with home.database.write() as connection:
        code, box, piece = seen_by(connection, key, whose)
        here = {(s.box, s.piece) for s in scans.all_scans(connection, code)}
        here |= {(x.box, x.piece) for x in scans.listed_pieces(connection, code)}
        if told is None:
            raise StatementRefused("Say what it is of the other: a side, an overlay, a section, or nothing.")
        if other not in here or other == (box, piece):
            raise StatementRefused(
                f"There is no other piece {other[1]} in box {other[0]} of {code}. Look at its label."
            )
        relations.add_relation(connection, code, (box, piece), told, other, (now(), who))


def seen_by(connection: Connection, key: PartKey, whose: Whose) -> PieceName:
    """The name of the piece of which a part is a picture, when it may be seen. Raises NoPicture."""
    may_see(connection, whose, [key.digest])
    stamps = desk.shown_stamps(connection)
    d = dossiers_of(connection, stamps, [key], whose.laid_for).get(key) if stamps else None
    if d is None:
        raise NoPicture
    return _name(d)


def _name(d: Dossier) -> PieceName:
    return d.scan.consignment, d.scan.box, d.piece


def _scan_view(d: Dossier, member: MemberView, arrived: dict[tuple[str, str], str]) -> ScanView:
    shares = member.upright.shares() if member.upright else None
    corners = d.rendered.outline if d.rendered else ()
    checked = d.checked
    return ScanView(
        member,
        tuple(at(shares, x, y) for x, y in corners) if shares else (),
        checked.width_px if checked else 0,
        checked.height_px if checked else 0,
        checked.ppi_words if checked else "",
        checked.file_format if checked else "",
        arrived.get((d.scan.consignment, d.scan.path), ""),
        checked.scanner if checked else "",
        checked.scanned_at if checked else "",
        tuple(f"{c.consignment}: {c.path}" for c in d.copies if c.consignment == d.scan.consignment),
        checked.ruler if checked else None,
    )
