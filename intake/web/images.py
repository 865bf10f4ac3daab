"""Pictures as the pages ask for them: upright, cut, laid over one another."""

from pathlib import Path
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from intake.kin import Family
from intake.model import Box, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.pictures import NoPicture, laid_over, upright_jpeg
from intake.services.shown import MemberView
from intake.services.upright import Upright, registration
from intake.store import desk as asks
from intake.store import families, scans
from intake.web import asked
from intake.web.desk import Desk
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


def over_address(a: MemberView, b: MemberView, film: bool = False) -> str:
    """Where b's picture is, laid into a's frame."""
    up = a.upright
    values = {"a": part_name(a.key), "b": part_name(b.key)}
    if up:
        values |= {"turn": str(up.turn), "mirror": str(int(up.mirrored))}
    if film:
        values["film"] = "1"
    return f"/over?{urlencode(values)}"


def picture(request: Request) -> Response:
    """GET /picture/PART?size=thumb|full&turn=&mirror=&positive="""
    desk: Desk = request.app.state.desk
    key = asked.part(request.path_params["part"])
    turn, mirrored = asked.turned(request.query_params)
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
    stamps = _stamps(desk)
    d = _known(desk, stamps, key)[key]
    with desk.home.database.read() as connection:
        folder = next(c.folder for c in scans.consignments(connection) if c.code == d.scan.consignment)
    try:
        made = desk.crops.jpeg(d, folder, box, _best(desk, stamps, d), turn, mirrored)
    except NoPicture as error:
        raise HTTPException(404, "There is no picture of this.") from error
    return Response(made, media_type="image/jpeg", headers=_KEPT)


def over(request: Request) -> Response:
    """GET /over?a=&b=&turn=&mirror=&film= : b's picture warped into a's upright frame."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    a, b, (turn, mirrored) = asked.part(values.get("a")), asked.part(values.get("b")), asked.turned(values)
    stamps = _stamps(desk)
    have = _known(desk, stamps, a, b)
    with desk.home.database.read() as connection:
        beside = [m.key for f in families.all_families(connection) for m in f.members if _holds(f, a, b)]
        found = registration(a, b, asks.matches_touching(connection, stamps.match, sorted({a, b, *beside})))
    first, second = have[a].rendered, have[b].rendered
    if found is None or first is None or second is None:
        raise HTTPException(404, "These two are not joined by a match.")
    path = (
        desk.home.picture(b, "working", stamps.stages["render"])
        if values.get("film") == "1"
        else _best(desk, stamps, have[b])
    )
    try:
        made = laid_over(path, Upright(first.box, turn, mirrored), Upright(second.box, 0, False), found[0])
    except NoPicture as error:
        raise HTTPException(404, "These two cannot be laid over one another.") from error
    return Response(made, media_type="image/jpeg", headers=_KEPT)


def _holds(family: Family, *keys: PartKey) -> bool:
    return any(m.key in keys for m in family.members)


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
