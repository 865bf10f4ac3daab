"""The laying over that difference reports rest on, beside a published homography and bends of our own making."""

import itertools

import cv2
import numpy as np
import pytest

from intake.imaging.geometry import apply
from intake.imaging.overlay import lay
from intake.imaging.untold import set_side_by_side
from tests.made import SETTINGS
from tests.tools import find_opencv_samples

RULES = SETTINGS.differ


@pytest.mark.skipif(find_opencv_samples() is None, reason="needs opencv-doc")
def test_the_laying_over_agrees_with_the_published_homography_and_mends_what_matching_left() -> None:
    """graf1 to graf3, H1to3p.xml (Mikolajczyk & Schmid 2005), as packaged by Debian's opencv-doc.

    The report starts from a match that is off by several pixels; laid over, each place lies where the published
    homography has it, nearer than it lay before.
    """
    folder = find_opencv_samples()
    assert folder is not None
    file = cv2.FileStorage(str(folder / "H1to3p.xml"), cv2.FILE_STORAGE_READ)
    published = file.getFirstTopLevelNode().mat()
    first, third = (np.ascontiguousarray(cv2.imread(str(folder / f"graf{n}.png"))[..., ::-1]) for n in (1, 3))
    grid = np.array(list(itertools.product(range(150, 651, 50), range(120, 521, 50))), np.float64)
    before, after = [], []
    for seed in range(3):
        random = np.random.default_rng(seed)
        corners = np.array([[0, 0], [799, 0], [799, 639], [0, 639]], np.float64)
        there = apply(published, corners) + random.normal(0, 3, (4, 2))
        matched = cv2.getPerspectiveTransform(corners.astype(np.float32), there.astype(np.float32))
        over = lay(first, third, matched, RULES.frame_px)
        assert over is not None
        ground = set_side_by_side(over, RULES, polarity_flip=False)
        assert ground is not None
        on_frame = apply(ground.over.a_to_frame, grid)
        h, w = ground.over.seen.shape
        inside = (on_frame > 4).all(axis=1) & (on_frame < (w - 4, h - 4)).all(axis=1)
        inside &= ground.over.seen[tuple(np.clip(on_frame[:, ::-1].astype(int), 0, (h - 1, w - 1)).T)]
        true = apply(published, grid[inside])
        before.append(np.hypot(*(apply(matched, grid[inside]) - true).T))
        after.append(np.hypot(*(ground.over.on_b(on_frame[inside]) - true).T))
    assert np.median(np.concatenate(before)) > 1.5
    assert np.median(np.concatenate(after)) < 1.0
    assert np.percentile(np.concatenate(after), 90) < 2.5
