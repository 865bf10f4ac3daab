"""Add rows, leaving alone those whose key is there already: the same on SQLite and PostgreSQL."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite


def put_rows(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """INSERT ... ON CONFLICT DO NOTHING, all rows in one statement."""
    if rows:
        dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
        connection.execute(dialect.insert(table).on_conflict_do_nothing(), rows)
