"""Sitting down at a desk that has named users, and getting up again."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from intake.services.home import Home
from intake.services.review import RulingRefused
from intake.services.users import get_up, sit_down, who_sits
from intake.web import asked
from intake.web.rulings import text_of

_OPEN = ("/sit", "/static/")


class Seats:
    """ASGI middleware, before routing: where there are named users, nothing is shown to anybody who does not sit.

    ``request.scope["sits"]`` is the name that the person sat down under; None where there are no named users.
    """

    def __init__(self, app: ASGIApp, home: Home) -> None:
        self._app = app
        self._home = home

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on who sits there; lead anybody else to the door."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        has_users, name = await run_in_threadpool(who_sits, self._home, request.cookies.get(asked.SEAT, ""))
        scope["sits"] = name if has_users else None
        if has_users and not name and not request.url.path.startswith(_OPEN):
            is_program = request.url.path.startswith("/api/")
            led = JSONResponse({"error": "Sit down first."}, 401) if is_program else RedirectResponse("/sit", 303)
            await led(scope, receive, send)
            return
        await self._app(scope, receive, send)


def door(request: Request) -> Response:
    """GET /sit : name and secret."""
    return _page(request, 200, "")


async def sit(request: Request) -> Response:
    """POST /sit : sit down."""
    form = await request.form(max_fields=8)
    home = request.app.state.desk.home
    try:
        token = await run_in_threadpool(sit_down, home, text_of(form, "name"), text_of(form, "secret"))
    except RulingRefused as error:
        return _page(request, 403, str(error))
    response = RedirectResponse("/", 303)
    response.set_cookie(**asked.seat(token))
    return response


async def rise(request: Request) -> Response:
    """POST /rise : get up."""
    await run_in_threadpool(get_up, request.app.state.desk.home, request.cookies.get(asked.SEAT, ""))
    response = RedirectResponse("/sit", 303)
    response.delete_cookie(asked.SEAT)
    return response


def _page(request: Request, status: int, words: str) -> Response:
    from starlette.responses import HTMLResponse

    text = request.app.state.desk.templates.get_template("sit.html").render(words=words)
    return HTMLResponse(text, status)
