"""An element's own size and place, told on all its pixels: planted by us, and set beside OpenCV's enhanced
correlation."""

from functools import lru_cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, apply, similarity
from intake.imaging.overlay import evened, grey
from intake.imaging.placed import drawn_up, found_again, planes_of
from sample_batch.art.design import GENRES, paint

Floats = NDArray[np.float32]
BOX = (130, 190, 300, 400)
MIDDLE = np.array([215.0, 295.0])
H, W = 600, 420


@lru_cache(maxsize=1)
def _art() -> Floats:
    return grey(paint(9, GENRES[0], W, H).pixels.astype(np.float32))


def _about(factor: float, right: float = 0.0, down: float = 0.0) -> Matrix:
    return similarity(complex(factor), complex(right, down) + (1 - factor) * complex(*MIDDLE))


def _pair(factor: float, right: float = 0.0, down: float = 0.0) -> tuple[Floats, Floats]:
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
    return tuple(evened(p).astype(np.float32) for p in (one, two))  # type: ignore[return-value]


def _inside() -> NDArray[np.bool_]:
    made = np.zeros((H, W), bool)
    made[BOX[1] : BOX[3], BOX[0] : BOX[2]] = True
    return made


def _factor(matrix: Matrix) -> float:
    return float(np.hypot(matrix[0, 0], matrix[1, 0]))


@pytest.mark.parametrize("factor", [0.8, 0.92, 1.08, 1.25])
def test_a_start_that_is_off_by_some_per_cent_is_drawn_up(factor: float) -> None:
    one, two = _pair(factor, 6, -4)
    found = drawn_up(planes_of(one, two), _about(factor * 1.03, 8, -5), _inside())
    assert _factor(found) == pytest.approx(factor, rel=0.005)
    assert np.abs(apply(found, MIDDLE[None]) - MIDDLE - (6, -4)).max() < 0.5


def test_it_is_as_near_as_enhanced_correlation() -> None:
    """The reference: cv2.findTransformECC (Evangelidis and Psarakis 2008), affine, on the same pixels."""
    one, two = _pair(1.1)
    start = _about(1.08)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 60, 1e-6)
    mask = _inside().astype(np.uint8)
    _, warp = cv2.findTransformECC(one, two, start[:2].astype(np.float32), cv2.MOTION_AFFINE, stop, mask, 5)
    reference = float(np.sqrt(abs(np.linalg.det(warp[:, :2]))))
    found = _factor(drawn_up(planes_of(one, two), start, _inside()))
    assert found == pytest.approx(reference, rel=0.01)
    assert abs(found - 1.1) <= abs(reference - 1.1) + 0.002


def test_where_nothing_holds_it_the_start_stays() -> None:
    flat = np.full((H, W), 128, np.float32)
    start = _about(1.2)
    assert drawn_up(planes_of(flat, flat), start, _inside()) is start
    assert drawn_up(planes_of(*_pair(1.2)), start, np.zeros((H, W), bool)) is start


@pytest.mark.parametrize("factor", [0.75, 0.88, 1.3])
def test_an_element_is_found_again_at_another_size_without_any_start(factor: float) -> None:
    one, two = _pair(factor, 10, 6)
    again = found_again(planes_of(one, two), BOX, 60)
    assert again is not None
    assert _factor(drawn_up(planes_of(one, two), again.transform, _inside())) == pytest.approx(factor, rel=0.01)


def test_what_is_nowhere_is_not_found_again() -> None:
    one, _ = _pair(1.0)
    noise = np.random.default_rng(2).normal(128, 40, (H, W)).astype(np.float32)
    assert found_again(planes_of(one, noise), BOX, 60) is None
