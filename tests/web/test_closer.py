"""The closer look: a family beside its reference, and the log of sources searched and its weight in the queue."""

import pytest

from intake.config.load import Config
from intake.kin import Difference, Differences
from intake.model import Box
from intake.services import differing, references, review, sources, views
from intake.services.review import RulingRefused
from intake.store import differences, families
from tests.made import SETTINGS, STAMPS
from tests.web.hand import HOSTILE, Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _reasons(made: Made, key: object) -> dict[str, tuple[str, float]]:
    code = views.family_holding(made.home, [key])  # type: ignore[list-item]
    with made.home.database.read() as connection:
        (entry,) = families.entries_of(connection, [code])
    return {r.name: (r.words, r.weight) for r in entry.reasons}


def _without_sheets(made: Made) -> tuple[str, list]:  # type: ignore[type-arg]
    """The second design as two proofs: no finished sheet of it is here."""
    from intake.services.piecework import rule_on_pieces

    asked = [(k, "") for k in (made.second_a, made.second_b)]
    rule_on_pieces(made.home, SETTINGS, "Ida", "set_role", asked, "printers_proof")
    code = views.family_holding(made.home, [made.second_a])
    return code, [made.second_a, made.second_b]


def test_a_source_searched_counts_towards_no_sheet_seen_and_one_found_ends_it(made: Made) -> None:
    code, keys = _without_sheets(made)
    words, weight = _reasons(made, made.second_a)["no_sheet"]
    assert "searched outside" not in words
    sources.log_search(made.home, SETTINGS, "Ida", keys, code, "the national library's catalogue", "not found")
    words, more = _reasons(made, made.second_a)["no_sheet"]
    assert "not found in 1 source searched outside either" in words and more > weight
    number = sources.log_search(made.home, SETTINGS, "Jo", keys, code, "a trade paper of 1956", "found", "page 4")
    reasons = _reasons(made, made.second_a)
    assert "no_sheet" not in reasons and "a trade paper of 1956" in reasons["sheet_elsewhere"][0]
    assert reasons["sheet_elsewhere"][1] == 0
    (first, second) = sources.searches_of(made.home, keys)
    assert (first.who, first.found, second.where, second.found) == ("Ida", False, "a trade paper of 1956", True)
    review.undo(made.home, SETTINGS, "Jo", number)
    assert _reasons(made, made.second_a)["no_sheet"] == (words, more)


def test_searches_are_logged_on_the_page_and_never_say_unpublished(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code, _ = _without_sheets(made)
    form = {"family": code, "verb": "log_search", "where": HOSTILE, "found": "not found", "words": "<b>x</b>"}
    assert client.post("/closer", form).status_code == 303
    assert client.post("/closer", form | {"where": " "}).status_code == 409
    assert client.post("/closer", form | {"found": "perhaps"}).status_code == 409
    assert client.post("/rulings", {"family": code, "verb": "log_search"}).status_code in (400, 409)
    text = client.get(f"/closer/{code}").text
    assert HOSTILE not in text and "<b>x</b>" not in text and "none found" in text and "No finished sheet seen" in text
    for page in (text, client.get(f"/families/{code}").text, client.get("/ledger").text, client.get("/families").text):
        assert HOSTILE not in page
        assert not any(word in page.casefold() for word in ("unpublished", "only copy", "never published"))


def test_the_reference_is_told_and_a_person_may_choose_another(client: Client, made: Made, config: Config) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code = views.family_holding(made.home, [made.art])
    assert "nobody chose another" in client.get(f"/closer/{code}").text
    form = {"family": code, "verb": "choose_reference", "part": f"{made.sheet.digest}-1"}
    assert client.post("/closer", form).headers["location"] == f"/closer/{code}?done=1#h-beside"
    a, b = sorted((made.sheet, made.negative))
    region = Difference("covered", Box(200, 300, 180, 90), Box(210, 310, 180, 90), 0.93, "covered on the second")
    with made.home.database.write() as connection:
        differences.record_differences(connection, [differences.Told(Differences(a, b, (region,)), "stamp", 0.1)])
    text = client.get(f"/closer/{code}").text
    assert "chosen by a person" in text and "covered on the second" in text and "not compared yet" in text
    with pytest.raises(RulingRefused, match="no family"):
        references.choose_reference(made.home, "Ida", made.alone)
    review.undo(made.home, config, "Ida Marl", 1)
    assert "nobody chose another" in client.get(f"/closer/{code}").text


def test_every_piece_is_set_beside_the_chosen_reference_even_in_a_settled_family(made: Made) -> None:
    code = views.family_holding(made.home, [made.art])
    view = views.family_view(made.home, SETTINGS, code)
    assert view is not None
    review.decide(made.home, SETTINGS, "Ida", "confirm", [m.key for m in view.members], {"families": [code]})
    family = {made.art, made.negative, made.proof, made.sheet}
    before = {frozenset((t.a.key, t.b.key)) for t in differing.tasks_left(made.home, SETTINGS, STAMPS)}
    assert not any(pair <= family for pair in before)  # settled: nobody waits for reports
    references.choose_reference(made.home, "Ida", made.sheet)
    tasks = {frozenset((t.a.key, t.b.key)) for t in differing.tasks_left(made.home, SETTINGS, STAMPS)}
    assert {p for p in tasks if p <= family} == {frozenset((made.sheet, k)) for k in family - {made.sheet}}
