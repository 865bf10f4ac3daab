"""Permuted descriptors against descriptors taken anew from the inverted, mirrored and inverted mirrored picture."""

import cv2
import numpy as np
import pytest

from intake.imaging.permute import VARIANTS, Variant, permute_descriptors, permute_points
from tests.bench.make_vocabulary import falling_leaves

SIZE = (480, 640)


def _as_variant(picture: np.ndarray, variant: Variant) -> np.ndarray:
    seen = 255 - picture if variant.polarity_flip else picture
    return np.ascontiguousarray(seen[:, ::-1]) if variant.mirror else seen


def _extract(picture: np.ndarray, keypoints: list[cv2.KeyPoint] | None = None) -> tuple[list, np.ndarray]:
    sift = cv2.SIFT.create(contrastThreshold=0.02, enable_precise_upscale=True)
    return sift.detectAndCompute(picture, None) if keypoints is None else sift.compute(picture, keypoints)


def _array(keypoints: list) -> np.ndarray:
    return np.array([(k.pt[0], k.pt[1], k.size, k.angle) for k in keypoints], np.float32)


@pytest.mark.parametrize("variant", VARIANTS[1:])
def test_permutation_equals_extraction_from_the_changed_picture(variant: Variant) -> None:
    picture = cv2.cvtColor(falling_leaves(np.random.default_rng(7)), cv2.COLOR_RGB2GRAY)[:300, :300].copy()
    found, here = _extract(picture)
    moved = permute_points(_array(found), variant)
    if variant.mirror:
        moved[:, 0] += picture.shape[1] - 1
    placed = []
    for keypoint, (x, y, _, angle) in zip(found, moved, strict=True):
        copy = cv2.KeyPoint(float(x), float(y), keypoint.size, float(angle), keypoint.response, keypoint.octave)
        placed.append(copy)
    _, there = _extract(_as_variant(picture, variant), placed)
    permuted = permute_descriptors(np.minimum(here, 255).astype(np.uint8), variant).astype(np.float32)
    lengths = np.linalg.norm(permuted, axis=1) * np.linalg.norm(there, axis=1)
    cosines = (permuted * there).sum(axis=1) / np.maximum(lengths, 1e-9)
    assert len(cosines) > 300
    assert np.median(cosines) > 0.999
    assert np.percentile(cosines, 5) > 0.99


@pytest.mark.parametrize("variant", VARIANTS[1:])
def test_the_changed_picture_has_keypoints_where_the_permuted_ones_are(variant: Variant) -> None:
    picture = cv2.cvtColor(falling_leaves(np.random.default_rng(8)), cv2.COLOR_RGB2GRAY)[:300, :300].copy()
    moved = permute_points(_array(_extract(picture)[0]), variant)
    if variant.mirror:
        moved[:, 0] += picture.shape[1] - 1
    anew = _array(_extract(_as_variant(picture, variant))[0])
    far = np.hypot(moved[:, None, 0] - anew[None, :, 0], moved[:, None, 1] - anew[None, :, 1])
    turned = np.abs((moved[:, None, 3] - anew[None, :, 3] + 180) % 360 - 180)
    again = ((far < 1.0) & (turned < 6)).any(axis=1)
    assert again.mean() > 0.9


@pytest.mark.parametrize("variant", VARIANTS)
def test_a_variant_undoes_itself(variant: Variant) -> None:
    rng = np.random.default_rng(1)
    descriptors = rng.integers(0, 256, (9, 128), np.uint8)
    points = np.float32(rng.uniform(0, 359, (9, 4)))
    assert (permute_descriptors(permute_descriptors(descriptors, variant), variant) == descriptors).all()
    assert np.allclose(permute_points(permute_points(points, variant), variant), points, atol=1e-3)
