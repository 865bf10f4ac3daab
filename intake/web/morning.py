"""The morning: what the night did, hazards first, and whether the review ends in time."""

from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from intake.services import morning, views
from intake.services.cautions import cautions
from intake.services.progress import Progress, progress
from intake.services.singles import open_singles
from intake.web.desk import Desk
from intake.web.pages import page
from intake.web.report import newest_report
from intake.web.rulings import handled, text_of
from intake.web.whose import laid


def shown(request: Request) -> Response:
    """GET / : what the night did."""
    desk: Desk = request.app.state.desk
    home = desk.home
    waiting, settled = views.queue_counts(home)
    found = views.troubles(home)
    now = progress(home)
    return page(
        request,
        "night.html",
        progress=now,
        has_report=newest_report(home) is not None,
        bars=_bars(now),
        cautions=cautions(home, desk.config),
        rescans=[t for t in found if t.finding.severity == "failure"],
        attention=[t for t in found if t.finding.severity == "attention"],
        head=views.queue_items(home, desk.config, 0, 4, whose=laid(request)),
        waiting=waiting,
        settled=settled,
        singles=open_singles(home, desk.config, laid(request)),
        night=morning.night(home),
        outlooks=morning.outlooks(home),
        against=morning.spoken_against(home),
    )


async def catalogue(request: Request) -> Response:
    """POST /catalogue : the day on which a consignment's catalogue closes."""
    return await handled(request, _catalogue)


def _catalogue(request: Request, form: FormData, who: str) -> str:
    desk: Desk = request.app.state.desk
    number = morning.set_catalogue_date(desk.home, who, text_of(form, "consignment"), text_of(form, "day"))
    return f"/?done={number}"


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
