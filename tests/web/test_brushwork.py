"""The painting and its film closely: the finest places of both, side by side; nothing is ever said to be supported."""

import re

import cv2
import numpy as np
import pytest

from intake.config.load import Config
from intake.imaging.fine import fine_alike
from intake.imaging.overlay import lay
from intake.kin import Difference, Differences
from intake.model import Box
from intake.services import views
from intake.store import differences
from tests.web.hand import Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _told(made: Made, *regions: Difference) -> str:
    a, b = sorted((made.art, made.negative))
    with made.home.database.write() as connection:
        differences.record_differences(connection, [differences.Told(Differences(a, b, regions), "stamp", 0.1)])
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


def test_fine_structure_follows_a_picture_through_film_and_not_through_another_hand() -> None:
    random = np.random.default_rng(3)
    shapes = cv2.GaussianBlur(random.normal(0, 1, (500, 400)).astype(np.float32), (0, 0), 25) * 900 + 128
    hands = [cv2.GaussianBlur(random.normal(0, 1, shapes.shape).astype(np.float32), (0, 0), 1.6) * 90 for _ in range(2)]
    same, other = (np.clip(shapes + h, 0, 255) for h in hands)
    film = 255 - np.clip(same * 0.8 + random.normal(0, 4, same.shape), 0, 255)
    told = []
    for picture in (same, other):
        a, b = (np.repeat(p.astype(np.uint8)[..., None], 3, axis=2) for p in (picture, film))
        over = lay(a, b, np.eye(3), 2048)
        assert over is not None
        told.append(fine_alike(over, polarity_flip=True))
    assert np.quantile(told[0], 0.05) > 0.75 > 0.5 > np.quantile(told[1], 0.5)
