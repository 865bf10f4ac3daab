"""Comparison points: on a proven piece a person marks a place and says what an original-release printing shows there
and what known reproductions show. A point is a decision on a scan's part and place, so it travels with the design.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from intake.config.load import Config
from intake.errors import UsageError
from intake.kin import Decision
from intake.model import Box, PartKey
from intake.services.dossiers import dossiers_of
from intake.services.home import Home, now
from intake.services.review import LONGEST_WORDS, RulingRefused, named, one_at_a_time, tidy
from intake.services.rulings import standing
from intake.store import decisions, desk, families, scans
from intake.store.database import Connection

VERB = "mark_point"
LONGEST_NAME = 60
_MOST_BYTES = 2_000_000
_MOST_ROWS = 2_000


@dataclass(frozen=True, slots=True)
class Point:
    """One point: the decision's number, the proven piece's part and the place on it in stored pixels; ``what`` it is
    called, what an ``original`` shows there and what known ``copies`` show, and by whom it was marked when; ``by``
    took it in here."""

    number: int
    key: PartKey
    box: Box
    what: str
    original: str
    copies: str
    who: str
    at: str
    by: str


def points_on(connection: Connection, keys: Iterable[PartKey] | None = None) -> list[Point]:
    """The points that stand on these parts, or all of them, the oldest first."""
    wanted = None if keys is None else set(keys)
    stand = standing(decisions.decisions_of(connection, ("mark_point",)))
    return [_point(d) for d in stand if wanted is None or d.parts[0] in wanted]


def _point(d: Decision) -> Point:
    s = d.shown
    by, at = str(s.get("by", "")), str(s.get("marked_at", ""))
    what, original, copies = (str(s.get(name, "")) for name in ("what", "original", "copies"))
    return Point(d.id, d.parts[0], Box(*s["box"]), what, original, copies, by or d.who, at or d.made_at, d.who)


def mark_point(
    home: Home, config: Config, who: str, key: PartKey, box: Box, what: str, original: str, copies: str
) -> int:
    """Mark one; returns the decision's number. Raises RulingRefused when it makes no sense."""
    who = named(who)
    shown = _words(what, original, copies)
    with one_at_a_time, home.database.write() as connection:
        stamps = desk.shown_stamps(connection)
        d = dossiers_of(connection, stamps, [key]).get(key) if stamps else None
        if d is None or d.rendered is None:
            raise RulingRefused("There is no such picture.")
        if d.ruled.reproduction:
            raise RulingRefused("This piece was ruled a reproduction: points are marked on a proven piece.")
        if not _holds(d.rendered.box, box):
            raise RulingRefused("The place has to lie on the picture of this piece.")
        code = families.codes_of(connection, [key]).get(key)
        inside = set(families.members_of(connection, [code])[code]) if code else {key}
        if len(points_on(connection, inside)) >= config.points.most:
            raise RulingRefused(f"A design has at most {config.points.most} points: take one back first.")
        return decisions.add_decision(
            connection, now(), who, "mark_point", [key], shown | {"box": list(box), "of": f"{d.title}: {shown['what']}"}
        )


def _words(what: str, original: str, copies: str) -> dict[str, str]:
    said = {
        "what": tidy(what, LONGEST_NAME),
        "original": tidy(original, LONGEST_WORDS),
        "copies": tidy(copies, LONGEST_WORDS),
    }
    if not said["what"] or not said["original"]:
        raise RulingRefused("Say what the place is, and what an original-release printing shows there.")
    return said


def _holds(part: Box, place: Box) -> bool:
    across = part.left <= place.left and place.left + place.width <= part.left + part.width
    return across and part.top <= place.top and place.top + place.height <= part.top + part.height


# ---- from home to home ----------------------------------------------------------------------------------------------

COLUMNS = ("scan", "part", "left", "top", "width", "height", "what", "original", "copies", "who", "at")


def point_rows(points: Sequence[Point]) -> list[tuple[Any, ...]]:
    """The points as a table: ``kinfold export points``."""
    return [(p.key.digest, p.key.part, *p.box, p.what, p.original, p.copies, p.who, p.at) for p in points]


class _Row(BaseModel):
    """One row as it comes from elsewhere: bounded, and nothing more than is known."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    scan: str = Field(pattern=r"^[0-9a-f]{64}$")
    part: int = Field(ge=1, le=9_999)
    left: int = Field(ge=0, le=1_000_000)
    top: int = Field(ge=0, le=1_000_000)
    width: int = Field(ge=1, le=1_000_000)
    height: int = Field(ge=1, le=1_000_000)
    what: str = Field(min_length=1, max_length=LONGEST_NAME)
    original: str = Field(min_length=1, max_length=LONGEST_WORDS)
    copies: str = Field(max_length=LONGEST_WORDS)
    who: str = Field(max_length=60)
    at: str = Field(max_length=40, pattern=r"^[0-9T:.+\-]*$")


@dataclass(frozen=True, slots=True)
class Taken:
    """How many points of a file were added, were there already, and lie on scans that this home has not received."""

    added: int
    known: int
    waiting: int


def import_points(home: Home, file: Path, who: str) -> Taken:
    """Add the points that another home exported as JSON; each is a decision of ``who``, who marked it stands in it.

    A point on a scan that is not here waits for it. Raises UsageError when the file is not such a table; nothing of it
    is added then.
    """
    rows = _read(file)
    try:
        who = named(who)
        words = [_words(r.what, r.original, r.copies) | {"by": tidy(r.who, 60)} for r in rows]
    except RulingRefused as error:
        raise UsageError(f"{file}: {error}") from error
    with one_at_a_time, home.database.write() as connection:
        there = {_same(p.key, p.box, p.what) for p in points_on(connection)}
        here = {s.digest for s in scans.all_scans(connection)}
        added = 0
        for row, said in zip(rows, words, strict=True):
            key, box = PartKey(row.scan, row.part), Box(row.left, row.top, row.width, row.height)
            if _same(key, box, said["what"]) in there:
                continue
            there.add(_same(key, box, said["what"]))
            shown = said | {"box": list(box), "marked_at": row.at, "of": said["what"]}
            decisions.add_decision(connection, now(), who, "mark_point", [key], shown)
            added += 1
    return Taken(added, len(rows) - added, len({r.scan for r in rows} - here))


def _same(key: PartKey, box: Box, what: str) -> tuple[object, ...]:
    return key, box, what.casefold()


def _read(file: Path) -> list[_Row]:
    try:
        with file.open("rb") as opened:
            data = opened.read(_MOST_BYTES + 1)
    except OSError as error:
        raise UsageError(f"{file}: cannot be read ({error.strerror}).") from error
    if len(data) > _MOST_BYTES:
        raise UsageError(f"{file}: more than {_MOST_BYTES:,} bytes; a table of points is smaller.")
    try:
        rows = TypeAdapter(list[_Row]).validate_json(data)
    except (ValidationError, json.JSONDecodeError, RecursionError) as error:
        first = error.errors()[0] if isinstance(error, ValidationError) else {"loc": (), "msg": str(error)}
        where = ".".join(map(str, first["loc"])) or "the file"
        raise UsageError(
            f"{file}: {where}: {first['msg']}. It has to be what `kinfold export points` wrote."
        ) from error
    if len(rows) > _MOST_ROWS:
        raise UsageError(f"{file}: more than {_MOST_ROWS:,} points.")
    return rows
