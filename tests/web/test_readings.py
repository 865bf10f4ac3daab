"""Readings by plain forms: one on a family's page, equal ones in one go, a line that gave no mark."""

import re
from html import unescape

import pytest

from intake.config.load import Config
from intake.services import open_readings, views
from intake.services.home import Home
from intake.web.words import reader
from tests.made import STAMPS, Written, classified, dossier, in_ledger, mark, reading, received
from tests.web.hand import Client, Made

WRONG = "VELLA & R00K LTD, OSTMERE"
RIGHT = "VELLA & ROOK LTD, OSTMERE"
TOKEN = re.compile(r'name="reading" value="([^"]+)"')


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


@pytest.fixture
def seated(client: Client) -> Client:
    client.post("/who", {"who": "Ida Marl"})
    return client


def tokens(client: Client, address: str, part: str = "") -> list[str]:
    return [t for t in map(unescape, TOKEN.findall(client.get(address).text)) if t.startswith(part)]


def verbs(made: Made) -> list[str]:
    return [r.decision.verb for r in in_ledger(made.home)]


def family(made: Made) -> str:
    return f"/families/{views.family_holding(made.home, [made.sheet])}"


def test_one_reading_on_its_familys_page(seated: Client, made: Made) -> None:
    code = family(made).split("/")[-1]
    given = {"family": code, "verb": "correct_reading", "text": RIGHT, "as": "printer"}
    token = next(t for t in tokens(seated, family(made)) if t.startswith(f"{made.sheet.digest}-1.printer."))
    answer = seated.post("/readings", given | {"reading": token})
    assert (answer.status_code, answer.headers["location"]) == (303, f"{family(made)}?done=1#h-marks")
    text = seated.get(answer.headers["location"]).text
    assert "corrected a reading" in text and "corrected</span> <small>by <bdi>Ida Marl" in text
    stale = seated.post("/readings", given | {"reading": token})
    assert stale.status_code == 409 and "Nothing was written" in stale.text and f'href="{family(made)}"' in stale.text
    assert verbs(made) == ["correct_reading"]


def test_what_waits_is_counted_on_every_page_and_named_on_the_night(client: Client) -> None:
    for path in ("/", "/families", "/readings", "/keys"):
        assert "Readings <small>2<" in client.get(path).text, path
    assert ">2 readings</a>" in client.get("/").text


def test_unnamed_one_sees_and_cannot_rule(client: Client, made: Made) -> None:
    text = client.get("/readings").text
    assert "Sit down at the desk" in text and 'type="checkbox"' not in text and "Accept as read" not in text
    back = client.ask(
        "POST",
        "/who",
        data={"who": "Ida Marl", "then": "here"},
        headers={"origin": "http://127.0.0.1:8471", "referer": "http://127.0.0.1:8471/readings?of=C"},
    )
    assert back.headers["location"] == "/readings?of=C"
    away = client.ask(
        "POST",
        "/who",
        data={"who": "Ida Marl", "then": "here"},
        headers={"origin": "http://127.0.0.1:8471", "referer": "http://elsewhere.example//other.example/readings"},
    )
    assert away.headers["location"] == "/"
    assert verbs(made) == []


@pytest.fixture
def many(made: Made, config: Config) -> Made:
    """Nine more sheets whose printer was read in the same wrong way."""
    from intake.services.relate import regroup

    written = Written(made.home)
    files = [received(f"B05/{n:04}.jpg") for n in range(9)]
    written.consignment(*files)
    for scan in files:
        d = dossier(scan)
        marks = (mark(WRONG, "printer", accepted="no"),)
        assert d.parsed is not None
        written.looked(scan, (d.rendered, classified(), reading(), d.measured, d.features, type(d.parsed)(marks)))
    regroup(made.home, config, STAMPS)
    return made


def test_equal_ones_are_offered_and_put_right_in_one_go(seated: Client, many: Made) -> None:
    token = next(t for t in tokens(seated, family(many)) if t.startswith(f"{many.sheet.digest}-1.printer."))
    code = family(many).split("/")[-1]
    given = {"family": code, "verb": "correct_reading", "text": RIGHT, "as": "printer", "reading": token}
    text = seated.get(seated.post("/readings", given).headers["location"]).text
    assert "9 equal readings wait elsewhere" in text
    address = unescape(re.search(r'data-key="e" href="([^"]+)"', text)[1])  # type: ignore[index]
    page = seated.get(address).text
    assert f'value="{RIGHT.replace("&", "&amp;")}"' in page and page.count('type="checkbox"') == 9
    form = {n: unescape(v) for n, v in re.findall(r'name="(of|of_kind|of_value|put)" value="([^"]*)"', page)}
    ticked = tokens(seated, address)[1:]
    answer = seated.post(
        "/readings",
        form | {"verb": "correct_reading", "text": RIGHT, "as": "printer", "reading": ticked},  # type: ignore[dict-item]
    )
    assert answer.status_code == 303
    after = seated.get(answer.headers["location"]).text
    assert "8 times in one go" in after and "Take all 8 back" in after and after.count('type="checkbox"') == 1
    assert verbs(many) == ["correct_reading"] * 9
    assert "wait elsewhere" not in after and "waits elsewhere" not in after
    (last,) = tokens(seated, address)
    answer = seated.post("/readings", form | {"verb": "reject_reading", "reading": last})
    following = seated.get(answer.headers["location"])
    assert following.status_code == 303 and following.headers["location"] == "/readings?of=C&done=10"
    back = seated.post("/undo", {"decision": "2", "all": "1", "then": "readings"})
    assert back.headers["location"] == "/readings?done=11" and verbs(many).count("undo") == 8
    assert open_readings.waiting(many.home) == 9
    assert seated.get("/ledger").text.count("one of several in one go") == 8


