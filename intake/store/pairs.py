"""Pairs that were compared, and the matches among them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, bindparam, delete, func, select

from intake.kin import Match
from intake.model import PartKey
from intake.store.codec import from_text, to_text
from intake.store.learnt import adopted
from intake.store.schema import pair
from intake.store.upsert import put_rows

Pair = tuple[PartKey, PartKey]
_AT_ONCE = 400


@dataclass(frozen=True, slots=True)
class Compared:
    """A pair that was compared: the match, or that there is none, and the CPU seconds it took.

    ``variants`` are those that were tried, one bit each; the store does not ask which.
    """

    pair: Pair
    variants: int
    match: Match | None
    cpu_s: float


def ordered(a: PartKey, b: PartKey) -> Pair:
    """The two in their one order."""
    return (a, b) if a <= b else (b, a)


def record_pairs(connection: Connection, stamp: str, compared: Collection[Compared]) -> None:
    """Write down compared pairs, in place of what the same pairs showed under other variants."""
    drop_pairs(connection, stamp, [c.pair for c in compared])
    rows = [
        {
            "digest_a": c.pair[0].digest,
            "part_a": c.pair[0].part,
            "digest_b": c.pair[1].digest,
            "part_b": c.pair[1].part,
            "stamp": stamp,
            "variants": c.variants,
            "payload": None if c.match is None else to_text(c.match),
            "cpu_s": c.cpu_s,
        }
        for c in compared
    ]
    put_rows(connection, pair, rows)


def pairs_compared(connection: Connection, stamp: str, digests: Collection[str] | None = None) -> dict[Pair, int]:
    """All pairs compared under ``stamp``, with the variants that were tried; where ``digests`` (a few) are named, those
    of which the first part is of these files."""
    columns = (pair.c.digest_a, pair.c.part_a, pair.c.digest_b, pair.c.part_b, pair.c.variants)
    asked = select(*columns).where(pair.c.stamp == stamp)
    rows = connection.execute(asked if digests is None else asked.where(pair.c.digest_a.in_(digests)))
    return {(PartKey(da, pa), PartKey(db, pb)): variants for da, pa, db, pb, variants in rows}


def drop_pairs(connection: Connection, stamp: str, unwanted: Iterable[Pair]) -> None:
    """Forget pairs that the index no longer proposes, so that what is kept never depends on what came before."""
    rows = [{"da": a.digest, "pa": a.part, "db": b.digest, "pb": b.part} for a, b in unwanted]
    if rows:
        connection.execute(
            delete(pair).where(
                pair.c.digest_a == bindparam("da"),
                pair.c.part_a == bindparam("pa"),
                pair.c.digest_b == bindparam("db"),
                pair.c.part_b == bindparam("pb"),
                pair.c.stamp == stamp,
            ),
            rows,
        )


def all_matches(connection: Connection, stamp: str, *, as_measured: bool = False) -> list[Match]:
    """All matches under ``stamp``, in the order of their pairs; ``as_measured``: without what people adopted."""
    query = (
        select(pair.c.payload)
        .where(pair.c.stamp == stamp, pair.c.payload.is_not(None))
        .order_by(pair.c.digest_a, pair.c.part_a, pair.c.digest_b, pair.c.part_b)
    )
    found = [from_text(Match, payload) for (payload,) in connection.execute(query)]
    return found if as_measured else as_learnt(connection, found)


def as_learnt(connection: Connection, matches: list[Match]) -> list[Match]:
    """The matches as what people adopted from their rulings has them."""
    learnt = adopted(connection) if matches else None
    return [learnt.applied(m) for m in matches] if learnt else matches


def matches_among(connection: Connection, stamp: str, keys: Sequence[PartKey]) -> list[Match]:
    """The matches under ``stamp`` of which both parts are among ``keys``."""
    wanted = set(keys)
    digests = sorted({k.digest for k in keys})
    found: list[Match] = []
    for start in range(0, len(digests), _AT_ONCE):
        some = pair.c.digest_a.in_(digests[start : start + _AT_ONCE])
        rows = connection.execute(select(pair.c.payload, pair.c.stamp).where(some, pair.c.payload.is_not(None)))
        found += [from_text(Match, payload) for payload, of in rows if of == stamp]
    among = sorted((m for m in found if m.a in wanted and m.b in wanted), key=lambda m: (m.a, m.b))
    return as_learnt(connection, among)


def linked(connection: Connection, stamp: str, digests: Iterable[str]) -> set[str]:
    """The files of which a part matches a part of one of these files."""
    wanted = sorted(set(digests))
    found: set[str] = set()
    for start in range(0, len(wanted), _AT_ONCE):
        some = wanted[start : start + _AT_ONCE]
        for here, there in ((pair.c.digest_a, pair.c.digest_b), (pair.c.digest_b, pair.c.digest_a)):
            # The stamp is asked for here: SQLite would rather go through all pairs of a stamp than look up a few files.
            rows = connection.execute(select(there, pair.c.stamp).where(here.in_(some), pair.c.payload.is_not(None)))
            found.update(digest for digest, of in rows if of == stamp)
    return found


def pair_costs(connection: Connection, stamp: str) -> tuple[int, float]:
    """(pairs compared, CPU seconds in all)."""
    count, total = connection.execute(select(func.count(), func.sum(pair.c.cpu_s)).where(pair.c.stamp == stamp)).one()
    return count, total or 0.0
