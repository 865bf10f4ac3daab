"""Copies and offers on the closer look: counted, put together, and a warning where an offer splits a family or set."""

import pytest

from intake.kin import NumberedSet
from intake.services import examining, lots, review, views
from intake.services.condition import Examined
from intake.services.review import RulingRefused
from intake.store import several
from tests.made import SETTINGS, in_ledger
from tests.web.hand import HOSTILE, Client, Made

HOW = Examined(True, True, "daylight")


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _lots(made: Made, key: object) -> lots.LotsView:
    code = views.family_holding(made.home, [key])  # type: ignore[list-item]
    view = views.family_view(made.home, SETTINGS, code)
    assert view is not None
    return lots.family_lots(made.home, SETTINGS, view)


def test_two_sheets_are_two_copies_and_grades_say_which_is_kept_together(made: Made) -> None:
    told = _lots(made, made.second_a)
    (only,) = told.printings
    assert len(only.copies) == only.least == 2 and only.best is None
    assert set(told.together) == {made.second_a, made.second_b} and told.spare == ()
    for key, grade in ((made.second_a, "Good"), (made.second_b, "Fine")):
        examining.grade(made.home, SETTINGS, "Ida", key, "words", grade, HOW)
    told = _lots(made, made.second_a)
    assert told.printings[0].why.startswith("graded Fine, the next Good")
    assert told.together == (made.second_b,) and told.spare == (made.second_a,)


def test_an_offer_that_splits_a_family_is_refused_in_words_and_kept_when_it_is_meant_so(made: Made) -> None:
    with pytest.raises(RulingRefused, match=r"B02 / 0009 \(copy negative\)"):
        lots.offer(made.home, SETTINGS, "Ida", [made.art, made.sheet, made.proof], "Lot 12")
    assert in_ledger(made.home) == []
    number = lots.offer(made.home, SETTINGS, "Ida", [made.art, made.sheet], "Lot 12", all_the_same=True)
    (seen,) = _lots(made, made.art).offers
    assert seen.decision.id == number and "B03 / 0017" in seen.splits[0]
    whole = lots.offer(made.home, SETTINGS, "Jo", [made.art, made.negative, made.proof, made.sheet], "Lot 14")
    assert [o.decision.id for o in _lots(made, made.art).offers] == [whole]  # the newest holds
    review.undo(made.home, SETTINGS, "Jo", whole)
    assert [o.decision.id for o in _lots(made, made.art).offers] == [number]


def test_a_further_copy_may_be_offered_by_itself_once_it_is_told_which_it_is(made: Made) -> None:
    with pytest.raises(RulingRefused, match="would stay behind"):
        lots.offer(made.home, SETTINGS, "Ida", [made.second_a], "a duplicate")
    for key, grade in ((made.second_a, "Good"), (made.second_b, "Fine")):
        examining.grade(made.home, SETTINGS, "Ida", key, "words", grade, HOW)
    assert lots.offer(made.home, SETTINGS, "Ida", [made.second_a], "a duplicate")
    assert lots.offer(made.home, SETTINGS, "Ida", [made.second_b], "the better one")


def test_a_numbered_set_is_not_split_unsaid(made: Made) -> None:
    with made.home.database.write() as connection:
        several.replace_several(connection, [NumberedSet(((made.second_a, 1), (made.alone, 2)))], [])
    with pytest.raises(RulingRefused, match="number 2 of a numbered set"):
        lots.offer(made.home, SETTINGS, "Ida", [made.second_a, made.second_b], "cards")


def test_nonsense_is_refused(made: Made) -> None:
    for parts, name in (([], "x"), ([made.art], " "), ([type(made.art)("0" * 64, 1)], "x")):
        with pytest.raises(RulingRefused):
            lots.offer(made.home, SETTINGS, "Ida", parts, name, all_the_same=True)


def test_on_the_page(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code = views.family_holding(made.home, [made.second_a])
    parts = [f"{k.digest}-1" for k in (made.second_a, made.second_b)]
    text = client.get(f"/closer/{code}").text
    assert "Copies and offers" in text and text.count('" checked> <bdi>') == 2
    form = {"family": code, "verb": "offer", "in": parts[0], "name": HOSTILE}
    refused = client.post("/closer", form)
    assert refused.status_code == 409 and "would stay behind" in refused.text and HOSTILE not in refused.text
    assert client.post("/closer", form | {"all_the_same": "1"}).status_code == 303
    text = client.get(f"/closer/{code}").text
    assert "would stay behind" in text and HOSTILE not in text
    assert HOSTILE not in client.get("/ledger").text
