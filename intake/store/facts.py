"""What lists are sieved by, of each part: derived, and made again with the families."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, and_, delete, insert, select

from intake.model import PartKey
from intake.store.schema import family, member, piece_fact, queue_entry, scan

_AT_ONCE = 400


class PieceFact(NamedTuple):
    """One part: where it lies, what it is as ruled or told, what its marks say. ``done``: nothing to add."""

    key: PartKey
    consignment: str
    box: str
    piece: str
    kind: str
    format: str
    countries: tuple[str, ...]
    year_from: int | None
    year_to: int | None
    is_reference: bool
    done: bool


class Waiting(NamedTuple):
    """One family: its place in the queue, the names of its reasons, and its members. No weight: it does not wait."""

    code: str
    title: str
    status: str
    weight: float | None
    reasons: str
    members: tuple[PartKey, ...]


def put_facts(connection: Connection, facts: Iterable[PieceFact], digests: Sequence[str] | None = None) -> None:
    """Put these in the place of all, or of those of these files (few)."""
    if digests is None:
        connection.execute(delete(piece_fact))
    for start in range(0, len(digests or ()), _AT_ONCE):
        some = (digests or ())[start : start + _AT_ONCE]
        connection.execute(delete(piece_fact).where(piece_fact.c.digest.in_(some)))
    rows = [
        {**f._asdict(), "digest": f.key.digest, "part": f.key.part, "countries": ",".join(f.countries)} for f in facts
    ]
    for row in rows:
        del row["key"]
    if rows:
        connection.execute(insert(piece_fact), rows)


def all_facts(connection: Connection) -> dict[PartKey, PieceFact]:
    """Every part that the families of now were made from."""
    return {f.key: f for f in map(_fact, connection.execute(select(piece_fact)).all())}


def is_filled(connection: Connection) -> bool:
    """Is there any row, or no scan to make one of?"""
    is_there = connection.execute(select(piece_fact.c.part).limit(1)).first() is not None
    return is_there or connection.execute(select(scan.c.digest).limit(1)).first() is None


def facts_of_singles(connection: Connection) -> list[PieceFact]:
    """The parts that stand in no family, by consignment, box, piece."""
    f = piece_fact.c
    beside = and_(member.c.digest == f.digest, member.c.part == f.part)
    query = select(piece_fact).outerjoin(member, beside).where(member.c.family.is_(None), f.is_reference.is_(False))
    rows = connection.execute(query.order_by(f.consignment, f.box, f.piece, f.digest, f.part)).all()
    return [_fact(row) for row in rows]


def all_waiting(connection: Connection) -> list[Waiting]:
    """Every family, those that wait first and the heaviest first among them; of equal ones by code."""
    members: dict[str, list[PartKey]] = {}
    for code, digest, part in connection.execute(select(member.c.family, member.c.digest, member.c.part)).all():
        members.setdefault(code, []).append(PartKey(digest, part))
    columns = (family.c.code, family.c.title, family.c.status, queue_entry.c.weight, queue_entry.c.reasons)
    rows = connection.execute(
        select(*columns)
        .outerjoin(queue_entry, queue_entry.c.family == family.c.code)
        .order_by(queue_entry.c.weight.is_(None), queue_entry.c.weight.desc(), family.c.code)
    ).all()
    return [
        Waiting(code, title, status, weight, reasons or "[]", tuple(members[code]))
        for code, title, status, weight, reasons in rows
    ]


def _fact(row: Sequence[object]) -> PieceFact:
    digest, part, code, box, piece, kind, shape, countries, first, last, reference, done = row
    named = tuple(c for c in str(countries).split(",") if c)
    return PieceFact(PartKey(digest, part), code, box, piece, kind, shape, named, first, last, reference, done)  # type: ignore[arg-type]
