"""What the desk and the progress ask of the ledger: counts, and rows that need no whole dossier."""

import json
from collections.abc import Iterator, Mapping, Sequence

from sqlalchemy import ColumnElement, Connection, and_, false, or_, select

from intake.kin import Match
from intake.model import Finding, PartKey, Severity, Stamps
from intake.store.codec import from_text
from intake.store.pairs import as_learnt
from intake.store.schema import pair, run, work

_AT_ONCE = 400


def shown_stamps(connection: Connection) -> Stamps | None:
    """The stamps of the newest run that was done, or of the newest at all before the first one is.

    While a run works under changed settings, the desk goes on showing, and ruling on, what the one before made of all.
    """
    newest_done_first = select(run.c.stamps).order_by((run.c.ending == "done").desc().nulls_last(), run.c.id.desc())
    text = connection.execute(newest_done_first.limit(1)).scalar_one_or_none()
    return None if text is None else from_text(Stamps, text)


def finished_since(connection: Connection, stage: str, stamp: str, since: str) -> list[str]:
    """When each file's ``stage`` was written down, for those at or after ``since`` (ISO 8601, UTC)."""
    query = select(work.c.made_at).where(work.c.stage == stage, work.c.stamp == stamp, work.c.made_at >= since)
    return sorted(at for (at,) in connection.execute(query))


def compared_digests(connection: Connection, stamp: str) -> set[str]:
    """Digests of all files of which a part stands in a pair that was compared."""
    sides = (pair.c.digest_a, pair.c.digest_b)
    return {d for side in sides for (d,) in connection.execute(select(side).where(pair.c.stamp == stamp).distinct())}


def matches_touching(connection: Connection, stamp: str, keys: Sequence[PartKey]) -> list[Match]:
    """The matches under ``stamp`` of which at least one part is among ``keys``."""
    wanted, digests = set(keys), {k.digest for k in keys}
    query = select(pair.c.payload, pair.c.stamp).where(  # by file, not by stamp: see pairs.linked
        pair.c.payload.is_not(None), or_(pair.c.digest_a.in_(digests), pair.c.digest_b.in_(digests))
    )
    found = [from_text(Match, payload) for payload, of in connection.execute(query) if of == stamp]
    touching = sorted((m for m in found if m.a in wanted or m.b in wanted), key=lambda m: (m.a, m.b))
    return as_learnt(connection, touching)


def flagged(
    connection: Connection,
    stamps: Mapping[str, str],
    severities: Sequence[Severity],
    stages: Sequence[str] = (),
    digests: Sequence[str] | None = None,
) -> list[tuple[PartKey, Finding]]:
    """Findings of these severities under ``stamps`` (stage -> stamp), with the part that the entry is of.

    Where ``stages`` or ``digests`` are named, what these stages found, and on these files, alone: that is quick.
    """
    looks_like = or_(*(work.c.payload.contains(f'"severity":"{severity}"') for severity in severities))
    query = (
        select(work.c.digest, work.c.part, work.c.stage, work.c.stamp, work.c.state, work.c.payload)
        .where(looks_like)
        .order_by(work.c.digest, work.c.part, work.c.stage)
    )
    if stages and digests is None:  # of few files all is looked up by file: SQLite would rather go through the stage
        of = work.c.stage, work.c.stamp
        query = query.where(or_(*(and_(of[0] == s, of[1] == stamps[s]) for s in stages if s in stamps), false()))
    made = []
    asked = [query] if digests is None else [query.where(some) for some in _among(digests)]
    for digest, part, stage, stamp, state, payload in (row for one in asked for row in connection.execute(one)):
        if stamps.get(stage) == stamp and (not stages or stage in stages):
            held = json.loads(payload)
            rows = [held] if state != "done" else held.get("findings", [])
            found = (from_text(Finding, json.dumps(row)) for row in rows)
            made += [(PartKey(digest, part), f) for f in found if f.severity in severities]
    return made


def _among(digests: Sequence[str]) -> Iterator[ColumnElement[bool]]:
    for start in range(0, len(digests), _AT_ONCE):
        yield work.c.digest.in_(digests[start : start + _AT_ONCE])
