"""Pictures that hold nothing to match, or the same thing over and over: few or no matches, whatever is asked."""

import itertools
from dataclasses import replace

import cv2
import numpy as np
import pytest

from intake.imaging.candidates import CandidateIndex, post
from intake.imaging.features import Features
from intake.model import PartKey
from intake.services.expansion import through_mates
from intake.stages.fingerprint import fingerprint
from intake.stages.group import group
from intake.stages.match import verify
from tests.bench import treatments
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import fingerprint_rules, limits_of, match_rules
from tests.bench.rules import group_rules

RULES = match_rules()


def features(picture: np.ndarray) -> Features:
    return fingerprint(np.ascontiguousarray(picture), 1.0, (), "unknown", fingerprint_rules())[1]


def key(number: int) -> PartKey:
    return PartKey(f"{number:064x}", 1)


def grey(values: np.ndarray) -> np.ndarray:
    return np.repeat(np.clip(values, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def screen(phase: float) -> np.ndarray:
    y, x = np.mgrid[:900, :700].astype(np.float32)
    return grey(128 + 100 * np.sin(x * 1.1 + phase) * np.sin(y * 1.1 - phase))


def target() -> np.ndarray:
    """A step wedge with patches, as laid beside a piece."""
    steps = np.repeat(np.linspace(10, 245, 20), 40)[None, :].repeat(120, axis=0)
    return grey(np.vstack([steps, 255 - steps, steps[:, ::-1]]))


ODD = {
    "blank": np.full((900, 700, 3), 252, np.uint8),
    "flat grey": np.full((900, 700, 3), 128, np.uint8),
    "target": target(),
    "screen alone": screen(0.3),
    "4 x 4 px": np.random.default_rng(1).integers(0, 256, (4, 4, 3), np.uint8),
    "20,000 x 40 px": np.random.default_rng(2).integers(0, 256, (40, 20_000, 3), np.uint8),
    "noise": np.random.default_rng(3).integers(0, 256, (900, 700, 3), np.uint8),
}


@pytest.fixture(scope="module")
def art() -> Features:
    return features(falling_leaves(np.random.default_rng(61)))


@pytest.mark.parametrize("name", ODD)
def test_a_picture_of_nothing_matches_no_picture(name: str, art: Features) -> None:
    odd = features(ODD[name])
    match = verify(key(1), odd, key(2), art, (), RULES)
    assert match is None or match.probability < 0.5


def test_two_screens_are_not_one_design() -> None:
    match = verify(key(1), features(screen(0.3)), key(2), features(screen(1.7)), (), RULES)
    assert match is None or match.probability < 0.9


def test_typed_letters_are_no_family() -> None:
    letters = [features(treatments.text_page(np.random.default_rng(n))) for n in range(6)]
    found = [
        match
        for (n, a), (m, b) in itertools.combinations(enumerate(letters), 2)
        if (match := verify(key(n), a, key(m), b, (), RULES))
    ]
    assert not [m for m in found if m.relation != "shared_element" and m.probability >= 0.9]
    assert group([key(n) for n in range(6)], found, (), (), group_rules()) == []


def test_a_repeated_pattern_never_joins_surely_with_another_cut_of_it() -> None:
    tile = falling_leaves(np.random.default_rng(62))[:120, :120]
    cloth = np.tile(cv2.GaussianBlur(tile, (0, 0), 2), (9, 9, 1))
    other = np.tile(cv2.GaussianBlur(falling_leaves(np.random.default_rng(63))[:120, :120], (0, 0), 2), (9, 9, 1))
    match = verify(key(1), features(cloth), key(2), features(other), (), RULES)
    assert match is None or match.probability < 0.5


def test_a_thousand_copies_lead_to_a_bounded_number_of_pairs(art: Features) -> None:
    """Each copy asks for at most so many mates, and mates of mates are bounded too: linear in the copies."""
    count, top = 1000, 12
    keys = [key(n) for n in range(count)]
    index = CandidateIndex(post((k, art) for k in keys), limits_of(RULES))
    found = index.query(art, top, leave_out=keys[0])
    assert len(found) <= top
    match = verify(keys[0], art, keys[1], art, (), RULES)
    assert match is not None
    ring = [replace(match, a=keys[n], b=keys[n + step]) for step in (1, 2, 3) for n in range(count - step)]
    more = through_mates(ring, {(m.a, m.b) for m in ring}, top)
    assert 0 < len(more) <= count * top
