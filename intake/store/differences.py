"""What differs between two parts of one design: derived, one row a pair."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, delete, func, insert, select

from intake.kin import Differences
from intake.model import PartKey
from intake.store.codec import from_text, to_text
from intake.store.families import related_key
from intake.store.pairs import Pair
from intake.store.schema import difference, related
from intake.store.upsert import put_rows


@dataclass(frozen=True, slots=True)
class Told:
    """What differs between two parts, the stamp it was told under, and the CPU seconds it took."""

    differences: Differences
    stamp: str
    cpu_s: float


def record_differences(connection: Connection, told: Collection[Told]) -> None:
    """Write down reports in place of those of the same pairs."""
    drop_differences(connection, [(t.differences.a, t.differences.b) for t in told])
    rows = [
        {
            "digest_a": t.differences.a.digest,
            "part_a": t.differences.a.part,
            "digest_b": t.differences.b.digest,
            "part_b": t.differences.b.part,
            "stamp": t.stamp,
            "payload": to_text(t.differences),
            "cpu_s": t.cpu_s,
        }
        for t in told
    ]
    put_rows(connection, difference, rows)


def drop_differences(connection: Connection, pairs: Iterable[Pair]) -> None:
    """Forget the reports of these pairs."""
    rows = [{"da": a.digest, "pa": a.part, "db": b.digest, "pb": b.part} for a, b in pairs]
    if rows:
        connection.execute(
            delete(difference).where(
                difference.c.digest_a == bindparam("da"),
                difference.c.part_a == bindparam("pa"),
                difference.c.digest_b == bindparam("db"),
                difference.c.part_b == bindparam("pb"),
            ),
            rows,
        )


def difference_costs(connection: Connection) -> tuple[int, float]:
    """(reports held, CPU seconds in all)."""
    count, total = connection.execute(select(func.count(), func.sum(difference.c.cpu_s))).one()
    return count, total or 0.0


def told_pairs(connection: Connection) -> dict[Pair, str]:
    """Every pair that has a report, with its stamp."""
    columns = (difference.c.digest_a, difference.c.part_a, difference.c.digest_b, difference.c.part_b)
    rows = connection.execute(select(*columns, difference.c.stamp))
    return {(PartKey(da, pa), PartKey(db, pb)): stamp for da, pa, db, pb, stamp in rows}


def all_differences(connection: Connection) -> list[Differences]:
    """Every report, in the order of the pairs."""
    order = (difference.c.digest_a, difference.c.part_a, difference.c.digest_b, difference.c.part_b)
    return [
        from_text(Differences, payload)
        for (payload,) in connection.execute(select(difference.c.payload).order_by(*order))
    ]


def differences_among(connection: Connection, keys: Collection[PartKey]) -> list[Differences]:
    """The reports of which both parts are among ``keys``, in the order of the pairs."""
    wanted = set(keys)
    query = select(difference.c.payload).where(difference.c.digest_a.in_({k.digest for k in keys}))
    found = [from_text(Differences, payload) for (payload,) in connection.execute(query)]
    return sorted((d for d in found if d.a in wanted and d.b in wanted), key=lambda d: (d.a, d.b))


def mark_told(connection: Connection) -> None:
    """Note that all differences of the families of now were told."""
    connection.execute(delete(related).where(related.c.id == 2))
    connection.execute(insert(related).values(id=2, key=related_key(connection)))


def are_told(connection: Connection) -> bool:
    """Were all differences of the families of now told?"""
    done = connection.execute(select(related.c.key).where(related.c.id == 2)).scalar_one_or_none()
    return done is not None and done == related_key(connection)
