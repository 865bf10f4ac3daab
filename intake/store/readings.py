"""What rulings on readings say, and the readings that wait for a person: derived, so that no page reads every scan."""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from sqlalchemy import Connection, Select, delete, func, insert, select

from intake.model import Mark, PartKey
from intake.store.codec import from_text, to_text
from intake.store.schema import ruled_reading, scan, waiting_reading

_AT_ONCE = 400
_LONGEST_SAME = 400


class Waiting(NamedTuple):
    """One reading that waits, and what all spellings of its value have in common."""

    key: PartKey
    same: str
    mark: Mark


class Equal(NamedTuple):
    """Readings of one kind and value that wait, and how many they are."""

    kind: str
    same: str
    many: int


def put_said(connection: Connection, said: dict[int, Mark]) -> None:
    """Note what rulings say (number of the decision -> the mark), in the place of what was noted of them."""
    numbers = sorted(said)
    for start in range(0, len(numbers), _AT_ONCE):
        some = numbers[start : start + _AT_ONCE]
        connection.execute(delete(ruled_reading).where(ruled_reading.c.decision.in_(some)))
        connection.execute(insert(ruled_reading), [{"decision": n, "payload": to_text(said[n])} for n in some])


def said_by(connection: Connection, decisions: Iterable[int]) -> dict[int, Mark]:
    """What these rulings say, where it was noted."""
    numbers = sorted(set(decisions))
    found: dict[int, Mark] = {}
    for start in range(0, len(numbers), _AT_ONCE):
        some = select(ruled_reading).where(ruled_reading.c.decision.in_(numbers[start : start + _AT_ONCE]))
        found |= {number: from_text(Mark, payload) for number, payload in connection.execute(some)}
    return found


def put_waiting(connection: Connection, rows: Iterable[Waiting], keys: Sequence[PartKey] | None = None) -> None:
    """Put these in the place of all that waited, or of what waited on ``keys`` (few)."""
    if keys is None:
        connection.execute(delete(waiting_reading))
    for key in keys or ():
        at = (waiting_reading.c.digest == key.digest, waiting_reading.c.part == key.part)
        connection.execute(delete(waiting_reading).where(*at))
    values = [
        {
            "digest": row.key.digest,
            "part": row.key.part,
            "kind": row.mark.kind,
            "same": row.same[:_LONGEST_SAME],
            "payload": to_text(row.mark),
        }
        for row in rows
    ]
    if values:
        connection.execute(insert(waiting_reading), values)


def count_waiting(connection: Connection, code: str | None = None) -> int:
    """How many readings wait, in one consignment or in all."""
    return int(connection.execute(_of(select(func.count()), code)).scalar_one())


def equal_waiting(connection: Connection, code: str, start: int, count: int) -> list[Equal]:
    """Kinds and values that wait in a consignment, the most frequent first."""
    of = (waiting_reading.c.kind, waiting_reading.c.same)
    query = _of(select(*of, func.count().label("n")), code).group_by(*of).order_by(func.count().desc(), *of)
    return [Equal(*row) for row in connection.execute(query.offset(start).limit(count))]


def count_equal(connection: Connection, code: str, kind: str | None = None, same: str = "") -> int:
    """How many kinds and values wait in a consignment; or how many readings of this one."""
    if kind is not None:
        query = _of(select(func.count()), code)
        query = query.where(waiting_reading.c.kind == kind, waiting_reading.c.same == same[:_LONGEST_SAME])
        return int(connection.execute(query).scalar_one())
    groups = _of(select(waiting_reading.c.kind, waiting_reading.c.same), code).distinct().subquery()
    return int(connection.execute(select(func.count()).select_from(groups)).scalar_one())


def waiting_of(connection: Connection, code: str, one: Equal, start: int, count: int) -> list[Waiting]:
    """The readings of one kind and value that wait in a consignment, part by part."""
    w = waiting_reading.c
    query = _of(select(w.digest, w.part, w.same, w.payload), code).where(w.kind == one.kind, w.same == one.same)
    rows = connection.execute(query.order_by(w.digest, w.part, w.id).offset(start).limit(count))
    return [Waiting(PartKey(digest, part), same, from_text(Mark, text)) for digest, part, same, text in rows]


def _of(query: Select[Any], code: str | None) -> Select[Any]:
    """Restrict to a consignment's own pieces: a reference is not ruled on."""
    own = select(scan.c.digest).where(scan.c.digest == waiting_reading.c.digest, scan.c.is_reference.is_(False))
    if code is not None:
        own = own.where(scan.c.consignment == code)
    return query.select_from(waiting_reading).where(own.exists())
