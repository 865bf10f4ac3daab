"""The door of the desk: who may speak to it, how much they may say, and what the browser may do with the answer."""

from collections.abc import Mapping, Sequence
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY_BYTES = 64 * 1024
KEPT = "/static/of-"
_SAFE_SITES = {"same-origin", "none", ""}
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; font-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class Guard:
    """ASGI middleware, before routing: a foreign Host gets 400, a foreign page 403, a body of more than 64 KB 413.

    Bytes are counted as they come: what a length header says is not believed.
    """

    def __init__(self, app: ASGIApp, hosts: Sequence[str], port: int, uploads: Mapping[str, int] | None = None) -> None:
        """``uploads``: bytes that may come to these paths; they are passed on as they come, and counted too."""
        names = {*(h.lower() for h in hosts), "127.0.0.1", "localhost", "::1"} - {"0.0.0.0", "::"}
        written = {f"[{n}]" if ":" in n else n for n in names}
        self._app = app
        self._uploads = uploads or {}
        self._hosts = {f"{h}:{port}" for h in written} | (written if port == 80 else set())

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a bad request at once; pass a good one on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if host not in self._hosts:
            await _refuse(400, "This desk does not answer to that name.", scope, receive, send)
            return
        changing = scope["method"] not in ("GET", "HEAD")
        origin = headers.get("origin")
        foreign = not _is_ours(origin, host) or (changing and origin is None)  # every browser names it on a form
        if foreign or (changing and headers.get("sec-fetch-site", "") not in _SAFE_SITES):
            await _refuse(403, "Another page asked for this. Nothing was done.", scope, receive, send)
            return
        most = self._uploads.get(scope["path"]) if changing else None
        if most is not None:
            receive = _counted(receive, most)
        elif changing:
            body = await _body(receive)
            if body is None:
                await _refuse(413, "That is more than a form of this desk holds.", scope, receive, send)
                return
            receive = _replay(body, receive)

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                added = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    added[name] = value
                added.setdefault("Cache-Control", _kept(scope["path"], message["status"]))
            await send(message)

        await self._app(scope, receive, send_guarded)


def _kept(path: str, status: int) -> str:
    """Our own files under the address of their content are kept, others asked after; nothing else is kept."""
    if path.startswith(KEPT) and status in (200, 304):
        return "public, max-age=31536000, immutable"
    return "no-cache" if path.startswith("/static/") else "no-store"


def _is_ours(origin: str | None, host: str) -> bool:
    if origin is None:
        return True
    parts = urlsplit(origin)
    return parts.scheme == "http" and parts.netloc.lower() == host


async def _body(receive: Receive) -> bytes | None:
    """The whole body; None when it is too long."""
    made = bytearray()
    while True:
        message = await receive()
        made += message.get("body", b"")
        if len(made) > MOST_BODY_BYTES:
            return None
        if message["type"] == "http.disconnect" or not message.get("more_body", False):
            return bytes(made)


def _counted(receive: Receive, most: int) -> Receive:
    """The messages as they come; raises HTTPException (413) in whoever reads past ``most`` bytes."""
    come = 0

    async def counted() -> Message:
        nonlocal come
        message = await receive()
        come += len(message.get("body", b""))
        if come > most:
            raise HTTPException(413, f"That is more than the {most // 2**20} MB that a picture may have.")
        return message

    return counted


def _replay(body: bytes, receive: Receive) -> Receive:
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def replayed() -> Message:
        return waiting.pop() if waiting else await receive()

    return replayed


async def _refuse(status: int, words: str, scope: Scope, receive: Receive, send: Send) -> None:
    await PlainTextResponse(words, status, headers=HEADERS)(scope, receive, send)
