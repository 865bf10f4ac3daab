"""Small pictures as the pages ask for them: upright, and cut. What is looked at closely comes as tiles (``iiif``)."""

from pathlib import Path
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from intake.model import Box, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.looks import may_see
from intake.services.pictures import NoPicture, upright_jpeg
from intake.services.shown import MemberView
from intake.store import desk as asks
from intake.store import scans
from intake.web import asked
from intake.web.desk import Desk
from intake.web.whose import in_words, laid
from intake.web.words import part_name

_KEPT = {"Cache-Control": "private, max-age=3600"}
_THUMB_PX = 360


def picture_address(member: MemberView, size: str = "full", film: bool = False) -> str:
    """Where a member's picture is, upright; a negative as a positive unless the film itself is wanted."""
    up = member.upright
    asked_for = {"size": size}
    if up and up.turn:
        asked_for["turn"] = str(up.turn)
    if up and up.mirrored:
        asked_for["mirror"] = "1"
    if member.is_negative and not film:
        asked_for["positive"] = "1"
    return f"/picture/{part_name(member.key)}?{urlencode(asked_for)}"


def crop_address(member: MemberView, box: Box) -> str:
    """Where the crop of a mark is."""
    up = member.upright
    values = {"part": part_name(member.key), **box._asdict()}
    if up:
        values |= {"turn": up.turn, "mirror": int(up.mirrored)}
    return f"/crop?{urlencode(values)}"


def picture(request: Request) -> Response:
    """GET /picture/PART?size=thumb|full&turn=&mirror=&positive="""
    desk: Desk = request.app.state.desk
    key = asked.part(request.path_params["part"])
    turn, mirrored = asked.turned(request.query_params)
    _may_see(request, key)
    stamps = _stamps(desk)
    longest = _THUMB_PX if request.query_params.get("size") == "thumb" else None
    names = ["thumb" if longest else "working"]
    if request.query_params.get("positive") == "1":
        names.insert(0, "positive")
    for name in names:
        path = desk.home.picture(key, name, stamps.stages["classify" if name == "positive" else "render"])
        try:
            return Response(upright_jpeg(path, turn, mirrored, longest), media_type="image/jpeg", headers=_KEPT)
        except NoPicture:
            continue
    raise HTTPException(404, "There is no picture of this.")


def crop(request: Request) -> Response:
    """GET /crop?part=&left=&top=&width=&height=&turn=&mirror="""
    desk: Desk = request.app.state.desk
    values = request.query_params
    key, box, (turn, mirrored) = asked.part(values.get("part")), asked.box(values), asked.turned(values)
    _may_see(request, key)
    stamps = _stamps(desk)
    d = _known(desk, stamps, key)[key]
    with desk.home.database.read() as connection:
        folder = next(c.folder for c in scans.consignments(connection) if c.code == d.scan.consignment)
    try:
        made = desk.crops.jpeg(d, folder, box, _best(desk, stamps, d), turn, mirrored)
    except NoPicture as error:
        raise HTTPException(404, "There is no picture of this.") from error
    return Response(made, media_type="image/jpeg", headers=_KEPT)


def _may_see(request: Request, key: PartKey) -> None:
    desk: Desk = request.app.state.desk
    with in_words(), desk.home.database.read() as connection:
        may_see(connection, laid(request), [key.digest])


def _stamps(desk: Desk) -> Stamps:
    with desk.home.database.read() as connection:
        stamps = asks.shown_stamps(connection)
    if stamps is None:
        raise HTTPException(404, "Nothing was looked at yet.")
    return stamps


def _known(desk: Desk, stamps: Stamps, *keys: PartKey) -> dict[PartKey, Dossier]:
    with desk.home.database.read() as connection:
        have = dossiers_of(connection, stamps, keys)
    if set(keys) - set(have):
        raise HTTPException(404, "There is no such piece.")
    return have


def _best(desk: Desk, stamps: Stamps, d: Dossier) -> Path:
    """The positive of a negative where there is one, else the working image."""
    positive = desk.home.picture(d.key, "positive", stamps.stages["classify"])
    if d.classified and d.classified.polarity == "negative" and positive.is_file():
        return positive
    return desk.home.picture(d.key, "working", stamps.stages["render"])
