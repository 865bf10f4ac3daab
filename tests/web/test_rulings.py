"""Rulings by plain forms, without any script: what is sent, what is written, and where the person goes next."""

import re
from html import unescape
from typing import Any

import pytest

from intake.model import PartKey
from intake.services import review, views
from tests.made import in_ledger
from tests.web.hand import Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


@pytest.fixture
def seated(client: Client) -> Client:
    """A person who has given a name."""
    answer = client.post("/who", {"who": " Ida   Marl "})
    assert answer.status_code == 303 and "HttpOnly" in answer.headers["set-cookie"]
    assert "samesite=strict" in answer.headers["set-cookie"].lower()
    return client


def code_of(made: Made, key: PartKey) -> str:
    return views.family_holding(made.home, [key])


def form(client: Any, code: str, **more: str) -> dict[str, str]:
    """The hidden fields of the family's page, and more."""
    text = client.get(f"/families/{code}").text
    fields = dict(re.findall(r'<input type="hidden" name="(family|seen|parts|a|b)" value="([^"]*)">', text))
    return {**{n: unescape(v) for n, v in fields.items()}, **more}


def rows(made: Made) -> list[str]:
    return [r.decision.verb for r in in_ledger(made.home)]


def test_nobody_rules_unnamed(client: Client, made: Made) -> None:
    code = code_of(made, made.art)
    assert "Sit down at the desk" in client.get(f"/families/{code}").text
    answer = client.post("/rulings", form(client, code, verb="confirm"))
    assert answer.status_code == 409 and "Say who you are" in answer.text and rows(made) == []


def test_confirm_goes_on_to_the_next_family_with_a_way_back(seated: Client, made: Made) -> None:
    code, following = code_of(made, made.art), code_of(made, made.second_a)
    answer = seated.post("/rulings", form(seated, code, verb="confirm"))
    assert (answer.status_code, answer.headers["location"]) == (303, f"/families/{following}?done=1")
    text = seated.get(answer.headers["location"]).text
    assert "said that these belong together" in text and "Take it back" in text
    assert "Settled" in seated.get(f"/families/{code}").text
    back = seated.post("/undo", {"decision": "1"})
    assert back.headers["location"] == f"/families/{code}?done=2"
    assert "Suggested" in seated.get(f"/families/{code}").text and rows(made) == ["undo", "confirm"]


def test_take_out_and_what_is_written(seated: Client, made: Made) -> None:
    code = code_of(made, made.art)
    answer = seated.post("/rulings", form(seated, code, verb="part_off", out=f"{made.sheet.digest}-1"))
    left = code_of(made, made.art)
    assert answer.headers["location"] == f"/families/{left}?done=1" and left != code
    (row,) = in_ledger(made.home)
    assert row.decision.parts[0] == made.sheet and set(row.decision.parts[1:]) == {made.art, made.negative, made.proof}
    shown = row.decision.shown
    assert shown["families"] == [code] and len(shown["members"]) == 4 and len(shown["side_by_side"]) == 2
    assert all(len(m["evidence"]) == 2 for m in shown["matches"])
    assert "left out" in seated.get(f"/families/{left}").text


def test_taking_out_of_two_goes_back_to_the_queue(seated: Client, made: Made) -> None:
    code = code_of(made, made.second_a)
    answer = seated.post("/rulings", form(seated, code, verb="part_off", out=f"{made.second_a.digest}-1"))
    assert answer.headers["location"] == "/families?done=1"


@pytest.mark.parametrize("by", ["code", "name"])
def test_join_by_code_or_name(seated: Client, made: Made, by: str) -> None:
    code, other = code_of(made, made.art), code_of(made, made.second_a)
    given = other if by == "code" else views.family_names(made.home)[other]
    seated.post("/rulings", form(seated, code, verb="join", other=given))
    assert code_of(made, made.art) == code_of(made, made.second_b)


