"""A picture that is no scan: looked at until something is sure, and no more."""

from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from intake.imaging.candidates import CandidateIndex, post
from intake.imaging.features import Features
from intake.model import PartKey
from intake.services.find import looks_at, search
from intake.stages.fingerprint import fingerprint
from tests.bench import treatments
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import fingerprint_rules, limits_of, match_rules

RULES = match_rules()
ASKED = PartKey("f" * 64, 1)


def key(number: int) -> PartKey:
    return PartKey(f"{number:064x}", 1)


def art(seed: int) -> np.ndarray:
    leaves = cv2.resize(falling_leaves(np.random.default_rng(seed)), (750, 1000), interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(leaves)


@pytest.fixture(scope="module")
def held() -> dict[PartKey, Features]:
    rules = fingerprint_rules()
    pictures = [art(40 + n) for n in range(12)]
    pictures.append(treatments.negative(pictures[4], np.random.default_rng(3), True))
    return {key(n): fingerprint(p, 1.0, (), "unknown", rules)[1] for n, p in enumerate(pictures)}


def asked(picture: np.ndarray, held: dict[PartKey, Features]) -> tuple[list[PartKey], int]:
    """What matches, and how many looks it took."""
    taken = []

    def looks() -> Iterator[Features]:
        for look in looks_at(picture, 1.0, fingerprint_rules(), RULES.asked):
            taken.append(look)
            yield look

    index = CandidateIndex(post(held.items()), limits_of(RULES))
    return [k for k, _ in search(ASKED, looks(), index, held.__getitem__, RULES)], len(taken)


def test_a_sure_match_ends_the_looking(held: dict[PartKey, Features]) -> None:
    found, looks = asked(art(44), held)
    assert found[0] == key(4)
    assert key(12) in found
    assert looks == 1


def test_a_stranger_is_looked_at_in_every_way_and_not_answered(held: dict[PartKey, Features]) -> None:
    found, looks = asked(art(99), held)
    assert found == []
    assert looks == len(RULES.asked.looks)


def test_a_piece_that_fills_little_of_a_photo_is_found(held: dict[PartKey, Features]) -> None:
    """A quarter of each side."""
    rng = np.random.default_rng(8)
    photo = cv2.GaussianBlur(rng.integers(90, 160, (2000, 2400, 3)).astype(np.uint8), (0, 0), 7)
    photo[700:1300, 1000:1450] = cv2.resize(art(46), (450, 600), interpolation=cv2.INTER_AREA)
    found, _ = asked(photo, held)
    assert found[:1] == [key(6)]