@pytest.mark.usefixtures("many")
def test_the_page_shows_some_of_many_and_where_the_rest_is(seated: Client) -> None:
    text = seated.get("/readings").text
    assert "8 of 10 here" in text and "see more of these" in text
    assert text.count('type="checkbox"') == 9  # eight of them, and one of the other kind of reading


def test_what_another_one_ruled_on_is_left_and_named(seated: Client, many: Made, config: Config) -> None:
    page = tokens(seated, "/readings", "")[:4]
    other = Client(many.home, config)
    other.post("/who", {"who": "Ore Vann"})
    assert other.post("/readings", {"of": "C", "verb": "reject_reading", "reading": page[1]}).status_code == 303
    answer = seated.post("/readings", {"of": "C", "verb": "accept_reading", "reading": page})  # type: ignore[dict-item]
    assert answer.status_code == 409 and "Not all of it" in answer.text
    assert "3 readings were ruled on; the others were left" in answer.text
    assert "Ore Vann rejected a reading" in answer.text
    assert verbs(many) == ["accept_reading"] * 3 + ["reject_reading"]


def test_a_line_becomes_a_mark(seated: Client, made: Made) -> None:
    address = f"/lines/{made.sheet.digest}-1"
    assert f'href="{address}"' in seated.get(family(made)).text
    (token,) = tokens(seated, address)
    given = {"line": address.split("/")[-1], "reading": token, "verb": "correct_reading", "text": "4417"}
    refused = seated.post("/readings", given)
    assert refused.status_code == 409 and "takes a kind of mark" in refused.text and f'href="{address}"' in refused.text
    answer = seated.post("/readings", given | {"as": "job"})
    assert answer.headers["location"] == f"{address}?done=1" and tokens(seated, address) == []
    text = seated.get(family(made)).text
    assert "put</span> <small>by <bdi>Ida Marl" in text and "4417" in text
    assert "nothing → 4417" in unescape(seated.get("/ledger").text)


@pytest.mark.parametrize(
    "token",
    [
        "",
        "x",
        "0" * 64 + "-1.printer.1.2.3.4.0000000000",
        "0" * 64 + "-1.printer.1.2.3.0.000000000000",
        "../" * 20,
        "0" * 64 + "-1.<b>.1.2.3.4.000000000000",
    ],
)
def test_forged_readings_are_refused(seated: Client, made: Made, token: str) -> None:
    assert seated.post("/readings", {"of": "C", "verb": "accept_reading", "reading": token}).status_code == 400
    assert verbs(made) == []


def test_forms_are_bounded_and_say_what_is_amiss(seated: Client, made: Made) -> None:
    token = tokens(seated, "/readings")[0]
    unknown = "0" * 64 + token[64:]
    assert seated.post("/readings", {"of": "C", "verb": "accept_reading", "reading": unknown}).status_code == 409
    none = seated.post("/readings", {"of": "C", "verb": "accept_reading"})
    assert none.status_code == 409 and "Tick at least one" in none.text
    assert seated.post("/readings", {"of": "C", "verb": "delete", "reading": token}).status_code == 400
    many = {"of": "C", "verb": "accept_reading", "reading": [token] * 50}
    assert seated.post("/readings", many).status_code == 400  # type: ignore[arg-type]
    assert verbs(made) == []


@pytest.mark.parametrize("address", ["/readings?kind=price", "/readings?page=x", "/lines/x", f"/lines/{'0' * 64}-1"])
def test_odd_addresses_are_refused(client: Client, address: str) -> None:
    assert client.get(address).status_code in (400, 404)


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("of=nobody", "Nothing waits in this consignment"),
        ("page=999", "no such leaf any more"),
        ("of=C&kind=job&value=%00<b>x", "No such reading waits any more"),
    ],
)
def test_pages_with_nothing_say_so(client: Client, address: str, words: str) -> None:
    answer = client.get(f"/readings?{address}")
    assert answer.status_code == 200 and words in answer.text and "<b>x" not in answer.text


def test_an_empty_desk_has_no_readings(home: Home, config: Config) -> None:
    assert "No reading waits" in Client(home, config).get("/readings").text


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("ppocr x1", "reader 1"),
        ("ppocr x1.3 soft", "reader 1, letters drawn 1.3 times as wide, softened"),
        ("tesseract", "reader 2"),
        ("another\u202ename", "another·name"),
        ("", "a reader"),
    ],
)
def test_readers_of_text_are_named_in_words(name: str, words: str) -> None:
    assert reader(name) == words
