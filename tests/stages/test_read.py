"""Reading a whole part: which way it lies, what stands where, and engines that break."""

import time
from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw

from intake.config.read import ReadRules
from intake.model import ReaderSaid, Reading
from intake.ocr.engines import load_engines
from intake.ocr.frame import find_frames
from intake.ocr.null import NullDetector, NullReader, null_engines
from intake.ocr.protocol import Engines, Quad, ReaderTimeout
from intake.ocr.text import squeeze
from intake.setup import load_engines as load_model_rows
from intake.stages.read import read
from tests.made import CONFIG, section
from tests.ocr.pictures import Picture, font, line_picture, page_of, sheet

# Small sheets need no large look: the sizes alone are lowered, to keep the tests quick.
RULES = section(ReadRules, CONFIG / "read.toml").model_copy(update={"long_edge_px": 1024, "strip_long_px": 1100})
IMPRINT, CODE, TAG = "Printed in England by Marnock Press Ltd., Leeds", "61/204", "NOBODY LEAVES THE HARBOUR"
LINES = {TAG: (0.12, 0.08, 30), "THE QUIET LOCK": (0.1, 0.6, 70), IMPRINT: (0.05, 0.975, 14), CODE: (0.88, 0.975, 14)}
WIDE, HIGH = 760, 1080


@pytest.fixture(scope="module")
def engines() -> Engines:
    return load_engines(RULES, {row.file: row for row in load_model_rows(CONFIG)[0]})


def reading_of(
    picture: Picture,
    engines: Engines,
    kind: str = "finished_sheet",
    rules: ReadRules = RULES,
    polarity: str = "positive",
) -> Reading:
    page = page_of(picture)
    shown = 255 - page.working if polarity == "negative" else page.working
    return read(page, shown, kind, polarity, engines, rules, None)


def small_sheet(lines: dict[str, tuple[float, float, int]]) -> Picture:
    return sheet(lines, WIDE, HIGH)


