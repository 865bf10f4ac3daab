"""Orientation: proved on real arrays, turned and mirrored by numpy, for every way in which two scans can lie."""

from itertools import product
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from intake.kin import Match
from intake.services.orient import Orientation, orientations
from tests.made import dossier, key, match, reading, received

Picture = NDArray[Any]
LIES = list(product((0, 90, 180, 270), (False, True)))
UPRIGHT: Picture = np.arange(6).reshape(2, 3)  # neither turned nor mirrored does it look like itself


def mirror_then_turn(picture: Picture, rotation: int, mirrored: bool) -> Picture:
    """The project's one convention: mirror left-right first if mirrored, then turn clockwise."""
    return np.rot90(np.fliplr(picture) if mirrored else picture, -rotation // 90)


def as_scanned(rotation: int, mirrored: bool) -> Picture:
    """The scan that this orientation sets upright, found by trying."""
    (found,) = [
        scan
        for scan in (mirror_then_turn(UPRIGHT, r, m) for r, m in LIES)
        if np.array_equal(mirror_then_turn(scan, rotation, mirrored), UPRIGHT)
    ]
    return found


def link(a: str, b: str, **given: Any) -> Match:
    """A match in which ``a`` is first whatever its digest: what is told of b's stored picture depends on it."""
    made = match(key(a), key(b), **given)
    return made if made.a == key(a) else Match(key(a), key(b), *[getattr(made, n) for n in Match.__slots__[2:]])


def known(*names: str, **told: tuple[int, bool, float]) -> dict[Any, Any]:
    return {key(n): dossier(received(n), reading=reading(*told.get(n, (0, False, 0.0)))) for n in names}


@pytest.mark.parametrize(("rotation", "mirrored"), LIES)
def test_the_eight_ways_are_eight(rotation: int, mirrored: bool) -> None:
    assert len({as_scanned(r, m).tobytes() + bytes(as_scanned(r, m).shape) for r, m in LIES}) == 8
    assert np.array_equal(mirror_then_turn(as_scanned(rotation, mirrored), rotation, mirrored), UPRIGHT)


@pytest.mark.parametrize(("rotation", "mirrored"), LIES)
@pytest.mark.parametrize(("step", "mirror"), LIES)
@pytest.mark.parametrize("told", ["a", "b"])
def test_orientation_carried_along_a_match_sets_the_picture_upright(
    rotation: int, mirrored: bool, step: int, mirror: bool, told: str
) -> None:
    """b's stored picture is a's, mirrored if the match says so, then turned by its rotation (see model.Match)."""
    if told == "a":
        a = as_scanned(rotation, mirrored)
        goal, other = mirror_then_turn(a, step, mirror), "b"
    else:
        b = as_scanned(rotation, mirrored)
        (goal,) = [
            scan
            for scan in (mirror_then_turn(UPRIGHT, r, m) for r, m in LIES)
            if np.array_equal(mirror_then_turn(scan, step, mirror), b)
        ]
        other = "a"
    found = orientations(
        known("a", "b", **{told: (rotation, mirrored, 0.8)}), [link("a", "b", rotation=float(step), mirror=mirror)]
    )[key(other)]
    assert np.array_equal(mirror_then_turn(goal, found.rotation, found.mirrored), UPRIGHT)
    assert found.confidence == pytest.approx(0.8 * 0.95)
    assert found.why == f"by its match with unboxed / {received(told).piece}"


@pytest.mark.parametrize(("measured", "rotation"), [(89.2, 270), (-90.7, 90), (359.0, 0), (181.5, 180), (-44.0, 0)])
def test_a_measured_turn_counts_as_the_nearest_quarter(measured: float, rotation: int) -> None:
    found = orientations(known("a", "b", a=(0, False, 0.9)), [link("a", "b", rotation=measured)])
    assert (found[key("b")].rotation, found[key("b")].mirrored) == (rotation, False)


def test_text_stands_over_matches_and_shared_elements_carry_nothing() -> None:
    parts = known("a", "b", "c", a=(90, False, 0.9), b=(180, True, 0.3))
    found = orientations(parts, [link("a", "b"), link("a", "c", relation="shared_element")])
    assert found[key("b")] == Orientation(180, True, 0.3, "its own text")
    assert found[key("c")] == Orientation(0, False, 0.0, "as scanned")


def test_it_is_carried_over_several_matches_whatever_their_order() -> None:
    parts = known("a", "b", "c", "d", a=(90, False, 1.0))
    chain = [link("a", "b", rotation=90.0), link("b", "c", mirror=True), link("c", "d", rotation=180.0)]
    first = orientations(parts, chain)
    assert first == orientations(parts, list(reversed(chain)))
    # By hand: b is a turned by 90, so it needs no turn; c is b mirrored; d is c turned by 180.
    assert [(first[key(n)].rotation, first[key(n)].mirrored) for n in "abcd"] == [
        (90, False), (0, False), (0, True), (180, True),
    ]  # fmt: skip
    assert first[key("d")].confidence == pytest.approx(0.95**3)


def test_parts_that_are_not_known_carry_nothing() -> None:
    assert orientations(known("a"), [link("a", "gone"), link("gone", "a")])[key("a")].why == "as scanned"
    assert orientations({}, []) == {}