def test_join_a_single_piece_seen_elsewhere(seated: Client, made: Made) -> None:
    seated.post("/rulings", form(seated, code_of(made, made.art), verb="join", other=f"{made.alone.digest}-1"))
    assert code_of(made, made.alone) == code_of(made, made.art) != ""


@pytest.mark.parametrize("other", ["no such family", "", "<script>", "0" * 64 + "-1"])
def test_joining_with_nothing_is_refused_in_words(seated: Client, made: Made, other: str) -> None:
    answer = seated.post("/rulings", form(seated, code_of(made, made.art), verb="join", other=other))
    assert answer.status_code == 409 and "No other family is" in answer.text and rows(made) == []


def test_a_stale_page_writes_nothing_and_says_who(seated: Client, made: Made) -> None:
    code = code_of(made, made.art)
    stale = form(seated, code, verb="confirm")
    review.decide(
        made.home, seated.config, "Ore Vann", "part_off", [made.sheet, made.art, made.negative, made.proof], {}
    )
    answer = seated.post("/rulings", stale)
    assert answer.status_code == 409 and "Ore Vann took a piece out" in answer.text and rows(made) == ["part_off"]


def test_a_page_that_shows_less_than_now_is_stale_too(seated: Client, made: Made) -> None:
    code = code_of(made, made.art)
    stale = form(seated, code, verb="part_off", out=f"{made.sheet.digest}-1")
    seated.post("/rulings", form(seated, code, verb="confirm"))
    assert code_of(made, made.art) == code
    assert seated.post("/rulings", stale).status_code == 409 and rows(made) == ["confirm"]


@pytest.mark.parametrize(
    ("field", "value"),
    [("verb", "delete"), ("out", "x"), ("out", "0" * 64 + "-1"), ("family", "../x"), ("a", "<b>")],
)
def test_forged_fields_are_refused(seated: Client, made: Made, field: str, value: str) -> None:
    given = form(seated, code_of(made, made.art), verb="part_off", out=f"{made.sheet.digest}-1") | {field: value}
    assert seated.post("/rulings", given).status_code == 400 and rows(made) == []


def test_the_ledger_shows_all_and_takes_back_ones_own(seated: Client, made: Made) -> None:
    review.decide(made.home, seated.config, "Ore Vann", "join", [made.second_a, made.second_b], {})
    seated.post("/rulings", form(seated, code_of(made, made.art), verb="confirm"))
    text = seated.get("/ledger").text
    assert text.count("Take back</button>") == 1 and "Ore Vann" in text
    assert seated.post("/undo", {"decision": "1"}).status_code == 409
    assert seated.post("/undo", {"decision": "2", "then": "ledger"}).headers["location"] == "/ledger?done=3"
    assert "taken back" in seated.get("/ledger").text


def test_a_name_is_kept_plain(client: Client) -> None:
    for bad in ("", " ", "x" * 61, "a\u202eb"):
        assert client.post("/who", {"who": bad}).status_code == 409
    client.post("/who", {"who": "Zoë Ånd"})
    assert "Zoë Ånd" in client.get("/keys").text


def test_a_measure_by_a_person_stands_on_the_page_and_can_be_taken_back(seated: Client, made: Made) -> None:
    code = code_of(made, made.art)
    part = f"{made.art.digest}-{made.art.part}"
    assert 'action="/measures"' in seated.get(f"/families/{code}").text
    refused = seated.post("/measures", {"family": code, "part": part, "long_mm": "<b>27x41"})
    assert refused.status_code == 409 and "in figures" in refused.text and rows(made) == []
    answer = seated.post("/measures", {"family": code, "part": part, "long_mm": "602,5"})
    assert answer.status_code == 303
    text = seated.get(answer.headers["location"]).text
    assert "by a person&#39;s measure" in text and "measured a piece" in text
    assert seated.post("/undo", {"decision": "1"}).status_code == 303
    assert "by a person" not in seated.get(f"/families/{code}").text and rows(made) == ["undo", "note_measure"]
