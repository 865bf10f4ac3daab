"""What differs between two pictures: planted on one of our own paintings, under film curves, as negative and
mirrored."""

from functools import lru_cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.overlay import _pooled
from intake.kin import Differences
from intake.model import PartKey
from intake.stages.differ import Lettering, Side, differ
from sample_batch.art.design import GENRES, Edits, paint
from tests.made import SETTINGS

RULES = SETTINGS.differ
SAME = np.eye(3)
Picture = NDArray[np.uint8]


@lru_cache(maxsize=1)
def _art() -> Picture:
    return paint(9, GENRES[0], 420, 600).pixels


def _grained(picture: Picture, seed: int) -> Picture:
    grain = np.random.default_rng(seed).normal(0, 2, picture.shape[:2])[..., None]
    return np.clip(picture + grain, 0, 255).astype(np.uint8)


def _negative(picture: Picture) -> Picture:
    """A copy negative: densities over log exposure, the straight line of a film (slope 0.6), and its orange base."""
    density = 0.6 * np.log10(((picture / 255.0) ** 2.2 + 0.012) / 0.012) + np.array([0.2, 0.6, 0.9])
    return np.clip(255 * (0.97 * 10.0**-density) ** (1 / 2.2), 0, 255).astype(np.uint8)


def _told(a: Picture, b: Picture, a_to_b: NDArray[np.float64] = SAME, flip: bool = False) -> Differences:
    sides = Side(PartKey("a", 1), _grained(a, 1)), Side(PartKey("b", 1), _grained(b, 2))
    return differ(*sides, a_to_b, RULES, polarity_flip=flip)


def test_the_same_picture_on_film_differs_nowhere() -> None:
    mirrored = np.ascontiguousarray(_negative(_art())[:, ::-1])
    flip = np.array([[-1, 0, 419], [0, 1, 0], [0, 0, 1.0]])
    told = _told(_art(), mirrored, flip, flip=True)
    assert not told.why_not
    assert told.regions == ()


@pytest.mark.parametrize("film", [False, True])
def test_what_is_covered_is_found_where_it_lies(film: bool) -> None:
    other = _art().copy()
    other[300:360, 150:230] = other[300:360, 150:230].reshape(-1, 3).mean(axis=0)
    told = _told(_art(), _negative(other) if film else other, flip=film)
    box = told.regions[0].a
    assert told.regions[0].kind == "covered" and "the second" in told.regions[0].words
    assert box is not None
    assert abs(box.left + box.width / 2 - 190) < 12 and abs(box.top + box.height / 2 - 330) < 12


def test_an_element_that_is_larger_is_measured() -> None:
    factor, (x0, y0, size) = 1.2, (110, 180, 200)
    other = _art().copy()
    grown = cv2.resize(other[y0 : y0 + size, x0 : x0 + size], None, fx=factor, fy=factor, interpolation=cv2.INTER_CUBIC)
    start = round(size * (factor - 1) / 2)
    other[y0 - start : y0 - start + grown.shape[0], x0 - start : x0 - start + grown.shape[1]] = grown
    told = _told(_art(), other)
    scaled = [r for r in told.regions if r.kind == "scaled"]
    assert scaled and scaled[0].factor == pytest.approx(factor, rel=0.02)


def test_a_strip_pasted_on_is_named_and_read() -> None:
    other = _art().copy()
    other[420:460, 60:340] = (238, 232, 214)
    cv2.putText(other, "HELD OVER", (80, 450), 3, 0.8, (20, 20, 24), 2, cv2.LINE_AA)
    line = Lettering("HELD OVER", ((80, 428), (230, 428), (230, 452), (80, 452)))
    a, b = Side(PartKey("a", 1), _grained(_art(), 1)), Side(PartKey("b", 1), _grained(other, 2), (line,))
    told = differ(a, b, SAME, RULES, polarity_flip=False)
    assert [(r.kind, "HELD OVER" in r.words) for r in told.regions[:1]] == [("pasted", True)]


def test_two_pictures_that_do_not_meet_are_not_compared() -> None:
    away = np.array([[1, 0, 5000], [0, 1, 0], [0, 0, 1.0]])
    told = _told(_art(), _art(), away)
    assert told.regions == () and told.why_not
    assert _told(_art(), _art(), np.zeros((3, 3))).why_not


def test_two_designs_are_said_to_be_too_unlike() -> None:
    other = paint(77, GENRES[4], 420, 600).pixels
    told = _told(_art(), other)
    assert told.why_not or sum(r.kind != "cropped" for r in told.regions) > 0


