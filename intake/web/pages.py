"""The pages: each asks the services and fills one template."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response

from intake.services import asking, ledger, open_readings, taking, views
from intake.services.cautions import Caution, cautions
from intake.services.dates import family_dates
from intake.services.fading import family_fading
from intake.services.judging import by_making, judged
from intake.services.set_beside import family_reports
from intake.services.shown import FamilyView, MemberView
from intake.services.timeline import time_line
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pair import pair_of
from intake.web.report import newest_report
from intake.web.terms import Explained
from intake.web.whose import laid, withheld_words
from intake.web.words import plain

_NAMED_FAMILIES = 400
_NAMES_AT_ONCE = 40


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Fill a template with its values, who is at the desk, and what was ruled a moment ago."""
    desk: Desk = request.app.state.desk
    done = _done(request) if status == 200 else None
    open_now = open_readings.waiting(desk.home) if status == 200 else 0
    text = desk.templates.get_template(template).render(
        who=asked.who(request),
        whose=laid(request),
        sits=request.scope.get("sits"),
        here=request.url.path,
        done=done,
        open_readings=open_now,
        explained=Explained(desk.config.terms.words, desk.config.terms.within),
        light=asked.light(request),
        **values,
    )
    return HTMLResponse(text, status)


def cautions_on(desk: Desk, shown: Iterable[MemberView]) -> list[Caution]:
    """What has to be said above these pictures: every caution on the boxes that they are of."""
    return cautions(desk.home, desk.config, {(m.consignment, m.box) for m in shown if not m.withheld})


def family(request: Request) -> Response:
    """GET /families/CODE?a=&b= : one family, two of its pieces on the light table."""
    desk: Desk = request.app.state.desk
    code = asked.code(request.path_params["code"])
    view = views.family_view(desk.home, desk.config, code, laid(request).laid_for)
    if view is None:
        raise HTTPException(404, "This family is no longer there: a ruling or a run has changed what belongs together.")
    if all(m.withheld for m in view.members):
        raise HTTPException(403, withheld_words(view.members[0].consignment))
    pair = pair_of(view, request.query_params.get("a"), request.query_params.get("b"))
    waiting = views.queue_order(desk.home, laid(request))
    place = waiting.index(code) if code in waiting else None
    near = {e.family for e in view.elsewhere if e.family}
    all_named = sum(views.queue_counts(desk.home)) <= _NAMED_FAMILIES
    family_names = views.family_names(desk.home, None if all_named else near, laid(request))
    others = sorted((n, c) for c, n in family_names.items() if c != code)
    dates = [v for v in family_dates(desk.home, desk.config, view) if v.dated.edtf or v.dated.contradictions or v.strip]
    marks, told = _by_kind(view), judged(desk.home, desk.config, view.members)
    beside = [e.outside for e in view.elsewhere] + [m for v in dates for m in v.scans.values()]
    return page(
        request,
        "family.html",
        family=view,
        cautions=cautions_on(desk, [*view.members, *beside]),
        pair=pair,
        marks=marks,
        differing=sum(len({r.mark.value for _, r in rows if not r.rejected}) > 1 for _, rows in marks),
        reports=family_reports(desk.home, view.members),
        judged=told,
        roster=by_making(view.members, told),
        ordered=any(b.sure for _, _, b in told.orders),
        dates=dates,
        years_of=time_line(dates),
        fading=family_fading(desk.home, desk.config, view),
        place=place,
        waiting=len(waiting),
        before=waiting[place - 1] if place else None,
        after=waiting[place + 1] if place is not None and place + 1 < len(waiting) else None,
        rulings=ledger.rulings_on(desk.home, [m.key for m in view.members], laid(request)),
        taken=taking.taken_by(desk.home).get(code, []),
        asks=asking.open_on(desk.home, [m.key for m in view.members]),
        people=ledger.people(desk.home),
        names=family_names,
        others=others,
        all_named=all_named,
    )


def report(request: Request) -> Response:
    """GET /report : the page that the newest run left in the home, as it was that morning."""
    found = newest_report(request.app.state.desk.home)
    if found is None:
        raise HTTPException(404, "No run has left a report yet.")
    return FileResponse(found, media_type="text/html; charset=utf-8")


def names(request: Request) -> Response:
    """GET /names?like= : families whose name holds this text, as [name, code], for choosing one."""
    desk: Desk = request.app.state.desk
    like = request.query_params.get("like", "")[:200].casefold().strip()
    known = views.family_names(desk.home, None, laid(request)) if like else {}
    found = sorted((n, c) for c, n in known.items() if like in n.casefold())
    return JSONResponse([[plain(n, 80), c] for n, c in found[:_NAMES_AT_ONCE]])


def keys(request: Request) -> Response:
    """GET /keys : the key sheet."""
    return page(request, "keys.html")


def trouble(request: Request, error: Exception) -> Response:
    """Any refusal, as a page in words."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    words = str(error.detail) if isinstance(error, HTTPException) else "The desk broke off. Nothing was written."
    if status == 404 and words == "Not Found":
        words = "There is no such page."
    return page(request, "refused.html", status, words=words)


def _by_kind(view: FamilyView) -> list[tuple[str, list[tuple[MemberView, Any]]]]:
    """The marks of all members, kind by kind, so that what differs stands together."""
    made: dict[str, list[tuple[MemberView, Any]]] = {}
    for member in view.members:
        if not member.withheld:
            for ruled in member.marks:
                made.setdefault(ruled.mark.kind, []).append((member, ruled))
    return sorted(made.items())


@dataclass(frozen=True, slots=True)
class _Done:
    """What was ruled a moment ago, how many rulings were made in one go with it, and what may be ruled on alike."""

    row: ledger.LedgerRow
    together: int
    offer: open_readings.Offer | None


def _done(request: Request) -> _Done | None:
    """The ruling that was just made, named in the address by its number."""
    if "done" not in request.query_params:
        return None
    desk: Desk = request.app.state.desk
    number = asked.number(request.query_params, "done", 1, 999_999_999)
    found = ledger.ledger_row(desk.home, number, laid(request))
    if found is None:
        return None
    row, together = found
    is_there = "kind" in request.query_params  # on the page of the equal ones themselves
    offer = (
        None
        if is_there or row.withheld or not row.stands
        else open_readings.offer(desk.home, desk.config, row.decision)
    )
    return _Done(row, together, offer)
