"""The two learnt networks: what they say of paintings that no training saw, under film, turn and mirror."""

from functools import cache

import cv2
import numpy as np
import pytest

from intake.imaging.features import Features
from intake.imaging.geometry import apply
from intake.imaging.learned.closer import _turning, look_closer
from intake.imaging.learned.glance import TURNS, Turn, glances, likest, nothing, turned
from intake.imaging.permute import Variant
from intake.stages.fingerprint import fingerprint
from sample_batch.art.design import GENRES, Edits, elements, paint
from tests.bench.pairs import fingerprint_rules

SEEDS = range(990_100, 990_106)
PLAIN = Turn(Variant(False, False), 0)


@cache
def painted(seed: int, version: int = 0) -> np.ndarray:
    genre = GENRES[seed % len(GENRES)]
    names = [n for n in elements(seed, genre, 0.72) if n not in ("sky", "land", "signature", "rain", "sea")]
    edits = Edits(scale=((names[0], 1.2),), redraw=(names[-1],), palette=1, brush=1) if version else Edits()
    return paint(seed, genre, 288, 400, edits).pixels


@cache
def seen(seed: int, version: int = 0, turn: Turn = PLAIN) -> Features:
    grey = turned(cv2.cvtColor(painted(seed, version), cv2.COLOR_RGB2GRAY), turn)
    return fingerprint(cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB), 1.0, (), "unknown", fingerprint_rules())[1]


@pytest.mark.parametrize("turn", TURNS)
def test_a_turn_moves_points_as_it_moves_pixels(turn: Turn) -> None:
    picture = np.zeros((60, 40), np.uint8)
    cv2.circle(picture, (9, 14), 3, 255, -1)
    moved = turned(picture, turn)
    y, x = np.argwhere((255 - moved if turn.variant.polarity_flip else moved) > 128).mean(axis=0)
    (at,) = apply(_turning(picture.shape, turn), np.array([[9.5, 14.5]]))
    assert np.allclose(at, (x + 0.5, y + 0.5), atol=0.2)


def test_a_glance_tells_how_a_picture_was_turned() -> None:
    right = 0
    for n, turn in enumerate(TURNS):
        seed = SEEDS[n % len(SEEDS)]
        alike = likest(seen(seed).glances, seen(seed, 1, turn).glances)
        assert alike is not None
        right += alike[1] == turn
    assert right >= 14


def test_at_a_glance_a_repainted_design_is_nearer_than_any_other() -> None:
    first = 0
    for seed in SEEDS:
        cosines = {other: likest(seen(seed).glances, seen(other, 1).glances)[0] for other in SEEDS}  # type: ignore[index]
        first += max(cosines, key=cosines.__getitem__) == seed
    assert first >= len(SEEDS) - 1


def test_a_picture_with_nothing_in_it_has_no_vector() -> None:
    blank = np.full((400, 300, 3), 230, np.uint8)
    features = fingerprint(blank, 1.0, (), "unknown", fingerprint_rules())[1]
    assert len(features.glances) == 0
    assert likest(features.glances, seen(SEEDS[0]).glances) is None and likest(nothing(), nothing()) is None


def test_vectors_go_to_disk_and_come_back() -> None:
    features = seen(SEEDS[0])
    back = Features.from_bytes(features.to_bytes())
    assert np.array_equal(back.glances, features.glances) and back.glances.shape == (16, 128)
    assert np.array_equal(glances(back.frame), features.glances)
    with pytest.raises(ValueError, match="damaged"):
        Features.from_bytes(features.to_bytes()[:-40])


def test_a_closer_look_lays_a_repainted_mirrored_negative_on_the_design() -> None:
    turn = Turn(Variant(True, True), 1)
    missed = []
    for seed in SEEDS[:4]:
        a, b = seen(seed), seen(seed, 1, turn)
        found = look_closer(a, b, turn, most_stretch=2.5, most_scale=8.0)
        assert found is not None and found.says > 0 and len(found.places_a) == len(found.places_b)
        x, y = a.frame_box.left, a.frame_box.top
        grid = np.array([(u, v) for u in (60.0, 140, 220) for v in (80.0, 200, 320)])
        there = apply(_turning((400, 288), turn), grid)
        laid = apply(found.transform, (grid - (x, y)) / a.stored_per_frame)
        laid = laid * b.stored_per_frame + (b.frame_box.left, b.frame_box.top)
        missed.append(float(np.median(np.hypot(*(laid - there).T))))
    assert np.median(missed) < 6, missed


def test_a_closer_look_takes_no_stranger_for_the_design() -> None:
    for a, b in zip(SEEDS[:3], SEEDS[3:], strict=True):
        found = look_closer(seen(a), seen(b), PLAIN, most_stretch=2.5, most_scale=8.0)
        assert found is None or found.says < 0


def test_a_closer_look_of_odd_shapes_ends() -> None:
    for shape in ((3, 256), (256, 3), (1, 1)):
        frame = np.random.default_rng(1).integers(0, 255, shape).astype(np.uint8)
        odd = Features(
            np.zeros((0, 4), np.float32),
            np.zeros((0, 128), np.uint8),
            frame,
            b"",
            1.0,
            seen(SEEDS[0]).frame_box,
            "unknown",
        )
        assert look_closer(odd, seen(SEEDS[0]), PLAIN, most_stretch=2.5, most_scale=8.0) is None
