"""Pieces in no family: ruled on many at once."""

import re

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.model import PartKey
from intake.services.pieces_ruled import VERBS
from intake.services.piecework import MOST_AT_ONCE, rule_on_pieces
from intake.services.singles import SingleSieve, singles_page
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.rulings import MANY_FIELDS, SINGLES, handled, text_of
from intake.web.whose import laid

_SIEVES = ("box", "kind", "format", "country")
_PICKED = re.compile(r"([0-9a-f]{64}-[1-9][0-9]{0,3})\.([0-9a-f]{12})")
_LONGEST = 300


def shown(request: Request) -> Response:
    """GET /singles?box=&kind=&format=&country=&year=&show=done : like ones together."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    given = {name: values.get(name, "")[:_LONGEST] for name in _SIEVES}
    year = asked.number(values, "year", 1000, 2999) if values.get("year") else None
    sieve = SingleSieve(values.get("show") == "done", **given, year=year)
    number = asked.number(values, "page", 1, 100_000, 1)
    start = (number - 1) * MOST_AT_ONCE
    found = singles_page(desk.home, desk.config, sieve, start, MOST_AT_ONCE, laid(request))
    if not found.rows and number > 1 and found.found:  # the last of a leaf were just ruled on
        return RedirectResponse(f"/singles?{asked.changed(values, page='1')}", 303)
    return page(
        request,
        "singles.html",
        found=found,
        sieve=sieve,
        cautions=cautions_on(desk, (s.member for s in found.rows)),
        here_again=asked.changed(values),
        start=start,
        number=number,
        pages=-(-found.found // MOST_AT_ONCE),
    )


async def rule(request: Request) -> Response:
    """POST /singles : kind, format, reproduction or nothing to add, for all that are ticked."""
    return await handled(request, _rule, MANY_FIELDS)


def _rule(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    verb = next((v for v in VERBS if v == text_of(form, "verb")), None)
    if verb is None:
        asked.bad("No such ruling.")
    picked = [_picked(t) for t in form.getlist("picked") if isinstance(t, str)]
    value = text_of(form, {"set_role": "role", "set_format": "format_is", "reproduction": "reason"}.get(verb, ""))
    number = rule_on_pieces(desk.home, desk.config, who, verb, picked, value)[0]
    return f"/singles?{asked.sieved(text_of(form, 'again'), SINGLES)}done={number}"


def _picked(text: str) -> tuple[PartKey, str]:
    found = _PICKED.fullmatch(text)
    if found is None:
        asked.bad("No such piece.")
    return asked.part(found[1]), found[2]
