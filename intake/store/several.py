"""Numbered sets and sections of sheets: derived with the families, and replaced whole."""

from collections.abc import Iterable

from sqlalchemy import Connection, delete, insert, select

from intake.kin import NumberedSet, Section
from intake.store.codec import from_text, to_text
from intake.store.schema import several


def replace_several(connection: Connection, sets: Iterable[NumberedSet], sections: Iterable[Section]) -> None:
    """Put these in the place of those before."""
    connection.execute(delete(several))
    rows = [("set", to_text(s)) for s in sets] + [("section", to_text(s)) for s in sections]
    if rows:
        connection.execute(insert(several), [{"id": n, "sort": s, "payload": p} for n, (s, p) in enumerate(rows, 1)])


def all_sets(connection: Connection) -> list[NumberedSet]:
    """Every numbered set, in the order of its first card."""
    query = select(several.c.payload).where(several.c.sort == "set").order_by(several.c.id)
    return [from_text(NumberedSet, payload) for (payload,) in connection.execute(query)]


def all_sections(connection: Connection) -> list[Section]:
    """Every pair of sections, in the order of its parts."""
    query = select(several.c.payload).where(several.c.sort == "section").order_by(several.c.id)
    return [from_text(Section, payload) for (payload,) in connection.execute(query)]
