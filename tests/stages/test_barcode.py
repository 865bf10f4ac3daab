"""Barcodes: drawn here after the tables of ISO/IEC 15420 (EAN/UPC), so that reader and writer are strangers.

Numbers begin with 2: GS1 keeps those for use inside a company, so they name no real product.
"""

import time

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from intake.imaging.page import Page
from intake.model import Box
from intake.ocr import barcode as engine
from intake.stages import barcode as stage
from intake.stages.barcode import barcode
from tests.made import SETTINGS, key

RULES = SETTINGS.barcode
# ISO/IEC 15420, table of the number sets: A has odd parity, B is C read backwards, C is A's complement.
A = ["0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011"]
C = ["".join("10"[int(m)] for m in code) for code in A]
B = [code[::-1] for code in C]
FIRST = ["AAAAAA", "AABABB", "AABBAB", "AABBBA", "ABAABB", "ABBAAB", "ABBBAA", "ABABAB", "ABABBA", "ABBABA"]


def check_digit(digits: str) -> str:
    """GS1 General Specifications, 7.9: weights 3 and 1 from the right."""
    weights = (3 if n % 2 == 0 else 1 for n in range(len(digits)))
    return str(-sum(int(d) * w for d, w in zip(reversed(digits), weights, strict=True)) % 10)


def ean13(digits: str, module: int, high: int) -> NDArray[np.uint8]:
    sets = {"A": A, "B": B}
    left = "".join(sets[s][int(d)] for s, d in zip(FIRST[int(digits[0])], digits[1:7], strict=True))
    right = "".join(C[int(d)] for d in digits[7:])
    bars = f"{'0' * 11}101{left}01010{right}101{'0' * 7}"
    row = np.array([0 if bar == "1" else 255 for bar in bars], np.uint8).repeat(module)
    return np.tile(row, (high, 1))


NUMBER = "201234567890"
CODE = NUMBER + check_digit(NUMBER)


def sheet(code: NDArray[np.uint8], left: int, top: int, size: tuple[int, int] = (900, 600)) -> NDArray[np.uint8]:
    random = np.random.default_rng(7)
    made = cv2.resize(random.integers(60, 200, (9, 6, 3), dtype=np.uint8), size[::-1], interpolation=cv2.INTER_CUBIC)
    made[top : top + code.shape[0], left : left + code.shape[1]] = code[..., None]
    return made


def page_of(stored: NDArray[np.uint8], longest: int = 2048, at: tuple[int, int] = (0, 0)) -> Page:
    """A part that lies at ``at`` in its file."""
    box = Box(*at, stored.shape[1], stored.shape[0])

    def read(wanted: Box, longest_px: int | None = None) -> NDArray[np.uint8]:
        left, top = wanted.left - at[0], wanted.top - at[1]
        cut = stored[top : top + wanted.height, left : left + wanted.width]
        shrink = min(1.0, (longest_px or 10**9) / max(cut.shape[:2]))
        return cv2.resize(cut, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA) if shrink < 1 else cut

    shrink = min(1.0, longest / max(stored.shape[:2]))
    working = cv2.resize(stored, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    whole = Box(0, 0, at[0] + box.width, at[1] + box.height)
    return Page(key("x"), box, working, None, 1 / shrink, whole, read)


def test_a_worked_check_digit() -> None:
    assert check_digit("629104150021") == "3"  # the worked example of GS1's check digit page


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_a_code_is_a_late_mark_however_it_lies(turn: int) -> None:
    picture = np.ascontiguousarray(np.rot90(sheet(ean13(CODE, 2, 60), 200, 700), turn))
    (mark,) = barcode(page_of(picture, at=(40, 30)), "finished_sheet", RULES).marks
    assert (mark.kind, mark.value, mark.accepted, mark.rule) == ("barcode", CODE, "auto", "EAN-13")
    assert (mark.dates, mark.periods) == ("a print run", ((1974, None),))
    if turn == 0:
        assert 240 <= mark.box.left <= 275 and 725 <= mark.box.top <= 760 and 180 <= mark.box.width <= 200


def test_a_code_too_fine_for_the_working_image_is_found_in_the_margin_once() -> None:
    stored = sheet(ean13(CODE, 3, 220), 2900, 5500, (6000, 4000))
    page = page_of(stored)
    assert engine.find_barcodes(cv2.cvtColor(page.working, cv2.COLOR_RGB2GRAY), ["EAN-13"]) == []
    (mark,) = barcode(page, "finished_sheet", RULES).marks
    assert mark.value == CODE and abs(mark.box.left - 2933) < 25 and 5480 < mark.box.top < 5640
    coarse = sheet(ean13(CODE, 12, 300), 1500, 5600, (6000, 4000))
    assert len(barcode(page_of(coarse), "finished_sheet", RULES).marks) == 1


@pytest.mark.parametrize("kind", ["film_negative", "artwork", "still"])
def test_what_is_not_printed_is_not_looked_at(kind: str) -> None:
    assert barcode(page_of(sheet(ean13(CODE, 2, 60), 200, 700)), kind, RULES).marks == ()


def test_a_wrong_check_digit_is_no_barcode() -> None:
    wrong = NUMBER + str((int(CODE[-1]) + 1) % 10)
    assert barcode(page_of(sheet(ean13(wrong, 2, 60), 200, 700)), "finished_sheet", RULES).marks == ()


def test_noise_stripes_and_a_pixel_hold_none() -> None:
    random = np.random.default_rng(1)
    stripes = np.tile(np.repeat(random.integers(0, 2, 300, dtype=np.uint8) * 255, 3), (400, 1))
    for grey in (random.integers(0, 256, (800, 600), dtype=np.uint8), stripes, np.zeros((1, 1), np.uint8)):
        picture = np.repeat(grey[..., None], 3, axis=2)
        assert barcode(page_of(picture), "finished_sheet", RULES).marks == ()


def test_text_in_a_code_is_cleaned_and_bounded() -> None:
    import zxingcpp

    text = "=1+1 <b>\u202e" + "x" * 900
    code = np.array(
        zxingcpp.write_barcode_to_image(zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode), scale=3)
    )
    (mark,) = barcode(page_of(sheet(code, 20, 20)), "printed_matter", RULES).marks
    assert len(mark.value) <= 400 and "\u202e" not in mark.value and mark.periods == ((1994, None),)


def test_a_reader_that_breaks_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError("no")

    monkeypatch.setattr(stage, "find_barcodes", breaks)
    made = barcode(page_of(sheet(ean13(CODE, 2, 60), 200, 700)), "finished_sheet", RULES)
    assert made.marks == () and [f.code for f in made.findings] == ["reader_failed"]


def test_a_picture_of_1600_px_costs_little() -> None:
    random = np.random.default_rng(3)
    grey = cv2.resize(random.integers(0, 256, (400, 300), dtype=np.uint8), (1200, 1600))
    started = time.process_time()
    engine.find_barcodes(grey, tuple(RULES.first_year))
    assert time.process_time() - started < 0.3  # measured 8 to 18 ms on pictures; noise is the worst case
