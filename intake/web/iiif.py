"""Tiles after the IIIF Image API 3.0 (iiif.io/api/image/3.0): level 0 with the features that ``info`` names.

Higher levels ask that any page of the web may read the pictures; this desk's are for its own pages alone.
"""

import asyncio
import re
from dataclasses import dataclass
from typing import Any

import cv2
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from intake.config.looking import LookingRules
from intake.model import Box
from intake.services.looks import Wanted
from intake.services.shown import MemberView
from intake.services.tiles import Look
from intake.web import asked
from intake.web.desk import Desk
from intake.web.whose import in_words, laid
from intake.web.words import part_name

_KEPT = {"Cache-Control": "private, max-age=3600"}
_PART = r"[0-9a-f]{64}-[1-9][0-9]{0,3}"
_NAME = re.compile(rf"({_PART})(?:~(0|90|180|270)(m?))?(~f)?(?:~on~({_PART})(~like)?)?")
_NUMBER = r"([0-9]{1,7})"
_SHARE = r"([0-9]{1,3}(?:\.[0-9]{1,10})?)"
_PIXELS = re.compile(",".join([_NUMBER] * 4))
_SHARES = re.compile(f"pct:{','.join([_SHARE] * 4)}")
_FEATURES = [
    "baseUriRedirect", "jsonldMediaType", "regionByPct", "regionByPx", "regionSquare", "sizeByConfinedWh", "sizeByH",
    "sizeByPct", "sizeByW", "sizeByWh",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class TileSource:
    """What a viewer needs to lay out a picture's tiles before it asks for any."""

    base: str
    width: int
    height: int
    tile: int

    @property
    def factors(self) -> list[int]:
        """By how much each layer of tiles is smaller than the scan: powers of two, down to one tile."""
        made = [1]
        while max(self.width, self.height) > made[-1] * self.tile:
            made.append(2 * made[-1])
        return made


def view_name(member: MemberView, film: bool = False, on: MemberView | None = None) -> str:
    """The identifier of a member's upright picture, or of that picture laid over ``on``."""
    up = (on or member).upright
    name = part_name(member.key)
    if up:
        name += f"~{up.turn}{'m' if up.mirrored else ''}"
    return f"{name}{'~f' if film and member.is_negative else ''}{f'~on~{part_name(on.key)}' if on else ''}"


def base_address(member: MemberView, film: bool = False, on: MemberView | None = None) -> str:
    """Where the tiles of such a picture are."""
    return f"/iiif/{view_name(member, film, on)}"


def tile_source(member: MemberView, rules: LookingRules) -> TileSource | None:
    """The tiles of a member's upright picture; of what is laid over it, the same at another address."""
    return TileSource(base_address(member), *member.upright.size, rules.tile_px) if member.upright else None


def redirect(request: Request) -> Response:
    """GET /iiif/NAME"""
    return RedirectResponse(f"{_identifier(request)}/info.json", 303)


def info(request: Request) -> Response:
    """GET /iiif/NAME/info.json"""
    desk: Desk = request.app.state.desk
    rules, look = desk.config.looking, _look(request)
    width, height = look.frame.size
    source = TileSource(_identifier(request), width, height, rules.tile_px)
    kept = [f for f in source.factors if max(width, height) / f <= rules.most_px]
    values: dict[str, Any] = {
        "@context": "http://iiif.io/api/image/3/context.json",
        "id": source.base,
        "type": "ImageService3",
        "protocol": "http://iiif.io/api/image",
        "profile": "level0",
        "width": width,
        "height": height,
        "maxWidth": rules.most_px,
        "maxHeight": rules.most_px,
        "sizes": [{"width": -(-width // f), "height": -(-height // f)} for f in reversed(kept)],
        "tiles": [{"width": rules.tile_px, "height": rules.tile_px, "scaleFactors": source.factors}],
        "extraFeatures": _FEATURES,
    }
    wants_plain = "application/ld+json" not in request.headers.get("accept", "")
    kind = "application/json" if wants_plain else "application/ld+json"
    profile = ';profile="http://iiif.io/api/image/3/context.json"'
    return JSONResponse(values, headers=_KEPT, media_type=kind + profile)


def tile(request: Request) -> Response:
    """GET /iiif/NAME/REGION/SIZE/0/default.jpg"""
    desk: Desk = request.app.state.desk
    rules, look = desk.config.looking, _look(request)
    given = request.path_params
    if (given["rotation"], given["file"]) != ("0", "default.jpg"):
        asked.bad("Pictures come as default.jpg, turned by 0: how they are set upright stands in their name.")
    box = region(given["region"], *look.frame.size)
    size = size_of(given["size"], box, rules.most_px)
    with in_words():
        made, is_sharp = desk.tiles.region(look, box, size)
    quality = [cv2.IMWRITE_JPEG_QUALITY, rules.tile_quality]
    data = cv2.imencode(".jpg", made[:, :, ::-1], quality)[1].tobytes()
    headers = _KEPT if is_sharp else {"Cache-Control": "no-store"}
    return Response(data, media_type="image/jpeg", headers=headers)


async def sharp(request: Request) -> Response:
    """GET /sharp/NAME : answers once the tiles of a picture can be as sharp as the scan, or says why they cannot."""
    desk: Desk = request.app.state.desk
    look = await run_in_threadpool(_look, request)
    with in_words():
        words = ""
        if not await run_in_threadpool(desk.tiles.is_sharp, look):
            making = desk.tiles.pyramids.make(look.source)
            words = await asyncio.shield(asyncio.wrap_future(making))
    return JSONResponse({"sharp": not words, "words": words})


def region(text: str, width: int, height: int) -> Box:
    """The region of a picture of this size that is asked for, cut at its edges (section 4.1 of the API)."""
    if text == "full":
        return Box(0, 0, width, height)
    if text == "square":
        edge = min(width, height)
        return Box((width - edge) // 2, (height - edge) // 2, edge, edge)
    if found := _PIXELS.fullmatch(text):
        left, top, wide, high = map(int, found.groups())
    elif found := _SHARES.fullmatch(text):
        shares = [float(g) / 100 for g in found.groups()]
        left, top, wide, high = (round(s * of) for s, of in zip(shares, (width, height) * 2, strict=True))
    else:
        asked.bad("No such region.")
    wide, high = min(wide, width - left), min(high, height - top)
    if wide < 1 or high < 1:
        asked.bad("That region lies outside the picture, or is empty.")
    return Box(left, top, wide, high)


def size_of(text: str, box: Box, most_px: int) -> tuple[int, int]:
    """The size that is asked for (section 4.2). No picture is made larger than its scan, nor than ``most_px``."""
    wide, high = box.width, box.height
    if text == "max":
        return _within(wide, high, min(1.0, most_px / max(wide, high)))
    if found := re.fullmatch(f"pct:{_SHARE}", text):
        size = _within(wide, high, float(found[1]) / 100)
    elif found := re.fullmatch(f"!{_NUMBER},{_NUMBER}", text):
        size = _within(wide, high, min(int(found[1]) / wide, int(found[2]) / high, 1.0))
    elif found := re.fullmatch(f"{_NUMBER},{_NUMBER}", text):
        size = int(found[1]), int(found[2])
    elif found := re.fullmatch(f"{_NUMBER},", text):
        size = int(found[1]), max(1, round(high * int(found[1]) / wide))
    elif found := re.fullmatch(f",{_NUMBER}", text):
        size = max(1, round(wide * int(found[1]) / high)), int(found[1])
    else:
        asked.bad("No such size.")
    if min(size) < 1 or max(size) > most_px or size[0] > wide or size[1] > high:
        asked.bad(f"A size within that of the region, and of at most {most_px} pixels, is needed.")
    return size


def _within(wide: int, high: int, factor: float) -> tuple[int, int]:
    return max(1, round(wide * factor)), max(1, round(high * factor))


def _wanted(request: Request) -> Wanted:
    found = _NAME.fullmatch(request.path_params["name"])
    if found is None:
        asked.missing("No such picture.")
    on = asked.part(found[5]) if found[5] else None
    return Wanted(asked.part(found[1]), int(found[2] or 0), found[3] == "m", bool(found[4]), on, bool(found[6]))


def _identifier(request: Request) -> str:
    """The whole address of a picture, with its name in the one right spelling."""
    wanted = _wanted(request)
    turned = f"~{wanted.turn}{'m' if wanted.mirrored else ''}" if wanted.turn or wanted.mirrored else ""
    on = f"~on~{part_name(wanted.on)}{'~like' if wanted.like else ''}" if wanted.on else ""
    name = f"{part_name(wanted.key)}{turned}{'~f' if wanted.film else ''}{on}"
    return f"{str(request.base_url).rstrip('/')}/iiif/{name}"


def _look(request: Request) -> Look:
    desk: Desk = request.app.state.desk
    with in_words():
        return desk.looks.look(_wanted(request), laid(request))
