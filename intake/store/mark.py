"""A mark of the ledger as it is: where it is the same, the tables that are made of it are the same."""

import hashlib

from sqlalchemy import Connection, func, select

from intake.store.schema import consignment, metadata, related, run

# Rows are added to these, or go with a withdrawal; what is derived of them follows `related` and the newest run.
_GROWING = (
    "scan", "listed", "receipt_finding", "decision", "move", "piece_relation", "work", "pair", "difference", "family",
    "withdrawal",
)  # fmt: skip


def ledger_mark(connection: Connection) -> str:
    """The mark: 16 hexadecimal digits."""
    counts = [connection.execute(select(func.count()).select_from(metadata.tables[n])).scalar_one() for n in _GROWING]
    owners = connection.execute(select(consignment).order_by(consignment.c.code)).all()
    newest = connection.execute(select(run.c.id, run.c.ended_at).order_by(run.c.id.desc()).limit(1)).all()
    keys = connection.execute(select(related.c.key).order_by(related.c.id)).all()
    return hashlib.sha256(repr((counts, owners, newest, keys)).encode("utf-8", "replace")).hexdigest()[:16]
