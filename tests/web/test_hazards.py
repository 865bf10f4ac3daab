"""Cautions above every picture, the page of hazards, and two people clearing a hold at it."""

import re
from html import unescape

import pytest

from intake.config.load import Config
from intake.model import Listed
from intake.services import views
from intake.store import scans
from tests.made import AT, Written, classified, dossier, in_ledger, received
from tests.web.hand import HOSTILE, Client, Made
from tests.web.test_pages import Tags, pages_of

REPORT = "report 17 of the Ostmere laboratory"


@pytest.fixture
def ida(own: Made, config: Config) -> Client:
    return seated(own, config, "Ida Marl")


def seated(made: Made, config: Config, who: str) -> Client:
    client = Client(made.home, config)
    client.post("/who", {"who": who})
    return client


def forms(text: str) -> list[dict[str, str]]:
    """The forms of the page of hazards, each with its hidden fields and the verb of its button."""
    made = []
    for body in re.findall(r'<form method="post" action="/hazards">(.*?)</form>', text, re.S):
        fields = dict(re.findall(r'<input type="hidden" name="([a-z_]+)" value="([^"]*)">', body))
        verb = re.findall(r'name="verb" value="([a-z_]+)"', body)
        made.append({n: unescape(v) for n, v in fields.items()} | {"verb": verb[0], "body": body})
    return made


def form(client: Client, verb: str, **more: str) -> dict[str, str]:
    found = next(f for f in forms(client.get("/hazards?of=C").text) if f["verb"] == verb)
    return {n: v for n, v in found.items() if n != "body"} | more


def option(client: Client, verb: str, words: str) -> str:
    body = next(f["body"] for f in forms(client.get("/hazards?of=C").text) if f["verb"] == verb)
    return next(v for v, said in re.findall(r'<option value="([0-9a-z_]+)">([^<]*)</option>', body) if words in said)


def proposed(client: Client, **more: str) -> str:
    which = option(client, "propose_clearing", "0009")
    given = {"which": which, "basis": "laboratory", "words": REPORT} | more
    return client.post("/hazards", form(client, "propose_clearing", **given)).headers["location"]


# ---- above every picture ------------------------------------------------------------------------------------------


def test_every_page_with_a_picture_says_it_first(own: Made, config: Config) -> None:
    """The one piece of film lies in box B02; every other piece of that box is under its caution too."""
    beside = received("B02/0010.jpg")
    with own.home.database.write() as connection:
        scans.add_scans(connection, [(beside, 1)], AT)
    d = dossier(beside)
    Written(own.home).looked(beside, (d.rendered, classified("artwork"), d.reading, d.measured, d.features, d.parsed))
    client = Client(own.home, config)
    looked = 0
    for path in [*pages_of(own), "/pieces?box=C+/+B02", f"/lines/{beside.digest}-1", "/pieces?kind=artwork"]:
        text = client.get(path).text
        pictures = [i for i in (text.find("<img"), text.find("<image")) if i >= 0]
        shown = [a.get("src") or a.get("href") or "" for t, a in Tags(text).found if t in ("img", "image")]
        film = own.negative.digest in "".join(shown) or beside.digest in "".join(shown) or "B02" in text
        if pictures and film:
            looked += 1
            assert text.index("Possible cellulose nitrate") < min(pictures), path
            assert text.index("licensed people decide") < min(pictures), path
            assert "photograph conservator" in text and "fire authority" in text and "dangerous goods" in text
    assert looked >= 5


def test_a_caution_cannot_be_put_away_and_is_said_once(client: Client, made: Made) -> None:
    for path in ("/", "/families", f"/families/{views.family_holding(made.home, [made.art])}", "/pieces"):
        text = client.get(path).text
        section = text[text.index('<section class="hazards"') : text.index("</section>", text.index('class="hazards"'))]
        assert not re.search("<(button|form|details|input)", section), path
        assert text.count("Keep away from heat, lamps, sparks") == 1, path
        assert "box <bdi>B02</bdi>" in section and "1 piece (<bdi>0009</bdi>)" in section


