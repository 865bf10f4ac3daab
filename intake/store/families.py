"""Families and the queue: derived, and replaced whole when they are made again."""

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, delete, func, insert, select, update

from intake.kin import Family, Member, QueueEntry
from intake.model import Evidence, PartKey
from intake.store.campaigns import drop_campaigns
from intake.store.codec import from_text, to_text
from intake.store.schema import family, member, queue_entry, related, scan

_AT_ONCE = 400


def replace_families(connection: Connection, families: Iterable[Family], queue: Iterable[QueueEntry], key: str) -> None:
    """Put these families and this queue in the place of those before, whose campaigns go with them.

    ``key`` says what they were made from.
    """
    drop_campaigns(connection)  # they name families
    for table in (queue_entry, member, family, related):
        connection.execute(delete(table))
    put_families(connection, families, queue)
    connection.execute(insert(related).values(id=1, key=key))


def put_families(connection: Connection, families: Iterable[Family], queue: Iterable[QueueEntry]) -> None:
    """Add families and their places in the queue."""
    made = list(families)
    if made:
        rows = [{"code": f.code, "status": f.status, "title": f.title, "weakest": f.weakest} for f in made]
        connection.execute(insert(family), rows)
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
                for f in made
                for m in f.members
            ],
        )
    entries = [{"family": e.family, "weight": e.weight, "reasons": to_text(e.reasons)} for e in queue]
    if entries:
        connection.execute(insert(queue_entry), entries)


def drop_families(connection: Connection, codes: Iterable[str]) -> None:
    """Take these families away with their places in the queue; no campaign may name them any more."""
    gone = sorted(set(codes))
    for start in range(0, len(gone), _AT_ONCE):
        some = gone[start : start + _AT_ONCE]
        connection.execute(delete(queue_entry).where(queue_entry.c.family.in_(some)))
        connection.execute(delete(member).where(member.c.family.in_(some)))
        connection.execute(delete(family).where(family.c.code.in_(some)))


def families_by_code(connection: Connection, codes: Iterable[str]) -> list[Family]:
    """These families (few) with their members, by code."""
    wanted = sorted(set(codes))
    members: dict[str, list[Member]] = {}
    rows = connection.execute(
        select(member).where(member.c.family.in_(wanted)).order_by(member.c.family, member.c.digest, member.c.part)
    )
    for code, digest, part, role, probability in rows:
        members.setdefault(code, []).append(Member(PartKey(digest, part), role, probability))
    found = connection.execute(select(family).where(family.c.code.in_(wanted)).order_by(family.c.code))
    return [Family(code, status, title, tuple(members[code]), weakest) for code, status, title, weakest in found]


def titles(connection: Connection) -> dict[str, str]:
    """Code -> title of every family; empty where it has none."""
    return {row.code: row.title for row in connection.execute(select(family.c.code, family.c.title))}


def count_families(connection: Connection) -> tuple[int, int]:
    """(families that wait, families that do not)."""
    waiting = int(connection.execute(select(func.count()).select_from(queue_entry)).scalar_one())
    return waiting, int(connection.execute(select(func.count()).select_from(family)).scalar_one()) - waiting


def queue_order(connection: Connection) -> list[str]:
    """The codes of the families that wait, the heaviest first."""
    rows = connection.execute(select(queue_entry.c.family).order_by(queue_entry.c.weight.desc(), queue_entry.c.family))
    return [code for (code,) in rows]


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
    digests = sorted({k.digest for k in wanted})
    codes: dict[PartKey, str] = {}
    for start in range(0, len(digests), _AT_ONCE):
        rows = connection.execute(select(member).where(member.c.digest.in_(digests[start : start + _AT_ONCE])))
        codes |= {PartKey(digest, part): code for code, digest, part, _, _ in rows}
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


def codes_with_pieces_of(connection: Connection, consignments: Sequence[str]) -> set[str]:
    """The families that hold a piece of any of these consignments."""
    query = select(member.c.family).join(scan, scan.c.digest == member.c.digest).distinct()
    return {code for (code,) in connection.execute(query.where(scan.c.consignment.in_(consignments)))}


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
