"""One row for each run: when, with which engines, and how it ended."""

import json
from collections.abc import Mapping

from sqlalchemy import Connection, insert, select, update

from intake.model import Stamps
from intake.store.codec import from_text, to_text
from intake.store.schema import run


def start_run(
    connection: Connection,
    at: str,
    engines: dict[str, str],
    stamps: Stamps,
    settings: Mapping[str, Mapping[str, str]] | None = None,
) -> int:
    """Add a run that has begun; returns its number. ``settings``: what each stage was told, key by key."""
    row = {
        "started_at": at,
        "engines": json.dumps(engines, sort_keys=True),
        "stamps": to_text(stamps),
        "settings": json.dumps(settings, sort_keys=True) if settings else None,
    }
    number = connection.execute(insert(run).values(row).returning(run.c.id)).scalar_one()
    return int(number)


def end_run(connection: Connection, number: int, at: str, ending: str, report: str) -> None:
    """Write down how a run ended, and its report as text."""
    connection.execute(update(run).where(run.c.id == number).values(ended_at=at, ending=ending, report=report))


def last_run(connection: Connection) -> tuple[str, str | None, str | None] | None:
    """(started at, ended at, ending) of the newest run."""
    row = connection.execute(select(run.c.started_at, run.c.ended_at, run.c.ending).order_by(run.c.id.desc())).first()
    return None if row is None else (row[0], row[1], row[2])


def is_at_work(connection: Connection, number: int) -> bool:
    """Has this run not ended, and has none begun after it?"""
    newest = connection.execute(select(run.c.id, run.c.ended_at).order_by(run.c.id.desc()).limit(1)).first()
    return newest is not None and newest[0] == number and newest[1] is None


def current_stamps(connection: Connection) -> Stamps | None:
    """The stamps of the newest run: what the tables and the desk show. None before the first run."""
    text = connection.execute(select(run.c.stamps).order_by(run.c.id.desc()).limit(1)).scalar_one_or_none()
    return None if text is None else from_text(Stamps, text)


def current_settings(connection: Connection) -> dict[str, dict[str, str]] | None:
    """What each stage of the newest run was told; None where that was not written down."""
    text = connection.execute(select(run.c.settings).order_by(run.c.id.desc()).limit(1)).scalar_one_or_none()
    return None if text is None else from_text(dict[str, dict[str, str]], text)
