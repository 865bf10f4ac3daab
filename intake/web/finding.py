"""Find: drop a picture of a piece just offered, or type what stands on it."""

import re
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.services.offered import OfferRefused, Search
from intake.services.pictures import NoPicture, upright_jpeg
from intake.services.words import LONGEST, find_words
from intake.services.words import asked as as_typed
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.whose import in_words, laid

_TOKEN = re.compile(r"[0-9a-f]{32}")
_GONE = "That search is no longer held. Offer the picture again."
_CHUNK = 2**20
_THUMB_PX = 360


def shown(request: Request) -> Response:
    """GET /find?words= : the place to ask, and what was found by words."""
    desk: Desk = request.app.state.desk
    text = request.query_params.get("words", "")[:LONGEST]
    wanted = as_typed(text)
    is_asked = bool(wanted.words or wanted.sizes)
    found = find_words(desk.home, desk.config, wanted, laid(request)) if is_asked else None
    members = [h.member for h in found.hits] if found else []
    return page(
        request,
        "find.html",
        text=text,
        wanted=wanted,
        found=found,
        search=None,
        hits=[],
        withheld=found.withheld if found else {},
        cautions=cautions_on(desk, members),
        most_mb=desk.config.looking.find_mb,
    )


async def ask(request: Request) -> Response:
    """POST /find : a picture. It is searched with, and removed."""
    desk: Desk = request.app.state.desk
    if request.headers.get("content-type", "").split(";")[0] != "multipart/form-data":
        raise HTTPException(415, "A picture is sent as a form with a file.")
    async with request.form(max_files=1, max_fields=2) as form:
        given = form.get("picture")
        if not isinstance(given, UploadFile) or not given.size:
            asked.bad("Choose a picture first.")
        place = desk.searches.place()
        try:
            await run_in_threadpool(_keep, given, place)
            search = await run_in_threadpool(desk.searches.search, place)
        except OfferRefused as error:
            return page(request, "refused.html", 422, words=str(error), back="/find")
        finally:
            place.unlink(missing_ok=True)
    return RedirectResponse(f"/find/{search.token}", 303)


def result(request: Request) -> Response:
    """GET /find/TOKEN : what matches a picture, with the overlay."""
    desk: Desk = request.app.state.desk
    search = _search(request)
    hits, withheld = desk.searches.hits(search, laid(request))
    return page(
        request,
        "find.html",
        text="",
        wanted=None,
        found=None,
        search=search,
        hits=hits,
        withheld=withheld,
        cautions=cautions_on(desk, [h.member for h in hits]),
        most_mb=desk.config.looking.find_mb,
    )


def picture(request: Request) -> Response:
    """GET /find/TOKEN/picture : our own copy of the picture that was offered."""
    desk: Desk = request.app.state.desk
    search = _search(request)
    with in_words(_GONE):
        data = upright_jpeg(desk.searches.picture(search), 0, False, _THUMB_PX)
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=600"})


def over(request: Request) -> Response:
    """GET /find/TOKEN/over?part=&turn=&mirror= : that picture laid over a hit."""
    desk: Desk = request.app.state.desk
    key, (turn, mirrored) = asked.part(request.query_params.get("part")), asked.turned(request.query_params)
    search = _search(request)
    with in_words("These two cannot be laid over one another."):
        data = desk.searches.over(search, key, turn, mirrored, laid(request))
    return Response(data, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=600"})


def _keep(given: UploadFile, place: Path) -> None:
    with place.open("xb") as file:
        while chunk := given.file.read(_CHUNK):
            file.write(chunk)


def _search(request: Request) -> Search:
    desk: Desk = request.app.state.desk
    token = request.path_params["token"]
    if not _TOKEN.fullmatch(token):
        asked.missing("There is no such page.")
    try:
        return desk.searches.get(token)
    except NoPicture as error:
        raise HTTPException(404, _GONE) from error
