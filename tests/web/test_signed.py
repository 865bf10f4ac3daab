"""The closer look for signatures: asked for, shown with crops, compared within the family, never attributed."""

import cv2
import numpy as np
import pytest

from intake.model import PartKey
from intake.services import views
from intake.services.home import write_whole
from intake.services.signed import family_signed
from tests.bench.signatures import _running
from tests.made import SETTINGS, STAMPS
from tests.web.hand import Client, Made


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _sign(made: Made, key: PartKey, *, film: bool = False, covered: bool = False) -> None:
    """Write a name near the lower left of a picture; on film mirrored and light."""
    path = made.home.picture(key, "working", STAMPS.stages["render"])
    picture = cv2.imread(str(path))
    assert picture is not None
    place = np.full((110, 260, 3), 205, np.uint8)
    if not covered:
        for stroke in _running(np.random.default_rng(4)):
            line = np.round((stroke * 34 + (16, 62)) * 8).astype(np.int32).reshape(-1, 1, 2)
            cv2.polylines(place, [line], False, (35, 30, 60), 4, cv2.LINE_AA, 3)
    if film:
        place = 255 - place[:, ::-1]
    left = 30 if not film else 600 - 30 - 260
    picture[640:750, left : left + 260] = place
    write_whole(path, cv2.imencode(".jpg", picture)[1].tobytes())


def test_a_signature_is_proposed_and_followed_through_the_family(client: Client, made: Made) -> None:
    _sign(made, made.art)
    _sign(made, made.negative, film=True)
    _sign(made, made.proof, covered=True)
    code = views.family_holding(made.home, [made.art])
    view = views.family_view(made.home, SETTINGS, code)
    assert view is not None
    found = family_signed(made.home, SETTINGS, view.members)
    on_art = [s for s in found if s.member.key == made.art and 120 <= s.box.left <= 500 and 2560 <= s.box.top <= 2900]
    assert on_art
    seen = {m.key: state for m, state in on_art[0].others}
    assert seen[made.negative] == "present" and seen[made.proof] == "covered" and seen[made.sheet] != "present"
    assert any(s.member.key == made.negative for s in found)

    asked = client.get(f"/closer/{code}").text
    assert "Look for them" in asked and "looks hand-signed" not in asked
    text = client.get(f"/closer/{code}?signed=1").text
    assert "covered, or nothing there" in text and 'alt="A place on B01 / 0003 that looks hand-signed"' in text
    assert not any(word in text.casefold() for word in ("signed by", "attributed", "the artist"))
