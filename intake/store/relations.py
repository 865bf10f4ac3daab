"""What people state of two pieces: one is a side, overlay or section of the other, or both are of one set."""

from dataclasses import dataclass

from sqlalchemy import Connection, insert, select

from intake.kin import PieceRelation
from intake.store.schema import piece_relation

PieceId = tuple[str, str]  # box, piece


def add_relation(
    connection: Connection,
    code: str,
    piece: PieceId,
    relation: PieceRelation,
    other: PieceId,
    stated: tuple[str, str],
    number_of: tuple[int, int] | None = None,
) -> None:
    """Write down that ``piece`` is (side, overlay, ...) of ``other``; ``stated`` is when and by whom.

    ``number_of`` is (n, m) for the n-th of a set of m.
    """
    number, of = number_of or (None, None)
    connection.execute(
        insert(piece_relation).values(
            consignment=code,
            box=piece[0],
            piece=piece[1],
            relation=relation,
            other_box=other[0],
            other_piece=other[1],
            number=number,
            of=of,
            at=stated[0],
            who=stated[1],
        )
    )


def relations_of(connection: Connection, code: str, piece: PieceId) -> list[tuple[PieceId, str, PieceId]]:
    """(piece, relation, other) of every statement in which the piece stands on either side, the oldest first."""
    t = piece_relation.c
    query = select(t.box, t.piece, t.relation, t.other_box, t.other_piece).where(t.consignment == code).order_by(t.id)
    rows = [((box, one), relation, (obox, other)) for box, one, relation, obox, other in connection.execute(query)]
    return [row for row in rows if piece in (row[0], row[2])]


def overlays(connection: Connection) -> set[tuple[str, str, str]]:
    """(consignment, box, piece) of all that are stated to be an overlay of another piece."""
    t = piece_relation.c
    query = select(t.consignment, t.box, t.piece).where(t.relation == "overlay_of")
    return {(code, box, piece) for code, box, piece in connection.execute(query)}


@dataclass(frozen=True, slots=True)
class Statement:
    """What a person stated of two pieces of one consignment; ``number_of`` is (n, m) in a set."""

    consignment: str
    piece: PieceId
    relation: str
    other: PieceId
    number_of: tuple[int | None, int | None]
    at: str
    who: str


def all_relations(connection: Connection) -> list[Statement]:
    """Every statement, the oldest first."""
    t = piece_relation.c
    rows = connection.execute(select(piece_relation).order_by(t.id)).mappings()
    return [
        Statement(
            r["consignment"], (r["box"], r["piece"]), r["relation"], (r["other_box"], r["other_piece"]),
            (r["number"], r["of"]), r["at"], r["who"],
        )
        for r in rows
    ]  # fmt: skip
