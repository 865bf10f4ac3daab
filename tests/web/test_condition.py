"""Condition on the family's page: places on the picture, and forms that need no script."""

import pytest

from intake.services import views
from tests.made import in_ledger
from tests.web.hand import TORN, Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def test_places_are_confirmed_put_by_a_click_and_graded(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code = views.family_holding(made.home, [made.sheet])
    page = client.get(f"/families/{code}").text
    assert "on the bench" in page and "what the sheet lies on shows" in page and 'class="suggested"' in page
    part = f"{made.sheet.digest}-1"
    how = {"family": code, "part": part, "light": "raking light", "unframed": "1"}
    answer = client.post("/condition", how | {"verb": "confirm_place", "sort": "tear"} | _place())
    assert answer.status_code == 303 and answer.headers["location"] == f"/families/{code}?done=1#h-worn"
    click = how | {"sort": "writing", "at.x": "100", "at.y": "120", "words": "<b>ink</b>"}
    assert client.post("/condition", click).status_code == 303
    assert client.post("/condition", how | {"verb": "grade", "grade": "words:Fine"}).status_code == 303
    assert client.post("/condition", how | {"verb": "grade", "grade": "words:Best"}).status_code == 409
    page = client.get(f"/families/{code}").text
    assert 'class="confirmed"' in page and 'class="put"' in page and "words scale" in page
    assert "<b>ink</b>" not in page and "one side, raking light" in page
    put = next(r.decision for r in in_ledger(made.home) if r.decision.verb == "add_place")
    left, top, wide, high = put.shown["box"]
    view = views.family_view(made.home, client.config, code)
    assert view is not None
    member = view.member(made.sheet)
    assert member is not None and member.upright is not None
    wide_all, high_all = member.upright.size
    assert abs((left + wide / 2) / wide_all - 100 / (480 * wide_all / high_all)) < 0.01
    assert abs((top + high / 2) / high_all - 0.25) < 0.01


def _place() -> dict[str, str]:
    return {name: str(value) for name, value in zip(TORN._fields, TORN, strict=True)}


def test_nobody_rules_on_condition_unnamed(client: Client, made: Made) -> None:
    code = views.family_holding(made.home, [made.sheet])
    sent = {
        "family": code,
        "part": f"{made.sheet.digest}-1",
        "light": "daylight",
        "verb": "grade",
        "grade": "words:Fine",
    }
    assert client.post("/condition", sent).status_code == 409 and not in_ledger(made.home)
