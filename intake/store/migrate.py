"""The schema's version: a home of an older one is brought forward when it is opened, one of a newer one is refused.

Missing tables and indexes are made as they stand in ``schema.py``; what changes a table that is there already is a
revision in ``migrations/versions`` (alembic), and ``NEWEST`` names the last. alembic is loaded only when one is due.
"""

from pathlib import Path

from sqlalchemy import Connection, Index, delete, inspect, select

from intake.errors import HomeError
from intake.store.schema import metadata, schema_version

NEWEST = "0002"
_FIRST = "0001"  # the tables as they were before versions were written down
_FOLDER = Path(__file__).parent / "migrations"


def is_current(connection: Connection) -> bool:
    """Is there nothing to make or to change? Asked first, so that opening a home waits for nobody who writes."""
    seen = inspect(connection)
    there = set(seen.get_table_names())
    if not set(metadata.tables) <= there or _version(connection, there) != NEWEST:
        return False
    indexes = {i["name"] for some in seen.get_multi_indexes().values() for i in some}
    return all(index.name in indexes for index in indexes_of(connection))


def bring_forward(connection: Connection, name: str) -> None:
    """Make the tables of now, within the caller's transaction. Raises HomeError when those that are there are not ours.

    ``name`` is what messages call the database.
    """
    there = set(inspect(connection).get_table_names())
    is_new = not there & set(metadata.tables)
    before = NEWEST if is_new else _version(connection, there)
    if before > NEWEST:
        raise HomeError(
            f"{name}: was made by a newer Kinfold (tables of version {before}; this one knows {NEWEST}). Use that "
            "Kinfold, or name another home with --home. Nothing was changed."
        )
    if before < NEWEST:
        _refuse_strangers(connection, name, there, keys_alone=True)
        _upgrade(connection, before)
    metadata.create_all(connection)
    _refuse_strangers(connection, name, set(metadata.tables))
    for index in indexes_of(connection):  # of a table that was there before the index was
        index.create(connection, checkfirst=True)
    if is_new:
        connection.execute(schema_version.insert().values(version_num=NEWEST))


def indexes_of(connection: Connection) -> list[Index]:
    """The indexes that this sort of database is to have: some are for one alone (``ddl_if``)."""
    every = [index for table in metadata.sorted_tables for index in table.indexes]
    return [i for i in every if i._ddl_if is None or i._ddl_if.dialect == connection.dialect.name]


def _version(connection: Connection, there: set[str]) -> str:
    if schema_version.name not in there:
        return _FIRST
    return str(connection.execute(select(schema_version.c.version_num)).scalar_one_or_none() or _FIRST)


def _refuse_strangers(connection: Connection, name: str, there: set[str], keys_alone: bool = False) -> None:
    """A table that lacks columns which no revision has added is another program's."""
    seen = inspect(connection)
    for table in metadata.sorted_tables:
        if table.name in there:
            held = {c["name"] for c in seen.get_columns(table.name)}
            lacking = {c.name for c in table.columns if c.primary_key or not keys_alone} - held
            if lacking:
                raise HomeError(
                    f"{name}: its table {table.name} lacks {', '.join(sorted(lacking))}; it is of another version "
                    "or another program. Name another home with --home."
                )


def _upgrade(connection: Connection, before: str) -> None:
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    schema_version.create(connection, checkfirst=True)
    script = ScriptDirectory(str(_FOLDER))
    context = MigrationContext.configure(connection)
    with Operations.context(context):
        for revision in reversed(list(script.iterate_revisions(NEWEST, before))):
            revision.module.upgrade()
    connection.execute(delete(schema_version))
    connection.execute(schema_version.insert().values(version_num=NEWEST))
