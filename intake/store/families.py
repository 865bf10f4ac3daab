"""Families and the queue: derived, and replaced whole when they are made again."""

from collections.abc import Iterable

from sqlalchemy import Connection, delete, insert, select, update

from intake.kin import Family, Member, QueueEntry
from intake.model import Evidence, PartKey
from intake.store.campaigns import drop_campaigns
from intake.store.codec import from_text, to_text
from intake.store.schema import family, member, queue_entry, related


def replace_families(connection: Connection, families: Iterable[Family], queue: Iterable[QueueEntry], key: str) -> None:
    """Put these families and this queue in the place of those before, whose campaigns go with them.

    ``key`` says what they were made from.
    """
    drop_campaigns(connection)  # they name families
    for table in (queue_entry, member, family, related):
        connection.execute(delete(table))
    for f in families:
        connection.execute(insert(family).values(code=f.code, status=f.status, title=f.title, weakest=f.weakest))
        connection.execute(
            insert(member),
            [
                {
                    "family": f.code,
                    "digest": m.key.digest,
                    "part": m.key.part,
                    "role": m.role,
                    "probability": m.probability,
                }
                for m in f.members
            ],
        )
    for entry in queue:
        connection.execute(
            insert(queue_entry).values(family=entry.family, weight=entry.weight, reasons=to_text(entry.reasons))
        )
    connection.execute(insert(related).values(id=1, key=key))


def related_key(connection: Connection) -> str:
    """What the families of now were made from; empty when there are none yet."""
    return connection.execute(select(related.c.key).where(related.c.id == 1)).scalar_one_or_none() or ""


def all_families(connection: Connection) -> list[Family]:
    """Every family with its members, by code."""
    members: dict[str, list[Member]] = {}
    for code, digest, part, role, probability in connection.execute(
        select(member).order_by(member.c.family, member.c.digest, member.c.part)
    ):
        members.setdefault(code, []).append(Member(PartKey(digest, part), role, probability))
    rows = connection.execute(select(family).order_by(family.c.code))
    return [Family(code, status, title, tuple(members[code]), weakest) for code, status, title, weakest in rows]


def codes_of(connection: Connection, keys: Iterable[PartKey]) -> dict[PartKey, str]:
    """The family of each of these few parts; nothing for a part that is in none."""
    wanted = set(keys)
    rows = connection.execute(select(member).where(member.c.digest.in_({k.digest for k in wanted})))
    codes = {PartKey(digest, part): code for code, digest, part, _, _ in rows}
    return {key: code for key, code in codes.items() if key in wanted}


def members_of(connection: Connection, codes: Iterable[str]) -> dict[str, list[PartKey]]:
    """The members of these few families, by code."""
    rows = connection.execute(select(member).where(member.c.family.in_(sorted(set(codes)))))
    made: dict[str, list[PartKey]] = {}
    for code, digest, part, _, _ in rows:
        made.setdefault(code, []).append(PartKey(digest, part))
    return made


def members_with(connection: Connection, keys: Iterable[PartKey]) -> list[PartKey]:
    """All members of the families that these few parts are in, sorted."""
    codes = sorted(set(codes_of(connection, keys).values()))
    rows = connection.execute(select(member.c.digest, member.c.part).where(member.c.family.in_(codes)))
    return sorted(PartKey(digest, part) for digest, part in rows)


def queue(connection: Connection) -> list[QueueEntry]:
    """The queue, the heaviest first."""
    rows = connection.execute(select(queue_entry).order_by(queue_entry.c.weight.desc(), queue_entry.c.family))
    return [QueueEntry(code, weight, from_text(tuple[Evidence, ...], reasons)) for code, weight, reasons in rows]


def entries_of(connection: Connection, codes: Iterable[str]) -> list[QueueEntry]:
    """The places in the queue of these few families; none for a family that does not wait."""
    rows = connection.execute(select(queue_entry).where(queue_entry.c.family.in_(sorted(set(codes)))))
    return [QueueEntry(code, weight, from_text(tuple[Evidence, ...], reasons)) for code, weight, reasons in rows]


def change_entry(connection: Connection, entry: QueueEntry) -> None:
    """Give a family that waits another place in the queue."""
    at = update(queue_entry).where(queue_entry.c.family == entry.family)
    connection.execute(at.values(weight=entry.weight, reasons=to_text(entry.reasons)))
