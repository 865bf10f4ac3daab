"""The pages: each asks the services and fills one template."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from intake.services import open_readings, review, views
from intake.services.cautions import Caution, cautions
from intake.services.dates import family_dates
from intake.services.differing import family_reports
from intake.services.judging import judged
from intake.services.progress import Progress, progress
from intake.services.shown import FamilyView, MemberView
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pair import pair_of

_FAMILIES_A_PAGE = 25
_PIECES_A_PAGE = 60
_DECISIONS_A_PAGE = 100
_NAMED_FAMILIES = 400


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Fill a template with its values, who is at the desk, and what was ruled a moment ago."""
    desk: Desk = request.app.state.desk
    done = _done(request) if status == 200 else None
    open_now = open_readings.waiting(desk.home) if status == 200 else 0
    text = desk.templates.get_template(template).render(
        who=asked.who(request), here=request.url.path, done=done, open_readings=open_now, **values
    )
    return HTMLResponse(text, status)


def cautions_on(desk: Desk, shown: Iterable[MemberView]) -> list[Caution]:
    """What has to be said above these pictures: every caution on the boxes that they are of."""
    return cautions(desk.home, desk.config, {(m.consignment, m.box) for m in shown if not m.withheld})


def night(request: Request) -> Response:
    """GET / : what the night did."""
    home = request.app.state.desk.home
    waiting, settled = views.queue_counts(home)
    found = views.troubles(home)
    now = progress(home)
    return page(
        request,
        "night.html",
        progress=now,
        bars=_bars(now),
        cautions=cautions(home, request.app.state.desk.config),
        rescans=[t for t in found if t.finding.severity == "failure"],
        attention=[t for t in found if t.finding.severity == "attention"],
        head=views.queue_items(home, request.app.state.desk.config, 0, 4),
        waiting=waiting,
        settled=settled,
    )


def queue(request: Request) -> Response:
    """GET /families : families in their order, or those that are settled."""
    home = request.app.state.desk.home
    settled = request.query_params.get("show") == "settled"
    number = asked.number(request.query_params, "page", 1, 10_000, 1)
    counts = views.queue_counts(home)
    start = (number - 1) * _FAMILIES_A_PAGE
    items = views.queue_items(home, request.app.state.desk.config, start, _FAMILIES_A_PAGE, settled)
    return page(
        request,
        "queue.html",
        items=items,
        cautions=cautions_on(request.app.state.desk, (m for item in items for m in item.members)),
        start=start,
        settled=settled,
        counts=counts,
        number=number,
        pages=-(-counts[settled] // _FAMILIES_A_PAGE),
        progress=progress(home),
    )


def family(request: Request) -> Response:
    """GET /families/CODE?a=&b= : one family, two of its pieces on the light table."""
    desk: Desk = request.app.state.desk
    code = asked.code(request.path_params["code"])
    view = views.family_view(desk.home, desk.config, code)
    if view is None:
        raise HTTPException(404, "This family is no longer there: a ruling or a run has changed what belongs together.")
    pair = pair_of(view, request.query_params.get("a"), request.query_params.get("b"))
    waiting = views.queue_order(desk.home)
    place = waiting.index(code) if code in waiting else None
    names = views.scan_names(desk.home)
    family_names = views.family_names(desk.home)
    others = sorted((n, c) for c, n in family_names.items() if c != code)[:_NAMED_FAMILIES]
    dates = [v for v in family_dates(desk.home, desk.config, view) if v.dated.edtf or v.dated.contradictions or v.strip]
    beside = [e.outside for e in view.elsewhere] + [m for v in dates for m in v.scans.values()]
    return page(
        request,
        "family.html",
        family=view,
        cautions=cautions_on(desk, [*view.members, *beside]),
        pair=pair,
        marks=_by_kind(view),
        reports=family_reports(desk.home, view.members),
        judged=judged(desk.home, desk.config, view.members),
        dates=dates,
        place=place,
        waiting=len(waiting),
        before=waiting[place - 1] if place else None,
        after=waiting[place + 1] if place is not None and place + 1 < len(waiting) else None,
        rulings=[
            (d, review.piece_names(names, d.parts)) for d in views.rulings_on(desk.home, [m.key for m in view.members])
        ],
        names=family_names,
        others=others,
    )


def pieces(request: Request) -> Response:
    """GET /pieces : everything received, by box, kind and trouble."""
    desk: Desk = request.app.state.desk
    values = request.query_params
    rows = views.pieces_of(desk.home)
    boxes = sorted({(d.scan.consignment, d.scan.box) for d in rows})
    kinds = sorted({d.kind for d in rows})
    box, kind, only = values.get("box", ""), values.get("kind", ""), values.get("only", "")
    if box:
        rows = [d for d in rows if f"{d.scan.consignment} / {d.scan.box}" == box]
    if kind:
        rows = [d for d in rows if d.kind == kind]
    if only == "trouble":
        rows = [d for d in rows if any(f.severity != "note" for f in d.findings)]
    number = asked.number(values, "page", 1, 100_000, 1)
    start = (number - 1) * _PIECES_A_PAGE
    shown = views.piece_views(desk.home, rows[start : start + _PIECES_A_PAGE])
    return page(
        request,
        "pieces.html",
        rows=shown,
        cautions=cautions_on(desk, shown),
        found=len(rows),
        start=start,
        boxes=[f"{c} / {b}" for c, b in boxes],
        kinds=kinds,
        chosen={"box": box, "kind": kind, "only": only},
        number=number,
        pages=-(-len(rows) // _PIECES_A_PAGE),
    )


def ledger(request: Request) -> Response:
    """GET /ledger : every ruling ever made."""
    desk: Desk = request.app.state.desk
    rows = review.decisions_view(desk.home)
    number = asked.number(request.query_params, "page", 1, 100_000, 1)
    start = (number - 1) * _DECISIONS_A_PAGE
    return page(
        request,
        "ledger.html",
        rows=rows[start : start + _DECISIONS_A_PAGE],
        number=number,
        pages=-(-len(rows) // _DECISIONS_A_PAGE),
    )


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


def _bars(now: Progress) -> list[dict[str, Any]]:
    """One bar a box: its length is its pieces beside the fullest box's, its fillings how far they have come."""
    longest = max((max(b.received, b.listed or 0) for b in now.boxes), default=0)
    steps = ("received", "checked", "read", "matched", "reviewed")
    return (
        [
            {"box": b, **{s: 1000 * getattr(b, s) / longest for s in steps}, "listed": 1000 * (b.listed or 0) / longest}
            for b in now.boxes
        ]
        if longest
        else []
    )


@dataclass(frozen=True, slots=True)
class _Done:
    """What was ruled a moment ago, how many rulings were made in one go with it, and what may be ruled on alike."""

    row: review.LedgerRow
    together: int
    offer: open_readings.Offer | None


def _done(request: Request) -> _Done | None:
    """The ruling that was just made, named in the address by its number."""
    if "done" not in request.query_params:
        return None
    desk: Desk = request.app.state.desk
    number = asked.number(request.query_params, "done", 1, 999_999_999)
    rows = {r.decision.id: r for r in review.decisions_view(desk.home)}
    if number not in rows:
        return None
    row = rows[number]
    together = len(review.in_one_go((r.decision for r in rows.values()), row.decision))
    is_there = "kind" in request.query_params  # on the page of the equal ones themselves
    offer = None if is_there or not row.stands else open_readings.offer(desk.home, desk.config, row.decision)
    return _Done(row, together, offer)
