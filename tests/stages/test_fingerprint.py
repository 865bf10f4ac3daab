"""Fingerprints: what is kept, what is cut away, and that bad pictures give little in bounded time."""

import time

import cv2
import numpy as np
import pytest

from intake.imaging.features import Features
from intake.model import Box
from intake.stages.fingerprint import fingerprint
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import fingerprint_rules

RULES = fingerprint_rules()


@pytest.fixture(scope="module")
def picture() -> np.ndarray:
    return falling_leaves(np.random.default_rng(21))


def test_bytes_come_back_as_they_went(picture: np.ndarray) -> None:
    _, made = fingerprint(picture, 2.0, (), "artwork", RULES, origin=(40, 60))
    again = Features.from_bytes(made.to_bytes())
    assert again.to_bytes() == made.to_bytes()
    assert (again.points == made.points).all() and (again.descriptors == made.descriptors).all()
    assert (again.frame == made.frame).all() and again.frame_box == made.frame_box
    assert again.kind == "artwork"


@pytest.mark.parametrize("damage", [lambda b: b[:200], lambda b: b"KFF9" + b[4:], lambda b: b[:-9], lambda _: b""])
def test_damaged_bytes_are_refused(picture: np.ndarray, damage) -> None:
    data = fingerprint(picture, 1.0, (), "unknown", RULES)[1].to_bytes()
    with pytest.raises(ValueError, match="fingerprint"):
        Features.from_bytes(damage(data))


def test_the_same_picture_gives_the_same_bytes_on_any_number_of_threads(picture: np.ndarray) -> None:
    before = cv2.getNumThreads()
    try:
        seen = set()
        for threads in (1, 2, 4):
            cv2.setNumThreads(threads)
            seen.add(fingerprint(picture, 1.0, (), "unknown", RULES)[1].to_bytes())
    finally:
        cv2.setNumThreads(before)
    assert len(seen) == 1


def test_keypoints_are_few_and_spread(picture: np.ndarray) -> None:
    _, made = fingerprint(picture, 1.0, (), "unknown", RULES)
    assert 300 < len(made.points) <= RULES.keypoints
    quarters = np.histogram2d(made.points[:, 0], made.points[:, 1], bins=2)[0] / len(made.points)
    assert quarters.min() > 0.15


def test_rebate_margin_and_colour_bars_are_cut_away(picture: np.ndarray) -> None:
    framed = cv2.copyMakeBorder(picture, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=(214, 140, 84))
    for n, ink in enumerate([(0, 160, 220), (220, 20, 130), (245, 225, 20)] * 3):
        cv2.rectangle(framed, (150 + n * 24, 20), (170 + n * 24, 40), ink, -1)
    cv2.putText(framed, "VELLAN SAFETY 5 >", (120, 740), 0, 0.7, (60, 40, 20), 2)
    whole = cv2.copyMakeBorder(framed, 20, 20, 20, 20, cv2.BORDER_CONSTANT, value=(250, 250, 250))
    summary, _ = fingerprint(whole, 3.0, (), "film_negative", RULES)
    assert np.allclose(summary.frame, Box(240, 240, 480 * 3, 640 * 3), atol=24)


def test_a_picture_without_border_keeps_its_size(picture: np.ndarray) -> None:
    summary, _ = fingerprint(picture, 1.0, (), "unknown", RULES)
    assert summary.frame.width * summary.frame.height > 0.95 * picture.shape[0] * picture.shape[1]


def test_only_what_lies_in_the_outline_is_described(picture: np.ndarray) -> None:
    outline = ((100.0, 120.0), (700.0, 100.0), (720.0, 1000.0), (110.0, 1010.0))
    summary, made = fingerprint(picture, 2.0, outline, "unknown", RULES, origin=(20, 10))
    stored = made.points[:, :2] * made.stored_per_frame + (made.frame_box.left, made.frame_box.top)
    polygon = np.float32(outline).reshape(-1, 1, 2)
    assert all(cv2.pointPolygonTest(polygon, (float(x), float(y)), False) > 0 for x, y in stored)
    assert summary.keypoints > 100


def screen() -> np.ndarray:
    y, x = np.mgrid[:1600, :1200]
    return np.repeat((127 + 120 * np.sin(x * 0.9) * np.sin(y * 0.9))[..., None], 3, axis=2).astype(np.uint8)


@pytest.mark.parametrize(
    "bad",
    [
        np.full((4, 4, 3), 9, np.uint8),
        np.full((1, 1, 3), 9, np.uint8),
        np.full((1400, 1000, 3), 255, np.uint8),
        np.full((1400, 1000, 3), 127, np.uint8),
        np.random.default_rng(1).integers(0, 256, (4, 2048, 3)).astype(np.uint8),
        screen(),
    ],
    ids=["4x4", "1x1", "blank", "grey", "20000x40 as 2048x4", "screen"],
)
def test_pictures_of_nothing_are_described_briefly(bad: np.ndarray) -> None:
    started = time.process_time()
    summary, made = fingerprint(bad, 1.0, (), "unknown", RULES)
    assert time.process_time() - started < 3
    assert summary.keypoints == len(made.points) <= RULES.keypoints
    assert Features.from_bytes(made.to_bytes()).frame_box == summary.frame
    if bad.std() == 0 or min(bad.shape[:2]) < RULES.least_px:
        assert summary.keypoints == 0
        assert [f.code for f in summary.findings] == ["few_keypoints"]
