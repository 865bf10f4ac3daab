"""One sheet or two of one printing: drawn with a mottle of its own for each sheet, and scanned with noise and turn."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.grain import compare_grain

RNG_OF_PRINT = 4


def _sheet(seed: int) -> NDArray[np.float64]:
    """A print of even fields and edges, which all sheets share, on paper and ink of its own."""
    rng = np.random.default_rng(RNG_OF_PRINT)
    grey = np.full((1100, 800), 200.0)
    for _ in range(60):
        x, y = int(rng.integers(0, 700)), int(rng.integers(0, 1000))
        cv2.rectangle(
            grey,
            (x, y),
            (x + int(rng.integers(40, 200)), y + int(rng.integers(40, 200))),
            float(rng.integers(60, 220)),
            -1,
        )
    own = np.random.default_rng(seed).normal(0, 1, grey.shape)
    return np.asarray(grey + 7 * cv2.GaussianBlur(own, (0, 0), 1.5))


def _scan(sheet: NDArray[np.float64], seed: int, matrix: NDArray[np.float64]) -> NDArray[np.uint8]:
    laid = cv2.warpPerspective(sheet, matrix, (860, 1160), flags=cv2.INTER_CUBIC, borderValue=110)
    seen = laid * 0.95 + 4 + np.random.default_rng(seed).normal(0, 0.8, laid.shape)
    return np.repeat(np.clip(np.round(seen), 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _place(turn_deg: float, dx: float, dy: float, scale: float = 1.0) -> NDArray[np.float64]:
    made = np.eye(3)
    made[:2] = cv2.getRotationMatrix2D((400, 550), turn_deg, scale)
    made[:2, 2] += (dx, dy)
    return made


FIRST, SECOND = _place(0.3, 25, 28), _place(-0.4, 33, 21, 0.97)
ONTO = np.asarray(SECOND @ np.linalg.inv(FIRST), np.float64)


def test_one_sheet_goes_together_with_itself_and_not_with_a_second_copy() -> None:
    first = _scan(_sheet(1), 11, FIRST)
    same = compare_grain(first, _scan(_sheet(1), 12, SECOND), ONTO)
    copy = compare_grain(first, _scan(_sheet(2), 13, SECOND), ONTO)
    assert same is not None and copy is not None
    assert same.tiles >= 20 and same.together > 0.75 and abs(same.chance) < 0.15
    assert copy.together < 0.3


@pytest.mark.parametrize("off", [(1.7, -2.3), (-3.0, 0.6)])
def test_the_print_tells_where_it_lies_nearer_than_the_match_did(off: tuple[float, float]) -> None:
    rough = np.array([[1, 0, off[0]], [0, 1, off[1]], [0, 0, 1.0]]) @ ONTO
    found = compare_grain(_scan(_sheet(1), 11, FIRST), _scan(_sheet(1), 12, SECOND), rough)
    assert found is not None and found.together > 0.75
    corners = np.array([[30, 30, 1], [800, 30, 1], [800, 1100, 1], [30, 1100, 1.0]]).T
    away = (found.onto_b @ corners)[:2] - (ONTO @ corners)[:2]
    assert np.abs(away).max() < 0.3


def test_where_nothing_is_flat_nothing_is_told() -> None:
    wild = np.random.default_rng(0).normal(128, 60, (1160, 860))
    wild = cv2.GaussianBlur(wild, (0, 0), 1.2) * 3 - 256
    image = np.repeat(np.clip(wild, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    assert compare_grain(image, image, np.eye(3)) is None
