"""What lists are sieved by, of each part: derived, and made again with the families."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from sqlalchemy import Connection, and_, delete, func, insert, select

from intake.model import PartKey
from intake.store.schema import family, family_fact, looked_at, member, piece_fact, queue_entry

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


class FamilyFact(NamedTuple):
    """One family: what it is called, and the sets of what its pieces are, as JSON."""

    code: str
    name: str
    sets: str


class Waiting(NamedTuple):
    """One family: its place in the queue and its reasons, both as JSON. No weight: it does not wait."""

    code: str
    status: str
    weight: float | None
    reasons: str
    name: str
    sets: str


def put_family_facts(connection: Connection, made: Iterable[FamilyFact], gone: Sequence[str] | None = None) -> None:
    """Put these in the place of all, or of those of these codes."""
    if gone is None:
        connection.execute(delete(family_fact))
    for start in range(0, len(gone or ()), _AT_ONCE):
        connection.execute(delete(family_fact).where(family_fact.c.code.in_((gone or ())[start : start + _AT_ONCE])))
    rows = [f._asdict() for f in made]
    if rows:
        connection.execute(insert(family_fact), rows)


def put_looked(connection: Connection, files: int, unread: int) -> None:
    """Write down how many scans there were at this grouping, and in how many boxes some were not looked at."""
    connection.execute(delete(looked_at))
    connection.execute(insert(looked_at).values(id=1, scans=files, unread=unread))


def looked(connection: Connection) -> tuple[int, int]:
    """(scans at the last grouping, boxes with some not looked at)."""
    row = connection.execute(select(looked_at.c.scans, looked_at.c.unread)).first()
    return (row[0], row[1]) if row else (0, 0)


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


def is_filled(connection: Connection) -> bool:
    """Were the families of now made with their facts? True where there are none."""
    is_there = connection.execute(select(looked_at.c.id)).first() is not None
    return is_there or connection.execute(select(family.c.code).limit(1)).first() is None


def facts_of_singles(connection: Connection) -> list[PieceFact]:
    """The parts that stand in no family, by consignment, box, piece."""
    f = piece_fact.c
    beside = and_(member.c.digest == f.digest, member.c.part == f.part)
    query = select(piece_fact).outerjoin(member, beside).where(member.c.family.is_(None), f.is_reference.is_(False))
    rows = connection.execute(query.order_by(f.consignment, f.box, f.piece, f.digest, f.part)).all()
    return [_fact(row) for row in rows]


def all_waiting(connection: Connection) -> list[Waiting]:
    """Every family, those that wait first and the heaviest first among them; of equal ones by code."""
    f, q, x = family.c, queue_entry.c, family_fact.c
    rows = connection.execute(
        select(f.code, f.status, q.weight, q.reasons, x.name, x.sets)
        .outerjoin_from(family, queue_entry, q.family == f.code)
        .outerjoin(family_fact, x.code == f.code)
    ).all()
    made = [
        Waiting(c, status, weight, why or "[]", name or c, sets or "{}") for c, status, weight, why, name, sets in rows
    ]
    return sorted(made, key=lambda w: (w.weight is None, -(w.weight or 0.0), w.code))


def names(connection: Connection, codes: Iterable[str] | None = None) -> list[FamilyFact]:
    """What families are called, of all or of these few."""
    query = select(family_fact.c.code, family_fact.c.name, family_fact.c.sets)
    if codes is not None:
        query = query.where(family_fact.c.code.in_(sorted(set(codes))))
    return [FamilyFact(*row) for row in connection.execute(query).all()]


def waiting_pieces(connection: Connection) -> dict[str, int]:
    """Consignment -> how many parts stand in families that wait and nobody confirmed."""
    of = (member.c.digest == piece_fact.c.digest, member.c.part == piece_fact.c.part)
    query = (
        select(piece_fact.c.consignment, func.count())
        .join_from(piece_fact, member, and_(*of))
        .join(queue_entry, queue_entry.c.family == member.c.family)
        .join(family, family.c.code == member.c.family)
        .where(family.c.status != "confirmed")
        .group_by(piece_fact.c.consignment)
    )
    return {row[0]: row[1] for row in connection.execute(query)}


def facts_of(connection: Connection, keys: Iterable[PartKey]) -> dict[PartKey, PieceFact]:
    """The facts of these parts (few)."""
    wanted = set(keys)
    digests = sorted({k.digest for k in wanted})
    found: dict[PartKey, PieceFact] = {}
    for start in range(0, len(digests), _AT_ONCE):
        some = select(piece_fact).where(piece_fact.c.digest.in_(digests[start : start + _AT_ONCE]))
        found |= {f.key: f for f in map(_fact, connection.execute(some).all()) if f.key in wanted}
    return found


def _fact(row: Sequence[object]) -> PieceFact:
    digest, part, code, box, piece, kind, shape, countries, first, last, reference, done = row
    named = tuple(c for c in str(countries).split(",") if c)
    return PieceFact(PartKey(digest, part), code, box, piece, kind, shape, named, first, last, reference, done)  # type: ignore[arg-type]
