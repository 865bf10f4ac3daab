"""The arrival check on files in a folder: facts, parts and findings."""

from pathlib import Path

import cv2
import numpy as np
import pytest
import pyvips
from PIL import Image

from intake.config.check import CheckRules
from intake.imaging.original import Unreadable, open_original
from intake.model import Checked
from intake.stages.check import check, refused
from tests.imaging.pictures import on_bed, save, scene
from tests.made import CONFIG, section

RULES = section(CheckRules, CONFIG / "check.toml")


def checked(path: Path) -> Checked:
    try:
        with open_original(path, RULES, path.parent) as original:
            return check(path, original, RULES)
    except Unreadable as error:
        return refused(path, error)


def codes(path: Path) -> set[str]:
    return {f.code for f in checked(path).findings}


def test_a_sound_scan(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    Image.fromarray(scene(600, 400)).save(path, dpi=(400, 400), compression="tiff_lzw")
    seen = checked(path)
    assert (seen.width_px, seen.height_px, seen.pages, seen.bits) == (600, 400, 1, 8)
    assert (seen.file_format, seen.colour, seen.ppi) == ("TIFF", "RGB", 400.0)
    assert [p.box for p in seen.parts] == [(0, 0, 600, 400)]
    assert seen.findings == () and seen.sharpness > 0.4


@pytest.mark.parametrize("ppi", [72, 96])
def test_resolutions_that_programs_write_when_they_know_none(tmp_path: Path, ppi: int) -> None:
    """72 is what EXIF 2.3 tells a writer to put when the resolution is unknown; 96 is a screen's."""
    path = tmp_path / "a.tif"
    Image.fromarray(scene(600, 400)).save(path, dpi=(ppi, ppi))
    seen = checked(path)
    assert seen.ppi is None and str(ppi) in seen.ppi_words
    assert [f.code for f in seen.findings] == ["no_resolution"]


def test_a_wrong_ending_is_a_note_and_the_scan_is_read(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", scene(600, 400))
    wrong = path.rename(tmp_path / "a.TIF")
    seen = checked(wrong)
    assert seen.file_format == "PNG" and len(seen.parts) == 1
    assert {f.code: f.severity for f in seen.findings}["wrong_ending"] == "note"


def test_a_jpeg_2000_is_a_scan_like_others(tmp_path: Path) -> None:
    Image.fromarray(scene(600, 400)).save(tmp_path / "a.jp2")
    seen = checked(tmp_path / "a.jp2")
    assert (seen.file_format, seen.colour, seen.bits, seen.width_px, seen.height_px) == (
        "JPEG 2000",
        "RGB",
        8,
        600,
        400,
    )
    assert [f.code for f in seen.findings] == ["no_resolution"] and seen.sharpness > 0.4
    (tmp_path / "a.jp2").rename(tmp_path / "a.tif")
    assert codes(tmp_path / "a.tif") == {"no_resolution", "wrong_ending"}


def test_what_is_stored_in_a_way_that_is_not_read_says_so(tmp_path: Path) -> None:
    Image.fromarray(np.dstack([scene(600, 400), scene(600, 400)[..., 0]])).save(tmp_path / "a.jp2")
    (finding,) = checked(tmp_path / "a.jp2").findings
    assert (finding.code, finding.severity) == ("not_supported", "failure")
    assert "TIFF" in finding.message and "again" not in finding.message


def test_blank_soft_and_clipped(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    even = np.clip(rng.normal(240, 1.0, (800, 600, 3)), 0, 255).astype(np.uint8)
    sharp = scene(900, 700)
    soft = cv2.GaussianBlur(sharp, (0, 0), 6.0)
    hard = np.where(cv2.cvtColor(sharp, cv2.COLOR_RGB2GRAY)[..., None] > 128, 255, 0).astype(np.uint8)
    assert "blank" in codes(save(tmp_path / "blank.png", even))
    assert "blank" in codes(save(tmp_path / "paper.png", on_bed(even, (118, 118, 118), (40, 40))[0]))
    assert "out_of_focus" in codes(save(tmp_path / "soft.png", soft))
    assert "clipped" in codes(save(tmp_path / "hard.png", np.repeat(hard, 3, axis=2)))
    assert not codes(save(tmp_path / "sharp.png", sharp)) & {"blank", "out_of_focus", "clipped"}


def test_every_page_of_a_tiff_is_a_part(tmp_path: Path) -> None:
    pages = [pyvips.Image.new_from_array(scene(300, 200, n)) for n in range(3)]
    joined = pyvips.Image.arrayjoin(pages, across=1).copy()
    joined.set_type(pyvips.GValue.gint_type, "page-height", 200)
    path = tmp_path / "pages.tif"
    joined.tiffsave(str(path))
    seen = checked(path)
    assert [(p.part, p.page) for p in seen.parts] == [(1, 0), (2, 1), (3, 2)]
    assert "multi_page" in {f.code for f in seen.findings}


def test_what_cannot_be_looked_at_has_no_parts_and_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "gone.tif"
    path.write_bytes(b"")
    seen = checked(path)
    assert seen.parts == () and seen.ppi is None
    (finding,) = seen.findings
    assert (finding.stage, finding.code, finding.severity) == ("check", "empty_file", "failure")
    assert "again" in finding.message


def test_the_same_bytes_give_the_same_check(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", scene(800, 600))
    assert checked(path) == checked(path)
