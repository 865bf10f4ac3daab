"""Supported only where everything speaks for it and nothing against; another hand and other drawing contradict."""

from dataclasses import replace

import pytest

from intake.kin import Difference, Differences, Surface
from intake.model import Box, PartKey, Screened
from intake.stages.very_object import VeryObject, very_object
from tests.made import SETTINGS

A, B = PartKey("a", 1), PartKey("b", 1)
HERE = Box(0, 0, 10, 10)
RULES = SETTINGS.very_object
SAME = Surface(0.9, 0.95, 0.02, 4.0, 3.0, 0.1, ((HERE, HERE),), ((Box(5, 5, 9, 9), HERE),))


CLOSELY = Screened("", None, 120.0, ())


def _said(surface: Surface | None, *regions: Difference, screened: Screened | None = CLOSELY) -> VeryObject:
    report = Differences(A, B, regions, surface=surface)
    told = very_object("artwork", "film_negative", report, RULES, screened)
    assert told is not None
    return told


def test_the_brushwork_everywhere_and_nothing_else_supports_it() -> None:
    told = _said(SAME, Difference("cropped", HERE, HERE, 0.9, "the second shows less"))
    assert told.verdict == "supported" and told.places == (HERE,)
    assert "does not prove" in told.words and "up to 120 lines" in told.words


@pytest.mark.parametrize("kind", ["covered", "added", "absent", "pasted", "lettering"])
def test_any_region_that_differs_leaves_it_open(kind: str) -> None:
    told = _said(SAME, Difference(kind, HERE, HERE, 0.51, "differs"))  # type: ignore[arg-type]
    assert told.verdict == "cannot say" and "supports" not in told.words


@pytest.mark.parametrize(
    "less",
    [
        {"untold_film": RULES.untold_on_film + 1},
        {"untold_art": RULES.untold_on_art + 1},
        {"strange": RULES.most_strange + 0.01},
        {"faint": RULES.same_hand - 0.01},
        {"aside": RULES.by_chance + 0.01},
        {"faint": 0.0, "plain": 0.3},
    ],
)
def test_anything_short_of_it_leaves_it_open(less: dict[str, float]) -> None:
    told = _said(replace(SAME, **less))  # type: ignore[arg-type]
    assert told.verdict == "cannot say" and "supports" not in told.words


def test_a_place_that_one_lacks_is_what_is_shown() -> None:
    assert _said(replace(SAME, untold_film=RULES.untold_on_film + 1)).places == (Box(5, 5, 9, 9),)


def test_a_screen_on_the_painting_and_no_close_look_leave_it_open() -> None:
    assert _said(SAME, screened=Screened("screened", 85.0, 120.0, ())).verdict == "cannot say"
    assert _said(None).verdict == "cannot say"


@pytest.mark.parametrize("screened", [None, Screened("", None, None, ()), Screened("", None, 44.0, ())])
def test_a_scan_too_coarse_to_tell_paint_from_print_leaves_it_open(screened: Screened | None) -> None:
    told = _said(SAME, screened=screened)
    assert told.verdict == "cannot say" and told.places and "too coarse" in told.words and "supports" not in told.words


def test_other_drawing_and_another_hand_contradict() -> None:
    otherwise = Difference("redrawn", HERE, HERE, 0.95, "drawn otherwise")
    for surface in (None, replace(SAME, faint=RULES.other_hand)):
        told = _said(surface, otherwise)
        assert told.verdict == "contradicted" and told.regions == (otherwise,)
    # its own brushwork beside: it was repainted there, or is the version that the film is of
    told = _said(SAME, otherwise)
    assert told.verdict == "cannot say" and told.regions == (otherwise,)
    assert _said(replace(SAME, faint=RULES.other_hand)).verdict == "contradicted"


def test_it_is_asked_of_a_painting_and_film_alone() -> None:
    report = Differences(A, B, (), surface=SAME)
    for kinds in (
        ("finished_sheet", "film_negative"),
        ("artwork", "finished_sheet"),
        ("film_negative", "glass_negative"),
    ):
        assert very_object(*kinds, report, RULES, CLOSELY) is None
