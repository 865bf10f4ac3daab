"""What a client may ask, checked before anything is done with it. Nothing from a client ever becomes a path."""

import re
from collections.abc import Mapping
from typing import Any, NoReturn
from urllib.parse import parse_qsl, quote, unquote, urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request

from intake.model import Box, PartKey
from intake.services.correcting import AskedReading

_PART = re.compile(r"([0-9a-f]{64})-([1-9][0-9]{0,3})")
_READING = re.compile(r"([0-9a-f]{64}-[1-9][0-9]{0,3})\.([a-z_]{1,30})((?:\.[0-9]{1,7}){4})\.([0-9a-f]{12})")
_CODE = re.compile(r"[0-9A-Za-z_-]{1,20}")
_LONGEST = 300
_MOST_PX = 1_000_000
_COOKIE = "kinfold_who"
SEAT = "kinfold_seat"


def bad(words: str) -> NoReturn:
    """Refuse the request in words."""
    raise HTTPException(400, words)


def missing(words: str) -> NoReturn:
    """Say that there is no such thing."""
    raise HTTPException(404, words)


def part(text: str | None) -> PartKey:
    """A part's name as the pages write it: digest, hyphen, number."""
    found = _PART.fullmatch(text or "")
    if found is None:
        bad("No such picture.")
    return PartKey(found[1], int(found[2]))


def code(text: str | None) -> str:
    """A family's code."""
    if not _CODE.fullmatch(text or ""):
        bad("No such family.")
    return text or ""


def number(values: Mapping[str, Any], name: str, least: int, most: int, default: int | None = None) -> int:
    """A whole number within bounds."""
    text = values.get(name)
    if text is None and default is not None:
        return default
    if not isinstance(text, str) or not re.fullmatch(r"-?[0-9]{1,9}", text) or not least <= int(text) <= most:
        bad(f"{name}: a whole number from {least} to {most} is needed.")
    return int(text)


def box(values: Mapping[str, Any]) -> Box:
    """A rectangle of stored pixels."""
    left, top = (number(values, name, 0, _MOST_PX) for name in ("left", "top"))
    width, height = (number(values, name, 1, _MOST_PX) for name in ("width", "height"))
    return Box(left, top, width, height)


def reading(text: str) -> AskedReading:
    """A reading as the pages write it: part, kind, place, and the digest of what was shown, with dots between."""
    found = _READING.fullmatch(text)
    if found is None:
        bad("No such reading.")
    place = zip(Box._fields, found[3].split(".")[1:], strict=True)
    return AskedReading(part(found[1]), found[2], box(dict(place)), found[4])


def readings_address(code: str, kind: str = "", value: str = "", put: str = "") -> str:
    """The page of the readings that wait in a consignment, or of those of one kind and value."""
    given = {"of": code, "kind": kind, "value": value, "put": put}
    return f"/readings?{urlencode({n: v[:_LONGEST] for n, v in given.items() if v})}"


def hazards_address(code: str, box: str = "") -> str:
    """The page of a consignment's hazards, or of one box (its token)."""
    return f"/hazards?{urlencode({n: v[:_LONGEST] for n, v in (('of', code), ('box', box)) if v})}"


def turned(values: Mapping[str, Any]) -> tuple[int, bool]:
    """How to set a picture upright: turn, and whether it is mirrored first."""
    turn = number(values, "turn", 0, 270, 0)
    if turn % 90:
        bad("turn: 0, 90, 180 or 270.")
    return turn, number(values, "mirror", 0, 1, 0) == 1


def who(request: Request) -> str:
    """The name that the person sat down under; without named users, the one they gave; or empty."""
    if (sits := request.scope.get("sits")) is not None:
        return str(sits)
    return unquote(request.cookies.get(_COOKIE, ""))[:60]


def seat(token: str) -> dict[str, Any]:
    """The cookie that keeps the seat until the browser is closed."""
    return {"key": SEAT, "value": token, "httponly": True, "samesite": "strict", "path": "/"}


def cookie(name: str) -> dict[str, Any]:
    """The cookie that keeps the name for a year."""
    return {
        "key": _COOKIE,
        "value": quote(name),
        "max_age": 365 * 24 * 3600,
        "httponly": True,
        "samesite": "strict",
        "path": "/",
    }


def changed(values: Mapping[str, str], **given: str) -> str:
    """What an address asked for, with some of it changed, and without what was ruled a moment ago."""
    kept = {n: v[:_LONGEST] for n, v in values.items() if n != "done"} | given
    return urlencode(kept)


def sieved(text: str, known: tuple[str, ...]) -> str:
    """What a form says that an address asked for, in the parameters that are known; ends so that more may follow."""
    kept = {n: v[:_LONGEST] for n, v in parse_qsl(text[:4000]) if n in known}
    return f"{urlencode(kept)}&" if kept else ""


def light(request: Request) -> str:
    """In what light the desk is shown, as the person chose: ``light``, ``dim``; empty for as the machine is."""
    chosen = request.cookies.get("kinfold_light", "")
    return chosen if chosen in ("light", "dim") else ""
