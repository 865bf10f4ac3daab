"""Pairs that were compared, and the matches among them."""

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, delete, func, select

from intake.model import Match, PartKey
from intake.store.codec import from_text, to_text
from intake.store.schema import pair
from intake.store.upsert import put_rows

Pair = tuple[PartKey, PartKey]


def ordered(a: PartKey, b: PartKey) -> Pair:
    """The two in their one order."""
    return (a, b) if a <= b else (b, a)


def record_pairs(connection: Connection, stamp: str, compared: Iterable[tuple[Pair, Match | None, float]]) -> None:
    """Write down compared pairs: the match, or that there is none, and the CPU seconds it took."""
    rows = [
        {
            "digest_a": a.digest,
            "part_a": a.part,
            "digest_b": b.digest,
            "part_b": b.part,
            "stamp": stamp,
            "payload": None if match is None else to_text(match),
            "cpu_s": cpu_s,
        }
        for (a, b), match, cpu_s in compared
    ]
    put_rows(connection, pair, rows)


def pairs_compared(connection: Connection, stamp: str) -> set[Pair]:
    """All pairs compared under ``stamp``."""
    query = select(pair.c.digest_a, pair.c.part_a, pair.c.digest_b, pair.c.part_b).where(pair.c.stamp == stamp)
    return {(PartKey(da, pa), PartKey(db, pb)) for da, pa, db, pb in connection.execute(query)}


def drop_pairs(connection: Connection, stamp: str, unwanted: Iterable[Pair]) -> None:
    """Forget pairs that the index no longer proposes, so that what is kept never depends on what came before."""
    for a, b in unwanted:
        connection.execute(
            delete(pair).where(
                pair.c.digest_a == a.digest,
                pair.c.part_a == a.part,
                pair.c.digest_b == b.digest,
                pair.c.part_b == b.part,
                pair.c.stamp == stamp,
            )
        )


def all_matches(connection: Connection, stamp: str) -> list[Match]:
    """All matches under ``stamp``, in the order of their pairs."""
    query = (
        select(pair.c.payload)
        .where(pair.c.stamp == stamp, pair.c.payload.is_not(None))
        .order_by(pair.c.digest_a, pair.c.part_a, pair.c.digest_b, pair.c.part_b)
    )
    return [from_text(Match, payload) for (payload,) in connection.execute(query)]


def matches_among(connection: Connection, stamp: str, keys: Sequence[PartKey]) -> list[Match]:
    """The matches under ``stamp`` of which both parts are among ``keys``."""
    wanted = set(keys)
    query = select(pair.c.payload).where(
        pair.c.stamp == stamp, pair.c.payload.is_not(None), pair.c.digest_a.in_({k.digest for k in keys})
    )
    found = [from_text(Match, payload) for (payload,) in connection.execute(query)]
    return sorted((m for m in found if m.a in wanted and m.b in wanted), key=lambda m: (m.a, m.b))


def pair_costs(connection: Connection, stamp: str) -> tuple[int, float]:
    """(pairs compared, CPU seconds in all)."""
    count, total = connection.execute(select(func.count(), func.sum(pair.c.cpu_s)).where(pair.c.stamp == stamp)).one()
    return count, total or 0.0
