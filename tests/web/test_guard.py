"""The door: foreign names, foreign pages, long bodies and odd input are refused, and every answer is locked down."""

import asyncio
from typing import Any

import pytest

from tests.web.hand import BASE, HOST, PORT, Client, Made

PATHS = ["/", "/families", "/pieces", "/ledger", "/keys", "/static/desk.css", "/no-such-page"]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "host", ["desk.example", f"desk.example:{PORT}", f"{HOST}:80", HOST, "", f"{HOST}:{PORT}.example"]
)
def test_a_foreign_host_gets_400(client: Client, path: str, host: str) -> None:
    assert client.get(path, host=host).status_code == 400


@pytest.mark.parametrize("host", [f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"])
def test_the_names_of_this_machine_are_answered(client: Client, host: str) -> None:
    assert client.get("/keys", host=host).status_code == 200


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://{HOST}:{PORT}", f"http://{HOST}:1", "x" * 9000]
)
def test_a_foreign_origin_gets_403_on_every_path(client: Client, path: str, origin: str) -> None:
    assert client.get(path, origin=origin).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "odd"])
def test_a_form_sent_by_another_site_gets_403(client: Client, site: str) -> None:
    answer = client.post("/who", {"who": "Ida Marl"}, **{"sec-fetch-site": site})
    assert answer.status_code == 403 and "set-cookie" not in answer.headers


def test_a_body_is_counted_not_believed(client: Client) -> None:
    assert client.post("/who", {"who": "x" * 70_000}).status_code == 413

    async def lying() -> int:
        """A body of 200 KB in pieces, whose header claims ten bytes."""
        status = []
        head = [(b"host", f"{HOST}:{PORT}".encode()), (b"origin", BASE.encode()), (b"content-length", b"10")]
        scope = {
            "type": "http", "method": "POST", "path": "/who", "raw_path": b"/who", "query_string": b"", "headers": head,
            "scheme": "http", "server": (HOST, PORT), "client": (HOST, 1), "root_path": "", "http_version": "1.1",
        }  # fmt: skip

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b"x" * 10_000, "more_body": True}

        async def send(message: Any) -> None:
            status.append(message.get("status"))

        await client.app(scope, receive, send)
        return int(status[0])

    assert asyncio.run(lying()) == 413


def test_only_plain_forms_are_taken(client: Client) -> None:
    head = {"origin": BASE}
    assert client.ask("POST", "/who", json={"who": "Ida"}, headers=head).status_code == 415
    assert client.ask("POST", "/who", files={"who": b"Ida"}, headers=head).status_code == 415
    assert client.ask("PUT", "/who", content=b"", headers=head).status_code == 405


@pytest.mark.parametrize("path", [*PATHS, "/picture/x", "/crop", "/families/%3Cscript%3E"])
def test_every_answer_is_locked_down(client: Client, path: str) -> None:
    head = client.get(path).headers
    policy = head["content-security-policy"]
    assert "default-src 'none'" in policy and "script-src 'self'" in policy and "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy and "*" not in policy
    assert head["x-content-type-options"] == "nosniff" and head["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    "path",
    [
        "/static/", "/static/fonts/", "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2fapp.py",
        "/picture/../../etc/passwd", "/picture/%2e%2e%2fkinfold.db",
    ],
)  # fmt: skip
def test_nothing_is_listed_and_nothing_leaves_its_folder(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert b"make_app" not in answer.content and b"SQLite" not in answer.content


D = "0" * 64


@pytest.mark.parametrize(
    "path",
    [
        "/picture/zz-1",
        f"/picture/{D}-0",
        f"/picture/{D}-99999",
        f"/picture/{D}-1?turn=45",
        f"/picture/{D}-1?turn=1e9",
        f"/picture/{D}-1?turn=-90",
        f"/picture/{D}-1?mirror=2",
        f"/crop?part={D}-1",
        f"/crop?part={D}-1&left=-1&top=0&width=5&height=5",
        f"/crop?part={D}-1&left=0&top=0&width=99999999999&height=5",
        f"/crop?part={D}-1&left=0&top=0&width=0&height=5",
        f"/crop?part={D}-1&left=nan&top=0&width=5&height=5",
        "/families?page=0",
        "/families?page=x",
        "/families?done=x",
        "/ledger?page=-4",
        "/pieces?page=9e9",
        "/families/a%00b",
        "/families/" + "A" * 400,
    ],
)
def test_odd_numbers_and_names_get_400(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 400 and "Not done" in answer.text


@pytest.mark.parametrize(
    "path", [f"/picture/{D}-1", f"/crop?part={D}-1&left=0&top=0&width=5&height=5", f"/iiif/{D}-1~on~{D}-2/info.json"]
)
def test_an_unknown_picture_gets_404(client: Client, made: Made, path: str) -> None:
    assert client.get(path).status_code == 404
    assert client.get("/families/F-NOTHERE2").status_code == 404
    assert client.get(f"/picture/{made.scans['broken'].digest}-1").status_code == 404
