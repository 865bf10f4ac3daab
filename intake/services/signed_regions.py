"""Which regions that differ look hand-signed on one of the two pieces: painted out, opaqued, or signed otherwise."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from intake.config.signature import SignatureRules
from intake.kin import Difference, Differences
from intake.services.pictures import set_upright
from intake.services.upright import Upright
from intake.stages.signature import looks_signed

Picture = NDArray[np.uint8]
Looked = tuple[Picture, Upright]  # a working image as it lies, and how its part is set upright


def with_signed(report: Differences, sides: Sequence[Looked | None], rules: SignatureRules) -> Differences:
    """The report with such regions told so. ``sides``: a and b; None for one that is not looked at for signatures."""
    upright: dict[int, Picture] = {}
    regions = []
    for region in report.regions:
        on = [n for n in (0, 1) if _shows(region, n, sides[n], upright, rules)]
        if on:
            words = rules.words.format(on=" and ".join(("the first", "the second")[n] for n in on))
            region = replace(region, words=f"{region.words}; {words}", signed=True)
        regions.append(region)
    return replace(report, regions=tuple(regions))


def _shows(region: Difference, n: int, side: Looked | None, upright: dict[int, Picture], rules: SignatureRules) -> bool:
    box = (region.a, region.b)[n]
    if side is None or box is None or region.kind not in rules.differing_kinds:
        return False
    picture, lies = side
    place = lies.place(box)
    if max(place[2:]) > rules.differing_most:
        return False
    if n not in upright:
        upright[n] = set_upright(picture, lies.turn, lies.mirrored)
    return looks_signed(upright[n], place, rules)