def laid(picture: Picture, rotation: int, mirrored: bool) -> Picture:
    """The picture lying so that mirroring first and then turning ``rotation`` clockwise sets it upright."""
    turned = np.rot90(picture, rotation // 90)
    return np.ascontiguousarray(turned[:, ::-1] if mirrored else turned)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_all_eight_ways_of_lying_are_told_and_read(engines: Engines, rotation: int, mirrored: bool) -> None:
    picture = laid(small_sheet(LINES), rotation, mirrored)
    got = reading_of(picture, engines)
    assert (got.rotation, got.mirrored) == (rotation, mirrored)
    assert got.orientation_confidence > 0.25
    assert {squeeze(t) for t in LINES} <= {squeeze(x.text) for x in got.lines}
    (code,) = [x for x in got.lines if x.text == CODE]
    assert code.agreed
    # Its corners, top left first as it is read, lie where the sheet's lower right corner came to lie.
    marked = np.zeros((HIGH, WIDE), np.uint8)
    cv2.circle(marked, (int(0.88 * WIDE), int(0.975 * HIGH)), 3, 255, -1)
    y, x = np.argwhere(laid(marked, rotation, mirrored) > 0).mean(axis=0)
    start = (np.array(code.corners[0]) + np.array(code.corners[3])) / 2
    assert np.abs(start - (x, y)).max() < 15


def test_a_negative_reads_like_its_positive(engines: Engines) -> None:
    got = reading_of(255 - small_sheet(LINES), engines, polarity="negative")
    assert {squeeze(IMPRINT), CODE} <= {squeeze(x.text) for x in got.lines}


def test_film_that_reads_mirrored_was_scanned_from_its_emulsion_side(engines: Engines) -> None:
    mirrored = 255 - laid(small_sheet(LINES), 0, True)
    got = reading_of(mirrored, engines, kind="film_negative", polarity="negative")
    assert got.mirrored and [f.code for f in got.findings] == ["emulsion_side"]
    assert reading_of(255 - mirrored, engines).findings == ()
    right_way = reading_of(255 - small_sheet(LINES), engines, kind="film_negative", polarity="negative")
    assert not right_way.mirrored and right_way.findings == ()


def test_vertical_lines_along_the_sides_are_read(engines: Engines) -> None:
    picture = small_sheet({k: v for k, v in LINES.items() if k not in (IMPRINT, CODE)}).copy()
    slip = sheet({IMPRINT: (0.05, 0.5, 14)}, 420, 30)
    picture[300:720, 6:36] = np.rot90(slip, 1)
    picture[300:720, WIDE - 36 : WIDE - 6] = np.rot90(slip, -1)
    got = reading_of(picture, engines)
    assert (got.rotation, got.mirrored) == (0, False)
    assert [squeeze(x.text) for x in got.lines].count(squeeze(IMPRINT)) == 2


def test_a_code_on_end_that_reads_both_ways_keeps_the_other_way_beside_it(engines: Engines) -> None:
    picture = small_sheet({k: v for k, v in LINES.items() if k not in (IMPRINT, CODE)}).copy()
    for text, left in (("68/809", 6), ("74/235", WIDE - 46)):
        picture[300:720, left : left + 40] = np.rot90(sheet({text: (0.3, 0.5, 20)}, 420, 40), 1)
    got = {squeeze(x.text): {r.reader: r.text for r in x.readers} for x in reading_of(picture, engines).lines}
    (both,) = [readers for text, readers in got.items() if text in ("68/809", "608/89")]
    assert "turned" in both and {both["ppocr x1"], both["turned"]} == {"68/809", "608/89"}
    assert "turned" not in got["74/235"]


def test_a_line_across_the_inner_edge_of_a_strip_is_read_whole(engines: Engines) -> None:
    wide, high = 2600, 3600
    inner = 1 - RULES.strip_depth_share * wide / high
    rules = RULES.model_copy(update={"long_edge_px": 1600, "strip_long_px": 5600})
    got = reading_of(sheet({IMPRINT: (0.3, inner, 17), CODE: (0.8, inner, 17)}, wide, high), engines, rules=rules)
    assert sorted(squeeze(x.text) for x in got.lines) == sorted((squeeze(IMPRINT), CODE))


def test_what_shows_through_a_back_does_not_make_it_mirrored(engines: Engines) -> None:
    ghost = 255 - (255 - laid(small_sheet(LINES), 0, True)) // 3
    assert reading_of(ghost, engines).mirrored
    back = reading_of(ghost, engines, kind="reverse")
    assert not back.mirrored


def test_a_frame_within_a_title_is_a_part_of_its_letters(engines: Engines) -> None:
    image = Image.new("RGB", (1000, 1080), (150, 120, 130))
    face, yellow, dark = font(130, "cinzel-latin-700-normal"), (235, 235, 110), (25, 15, 20)
    ImageDraw.Draw(image).text((30, 600), "GARMOGATE", font=face, fill=yellow, stroke_width=4, stroke_fill=dark)
    picture = np.asarray(image)
    assert find_frames(picture, 1.5)  # the outlined insides of both A
    assert not [x for x in reading_of(picture, engines).lines for r in x.readers if r.reader == "frame"]


def test_a_stamp_in_the_middle_of_a_back_is_read_by_two_engines(engines: Engines) -> None:
    stamped = sheet({"RECEIVED 14 MAY 61/204": (0.25, 0.45, 20)}, WIDE, HIGH)
    for kind, engines_asked in (("reverse", 2), ("finished_sheet", 1)):
        (line,) = reading_of(stamped, engines, kind=kind).lines
        assert len({r.reader.split(" ")[0] for r in line.readers}) == engines_asked


def test_nothing_is_read_twice(engines: Engines) -> None:
    got = [squeeze(x.text) for x in reading_of(small_sheet(LINES), engines).lines]
    assert sorted(got) == sorted(squeeze(t) for t in LINES)


def test_a_certificate_in_a_circle_is_read_with_what_is_drawn(engines: Engines) -> None:
    picture = small_sheet(LINES).copy()
    cv2.circle(picture, (110, 840), 24, (25, 22, 20), 4, cv2.LINE_AA)
    letter = line_picture("A", 24, ink=22, ground=228)
    picture[840 - 14 : 840 + 14, 110 - 11 : 110 + 11] = letter[5:33, 9:31]
    (letter,) = [x for x in reading_of(picture, engines).lines if any(r.reader == "frame" for r in x.readers)]
    assert letter.text == "A"
    assert [r.text for r in letter.readers if r.reader == "frame"] == ["circle"]


@pytest.mark.parametrize("shape", [(1, 1), (1, 900), (900, 1), (40, 20000), (64, 64)])
def test_blank_and_odd_pictures_have_no_lines(engines: Engines, shape: tuple[int, int]) -> None:
    got = reading_of(np.full((*shape, 3), 240, np.uint8), engines)
    assert (got.lines, got.orientation_confidence) == ((), 0.0)


def test_the_same_part_reads_the_same_twice(engines: Engines) -> None:
    picture = small_sheet(LINES)
    assert reading_of(picture, engines) == reading_of(picture.copy(), engines)


class Broken:
    """A reader that does one wrong thing."""

    def __init__(self, what: Any) -> None:
        self.name = "broken x1"
        self._what = what

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        if isinstance(self._what, Exception):
            raise self._what
        return self._what(crops)


def nonsense(crops: Sequence[Picture]) -> list[ReaderSaid]:
    return [ReaderSaid("broken x1", "\u202e<b>\x00" + "Z" * 10000, 7.5)] * len(crops)


@pytest.mark.parametrize(
    ("what", "codes"),
    [
        (RuntimeError("it crashed"), ["reader_failed"]),
        (ReaderTimeout("ended after 1 s"), ["reader_timeout"]),
        (lambda crops: [ReaderSaid("broken x1", "one", 1.0)] * (len(crops) + 1), ["reader_failed"]),
        (lambda _: None, ["reader_failed"]),
        (lambda crops: ["text"] * len(crops), ["reader_failed"]),
        (nonsense, []),
    ],
    ids=["crash", "hang", "wrong length", "nothing", "wrong type", "nonsense"],
)
def test_a_broken_second_reader_costs_its_own_readings_alone(engines: Engines, what: Any, codes: list[str]) -> None:
    got = reading_of(small_sheet(LINES), Engines(engines.detector, engines.first, (Broken(what),)))
    assert [f.code for f in got.findings] == codes
    assert {squeeze(t) for t in LINES} <= {squeeze(r.text) for x in got.lines for r in x.readers}
    assert not any(x.agreed for x in got.lines)
    for said in (r for x in got.lines for r in x.readers):
        assert said.text.isprintable() and len(said.text) <= 400 and 0 <= said.confidence <= 1


def test_a_broken_first_reader_or_detector_leaves_the_part_unread(engines: Engines) -> None:
    broken = Broken(RuntimeError("no"))
    got = reading_of(small_sheet(LINES), Engines(engines.detector, broken))
    assert (got.lines, [f.code for f in got.findings]) == ((), ["reader_failed"])

    class NoDetector(NullDetector):
        def find(self, picture: Picture) -> list[Quad]:
            raise RuntimeError(f"no {picture.shape}")

    got = reading_of(small_sheet(LINES), Engines(NoDetector(), NullReader()))
    assert (got.lines, [f.code for f in got.findings]) == ((), ["reader_failed"])


class Everywhere(NullDetector):
    """A detector that sees thousands of lines, some of them nowhere."""

    def find(self, picture: Picture) -> list[Quad]:
        assert picture.ndim == 3
        box = np.array([[0, 0], [30, 0], [30, 8], [0, 8]], np.float32)
        return [box + np.float32((x, y)) for x in range(-400, 1600, 40) for y in range(-100, 1600, 12)]


class Parrot(NullReader):
    """Says the same of every line, and counts them."""

    def __init__(self) -> None:
        self.asked = 0

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        self.asked += len(crops)
        return [ReaderSaid("null", "61/204", 0.9)] * len(crops)


class Half(NullDetector):
    """Sees of a line of 300 x 20 pixels at (200, 1040) its right half, and all of it where nothing else is in view."""

    def find(self, picture: Picture) -> list[Quad]:
        high, wide = picture.shape[:2]
        if (wide, high) == (WIDE, HIGH):
            return [np.array([[350, 1040], [500, 1040], [500, 1060], [350, 1060]], np.float32)]
        if high > 80 or wide < 6 * high:
            return []
        middle, letters = wide / 2, high / (1 + 2 * 0.8)  # the row: the line and 0.8 of its height above and below
        left, right, top = middle - 11.25 * letters, middle + 3.75 * letters, 0.8 * letters
        return [np.array([[left, top], [right, top], [right, top + letters], [left, top + letters]], np.float32)]


def test_a_line_of_which_half_was_seen_is_looked_at_again_by_itself() -> None:
    def boxes(rules: ReadRules) -> list[tuple[int, ...]]:
        got = reading_of(np.full((HIGH, WIDE, 3), 240, np.uint8), Engines(Half(), Parrot()), rules=rules)
        return [tuple(x.box) for x in got.lines]

    rules = RULES.model_copy(update={"long_edge_px": HIGH})
    assert boxes(rules) == [(200, 1040, 300, 20)]
    assert boxes(rules.model_copy(update={"most_second_looks": 0})) == [(350, 1040, 150, 20)]


def test_thousands_of_lines_are_bounded_and_said() -> None:
    parrot = Parrot()
    started = time.process_time()
    got = reading_of(small_sheet(LINES), Engines(Everywhere(), parrot))
    assert time.process_time() - started < 20
    assert len(got.lines) <= RULES.most_lines + 16  # and what stands in drawn frames
    assert parrot.asked < 4 * RULES.most_lines
    assert [f.code for f in got.findings] == ["too_many_lines"]


def test_kinds_that_are_not_read_cost_nothing(engines: Engines) -> None:
    assert reading_of(small_sheet(LINES), engines, kind="target").lines == ()
    assert reading_of(small_sheet(LINES), null_engines()).lines == ()
