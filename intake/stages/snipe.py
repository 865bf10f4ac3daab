"""Strips pasted on a printed sheet, told on the sheet alone."""

import math

from intake.config.snipe import SnipeRules
from intake.imaging.page import Page
from intake.imaging.snipes import find_snipes
from intake.model import Box, Sniped, Strip

VERSION = 2
_MOST = 6


def snipe(page: Page, kind: str, rules: SnipeRules) -> Sniped:
    """Return the places that may be strips pasted on, in stored pixels; none on what snipes are not pasted on."""
    if kind not in rules.kinds:
        return Sniped(())
    scale = page.stored_per_working
    strips = []
    for found in find_snipes(page.working, rules)[:_MOST]:
        left, top, wide, high = (v * scale for v in found.box)
        box = Box(page.box.left + int(left), page.box.top + int(top), math.ceil(wide), math.ceil(high))
        strips.append(Strip(box, found.certainty, found.certainty >= rules.alone, found.words))
    return Sniped(tuple(strips))
