"""Agreement of two laid pictures: tones with the polarity's sign, edges whichever side is the lighter."""

import cv2
import numpy as np
import pytest

from intake.imaging.agreement import Agreement, agree
from intake.imaging.features import Features
from intake.stages.fingerprint import fingerprint
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import fingerprint_rules


def features(grey: np.ndarray) -> Features:
    return fingerprint(cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB), 1.0, (), "unknown", fingerprint_rules())[1]


@pytest.fixture(scope="module")
def drawn() -> np.ndarray:
    leaves = cv2.resize(falling_leaves(np.random.default_rng(5)), (750, 1000), interpolation=cv2.INTER_CUBIC)
    return cv2.cvtColor(leaves, cv2.COLOR_RGB2GRAY)


def laid(one: np.ndarray, other: np.ndarray, *, polarity_flip: bool = False) -> Agreement:
    return agree(features(one), features(other), np.eye(3), polarity_flip=polarity_flip)


def mean(cells: np.ndarray) -> float:
    return float(np.nanmean(cells))


def test_a_picture_agrees_with_itself(drawn: np.ndarray) -> None:
    agreement = laid(drawn, drawn)
    assert mean(agreement.alike) > 0.98
    assert mean(agreement.edges) > 0.98
    assert agreement.overlap_a == pytest.approx(1, abs=0.01)


def test_the_sign_of_tones_is_kept_and_edges_have_none(drawn: np.ndarray) -> None:
    agreement = laid(drawn, 255 - drawn, polarity_flip=True)
    assert mean(agreement.alike) > 0.98
    assert mean(agreement.edges) > 0.95
    wrong = laid(drawn, 255 - drawn)
    assert mean(wrong.alike) < mean(wrong.contrary) - 0.5
    assert mean(wrong.edges) == pytest.approx(mean(agreement.edges), abs=0.01)


def test_edges_outlive_a_repainting_that_exchanges_some_tones(drawn: np.ndarray) -> None:
    """A palette that turns dark to light in the middle tones only: tones no longer agree, edges do."""
    turned = np.interp(drawn, (0, 60, 130, 200, 255), (140, 20, 230, 90, 170)).astype(np.uint8)
    agreement = laid(drawn, turned)
    strange = laid(drawn, np.rot90(drawn, 1).copy())
    assert mean(agreement.edges) > mean(strange.edges) + 0.2
    assert mean(agreement.edges) > mean(agreement.alike) - 0.05


def test_centres_lie_where_the_cells_are(drawn: np.ndarray) -> None:
    """Laid at half the size, on either picture's grid: the centres span the whole of a."""
    small = cv2.resize(drawn, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    half = np.diag([0.5, 0.5, 1.0])
    for a, b, matrix in ((drawn, small, half), (small, drawn, np.linalg.inv(half))):
        one, other = features(a), features(b)
        to_frames = np.diag([1 / other.stored_per_frame] * 2 + [1]) @ matrix @ np.diag([one.stored_per_frame] * 2 + [1])
        centres = agree(one, other, to_frames, polarity_flip=False).centres.reshape(-1, 2)
        assert centres.min() > 0
        assert (centres.max(axis=0) > 0.9 * np.array([one.width, one.height])).all()
        assert (centres.max(axis=0) < [one.width, one.height]).all()
