"""An element's own size and place, told on all its pixels: planted by us, and set beside OpenCV's enhanced
correlation."""

from functools import lru_cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, apply, similarity
from intake.imaging.overlay import evened, grey
from intake.imaging.placed import drawn_up, likeness, planes_of
from intake.imaging.structure import STEP_PX
from intake.imaging.voted import seen_again
from sample_batch.art.design import GENRES, paint
from tests.made import SETTINGS

Floats = NDArray[np.float32]
Picture = NDArray[np.uint8]
RULES = SETTINGS.differ
BOX = (130, 190, 300, 400)
MIDDLE = np.array([215.0, 295.0])
H, W = 600, 420


@lru_cache(maxsize=1)
def _art() -> Floats:
    return grey(paint(9, GENRES[0], W, H).pixels.astype(np.float32))


def _about(factor: float, right: float = 0.0, down: float = 0.0) -> Matrix:
    return similarity(complex(factor), complex(right, down) + (1 - factor) * complex(*MIDDLE))


def _pair(factor: float, right: float = 0.0, down: float = 0.0) -> tuple[Picture, Picture]:
    """The art, and the same with an ellipse of it grown and shifted, softer and grainy."""
    way = _about(factor, right, down)
    grown = cv2.warpPerspective(_art(), way, (W, H), flags=cv2.INTER_CUBIC)
    mask = np.zeros((H, W), np.float32)
    cv2.ellipse(mask, (215, 295), (85, 105), 0, 0, 360, 1, cv2.FILLED)
    mask = cv2.GaussianBlur(cv2.warpPerspective(mask, way, (W, H)), (0, 0), 2)
    other = _art() * (1 - mask) + grown * mask
    rng = np.random.default_rng(4)
    one, two = (
        p + rng.normal(0, 3, p.shape).astype(np.float32) for p in (_art(), cv2.GaussianBlur(other, (0, 0), 0.8))
    )
    return tuple(evened(p) for p in (one, two))  # type: ignore[return-value]


def _cells(box: tuple[int, int, int, int] = BOX) -> NDArray[np.bool_]:
    made = np.zeros((H // STEP_PX, W // STEP_PX), bool)
    left, top, right, bottom = (v // STEP_PX for v in box)
    made[top:bottom, left:right] = True
    return made


def _factor(matrix: Matrix) -> float:
    return float(np.hypot(matrix[0, 0], matrix[1, 0]))


@pytest.mark.parametrize("factor", [0.8, 0.92, 1.08, 1.25])
def test_a_start_that_is_off_by_some_per_cent_is_drawn_up(factor: float) -> None:
    planes = planes_of(*_pair(factor, 6, -4), RULES.window_px)
    found, gain = drawn_up(planes, _about(factor * 1.03, 8, -5), _cells())
    assert gain > 0
    assert _factor(found) == pytest.approx(factor, rel=0.006)
    assert np.abs(apply(found, MIDDLE[None]) - MIDDLE - (6, -4)).max() < 0.7


def test_half_of_an_element_behind_something_else_tells_its_size_as_well() -> None:
    """What is painted over gains nothing wherever the element is put, and has no say."""
    one, two = _pair(1.12)
    two[290:, :] = one[290:, ::-1]
    found, _ = drawn_up(planes_of(one, two, RULES.window_px), _about(1.08, 3, 2), _cells())
    assert _factor(found) == pytest.approx(1.12, rel=0.015)


def test_it_is_as_near_as_enhanced_correlation() -> None:
    """The reference: cv2.findTransformECC (Evangelidis and Psarakis 2008), affine, on the same pixels."""
    one, two = _pair(1.1)
    start = _about(1.08)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-6)
    mask = np.zeros((H, W), np.uint8)
    mask[BOX[1] : BOX[3], BOX[0] : BOX[2]] = 1
    planes = one.astype(np.float32), two.astype(np.float32)
    _, warp = cv2.findTransformECC(*planes, start[:2].astype(np.float32), cv2.MOTION_AFFINE, stop, mask, 5)
    reference = float(np.sqrt(abs(np.linalg.det(warp[:, :2]))))
    found = _factor(drawn_up(planes_of(one, two, RULES.window_px), start, _cells())[0])
    assert found == pytest.approx(reference, rel=0.01)
    assert abs(found - 1.1) <= abs(reference - 1.1) + 0.003


def test_likeness_is_the_correlation_that_opencv_tells() -> None:
    """cv2.matchTemplate (TM_CCOEFF_NORMED) over the same window, less what keeps quiet places quiet."""
    planes = planes_of(*_pair(1.1), RULES.window_px)
    told = likeness(planes, np.eye(3), (0, 0, W // STEP_PX, H // STEP_PX))
    half = planes.window // 2
    for x, y in ((40, 60), (55, 75), (70, 90)):
        at = (slice(2 * y + 1 - half, 2 * y + 2 + half), slice(2 * x + 1 - half, 2 * x + 2 + half))
        reference = float(cv2.matchTemplate(planes.other[at], planes.one[at], cv2.TM_CCOEFF_NORMED)[0, 0])
        quiet = np.prod([np.sqrt(v / (v + 64)) for v in (planes.one[at].var(), planes.other[at].var())])
        assert told[y, x] == pytest.approx(reference * quiet, abs=0.01)


def test_where_nothing_holds_it_the_start_stays() -> None:
    flat = np.full((H, W), 128, np.uint8)
    start = _about(1.2)
    assert drawn_up(planes_of(flat, flat, RULES.window_px), start, _cells()) == (start, 0.0)
    assert drawn_up(planes_of(*_pair(1.2), RULES.window_px), start, np.zeros_like(_cells())) == (start, 0.0)


@pytest.mark.parametrize("factor", [0.75, 0.88, 1.3])
def test_an_element_is_seen_again_at_another_size_without_any_start(factor: float) -> None:
    one, two = _pair(factor, 10, 6)
    groups = seen_again(one, two, _cells(), RULES.search)
    assert groups
    first = groups[0]
    found, _ = drawn_up(planes_of(one, two, RULES.window_px), first.transform, _cells())
    assert _factor(found) == pytest.approx(factor, rel=0.01)


def test_what_is_nowhere_is_not_seen_again() -> None:
    one, _ = _pair(1.0)
    noise = np.random.default_rng(2).normal(128, 40, (H, W)).clip(0, 255).astype(np.uint8)
    assert not seen_again(one, noise, _cells(), RULES.search)
    assert not seen_again(one, one, _cells(), RULES.search), "what stands still has no vote"
    assert not seen_again(one, one, np.zeros_like(_cells()), RULES.search)
