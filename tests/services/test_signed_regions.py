"""Regions that differ and look hand-signed on one of the two, however the scan lies."""

import numpy as np
import pytest

from intake.kin import Difference, DifferenceKind, Differences
from intake.model import Box, PartKey
from intake.services.pictures import set_upright
from intake.services.signed_regions import with_signed
from intake.services.upright import Upright
from tests.bench.signatures import make
from tests.made import SETTINGS

SIGNED = make(300_007)


def _told(region: Difference, turn: int = 0, mirrored: bool = False) -> Difference:
    # laid as a scanner finds it: what sets it upright is undone
    lying = set_upright(SIGNED.pixels, -turn % 360, False)
    lying = np.ascontiguousarray(lying[:, ::-1]) if mirrored else lying
    box = Box(0, 0, lying.shape[1], lying.shape[0])
    report = Differences(PartKey("a", 1), PartKey("b", 1), (region,))
    return with_signed(report, ((lying, Upright(box, turn, mirrored)), None), SETTINGS.signature).regions[0]


def _region(turn: int = 0, mirrored: bool = False, kind: DifferenceKind = "covered", at: float = 0.0) -> Difference:
    assert SIGNED.signed is not None
    left, top, right, bottom = SIGNED.signed
    shares = np.array([[left - 0.01, top - 0.01 - at], [right + 0.01, bottom + 0.01 - at]])
    w, h = SIGNED.pixels.shape[1], SIGNED.pixels.shape[0]
    corners = shares * (w, h)
    back = {0: corners, 180: np.array([w, h]) - corners}[turn]
    if mirrored:
        back = np.array([[w, 0]]) + back * (-1, 1)
    low, far = back.min(axis=0), back.max(axis=0)
    box = Box(int(low[0]), int(low[1]), int(far[0] - low[0]), int(far[1] - low[1]))
    return Difference(kind, box, box, 0.9, "covered on the second")


@pytest.mark.parametrize(("turn", "mirrored"), [(0, False), (180, False), (0, True)])
def test_a_signature_that_is_gone_is_said_whichever_way_the_scan_lies(turn: int, mirrored: bool) -> None:
    told = _told(_region(turn, mirrored), turn, mirrored)
    assert told.signed and "looks hand-signed" in told.words and "the first" in told.words


def test_other_places_other_kinds_and_large_ones_are_not() -> None:
    assert not _told(_region(at=0.5)).signed
    assert not _told(_region(kind="pasted")).signed
    whole = Difference("covered", Box(0, 0, 800, 900), None, 0.9, "covered on the second")
    assert not _told(whole).signed