def test_a_page_without_film_says_nothing_of_safety(client: Client) -> None:
    text = client.get("/pieces?box=C+/+B03").text
    assert "cellulose nitrate" not in text and not re.search(r"\bsafe\b", text)


# ---- the page of hazards --------------------------------------------------------------------------------------------


def test_the_page_says_what_why_and_whom_to_ask(client: Client) -> None:
    text = re.sub(r"\s+", " ", unescape(client.get("/hazards").text))
    assert "Possible cellulose nitrate" in text and "the picture may be of flexible film" in text
    assert "edge print copies through" in text and "fire authority" in text and "photograph conservator" in text
    assert "stuck" in text, "what the owner held back stands there in the owner's words"
    assert "1 piece on hold" in text and "confirms nothing" in text
    for word in ("burn", "float", "solvent", "°C", "limit"):
        assert word not in text.lower()
    assert "Propose" not in text, "nobody rules unnamed"


def test_two_people_clear_it_and_each_sees_who_and_why(own: Made, config: Config, ida: Client) -> None:
    assert proposed(ida) == "/hazards?of=C&done=1"
    text = ida.get("/hazards?of=C&done=1").text
    assert "a second person is needed" in text and REPORT in text and "Take back" in text
    assert not [f for f in forms(text) if f["verb"] == "confirm_clearing"], "not the proposer"
    assert "Possible cellulose nitrate" in ida.get("/").text
    same = seated(own, config, "ida  MARL")
    assert not [f for f in forms(same.get("/hazards?of=C").text) if f["verb"] == "confirm_clearing"]
    ore = seated(own, config, "Ore Vann")
    confirm = form(ore, "confirm_clearing")
    assert same.post("/hazards", confirm).status_code == 409, "nor by a form of another's"
    assert ore.post("/hazards", confirm).status_code == 303
    assert "Possible cellulose nitrate" not in ore.get("/").text
    family = ore.get(f"/families/{views.family_holding(own.home, [own.negative])}").text
    assert "base <bdi>ruled safety by Ida Marl and Ore Vann" in family and REPORT in family
    page = ore.get("/hazards?of=C").text
    assert "Ruled by two people" in page and "nothing on hold; that confirms nothing" in page
    assert "as the second person" in ore.get("/ledger").text
    again = ore.post("/hazards", confirm)
    assert again.status_code == 409 and "has confirmed it already" in again.text
    assert (
        ida.post("/undo", {"decision": "1", "then": "hazards", "of": "C"}).headers["location"] == "/hazards?of=C&done=3"
    )
    assert "Possible cellulose nitrate" in ida.get("/").text
    assert "does not come back" in ida.post("/undo", {"decision": "3"}).text


def test_a_note_is_said_from_then_on_and_taken_back(ida: Client) -> None:
    given = form(ida, "note_hazard", code="mould", words="lid, inside", piece="")
    answer = ida.post("/hazards", given)
    assert answer.status_code == 303
    text = ida.get(answer.headers["location"]).text
    assert "the whole box" in text and "Mould: lid, inside" in text and "noted a hazard" in text
    assert "Noted: mould" in ida.get("/").text
    ida.post("/undo", {"decision": "1", "then": "hazards", "of": "C"})
    assert "Noted: mould" not in ida.get("/").text


def test_a_box_of_which_nothing_was_said_can_be_opened_and_noted(ida: Client) -> None:
    text = ida.get("/hazards?of=C").text
    address = unescape(re.findall(r'<a href="(/hazards\?of=C[^"]+)"><bdi>B01</bdi>', text)[0])
    page = ida.get(address).text
    (note,) = [f for f in forms(page) if f["verb"] == "note_hazard"]
    piece = next(
        v for v, said in re.findall(r'<option value="([0-9a-f]{12})">([^<]*)<', note["body"]) if said == "0003"
    )
    fields = {n: v for n, v in note.items() if n != "body"}
    back = ida.post("/hazards", fields | {"piece": piece, "code": "brittle", "words": ""}).headers["location"]
    assert "box=" in back and "Brittle" in ida.get(back).text


