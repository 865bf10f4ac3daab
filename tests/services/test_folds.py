"""Folds in words, beside what formats were issued with."""

import pytest

from intake.config.formats import load_formats
from intake.model import Folded, FoldLine
from intake.services.folds import fold_view, issued, pattern
from tests.made import CONFIG

FORMATS = {f.id: f for f in load_formats(CONFIG)}


def folded(across: int, down: int, printed: bool = False, looked: bool = True) -> Folded:
    """So many lines across the stored width and height."""
    lines = [("x", n) for n in range(across)] + [("y", n) for n in range(down)]
    return Folded(
        0.25,
        looked,
        tuple(FoldLine(axis, 0.1 * n, (0.0, 0.0), (1.0, 1.0), 0.9, printed, "") for axis, n in lines),  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("across", "down", "rotation", "named"),
    [
        (0, 0, 0, "no folds seen"),
        (1, 3, 0, "1 + 3 in eighths"),
        (1, 3, 90, "3 + 1 in eighths"),
        (1, 3, 180, "1 + 3 in eighths"),
        (0, 2, 0, "0 + 2 in thirds"),
        (1, 1, 270, "1 + 1 in quarters"),
        (0, 1, 0, "0 + 1 in halves"),
        (3, 3, 0, "3 + 3 in sixteenths"),
        (6, 5, 0, "6 + 5 in 42 parts"),
    ],
)
def test_patterns_are_named_upright(across: int, down: int, rotation: int, named: str) -> None:
    assert pattern(folded(across, down), rotation) == named


def test_printed_folds_stand_apart_and_what_was_not_looked_at_is_empty() -> None:
    assert pattern(folded(1, 3, printed=True), 0) == "no folds seen; printed in: 1 + 3 in eighths"
    assert pattern(folded(0, 0, looked=False), 0) == ""


def test_skew_in_words() -> None:
    assert fold_view(folded(0, 0), 0).skew == "0.25° clockwise"
    assert fold_view(Folded(-1.5), 0).skew == "1.50° anticlockwise"
    assert (fold_view(Folded(0.0), 0).skew, fold_view(Folded(None), 0).skew) == ("0.00°", "")


def test_beside_what_the_format_was_issued_with() -> None:
    """1 vertical and 3 horizontal on older US one sheets, some in three: practice, as config/formats.csv says."""
    one_sheet = FORMATS["us_1sh_old"]
    assert issued(fold_view(folded(1, 3), 0), one_sheet) == (
        "one sheet (older): issued folded 1 + 3 or 0 + 2 (practice), seen 1 + 3"
    )
    assert issued(fold_view(folded(0, 0), 0), one_sheet).endswith("(practice), no folds seen")
    assert "(in doubt)" in issued(fold_view(folded(0, 2), 0), FORMATS["au_daybill"])
    assert issued(fold_view(folded(1, 3), 0), FORMATS["us_1sh_new"]) == ""
    assert issued(fold_view(folded(1, 3), 0), None) == "" and issued(None, one_sheet) == ""
    assert issued(fold_view(Folded(0.0), 0), one_sheet) == ""


def test_each_way_of_folding_says_how_sure_it_is() -> None:
    for row in FORMATS.values():
        assert bool(row.folds) == bool(row.folds_sure), row.id
