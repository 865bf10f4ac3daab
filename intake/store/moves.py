"""Where pieces are, and whether an owner lets them be shown beside another's."""

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, insert, select, update

from intake.store.schema import consignment, move, move_reason


def add_move(
    connection: Connection, code: str, box: str, piece: str, places: tuple[str, str], at: str, who: str, why: str = ""
) -> None:
    """Write down that a piece went from the first place to the second."""
    row = {"consignment": code, "box": box, "piece": piece, "from_place": places[0], "to_place": places[1]}
    number = connection.execute(insert(move).values(**row, at=at, who=who).returning(move.c.id)).scalar_one()
    if why:
        connection.execute(insert(move_reason).values(move=number, why=why))


def place_of(connection: Connection, code: str, box: str, piece: str) -> str:
    """Where the piece was last said to be: its box when it was never moved."""
    query = (
        select(move.c.to_place)
        .where(move.c.consignment == code, move.c.box == box, move.c.piece == piece)
        .order_by(move.c.id.desc())
        .limit(1)
    )
    return connection.execute(query).scalar_one_or_none() or f"box {box}"


def permit(connection: Connection, code: str, shown_to_others: bool) -> None:
    """Write down the owner's word: may the consignment's pieces be shown beside another owner's?"""
    connection.execute(update(consignment).where(consignment.c.code == code).values(shown_to_others=shown_to_others))


@dataclass(frozen=True, slots=True)
class Move:
    """One line of the movement log."""

    id: int
    consignment: str
    box: str
    piece: str
    from_place: str
    to_place: str
    at: str
    who: str
    why: str


def all_moves(connection: Connection, code: str | None = None) -> list[Move]:
    """The movement log, the oldest first; of one consignment when it is named."""
    return _moves(connection, *([] if code is None else [move.c.consignment == code]))


def moves_of(connection: Connection, code: str, box: str, piece: str) -> list[Move]:
    """Every move of a piece, the newest first."""
    return _moves(connection, move.c.consignment == code, move.c.box == box, move.c.piece == piece)[::-1]


def _moves(connection: Connection, *where: ColumnElement[bool]) -> list[Move]:
    query = select(move, move_reason.c.why).outerjoin(move_reason, move_reason.c.move == move.c.id).where(*where)
    rows = connection.execute(query.order_by(move.c.id)).mappings()
    return [Move(**{**row, "why": row["why"] or ""}) for row in rows]
