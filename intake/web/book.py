"""The ledger: every decision, by whom, on what; sieved, and as a file."""

import re

from starlette.requests import Request
from starlette.responses import Response

from intake.services.book import BookSieve, book_choices, book_csv, book_page
from intake.web import asked
from intake.web.desk import Desk
from intake.web.pages import page
from intake.web.whose import laid

_DECISIONS_A_PAGE = 100
_DAY = re.compile(r"[0-9]{4}-[01][0-9]-[0-3][0-9]")


def shown(request: Request) -> Response:
    """GET /ledger?who=&verb=&piece=&since=&until=&stands= : the newest first."""
    desk: Desk = request.app.state.desk
    sieve = _sieve(request)
    number = asked.number(request.query_params, "page", 1, 100_000, 1)
    start = (number - 1) * _DECISIONS_A_PAGE
    rows, found = book_page(desk.home, sieve, start, _DECISIONS_A_PAGE, laid(request))
    people, verbs = book_choices(desk.home)
    return page(
        request,
        "ledger.html",
        rows=rows,
        found=found,
        sieve=sieve,
        people=people,
        verbs=verbs,
        address=asked.changed({n: str(v) for n, v in _values(sieve).items() if v}),
        number=number,
        pages=-(-found // _DECISIONS_A_PAGE),
    )


def csv(request: Request) -> Response:
    """GET /ledger.csv : the same, the oldest first, with the evidence."""
    desk: Desk = request.app.state.desk
    named = {"Content-Disposition": 'attachment; filename="kinfold-ledger.csv"'}
    return Response(book_csv(desk.home, _sieve(request), laid(request)), media_type="text/csv", headers=named)


def _sieve(request: Request) -> BookSieve:
    values = request.query_params
    for name in ("since", "until"):
        if values.get(name) and not _DAY.fullmatch(values[name]):
            asked.bad(f"{name}: a day as YYYY-MM-DD is needed.")
    if values.get("stands", "") not in ("", "yes", "no"):
        asked.bad("stands: yes or no.")
    return BookSieve(**{name: values.get(name, "")[:200] for name in BookSieve.__dataclass_fields__})


def _values(sieve: BookSieve) -> dict[str, str]:
    return {name: getattr(sieve, name) for name in BookSieve.__dataclass_fields__}