@pytest.mark.parametrize(
    ("field", "value", "status"),
    [
        ("verb", "clear", 400), ("box", "x", 409), ("which", "x", 409), ("basis", "SAFETY", 409), ("words", "", 409),
        ("words", "x" * 301, 409), ("seen", "000000000000", 409), ("which", "<script>", 409), ("box", "../..", 409),
    ],
)  # fmt: skip
def test_forged_and_stale_forms_write_nothing(own: Made, ida: Client, field: str, value: str, status: int) -> None:
    which = option(ida, "propose_clearing", "0009")
    given = form(ida, "propose_clearing", which=which, basis="laboratory", words=REPORT) | {field: value}
    answer = ida.post("/hazards", given)
    assert answer.status_code == status and in_ledger(own.home) == []
    assert "<script>" not in answer.text


def test_other_pages_may_not_send_it(own: Made, ida: Client) -> None:
    given = form(ida, "note_hazard", code="mould", words="", piece="")
    for headers in ({"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}):
        assert ida.post("/hazards", given, **headers).status_code == 403
    assert Client(own.home, ida.config).post("/hazards", given).status_code == 409, "nor who is not named"
    assert in_ledger(own.home) == []


def test_hostile_words_and_names_stay_text(own: Made, config: Config) -> None:
    """A box, a piece, a name of a person and words that hold markup, turning signs and template marks."""
    box = HOSTILE.replace("/", "")
    with own.home.database.write() as connection:
        scans.replace_list(connection, "C", [Listed(box, HOSTILE, HOSTILE, 1, True, HOSTILE)])
    client = seated(own, config, "<b>Ida</b>")
    text = client.get("/hazards?of=C").text
    address = next(unescape(a) for a in re.findall(r'href="(/hazards\?of=C&amp;box=[0-9a-f]+)"><bdi>[^<]*script', text))
    note = next(f for f in forms(client.get(address).text) if f["verb"] == "note_hazard")
    piece = re.findall(r'<option value="([0-9a-f]{12})">', note["body"])[0]
    fields = {n: v for n, v in note.items() if n != "body"} | {"piece": piece, "code": "decay", "words": HOSTILE}
    assert client.post("/hazards", fields).status_code == 303
    propose = next(f for f in forms(client.get(address).text) if f["verb"] == "propose_clearing")
    fields = {n: v for n, v in propose.items() if n != "body"} | {"which": piece, "basis": "maker", "words": HOSTILE}
    assert client.post("/hazards", fields).status_code == 303
    for path in ("/hazards?of=C", address, "/", "/ledger", "/hazards?of=%3Cscript%3E", "/hazards?of=C&done=2"):
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert (
            "<script>alert" not in answer.text.lower() and "\u202e" not in answer.text and "<b>Ida" not in answer.text
        )
        assert not [n for _, a in Tags(answer.text).found for n in a if n.startswith("on") or n == "style"], path


def test_the_page_is_reached_by_key_and_every_field_has_a_name(ida: Client) -> None:
    text = ida.get("/hazards").text
    assert re.search(r'<a href="/hazards"[^>]* data-key="h"', text) and "<kbd>H</kbd>" in ida.get("/keys").text
    for body in (f["body"] for f in forms(text)):
        fields = re.findall(r'<(?:select|input)(?![^>]*type="hidden")', body)
        assert len(fields) == len(re.findall(r"<label>[^<]*<(?:select|input)", body))


def test_empty_and_unknown(own: Made, config: Config) -> None:
    from intake.services.home import Home

    empty = Home(own.home.folder.parent / "empty")
    assert "Nothing has been received" in Client(empty, config).get("/hazards").text
    empty.database.close()
    assert "no such consignment" in Client(own.home, config).get("/hazards?of=nobody").text
