"""The pages of readings: those that wait for a person, equal ones together, and lines that gave no mark."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from intake.services import open_readings
from intake.services.correcting import KINDS, MOST_AT_ONCE
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import cautions_on, page
from intake.web.whose import laid, withheld_words

_GROUPS_A_PAGE = 10
_CROPS_A_GROUP = 8
_LINES_A_PAGE = 40


def waiting(request: Request) -> Response:
    """GET /readings?of=&kind=&value=&put= : what waits in a consignment, or the readings of one kind and value."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    whose = laid(request)
    by_code = {c: n for c, n in open_readings.waiting_by_consignment(desk.home).items() if whose.may_show(c)}
    code = values.get("of") or next(iter(by_code), "")
    is_known = code in by_code
    kind, value = values.get("kind", ""), values.get("value", "")
    number = asked.number(values, "page", 1, 100_000, 1)
    if kind:
        if kind not in KINDS:
            asked.bad("No such kind of mark.")
        start = (number - 1) * MOST_AT_ONCE
        shown = (desk.home, desk.config, code, kind, value, start, MOST_AT_ONCE)
        group = open_readings.one_group(*shown) if is_known else None
        if group is None and "done" in values:  # the last of them was just ruled on
            done = asked.number(values, "done", 1, 999_999_999)
            return RedirectResponse(f"{asked.readings_address(code)}&done={done}", 303)
        groups, found, a_page = ([group] if group else []), group.many if group else 0, MOST_AT_ONCE
    else:
        start, a_page = (number - 1) * _GROUPS_A_PAGE, _GROUPS_A_PAGE
        wanted = (desk.home, code, start, _GROUPS_A_PAGE, _CROPS_A_GROUP)
        groups, found = open_readings.groups(*wanted) if is_known else ([], 0)
    pieces = {r.member.key: r.member for g in groups for r in g.readings}
    return page(
        request,
        "readings.html",
        groups=groups,
        found=found,
        cautions=cautions_on(desk, pieces.values()),
        code=code,
        by_code=by_code,
        kind=kind,
        value=value,
        put=values.get("put", "")[:300],
        number=number,
        pages=-(-found // a_page),
    )


def lines(request: Request) -> Response:
    """GET /lines/PART : the lines that were read on a piece and gave no mark; a person may make a mark of one."""
    desk: Desk = request.app.state.desk
    key = asked.part(request.path_params["part"])
    number = asked.number(request.query_params, "page", 1, 100_000, 1)
    view = open_readings.lines_without_mark(desk.home, key, (number - 1) * _LINES_A_PAGE, _LINES_A_PAGE)
    if view is None:
        raise HTTPException(404, "There is no such piece.")
    if not laid(request).may_show(view.member.consignment):
        raise HTTPException(403, withheld_words(view.member.consignment))
    said = cautions_on(desk, [view.member])
    return page(request, "lines.html", view=view, cautions=said, number=number, pages=-(-view.many // _LINES_A_PAGE))
