"""Painting: the same story gives the same pixels, boxes follow the pixels, and the command writes what it says."""

import csv
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import pyvips

from sample_batch.art.design import Edits
from sample_batch.crowd import crowd
from sample_batch.files import Delivery, write_scan
from sample_batch.make import front_of
from sample_batch.page import Mark, Page, blank, carry_box
from sample_batch.paint import main, paint_shot, small_batch
from sample_batch.scanner import Setting, scan
from sample_batch.scenario import sample
from sample_batch.wear import fold, fold_lines


def test_the_same_seed_paints_the_same(tmp_path: Path) -> None:
    """Compared by PSNR, since encoders may differ between machines; on one machine the bytes agree too."""
    story = crowd(3, 5)
    shot = story.shots[0]
    first = paint_shot(story, shot, tmp_path / "one")
    again = paint_shot(crowd(3, 5), shot, tmp_path / "two")
    a = cv2.imread(str(tmp_path / "one" / shot.path))
    b = cv2.imread(str(tmp_path / "two" / shot.path))
    assert cv2.PSNR(a, b) > 60
    assert [m.box for m in first[0].page.marks] == [m.box for m in again[0].page.marks]


def test_another_seed_tells_another_story() -> None:
    assert [d.seed for d in crowd(20, 1).designs] != [d.seed for d in crowd(20, 2).designs]


def test_a_story_does_not_depend_on_its_length() -> None:
    short, long = crowd(10, 3), crowd(40, 3)
    assert long.shots[: len(short.shots)] == short.shots


def test_paths_and_pieces_are_unique() -> None:
    for story in (sample(), crowd(400, 9)):
        assert len({s.path for s in story.shots}) == len(story.shots)
        assert len({p.code for p in story.pieces}) == len(story.pieces)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_mirror_then_turn_clockwise_sets_a_scan_upright(rotation: int, mirrored: bool) -> None:
    """The project's rule: mirror first (left-right), then turn clockwise; here OpenCV does the turning."""
    page = blank(60, 90, 100, (1, 1, 1))
    page.pixels[20:40, 30:120] = 0
    page = Page(page.pixels, 100, (Mark("job", "x", "x", (30.0, 20.0, 120.0, 40.0), 3),))
    scanned = scan([page], Setting("black", 5, rotation=rotation, mirrored=mirrored, noise=0))
    left, top, right, bottom = (round(v) for v in scanned.parts[0].page.marks[0].box)
    assert scanned.pixels[top:bottom, left:right].max() < 0.05
    upright = scanned.pixels[:, ::-1] if mirrored else scanned.pixels
    turns = {90: cv2.ROTATE_90_CLOCKWISE, 180: cv2.ROTATE_180, 270: cv2.ROTATE_90_COUNTERCLOCKWISE}
    upright = cv2.rotate(np.ascontiguousarray(upright), turns[rotation]) if rotation else upright
    straight = scan([page], Setting("black", 5, noise=0)).pixels
    assert upright == pytest.approx(straight, abs=1e-6)


def test_folds_lie_at_their_fractions_and_break_the_ink() -> None:
    """Common practice: eight panels = one vertical line at 1/2, three horizontal at 1/4, 1/2, 3/4; tolerance 8 mm."""
    assert fold_lines(4) == [0.25, 0.5, 0.75] and fold_lines(2) == [0.5]
    scale = 100 / 25.4
    dark = np.full((1640, 1080, 3), 0.2, np.float32)
    folded = fold(dark, scale, (2, 4), 0.8, 3)
    profile = folded.max(axis=2).mean(axis=1)
    for line in (410, 820, 1230):
        window = profile[line - round(8 * scale) : line + round(8 * scale)]
        assert window.max() > 0.24
    away = profile[100:300]
    assert away.max() < 0.23


def test_printed_in_folds_leave_no_bare_paper() -> None:
    scale = 100 / 25.4
    dark = np.full((1000, 800, 3), 0.2, np.float32)
    real, printed = (fold(dark, scale, (2, 2), 0.8, 3, printed=p) for p in (False, True))
    assert real.max() > 0.6 > printed.max()


def test_skewed_boxes_hold_their_marks() -> None:
    page = blank(200, 120, 100, (0.9, 0.9, 0.9))
    page.pixels[100:116, 200:500] = 0
    page = Page(page.pixels, 100, (Mark("job", "x", "x", (200.0, 100.0, 500.0, 116.0), 4),))
    scanned = scan([page], Setting("grey", 10, 1.5, noise=0))
    ink = np.argwhere(scanned.pixels.max(axis=2) < 0.2)
    top, left = ink.min(axis=0)
    bottom, right = ink.max(axis=0) + 1
    assert scanned.parts[0].page.marks[0].box == pytest.approx((left, top, right, bottom), abs=2.5)


def test_differences_point_at_what_differs() -> None:
    """Two states of one painting differ inside the box that the truth names, and hardly outside."""
    story = sample()
    piece, design = story.piece("B01-0001"), story.design("salt-a")
    before, after = (front_of(replace(piece, edits=e), design, 40) for e in (Edits(), piece.edits))
    assert before.art is not None
    differ = np.abs(before.pixels - after.pixels).max(axis=2) > 0.08
    inside = np.zeros_like(differ)
    for page in (before, after):
        left, top, right, bottom = (round(v) for v in carry_box(page.art, page.elements[piece.edits.redraw[0]]))
        inside[max(0, top - 4) : bottom + 4, max(0, left - 4) : right + 4] = True
    assert differ.sum() > 200
    assert differ[inside].sum() > 0.9 * differ.sum()


def test_full_size_files_are_what_they_say(tmp_path: Path) -> None:
    pixels = np.random.default_rng(1).random((40, 60, 3), np.float32)
    write_scan(tmp_path / "a.tif", pixels, 100, Delivery("tiff16_lzw", enlarge=3))
    image = pyvips.Image.new_from_file(str(tmp_path / "a.tif"))
    assert (image.width, image.height, image.format) == (180, 120, "ushort")
    assert image.xres * 25.4 == pytest.approx(300)


def test_command_writes_a_consignment(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--scans", "2", "--seed", "8", "--to", str(tmp_path)]) == 0
    assert "scans of" in capsys.readouterr().out
    with (tmp_path / "expected" / "scans.csv").open(encoding="utf-8", newline="") as file:
        named = {row["scan"] for row in csv.DictReader(file)}
    found = {p.relative_to(tmp_path / "scans").as_posix() for p in (tmp_path / "scans").rglob("*") if p.is_file()}
    assert named == found and len(found) >= 2


def test_small_batch_has_some_of_everything(tmp_path: Path) -> None:
    folder = small_batch(tmp_path)
    names = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert len(names) == 12
    with (tmp_path / "box-list.csv").open(encoding="utf-8", newline="") as file:
        listed = {(r["box"], r["piece"]) for r in csv.DictReader(file)}
    assert ("B03", "0029") in listed and ("B01", "0001") in listed
