"""The family that each person has before them now. It may be lost: nothing that anybody decided is in it."""

from sqlalchemy import Connection, delete, insert, select

from intake.store.schema import on_table


def take(connection: Connection, who: str, family: str, at: str) -> None:
    """Put this family before the person, in the place of any other."""
    put_back(connection, who)
    connection.execute(insert(on_table).values(who=who, family=family, at=at))


def put_back(connection: Connection, who: str) -> None:
    """The person has nothing before them any more."""
    connection.execute(delete(on_table).where(on_table.c.who == who))


def taken_since(connection: Connection, since: str) -> list[tuple[str, str, str]]:
    """(who, family, when) of all that was taken at or after ``since``, the oldest first."""
    query = select(on_table.c.who, on_table.c.family, on_table.c.at).where(on_table.c.at >= since)
    return [(who, family, at) for who, family, at in connection.execute(query.order_by(on_table.c.at, on_table.c.who))]
