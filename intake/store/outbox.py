"""What is to be told to another program: written with the ruling that it tells of, and kept until it was taken."""

from dataclasses import dataclass

from sqlalchemy import Connection, func, insert, select, update

from intake.store.schema import outbox


@dataclass(frozen=True, slots=True)
class Waiting:
    """One message: its number and name, when it was written, its text, and how often it was tried in vain."""

    id: int
    name: str
    made_at: str
    body: str
    tries: int


def add(connection: Connection, name: str, at: str, body: str) -> None:
    """Write a message, to be sent at once."""
    connection.execute(insert(outbox).values(name=name, made_at=at, body=body, tries=0, due=at, said=""))


def claim(connection: Connection, at: str, until: str) -> Waiting | None:
    """The oldest message that was not taken yet, if it is due; nobody else gets it before ``until``."""
    o = outbox.c
    query = select(o.id, o.name, o.made_at, o.body, o.tries, o.due).where(o.taken_at.is_(None)).order_by(o.id)
    first = connection.execute(query.limit(1).with_for_update()).first()
    if first is None or first.due > at:
        return None
    connection.execute(update(outbox).where(o.id == first.id).values(due=until))
    return Waiting(first.id, first.name, first.made_at, first.body, first.tries)


def taken(connection: Connection, number: int, at: str) -> None:
    """Note that a message was taken: it is never sent again."""
    connection.execute(update(outbox).where(outbox.c.id == number).values(taken_at=at, said=""))


def put_off(connection: Connection, number: int, due: str, said: str) -> None:
    """Note that a message was not taken, why, and when it is tried again."""
    values = {"due": due, "said": said, "tries": outbox.c.tries + 1}
    connection.execute(update(outbox).where(outbox.c.id == number).values(values))


def waiting(connection: Connection) -> int:
    """How many messages were not taken yet."""
    query = select(func.count()).select_from(outbox).where(outbox.c.taken_at.is_(None))
    return int(connection.execute(query).scalar_one())
