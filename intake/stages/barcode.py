"""Find barcodes on what is printed: a sign of late printing."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.barcode import BarcodeRules
from intake.imaging.page import Page
from intake.model import Barcoded, Box, Finding, Mark, ReaderSaid
from intake.ocr.barcode import READER, Found, find_barcodes
from intake.ocr.text import clean

VERSION = 1


def barcode(page: Page, kind: str, rules: BarcodeRules) -> Barcoded:
    """Return the barcodes of one part as marks, boxes in stored pixels. They are accepted, as their digits are checked.

    The working image is looked at, and where that is coarser than the stored file its margins closer. A reader that
    breaks is a finding (reader_failed).
    """
    if kind not in rules.kinds:
        return Barcoded(())
    made: list[Mark] = []
    try:
        for grey, scale, left, top in _looks(page, rules):
            for found in find_barcodes(grey, tuple(rules.first_year)):
                if found.symbology not in rules.first_year:
                    continue
                mark = _mark(found, scale, left, top, rules)
                if not any(m.value == mark.value and m.rule == mark.rule and _near(m.box, mark.box) for m in made):
                    made.append(mark)
    except MemoryError:
        raise
    except Exception as error:
        message = f"{READER} broke off ({type(error).__name__}: {str(error)[:120]}); look for a barcode by eye."
        return Barcoded(tuple(made), (Finding("barcode", "reader_failed", "note", message, page.key.part),))
    return Barcoded(tuple(made[: rules.most]))


def _looks(page: Page, rules: BarcodeRules) -> Iterator[tuple[NDArray[np.uint8], float, int, int]]:
    """Pictures to look at: grey, stored pixels a pixel, and where their corner lies in stored pixels."""
    left, top, width, height = page.box
    yield cv2.cvtColor(page.working, cv2.COLOR_RGB2GRAY), page.stored_per_working, left, top
    deep = max(1, round(min(width, height) * rules.margin_share))
    for box in (
        Box(left, top + height - deep, width, deep),
        Box(left, top, width, deep),
        Box(left, top, deep, height),
        Box(left + width - deep, top, deep, height),
    ):
        longest = min(rules.margin_long_px, max(box.width, box.height))
        scale = max(box.width, box.height) / longest
        if scale < page.stored_per_working:
            yield cv2.cvtColor(page.crop(box, longest), cv2.COLOR_RGB2GRAY), scale, box.left, box.top


def _mark(found: Found, scale: float, left: int, top: int, rules: BarcodeRules) -> Mark:
    low, high = found.corners.min(axis=0) * scale, found.corners.max(axis=0) * scale
    wide, tall = (max(1, round(float(n))) for n in high - low)
    box = Box(left + int(low[0]), top + int(low[1]), wide, tall)
    text, year = clean(found.text), rules.first_year[found.symbology]
    return Mark(
        kind="barcode",
        text=text,
        value=text,
        year_from=year,
        year_to=None,
        accepted="auto",
        confidence=1.0,
        box=box,
        readers=(ReaderSaid(READER, text, 1.0),),
        rule=found.symbology,
        dates="a print run",
        periods=((year, None),),
    )


def _near(a: Box, b: Box) -> bool:
    return (
        a.left < b.left + b.width
        and b.left < a.left + a.width
        and a.top < b.top + b.height
        and b.top < a.top + a.height
    )
