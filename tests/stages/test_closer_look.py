"""A pair that the first look leaves undecided is looked at once more, and the sum says so."""

import math

import numpy as np
import pytest

from intake.config.match import SecondRules
from intake.imaging.features import Features
from intake.kin import Match
from intake.model import PartKey
from intake.stages.fingerprint import fingerprint
from intake.stages.match import verify
from tests.bench import treatments as families
from tests.bench.pairs import fingerprint_rules, match_rules
from tests.stages.test_match import muted

RULES = match_rules()
DOUBT = 12.0  # the first look is left at even chances
A, B = PartKey("a" * 64, 1), PartKey("b" * 64, 1)


@pytest.fixture(scope="module")
def pictures() -> list[np.ndarray]:
    art = muted(31)
    return [art, families.negative(art, np.random.default_rng(4), False), muted(32)]


def features(picture: np.ndarray, second: SecondRules | None = None) -> Features:
    rules = fingerprint_rules() if second is None else second.applied(fingerprint_rules())
    return fingerprint(np.ascontiguousarray(picture), 1.0, (), "unknown", rules)[1]


class Looks:
    """Compares two pictures and counts how often it was asked to look closer. ``doubt`` is off the first look."""

    def __init__(self, a: np.ndarray, b: np.ndarray, doubt: float = 0.0, **second: float) -> None:
        same = RULES.same_design.model_copy(update={"prior": RULES.same_design.prior - doubt})
        second_rules = RULES.second.model_copy(update=second)
        self.rules = RULES.model_copy(update={"same_design": same, "second": second_rules})
        self.pictures, self.asked = (a, b), 0

    def match(self, swapped: bool = False) -> Match | None:
        one, other = self.pictures
        if swapped:
            return verify(B, features(other), A, features(one), (), self.rules, lambda: self._closer(other, one))
        return verify(A, features(one), B, features(other), (), self.rules, lambda: self._closer(one, other))

    def _closer(self, one: np.ndarray, other: np.ndarray) -> tuple[Features, Features]:
        self.asked += 1
        return features(one, self.rules.second), features(other, self.rules.second)


def test_what_is_sure_is_not_looked_at_again(pictures: list[np.ndarray]) -> None:
    looks = Looks(pictures[0], pictures[1])
    match = looks.match()
    assert match is not None and match.probability >= RULES.second.sure
    assert looks.asked == 0 and "closer" not in {e.name for e in match.evidence}


def test_a_closer_look_is_a_reason_of_its_own_and_the_sum_stays_the_verdict(pictures: list[np.ndarray]) -> None:
    first = Looks(pictures[0], pictures[1], doubt=DOUBT, sure=0.0).match()
    looks = Looks(pictures[0], pictures[1], doubt=DOUBT, least=0.0, sure=1.1, prior=1.5, first=1.0, closer=0.0)
    match = looks.match()
    assert first is not None and match is not None and looks.asked == 1
    told = match.evidence[-1]
    assert told.name == "closer" and f"{match.inliers} places found on both" in told.words
    assert match.weight == pytest.approx(first.weight + 1.5, abs=0.01)
    assert match.probability == pytest.approx(1 / (1 + math.exp(-match.weight)), abs=1e-4)


def test_who_comes_first_does_not_matter_closer_either(pictures: list[np.ndarray]) -> None:
    looks = Looks(pictures[0], pictures[1], least=0.0, sure=1.1, prior=3.0)
    match = looks.match()
    assert match is not None and match.a == A and match == looks.match(swapped=True)


def test_where_a_closer_look_speaks_for_it_its_geometry_stands(pictures: list[np.ndarray]) -> None:
    first = Looks(pictures[0], pictures[1], doubt=DOUBT, sure=0.0).match()
    so = {"least": 0.0, "sure": 1.1, "first": 1.0, "closer": 0.0}
    more, less = (Looks(pictures[0], pictures[1], doubt=DOUBT, **so, prior=p).match() for p in (1.0, -0.5))
    assert first is not None and more is not None and less is not None
    assert more.inliers > first.inliers  # twice as many keypoints
    assert (less.inliers, less.transform) == (first.inliers, first.transform)


def test_strangers_stay_strangers(pictures: list[np.ndarray]) -> None:
    match = Looks(pictures[0], pictures[2], least=0.0).match()
    assert match is None or match.probability < 0.5


def test_a_pair_without_its_pictures_keeps_what_the_first_look_said(pictures: list[np.ndarray]) -> None:
    rules = RULES.model_copy(update={"second": RULES.second.model_copy(update={"least": 0.0, "sure": 1.1})})
    one, other = features(pictures[0]), features(pictures[1])
    assert verify(A, one, B, other, (), rules, lambda: None) == verify(A, one, B, other, (), rules)
