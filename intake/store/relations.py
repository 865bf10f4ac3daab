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


@dataclass(frozen=True, slots=True)
class Statement:
    """What a person stated of two pieces of one consignment; ``number_of`` is (n, m) in a set."""

    consignment: str
    piece: PieceId
    relation: PieceRelation
    other: PieceId
    number_of: tuple[int | None, int | None]
    at: str
    who: str


def standing(connection: Connection, code: str | None = None) -> list[Statement]:
    """The newest statement of every two pieces, in the order in which they were made; those "unrelated" left out."""
    newest = {(s.consignment, s.piece, s.other): s for s in all_relations(connection, code)}
    return sorted((s for s in newest.values() if s.relation != "unrelated"), key=lambda s: s.at)


def relations_of(connection: Connection, code: str, piece: PieceId) -> list[tuple[PieceId, str, PieceId]]:
    """(piece, relation, other) of every statement that stands in which the piece is on either side."""
    return [(s.piece, s.relation, s.other) for s in standing(connection, code) if piece in (s.piece, s.other)]


def overlays(connection: Connection) -> set[tuple[str, str, str]]:
    """(consignment, box, piece) of all that are stated to be an overlay of another piece."""
    return {(s.consignment, *s.piece) for s in standing(connection) if s.relation == "overlay_of"}


def all_relations(connection: Connection, code: str | None = None) -> list[Statement]:
    """Every statement ever made, of all consignments or of one, the oldest first."""
    query = select(piece_relation).order_by(piece_relation.c.id)
    if code is not None:
        query = query.where(piece_relation.c.consignment == code)
    return [
        Statement(
            r["consignment"], (r["box"], r["piece"]), r["relation"], (r["other_box"], r["other_piece"]),
            (r["number"], r["of"]), r["at"], r["who"],
        )
        for r in connection.execute(query).mappings()
    ]  # fmt: skip
