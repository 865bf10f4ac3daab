"""A campaign's check-list: an element named by an example is found on other designs, or not, or not surely."""

from collections import Counter
from typing import Any

import cv2
import numpy as np
import pytest

from intake.kin import Campaign, Tie
from intake.model import Box, Evidence, PartKey
from intake.services import elements, review, views
from intake.services.home import write_whole
from intake.services.review import RulingRefused
from intake.services.whose import whose
from intake.stages.fingerprint import fingerprint
from intake.store import campaigns
from tests.made import SETTINGS, STAMPS, in_ledger
from tests.web.hand import HOSTILE, Client, Made, painted

Picture = np.ndarray[Any, Any]


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def block(seed: int) -> Picture:
    """A drawn title with a line below, 360 by 150."""
    random = np.random.default_rng(seed)
    drawn = np.full((150, 360, 3), [int(v) for v in random.integers(0, 255, 3)], np.uint8)
    ink = [int(255 - v) for v in drawn[0, 0]]
    words = "".join(chr(65 + int(v)) for v in random.integers(0, 26, 7))
    font = (cv2.FONT_HERSHEY_TRIPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_COMPLEX)[seed % 3]
    cv2.putText(drawn, words, (12, 90), font, 2.2, ink, 7)
    cv2.putText(drawn, f"{words[::-1]} {words[:3]}", (14, 135), font, 1.0, ink, 2)
    return drawn


def _on(page: Picture, drawn: Picture, random: np.random.Generator, scale: float) -> tuple[Picture, Box]:
    drawn = cv2.resize(drawn, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    h, w = drawn.shape[:2]
    y, x = int(random.integers(0, page.shape[0] - h)), int(random.integers(0, page.shape[1] - w))
    page = page.copy()
    page[y : y + h, x : x + w] = drawn
    return page, Box(x, y, w, h)


def _look(picture: Picture, frame_px: int, keypoints: int) -> Any:
    rules = SETTINGS.fingerprint
    so = rules.model_copy(
        update={"frame_px": frame_px, "keypoints": keypoints, "grid_px": rules.grid_px * frame_px // rules.frame_px}
    )
    return fingerprint(np.ascontiguousarray(picture[..., ::-1]), 1.0, (), "unknown", so)[1]


def test_elements_are_found_at_another_size_on_film_and_mirrored_and_strange_ones_are_not() -> None:
    """On seeds that the bounds were not chosen on: half of the pages bear the element, half another one."""
    said: Counter[tuple[bool, str]] = Counter()
    for seed in range(200, 212):
        random = np.random.default_rng(seed)
        page, place = _on(cv2.resize(painted(seed), (900, 1350)), block(seed), random, 1.0)
        crop = page[place.top : place.top + place.height, place.left : place.left + place.width]
        has = seed % 2 == 0
        other, _ = _on(
            cv2.resize(painted(seed + 1000), (900, 1350)), block(seed if has else seed + 7777), random,
            float(random.uniform(0.55, 1.5)),
        )  # fmt: skip
        if random.random() < 0.4:
            other = 255 - other
        if random.random() < 0.3:
            other = other[:, ::-1]
        other = 255 * (other / 255.0) ** random.uniform(0.6, 1.7) + random.normal(0, 6, other.shape)
        example = _look(crop, SETTINGS.fingerprint.frame_px, SETTINGS.fingerprint.keypoints)
        look = _look(other.clip(0, 255).astype(np.uint8), SETTINGS.elements.frame_px, SETTINGS.elements.keypoints)
        said[has, elements.carries(example, look, SETTINGS)[0]] += 1
    assert said[False, "found"] == 0, said
    assert said[True, "found"] >= 5, said  # of 6


def _campaign(made: Made) -> tuple[str, str]:
    """The two designs of the home as one campaign; the first's title block stands on the second's sheet too."""
    one, two = (views.family_holding(made.home, [k]) for k in (made.art, made.second_a))
    with made.home.database.write() as connection:
        campaigns.drop_campaigns(connection)
        tie = Tie(min(one, two), max(one, two), (Evidence("title", "same title", 5.0),))
        campaigns.put_campaigns(connection, [Campaign("C-T", tuple(sorted((one, two))), (tie,))])
    return one, two


def _put(made: Made, key: PartKey, drawn: Picture, at: tuple[int, int]) -> None:
    path = made.home.picture(key, "working", STAMPS.stages["render"])
    picture = cv2.imread(str(path))
    assert picture is not None
    h, w = drawn.shape[:2]
    picture[at[1] : at[1] + h, at[0] : at[0] + w] = drawn
    write_whole(path, cv2.imencode(".jpg", picture)[1].tobytes())


def test_the_check_list_says_of_every_design_whether_it_carries_what_was_named(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    one, two = _campaign(made)
    title, billing = block(1), block(5)
    _put(made, made.sheet, title, (100, 60))
    _put(made, made.sheet, billing, (100, 500))
    _put(made, made.second_b, cv2.resize(title, None, fx=0.8, fy=0.8, interpolation=cv2.INTER_AREA), (200, 300))
    home = made.home
    elements.name_element(home, SETTINGS, "Ida Marl", made.sheet, Box(400, 240, 1440, 600), HOSTILE)
    elements.name_element(home, SETTINGS, "Ida Marl", made.sheet, Box(400, 2000, 1440, 600), "billing block")
    told = elements.check_list(home, SETTINGS, two, whose(home))
    assert told is not None and [e.name for e, _ in told.elements] == [elements_name(HOSTILE), "billing block"]
    rows = {r.code: r.carried for r in told.designs}
    assert [c.state for c in rows[one]] == ["found", "found"]
    assert [c.state for c in rows[two]] == ["found", "not found"]
    assert rows[two][0].on is not None and rows[two][0].on.key == made.second_b
    text = client.get(f"/elements/{two}").text
    assert HOSTILE not in text and "billing block" in text and "<b>not found</b>" in text
    assert f"/elements/{one}" in client.get(f"/families/{one}").text
    review.undo(home, SETTINGS, "Ida Marl", 2)
    told = elements.check_list(home, SETTINGS, one, whose(home))
    assert told is not None and len(told.elements) == 1


def elements_name(text: str) -> str:
    """As the ledger keeps it."""
    return review.tidy(text, review.LONGEST_TITLE)


def test_elements_are_named_by_a_click_and_nonsense_is_refused(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code = views.family_holding(made.home, [made.art])
    form = {"family": code, "verb": "name_element", "part": f"{made.sheet.digest}-1", "name": "title"}
    form |= {"wide": "60", "high": "50", "at.x": "170", "at.y": "240"}
    assert client.post("/closer", form).status_code == 409  # of no campaign
    _campaign(made)
    assert client.post("/closer", form).headers["location"] == f"/elements/{code}?done=1"
    (made_row,) = in_ledger(made.home)
    left, top, width, height = made_row.decision.shown["box"]
    assert width == pytest.approx(0.6 * 2400, abs=2) and height == pytest.approx(0.5 * 4 * 840, abs=4)
    assert left >= 0 and top >= 0
    assert client.post("/closer", form | {"name": " "}).status_code == 409
    assert client.post("/closer", form | {"wide": "0"}).status_code == 400
    with pytest.raises(RulingRefused, match="Too little"):
        elements.name_element(made.home, SETTINGS, "Ida", made.sheet, Box(0, 0, 200, 200), "sky")
    assert "No element is named" not in client.get(f"/elements/{code}").text


def test_a_design_of_no_campaign_has_no_list(client: Client, made: Made) -> None:
    code = views.family_holding(made.home, [made.art])
    assert "of no campaign" in client.get(f"/elements/{code}").text
