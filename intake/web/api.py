"""The tables as JSON, to be read by other programs; only where `kinfold desk --api` asks for it."""

from urllib.parse import quote, urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from intake.services.tables import TABLES
from intake.services.whose import Whose, whose
from intake.web import asked
from intake.web.openapi import BASE, MOST_ROWS, ROWS, description
from intake.web.pages import trouble
from intake.web.whose import laid


def routes() -> list[Route]:
    """The addresses of version 1."""
    return [
        Route(f"{BASE}/openapi.json", described),
        Route(f"{BASE}/tables", tables),
        Route(f"{BASE}/tables/{{name}}", table),
    ]


def described(_request: Request) -> Response:
    """GET /api/v1/openapi.json : what there is to be asked."""
    return JSONResponse(description())


def tables(_request: Request) -> Response:
    """GET /api/v1/tables : names and columns."""
    found = [{"name": n, "address": f"{BASE}/tables/{n}", "columns": list(c)} for n, (c, _) in TABLES.items()]
    return JSONResponse({"tables": found})


def table(request: Request) -> Response:
    """GET /api/v1/tables/NAME?consignment=&page=&size= : some rows of one table."""
    name = request.path_params["name"]
    if name not in TABLES:
        asked.missing("There is no such table.")
    values = request.query_params
    number = asked.number(values, "page", 1, 999_999, 1)
    size = asked.number(values, "size", 1, MOST_ROWS, ROWS)
    found = request.app.state.tables.page(name, _whose(request), (number - 1) * size, size)
    further = None
    if number * size < found.in_all:
        kept = {"consignment": values["consignment"]} if "consignment" in values else {}
        further = f"{BASE}/tables/{name}?" + urlencode(
            {**kept, "page": str(number + 1), "size": str(size)}, quote_via=quote
        )
    made = {
        "table": name, "page": number, "size": size, "in_all": found.in_all, "next": further, "ledger": found.mark,
        "rows": [dict(zip(found.columns, row, strict=True)) for row in found.rows],
    }  # fmt: skip
    return JSONResponse(made)


def _whose(request: Request) -> Whose:
    code = request.query_params.get("consignment")
    if code is None:
        return laid(request)
    found = whose(request.app.state.desk.home, code)
    if code not in found.codes:
        asked.missing("There is no such consignment.")
    return found


def refused(request: Request, error: Exception) -> Response:
    """Any refusal: as JSON below this address, else as a page."""
    if not request.url.path.startswith("/api/"):
        return trouble(request, error)
    if isinstance(error, HTTPException):
        return JSONResponse({"error": str(error.detail)}, error.status_code, error.headers)
    return JSONResponse({"error": "The desk broke off."}, 500)
