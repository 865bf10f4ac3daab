"""The queue: lanes, sieves, and who has what before them."""

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from intake.services import taking
from intake.services.progress import progress
from intake.services.queueing import SHOWS, Sieve, queue_page
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.rulings import handled, text_of
from intake.web.whose import laid

_FAMILIES_A_PAGE = 25
_SIEVES = ("box", "kind", "format", "country", "reason", "person")
_LONGEST = 300


def shown(request: Request) -> Response:
    """GET /families?lane=&box=&kind=&format=&country=&year=&reason=&person= : families in their order."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    show = values.get("show", "")
    if show not in SHOWS:
        asked.bad("show: nothing, settled or aside.")
    given = {name: values.get(name, "")[:_LONGEST] for name in _SIEVES}
    year = asked.number(values, "year", 1000, 2999) if values.get("year") else None
    sieve = Sieve(show, values.get("lane", "")[:40], **given, year=year)
    number = asked.number(values, "page", 1, 10_000, 1)
    start = (number - 1) * _FAMILIES_A_PAGE
    found = queue_page(desk.home, desk.config, sieve, start, _FAMILIES_A_PAGE, laid(request))
    return page(
        request,
        "queue.html",
        found=found,
        sieve=sieve,
        cautions=cautions_on(desk, (m for entry in found.entries for m in entry.item.members)),
        start=start,
        number=number,
        pages=-(-found.found // _FAMILIES_A_PAGE),
        progress=progress(desk.home) if not found.entries else None,
    )


async def take(request: Request) -> Response:
    """POST /taken : the person has this family before them."""
    return await handled(request, _take)


def _take(request: Request, form: FormData, who: str) -> Response:
    desk: Desk = request.app.state.desk
    taking.take(desk.home, who, asked.code(text_of(form, "family")))
    return Response(status_code=204)
