"""The ledger: what each stage made of each part under which settings stamp.

It is the truth of a run; the workflow engine's own history is not.
"""

from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import Connection, func, select

from intake.model import PartKey, StageResult, Worked
from intake.store.schema import work
from intake.store.upsert import put_rows

_AT_ONCE = 400


def record(connection: Connection, results: Iterable[StageResult], at: str) -> None:
    """Add results. A result that is there already is left as it is: the same key always holds the same result."""
    put_rows(
        connection,
        work,
        [
            {
                "digest": r.key.digest,
                "part": r.key.part,
                "stage": r.stage,
                "stamp": r.stamp,
                "state": r.state,
                "payload": r.payload,
                "cpu_s": r.cpu_s,
                "made_at": at,
            }
            for r in results
        ],
    )


def digests_done(connection: Connection, stage: str, stamp: str) -> set[str]:
    """Digests of the files for which ``stage`` has an entry under ``stamp``."""
    rows = connection.execute(select(work.c.digest).where(work.c.stage == stage, work.c.stamp == stamp).distinct())
    return {digest for (digest,) in rows}


def digests_with(connection: Connection, stage: str) -> set[str]:
    """Digests of the files for which ``stage`` has an entry under whatever stamp."""
    return {digest for (digest,) in connection.execute(select(work.c.digest).where(work.c.stage == stage).distinct())}


def results_of(
    connection: Connection, digests: Sequence[str], stamps: Mapping[str, str]
) -> dict[str, dict[Worked, StageResult]]:
    """digest -> its results under the given stamps (stage -> stamp); nothing for digests not worked yet."""
    found: dict[str, dict[Worked, StageResult]] = {digest: {} for digest in digests}
    wanted = set(stamps.items())
    columns = (work.c.digest, work.c.part, work.c.stage, work.c.stamp, work.c.state, work.c.payload, work.c.cpu_s)
    for start in range(0, len(digests), _AT_ONCE):
        query = select(*columns).where(work.c.digest.in_(digests[start : start + _AT_ONCE]))
        for digest, part, stage, stamp, state, payload, cpu_s in connection.execute(query):
            if (stage, stamp) in wanted:
                key = PartKey(digest, part)
                found[digest][Worked(key, stage)] = StageResult(key, stage, stamp, state, payload, cpu_s)
    return found


def payloads_of(
    connection: Connection, digests: Sequence[str], stage: str, stamp: str | None = None, holding: str = ""
) -> list[tuple[PartKey, str]]:
    """(part, payload) of what one stage made of these files: under one stamp, or under every one that it ever had.

    With ``holding``, those alone in whose payload that text stands.
    """
    query = select(work.c.digest, work.c.part, work.c.payload).where(work.c.stage == stage, work.c.state == "done")
    if stamp is not None:
        query = query.where(work.c.stamp == stamp)
    if holding:
        query = query.where(work.c.payload.contains(holding, autoescape=True))
    found = []
    for start in range(0, len(digests), _AT_ONCE):
        rows = connection.execute(query.where(work.c.digest.in_(digests[start : start + _AT_ONCE])))
        found += [(PartKey(digest, part), payload) for digest, part, payload in rows]
    return found


def parts_ever(
    connection: Connection, stage: str, holding: str, digests: Sequence[str] | None = None, first_part: int = 0
) -> set[PartKey]:
    """The parts for which this stage ever made, under whatever stamp, a result in whose payload that text stands.

    Of these files, or of all; parts below ``first_part`` are left out.
    """
    query = select(work.c.digest, work.c.part).where(work.c.stage == stage, work.c.part >= first_part).distinct()
    if holding:
        query = query.where(work.c.payload.contains(holding, autoescape=True))
    asked = (
        [query]
        if digests is None
        else [query.where(work.c.digest.in_(digests[n : n + _AT_ONCE])) for n in range(0, len(digests), _AT_ONCE)]
    )
    return {PartKey(digest, part) for one in asked for digest, part in connection.execute(one)}


def stage_costs(connection: Connection, stamps: Mapping[str, str]) -> dict[str, tuple[int, float]]:
    """stage -> (entries, CPU seconds in all) under the given stamps."""
    query = select(work.c.stage, work.c.stamp, func.count(), func.sum(work.c.cpu_s)).group_by(
        work.c.stage, work.c.stamp
    )
    return {
        stage: (count, total) for stage, stamp, count, total in connection.execute(query) if stamps.get(stage) == stamp
    }


def made_at(connection: Connection, stage: str, stamp: str) -> dict[str, str]:
    """Digest -> when this stage's entry was written down, under this stamp."""
    query = select(work.c.digest, func.min(work.c.made_at)).where(work.c.stage == stage, work.c.stamp == stamp)
    return {row[0]: row[1] for row in connection.execute(query.group_by(work.c.digest))}
