"""Verification: against a published homography, over polarity and mirror, and where nothing may be found."""

import itertools
import time
import tomllib
from dataclasses import replace

import cv2
import numpy as np
import pytest

from intake.config.group import GroupRules
from intake.imaging.candidates import CandidateIndex, post
from intake.imaging.features import Features
from intake.imaging.geometry import apply
from intake.imaging.permute import VARIANTS, Variant
from intake.kin import Match
from intake.model import Kind, PartKey
from intake.stages.fingerprint import fingerprint
from intake.stages.group import group
from intake.stages.match import verify
from tests.bench import treatments as families
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import CONFIG, fingerprint_rules, limits_of, match_rules
from tests.tools import find_opencv_samples

RULES = match_rules()
GROUP_RULES = GroupRules.model_validate(tomllib.loads((CONFIG / "group.toml").read_text("utf-8")))
A, B = PartKey("a" * 64, 1), PartKey("b" * 64, 1)


def features(picture: np.ndarray, kind: Kind = "unknown") -> Features:
    return fingerprint(np.ascontiguousarray(picture), 1.0, (), kind, fingerprint_rules())[1]


def verified(a: np.ndarray, b: np.ndarray) -> Match | None:
    return verify(A, features(a), B, features(b), (), RULES)


def muted(seed: int) -> np.ndarray:
    """A picture whose colours follow its tones, as paint does; colours at random would differ in every separation."""
    leaves = cv2.resize(falling_leaves(np.random.default_rng(seed)), (750, 1000), interpolation=cv2.INTER_CUBIC)
    grey = cv2.cvtColor(cv2.cvtColor(leaves, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    return cv2.addWeighted(leaves, 0.35, grey, 0.65, 0)


@pytest.fixture(scope="module")
def art() -> np.ndarray:
    return muted(31)


@pytest.fixture(scope="module")
def other() -> np.ndarray:
    return muted(32)


@pytest.mark.skipif(find_opencv_samples() is None, reason="needs opencv-doc")
def test_registration_agrees_with_the_published_homography() -> None:
    """graf1 to graf3, H1to3p.xml (Mikolajczyk & Schmid 2005), as packaged by Debian's opencv-doc."""
    folder = find_opencv_samples()
    assert folder is not None
    file = cv2.FileStorage(str(folder / "H1to3p.xml"), cv2.FILE_STORAGE_READ)
    published = file.getFirstTopLevelNode().mat()
    first, third = (cv2.imread(str(folder / f"graf{n}.png"))[..., ::-1] for n in (1, 3))
    match = verified(first, third)
    assert match is not None
    assert match.relation == "same_design"
    ours = np.array(match.transform).reshape(3, 3)
    grid = np.array(list(itertools.product(range(100, 701, 100), range(100, 541, 100))), np.float64)
    true = apply(published, grid)
    inside = (true > 0).all(axis=1) & (true < (800, 640)).all(axis=1)
    far = np.hypot(*(apply(ours, grid) - true)[inside].T)
    assert np.median(far) < 3
    assert np.percentile(far, 90) < 8


def found_by_opencv(box: np.ndarray, scene: np.ndarray) -> np.ndarray:
    """Where OpenCV's own SIFT, Lowe's ratio test at .75 and RANSAC at 3 px lay the box in the scene, as (3, 3)."""
    sift = cv2.SIFT.create()
    (at_box, of_box), (at_scene, of_scene) = (
        sift.detectAndCompute(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), None) for picture in (box, scene)
    )
    mates = cv2.BFMatcher().knnMatch(of_box, of_scene, k=2)
    clear = [best for best, second in mates if best.distance < 0.75 * second.distance]
    cv2.setRNGSeed(1)
    points = ([at_box[m.queryIdx].pt for m in clear], [at_scene[m.trainIdx].pt for m in clear])
    homography, inliers = cv2.findHomography(*(np.array(p) for p in points), cv2.RANSAC, 3.0)
    assert inliers.sum() > 40
    return homography


@pytest.mark.skipif(find_opencv_samples() is None, reason="needs opencv-doc")
@pytest.mark.parametrize("variant", VARIANTS)
def test_a_box_is_located_in_a_scene_as_opencv_itself_does(variant: Variant) -> None:
    """box.png and box_in_scene.png, the pair of OpenCV's tutorial on finding an object by homography (opencv-doc).

    The box fills less than a tenth of the scene, among other things: it is laid within 5 px of where OpenCV lays it,
    whether the scene is as it was, inverted, mirrored or both.
    """
    folder = find_opencv_samples()
    assert folder is not None
    box, scene = (
        np.ascontiguousarray(cv2.imread(str(folder / f"{n}.png"))[..., ::-1]) for n in ("box", "box_in_scene")
    )
    high, wide = box.shape[:2]
    corners = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], np.float64)
    true = apply(found_by_opencv(box, scene), corners)
    changed = 255 - scene if variant.polarity_flip else scene
    if variant.mirror:
        changed, true = np.ascontiguousarray(changed[:, ::-1]), (scene.shape[1] - 1, 0) + true * (-1, 1)
    match = verified(box, changed)
    assert match is not None
    assert (match.polarity_flip, match.mirror) == (variant.polarity_flip, variant.mirror)
    assert (match.relation, match.probability > 0.5) == ("same_design", True)
    assert match.coverage_b < 0.15
    laid = apply(np.array(match.transform).reshape(3, 3), corners)
    assert np.hypot(*(laid - true).T).max() < 5


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("quarter_turns", [0, 1])
def test_polarity_mirror_turn_and_scale_are_told(art: np.ndarray, variant: Variant, quarter_turns: int) -> None:
    changed = 255 - art if variant.polarity_flip else art
    changed = changed[:, ::-1] if variant.mirror else changed
    changed = np.rot90(changed, -quarter_turns)
    changed = cv2.resize(np.ascontiguousarray(changed), None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)
    match = verified(art, changed)
    assert match is not None
    assert match.relation == "same_design"
    assert match.probability > 0.95
    assert (match.polarity_flip, match.mirror) == (variant.polarity_flip, variant.mirror)
    assert abs((match.rotation - 90 * quarter_turns + 180) % 360 - 180) < 1
    assert match.scale == pytest.approx(0.6, rel=0.01)
    xa, ya, xb, yb = np.array(match.points).T
    mapped = apply(np.array(match.transform).reshape(3, 3), np.column_stack([xa, ya]))
    assert np.percentile(np.hypot(mapped[:, 0] - xb, mapped[:, 1] - yb), 95) < 8
    x, y, alike = np.array(match.agreement).T
    assert 20 < len(x) < 200
    assert (x.min() > 0) & (x.max() < art.shape[1]) & (y.min() > 0) & (y.max() < art.shape[0])
    assert alike.mean() > 0.8


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("sort", ["negative", "proof", "separation", "variant", "phone"])
def test_what_is_made_from_a_design_is_found(art: np.ndarray, sort: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    make = {
        "negative": lambda: cv2.flip(families.negative(art, rng, True), 1),
        "proof": lambda: families.proof(art, rng),
        "separation": lambda: families.separation(art, rng),
        "variant": lambda: families.variant(art, rng),
        "phone": lambda: families.phone(art, rng),
    }
    match = verified(art, make[sort]())
    assert match is not None
    assert match.relation == "same_design"
    assert match.probability > 0.5


def test_two_overlapping_halves_of_a_sheet_are_one_design(art: np.ndarray) -> None:
    match = verified(art[:600], art[-600:])
    assert match is not None
    assert match.relation == "same_design"
    assert match.coverage_a < 0.6


def test_the_sum_of_the_evidence_is_the_verdict(art: np.ndarray) -> None:
    match = verified(art, families.negative(art, np.random.default_rng(4), False))
    assert match is not None
    assert match.probability == pytest.approx(1 / (1 + np.exp(-match.weight)), abs=1e-4)


def test_who_comes_first_does_not_matter(art: np.ndarray) -> None:
    one, two = features(art), features(families.proof(art, np.random.default_rng(5)))
    assert verify(A, one, B, two, (), RULES) == verify(B, two, A, one, (), RULES)


def two_styles(art: np.ndarray, other: np.ndarray) -> Match | None:
    layout = replace(families.make_layout("L", np.random.default_rng(6)), band=True)
    a, b = (families.sheet(picture, layout, np.random.default_rng(7)) for picture in (art, other))
    return verified(a, b)


def test_two_styles_under_one_title_and_block_are_not_one_design(art: np.ndarray, other: np.ndarray) -> None:
    match = two_styles(art, other)
    assert match is None or match.relation == "shared_element"


@pytest.mark.xfail(reason="few keypoints are left for lettering over busy art: about 4 in 10 shared elements are told")
def test_two_styles_under_one_title_and_block_are_told_to_share_it(art: np.ndarray, other: np.ndarray) -> None:
    match = two_styles(art, other)
    assert match is not None
    assert match.relation == "shared_element"


def test_stills_of_a_set_do_not_join(art: np.ndarray, other: np.ndarray) -> None:
    layout = families.make_layout("L", np.random.default_rng(8))
    match = verified(families.still(art, layout, 1), families.still(other, layout, 2))
    assert match is None or match.relation == "shared_element"


def matches_of_versos() -> tuple[list[PartKey], list[Match]]:
    """Backs of sheets with one large stamp, taken for pictures; as a rule their kind keeps them out of matching."""
    layout = families.make_layout("L", np.random.default_rng(9))
    keys = [PartKey(f"{n:064x}", 1) for n in range(6)]
    backs = {k: features(families.verso(layout, np.random.default_rng(n))) for n, k in enumerate(keys)}
    found = [verify(a, backs[a], b, backs[b], (), RULES) for a, b in itertools.combinations(keys, 2)]
    return keys, [m for m in found if m]


def test_versos_with_one_stamp_do_not_join() -> None:
    keys, found = matches_of_versos()
    assert group(keys, found, (), (), GROUP_RULES) == []


def test_versos_with_one_stamp_are_not_called_one_design() -> None:
    _, found = matches_of_versos()
    assert not [m for m in found if m.relation != "shared_element" and m.probability >= 0.5]


def test_different_pictures_do_not_match(art: np.ndarray, other: np.ndarray) -> None:
    match = verified(art, other)
    assert match is None or match.probability < 0.5


def test_one_index_answers_for_the_negative_and_the_mirror_image(art: np.ndarray, other: np.ndarray) -> None:
    key = {n: PartKey(f"{n:064x}", 1) for n in range(12)}
    strangers = [features(falling_leaves(np.random.default_rng(100 + n))) for n in range(10)]
    parts = [(key[n], f) for n, f in enumerate([*strangers, features(art), features(other)])]
    index = CandidateIndex(post(parts), limits_of(RULES))
    asked = features(cv2.flip(families.negative(art, np.random.default_rng(2), True), 1))
    best = index.query(asked, 5)[0]
    assert (best.key, best.variant) == (key[10], Variant(True, True))
    assert index.query(asked, 5, leave_out=key[10])[0].key != key[10]
    assert CandidateIndex(post(parts[::-1]), limits_of(RULES)).query(asked, 12) == index.query(asked, 12)


def test_a_thousand_versos_with_one_stamp_cost_no_more_than_their_number() -> None:
    layout = families.make_layout("L", np.random.default_rng(3))
    back = features(families.verso(layout, np.random.default_rng(1)))

    def seconds(count: int) -> float:
        index = CandidateIndex(post((PartKey(f"{n:064x}", 1), back) for n in range(count)), limits_of(RULES))
        index.query(back, 5)
        started = time.process_time()
        index.query(back, 5)
        return time.process_time() - started

    assert seconds(3000) < max(4 * seconds(1000), 1.5)


def test_an_index_of_nothing_answers_nothing(art: np.ndarray) -> None:
    blank = features(np.full((900, 700, 3), 200, np.uint8))
    assert CandidateIndex(post([]), limits_of(RULES)).query(features(art), 5) == []
    assert CandidateIndex(post([(A, blank)]), limits_of(RULES)).query(features(art), 5) == []
    assert CandidateIndex(post([(A, features(art))]), limits_of(RULES)).query(blank, 5) == []
    assert verify(A, blank, B, features(art), (), RULES) is None
