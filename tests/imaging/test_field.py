"""Where the part ends that two pictures both fill: cells made by us, with a border, a covered place, another hand's
ground."""

import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.field import cells_within, edges_of

Mask = NDArray[np.bool_]
HIGH, WIDE, BORDER, RIM = 120, 90, 8, 2


def _picture() -> tuple[Mask, Mask, Mask]:
    """What agrees, what differs, and what is bare on one of them: a picture within its border, the other goes on."""
    agree, differ, bare = (np.zeros((HIGH, WIDE), bool) for _ in range(3))
    agree[BORDER:-BORDER, BORDER:-BORDER] = True
    bare[:] = ~agree
    rows, columns = np.indices((HIGH, WIDE))
    differ |= bare & ((rows + columns) % 2 == 0)  # a border differs where the other shows something
    return agree, differ, bare


def _field(agree: Mask, differ: Mask, bare: Mask) -> Mask:
    cells = np.ones((HIGH, WIDE), bool)
    edges = edges_of(agree, cells, differ, (bare, np.zeros_like(bare)), RIM)
    assert edges is not None
    return cells_within(edges, cells)


def _rows_told(field: Mask) -> tuple[int, int]:
    rows = np.flatnonzero(field[:, WIDE // 2])
    return int(rows[0]), int(rows[-1])


def test_the_field_ends_where_one_of_the_two_has_a_border() -> None:
    assert _rows_told(_field(*_picture())) == (BORDER + RIM, HIGH - BORDER - RIM - 1)


def test_another_hands_ground_that_does_not_agree_is_part_of_the_field() -> None:
    """A sky painted anew neither agrees nor differs; it ends at its border."""
    agree, differ, bare = _picture()
    agree[: HIGH // 3] = False
    assert _rows_told(_field(agree, differ, bare))[0] == BORDER + RIM


@pytest.mark.parametrize("wide", [0.5, 0.7])
def test_a_place_covered_across_most_of_the_picture_does_not_end_it(wide: float) -> None:
    """Below it the picture goes on, though nothing there agrees as well as above."""
    agree, differ, bare = _picture()
    covered = (slice(60, 100), slice(BORDER, BORDER + int(wide * (WIDE - 2 * BORDER))))
    agree[60:] = False
    differ[covered] = bare[covered] = True
    assert _rows_told(_field(agree, differ, bare))[1] == HIGH - BORDER - RIM - 1


def test_where_nothing_agrees_again_the_picture_has_ended() -> None:
    """A table's grain beyond a photographed sheet is bare on neither, and differs as far as one sees."""
    agree, differ, bare = _picture()
    differ[-BORDER:] = True
    bare[-BORDER:] = False
    assert _rows_told(_field(agree, differ, bare))[1] == HIGH - BORDER - RIM - 1
