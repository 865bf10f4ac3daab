"""Elements that went their own way, at the limits of what may be asked of them."""

from dataclasses import replace

import numpy as np
import pytest

from intake.imaging.elements import Moved
from intake.imaging.overlay import lay
from intake.imaging.own_way import _as_element, went_their_way
from intake.imaging.placed import Planes, planes_of
from intake.imaging.untold import Ground, Mask, set_side_by_side
from sample_batch.art.design import GENRES, paint
from tests.made import SETTINGS

RULES = SETTINGS.differ


@pytest.fixture(scope="module")
def laid() -> tuple[Ground, Planes]:
    art = paint(9, GENRES[0], 420, 600).pixels
    over = lay(art, art, np.eye(3), RULES.frame_px)
    assert over is not None
    ground = set_side_by_side(over, RULES, polarity_flip=False)
    assert ground is not None
    return ground, planes_of(*ground.twins, RULES.window_px)


@pytest.fixture
def group() -> Moved:
    """Keypoints in the middle of the picture that moved by 12 px."""
    x, y = np.meshgrid(np.linspace(180, 220, 4), np.linspace(280, 320, 4))
    return Moved(np.array([[1, 0, 12], [0, 1, 0], [0, 0, 1.0]]), np.column_stack([x.ravel(), y.ravel()]))


def ring(ground: Ground) -> Mask:
    """Cells around the keypoints, none of them among these: the frame is 420 by 600, a cell 4 px."""
    cells = np.zeros(ground.inside.shape, bool)
    cells[63:88, 38:63] = True
    cells[66:85, 41:60] = False
    return cells


def test_a_group_of_which_nothing_differs_where_its_keypoints_lie_is_no_element(
    laid: tuple[Ground, Planes], group: Moved
) -> None:
    """All that lies around follows it. On a painted pair this ended in an IndexError, and with it the night."""
    ground, planes = laid
    flagged = ring(ground)
    assert flagged.sum() >= RULES.least_cells
    assert _as_element(ground, planes, replace(group, transform=np.eye(3)), flagged, RULES) is None


def test_where_nothing_differs_nothing_went_its_way(laid: tuple[Ground, Planes]) -> None:
    ground, _ = laid
    found, left = went_their_way(ground, np.zeros_like(ground.inside), RULES)
    assert not found and not left.any()


def test_what_gains_nothing_where_its_keypoints_lead_is_no_element(laid: tuple[Ground, Planes], group: Moved) -> None:
    """The two are one picture: all of it is best seen where it is."""
    ground, planes = laid
    assert _as_element(ground, planes, group, ground.inside, RULES) is None
