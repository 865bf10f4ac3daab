"""The painting and its film closely: the finest places of both, side by side; what supports it, and what does not."""

import re

import cv2
import numpy as np
import pytest

from intake.config.load import Config
from intake.kin import Difference, Differences, Surface
from intake.model import Box, Screened, StageResult
from intake.services import views
from intake.store import differences, ledger
from intake.store.codec import to_text
from tests.made import AT, STAMPS
from tests.web.hand import Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _told(made: Made, *regions: Difference, surface: Surface | None = None) -> str:
    a, b = sorted((made.art, made.negative))
    report = Differences(a, b, regions, surface=surface)
    with made.home.database.write() as connection:
        differences.record_differences(connection, [differences.Told(report, "stamp", 0.1)])
    return views.family_holding(made.home, [made.art])


def test_the_finest_places_of_painting_and_film_stand_side_by_side(client: Client, made: Made) -> None:
    code = _told(made)
    text = client.get(f"/closer/{code}").text
    assert "Was this very painting photographed?" in text and "<b>cannot say</b>" in text
    assert "supported" not in text.casefold()
    cuts = [c.replace("&amp;", "&") for c in re.findall(r'src="(/point-cut\?of=[^"]+)"', text)]
    assert len(cuts) == 6 and len({c.split("&part=")[0] for c in cuts}) == 3
    pictures = []
    for address in cuts[:2]:
        answer = client.get(address)
        assert answer.status_code == 200
        pictures.append(cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_GRAYSCALE).astype(np.float32))
    # the film lies mirrored and is shown with light and dark as the painting has them
    assert np.corrcoef(pictures[0].ravel(), pictures[1].ravel())[0, 1] > 0.8


def test_what_contradicts_stands_first(client: Client, made: Made, config: Config) -> None:
    place = Box(400, 800, 300, 300)
    code = _told(made, Difference("redrawn", place, place, 0.97, "drawn otherwise"))
    text = client.get(f"/closer/{code}").text
    assert "<b>contradicted</b>" in text
    assert "left=400&amp;top=800" in text
    assert config.points.says.caution in text.replace("&#39;", "'")


def test_places_are_bounded_and_of_one_family(client: Client, made: Made) -> None:
    def cut(of: object, part: object, left: int) -> int:
        address = f"/point-cut?of={of.digest}-1&left={left}&top=9&width=90&height=90&part={part.digest}-1"  # type: ignore[attr-defined]
        return client.get(address).status_code

    assert cut(made.art, made.negative, 400) == 200
    assert cut(made.art, made.second_a, 400) == 404
    assert cut(made.art, made.negative, 900_000) == 404
    assert cut(made.art, made.negative, 90_000_000) == 400


def test_what_supports_it_is_shown_with_its_places_and_its_doubt(client: Client, made: Made) -> None:
    with made.home.database.write() as connection:
        seen = to_text(Screened("", None, 120.0, ()))
        ledger.record(connection, [StageResult(made.art, "screen", STAMPS.stages["screen"], "done", seen, 0.1)], AT)
    places = tuple((Box(300 + 400 * n, 500, 90, 90), Box(300 + 400 * n, 500, 90, 90)) for n in range(3))
    text = client.get(f"/closer/{_told(made, surface=Surface(0.9, 0.95, 0.02, 4.0, 3.0, 0.1, places))}").text
    assert "<b>supported</b>" in text and "it does not prove it" in text and "see under a glass" in text
    assert all(f"left={300 + 400 * n}&amp;top=500" in text for n in range(3))
    family = client.get(f"/families/{_told(made, surface=Surface(0.9, 0.95, 0.02, 4.0, 3.0, 0.1, places))}").text
    assert "<b>supported</b>" in family and family.count("left=700&amp;top=500") == 2
    repainted = Surface(0.9, 0.95, 0.02, 90.0, 3.0, 0.1, places[:1], places[1:])
    text = client.get(f"/closer/{_told(made, surface=repainted)}").text
    assert "<b>cannot say</b>" in text and "supported" not in text.casefold() and "left=700&amp;top=500" in text


def test_brushwork_on_film_says_which_was_first_and_another_hand_leaves_no_order(client: Client, made: Made) -> None:
    place = Box(400, 800, 300, 300)
    regions = [
        Difference("covered", place, place, 0.9, f"covered on the {n}: painted out") for n in ("first", "second")
    ]
    family = client.get(f"/families/{_told(made, surface=Surface(0.9, 0.95, 0.02, 4.0, 3.0, 0.1))}").text
    assert "the brushwork of" in family and "made first" in family
    for surface, ordered in ((None, True), (Surface(0.1, 0.95, 0.02, 4.0, 3.0, 0.9), False)):
        family = client.get(f"/families/{_told(made, *regions, surface=surface)}").text
        assert ("what is covered on" in family) == ordered and "the brushwork of" not in family
