"""Tones brought to those of another picture, checked on a synthetic pair with a known curve and a known drawing."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.alike import tones_alike


def pair() -> tuple[NDArray[np.uint8], NDArray[np.uint8], tuple[slice, slice]]:
    """A picture, and the same darker, yellowed, of other contrast, with a square drawn into it."""
    random = np.random.default_rng(3)
    small = random.integers(30, 225, (12, 16, 3)).astype(np.uint8)
    under = cv2.resize(small, (320, 240), interpolation=cv2.INTER_CUBIC)
    share = under / 255
    over = 255 * np.stack((0.1 + 0.7 * share[..., 0] ** 1.6, 0.8 * share[..., 1] ** 1.3, 0.6 * share[..., 2]), axis=2)
    over = np.round(over).astype(np.uint8)
    square = (slice(90, 120), slice(150, 190))
    over[square] = (200, 20, 140)
    return np.asarray(under, np.uint8), over, square


def test_what_is_left_is_drawing_not_exposure() -> None:
    under, over, square = pair()
    everywhere = np.ones(under.shape[:2], np.bool_)
    tones = tones_alike(over, under, everywhere)
    assert tones is not None and (np.diff(tones.astype(int), axis=1) >= 0).all(), "a rising curve a channel"
    before = cv2.absdiff(over, under).max(axis=2)
    after = cv2.absdiff(cv2.LUT(over, tones), under).max(axis=2)
    drawn = np.zeros(under.shape[:2], np.bool_)
    drawn[square] = True
    assert np.median(before[~drawn]) > 40
    assert np.median(after[~drawn]) <= 6 and np.percentile(after[~drawn], 95) <= 16
    assert np.median(after[drawn]) > 60, "what was drawn stays seen"


def test_equal_pictures_stay_as_they_are_and_too_little_tells_nothing() -> None:
    under, _, _ = pair()
    everywhere = np.ones(under.shape[:2], np.bool_)
    tones = tones_alike(under, under, everywhere)
    assert tones is not None
    assert cv2.absdiff(cv2.LUT(under, tones), under).max() <= 1
    few = np.zeros_like(everywhere)
    few[:5, :5] = True
    assert tones_alike(under, under, few) is None
