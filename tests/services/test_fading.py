"""Fading against the best copy: planted losses of cyan come back, other exposures and other printings do not."""

from typing import Any

import cv2
import numpy as np
import pytest

from intake.imaging.fade import kept_ink
from intake.model import Classified
from intake.services.fading import fading
from intake.services.home import Home, write_whole
from sample_batch.page import Pixels
from sample_batch.wear import _fade
from tests.made import SETTINGS, dossier, key, match, received

STAMP = "stamp-of-render"


def picture(seed: int = 1) -> Pixels:
    """A mottled picture with white borders, sRGB 0..1."""
    rng = np.random.default_rng(seed)
    pixels = np.full((360, 240, 3), 0.95, np.float32)
    blobs = cv2.resize(rng.uniform(0.08, 0.85, (18, 12, 3)).astype(np.float32), (200, 320))
    pixels[20:340, 20:220] = blobs
    return pixels


def coded(pixels: Pixels) -> np.ndarray[Any, Any]:
    return np.clip(pixels * 255 + 0.5, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("amount", [0.2, 0.5, 0.9])
def test_a_planted_loss_comes_back(amount: float) -> None:
    """The painter takes cyan by 0.5, magenta by 0.18 of the amount (as powers of the code values)."""
    seen = np.ones((360, 240), bool)
    told = kept_ink(coded(_fade(picture(), amount)), coded(picture()), seen, 300)
    assert told is not None and told.alike > 0.97
    true = (1 - 0.5 * amount) / (1 - 0.18 * amount)
    assert abs(told.shares[0] / max(told.shares) - true) < 0.05


@pytest.fixture
def made(tmp_path: Any) -> Any:
    def make(**pictures: Pixels) -> list[tuple[str, float | None]]:
        home = Home(tmp_path / "home")
        have, names = {}, list(pictures)
        for name, pixels in pictures.items():
            d = dossier(received(f"B01/{name}.tif"))
            have[d.key] = d
            data = cv2.imencode(".jpg", coded(pixels)[..., ::-1])[1].tobytes()
            write_whole(home.picture(d.key, "thumb", STAMP), data)
        joined = [match(key(f"B01/{names[0]}.tif"), key(f"B01/{name}.tif")) for name in names[1:]]
        told = fading(home, STAMP, have, joined, SETTINGS.fading)
        return [(have[f.key].piece, f.loss) for f in told]

    return make


def test_the_best_copy_is_the_measure_whichever_comes_first(made: Any) -> None:
    (told,) = made(a=_fade(picture(), 0.6), b=picture())
    assert told[0] == "a" and told[1] == pytest.approx(1 - 0.7 / 0.892, abs=0.05)


def test_another_exposure_is_no_fading_and_another_printing_is_not_told(made: Any) -> None:
    assert made(a=picture(), b=picture() ** 0.85) == []
    assert made(c=picture(), d=picture(7)) == [("d", None)]


def test_an_artwork_is_no_measure_for_a_print(tmp_path: Any) -> None:
    art = dossier(received("B01/a.tif"), classified=Classified("artwork", 0.9, "positive", 0.9))
    sheet = dossier(received("B01/b.tif"))
    assert fading(Home(tmp_path / "home"), STAMP, {art.key: art, sheet.key: sheet}, [], SETTINGS.fading) == []