def test_values_that_never_fall() -> None:
    """Pool adjacent violators against its defining property: no other rising sequence is nearer (Barlow et al.
    1972)."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        values, weights = rng.normal(size=9), rng.uniform(0.5, 2, 9)
        pooled = _pooled(values, weights)
        assert (np.diff(pooled) >= -1e-12).all()
        miss = float((weights * (pooled - values) ** 2).sum())
        for _ in range(200):
            trial = np.sort(pooled + rng.normal(scale=0.3, size=9))
            assert float((weights * (trial - values) ** 2).sum()) >= miss - 1e-9


def test_a_picture_that_is_half_painted_out_is_told_not_refused() -> None:
    other = _art().copy()
    other[60:560, 190:400] = other[60:560, 190:400].reshape(-1, 3).mean(axis=0)
    told = _told(_art(), other)
    assert not told.why_not
    boxes = [d.a for d in told.regions if d.a is not None and d.a.left > 150]
    assert sum(b.width * b.height for b in boxes) > 0.5 * 500 * 210


def test_what_stands_at_a_pictures_very_edge_is_told_and_its_border_is_not() -> None:
    signed = _art().copy()
    cv2.putText(signed, "Vell", (318, 588), cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, 1.1, (246, 240, 224), 2, cv2.LINE_AA)
    bordered = cv2.copyMakeBorder(_art(), 30, 30, 30, 30, cv2.BORDER_CONSTANT, value=(240, 238, 230))
    told = _told(signed, bordered, np.array([[1, 0, 30], [0, 1, 30], [0, 0, 1.0]]))
    (region,) = told.regions
    assert region.a is not None
    assert region.a.left > 290 and region.a.top > 540


def test_a_strip_is_told_by_its_cuts_whatever_else_differs_beside_it() -> None:
    other = _art().copy()
    h, w = other.shape[:2]
    turned = cv2.getRotationMatrix2D((w / 2, h / 2), 4, 1.06)
    other[260:520, 40:380] = cv2.warpAffine(_art(), turned, (w, h))[260:520, 40:380]
    other[330:362, 60:360] = (232, 200, 70)
    cv2.putText(other, "THIS WEEK ONLY", (80, 354), cv2.FONT_HERSHEY_DUPLEX, 0.7, (20, 20, 24), 1, cv2.LINE_AA)
    strip = next(d for d in _told(_art(), other).regions if d.kind == "pasted")
    assert strip.b is not None
    assert abs(strip.b.left - 60) < 8 and abs(strip.b.top - 330) < 8
    assert abs(strip.b.width - 300) < 14 and abs(strip.b.height - 32) < 10


def test_another_hand_and_palette_hide_no_strip() -> None:
    """What a replica in other colours leaves untold is weak; a strip over strong drawing is not."""
    copy = paint(9, GENRES[0], 420, 600, Edits(brush=1, palette=1)).pixels.copy()
    copy[420:460, 60:340] = (30, 30, 34)
    cv2.putText(copy, "HELD OVER", (80, 450), 3, 0.8, (240, 236, 220), 2, cv2.LINE_AA)
    strips = [d.b for d in _told(_art(), copy).regions if d.kind == "pasted" and d.b is not None]
    assert any(abs(b.left - 60) < 12 and abs(b.top - 420) < 12 and abs(b.width - 280) < 24 for b in strips)


@pytest.mark.parametrize(("other", "kinds"), [("COMING IN SPRING", ["lettering"]), ("FROM THE MAKERS OF QUlLL", [])])
def test_lines_are_compared_as_text(other: str, kinds: list[str]) -> None:
    """What was read rules, not the ink: another wording is told, and a letter misread in a new face is not."""
    one, two = _art().copy(), _art().copy()
    lines = []
    for picture, text, face in ((one, "FROM THE MAKERS OF QUILL", 3), (two, other, 4)):
        cv2.putText(picture, text, (40, 90), face, 0.7, (20, 18, 24), 2, cv2.LINE_AA)
        wide = cv2.getTextSize(text, face, 0.7, 2)[0][0]
        lines.append(Lettering(text, ((40, 70), (40 + wide, 70), (40 + wide, 96), (40, 96))))
    a, b = Side(PartKey("a", 1), _grained(one, 1), (lines[0],)), Side(PartKey("b", 1), _grained(two, 2), (lines[1],))
    told = differ(a, b, SAME, RULES, polarity_flip=False)
    assert [d.kind for d in told.regions if d.kind == "lettering"] == kinds
    assert all("QUILL" in d.words and "SPRING" in d.words for d in told.regions if d.kind == "lettering")
    if not kinds:
        assert not [d for d in told.regions if d.a is not None and 60 < d.a.top < 100]
