"""Tags: resolution only with a unit, and nothing that a hostile tag block can do."""

import io
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from intake.imaging.tags import Tags, read_tags
from tests.imaging.pictures import bare_tiff, scene

GREY = bytes(64 * 64)


def tags_of(content: bytes, file_format: str) -> Tags:
    return read_tags(io.BytesIO(content), file_format)


def rational_tiff(unit: int | None, numerator: int, denominator: int) -> bytes:
    """A TIFF whose X and Y resolution are one rational, stored behind the strip (TIFF 6.0: 0x011A, 0x011B, 0x0128)."""
    value = numerator.to_bytes(4, "little") + denominator.to_bytes(4, "little")
    at = 8 + len(GREY)
    extra = [(0x011A, 5, 1, at), (0x011B, 5, 1, at)] + ([(0x0128, 3, 1, unit)] if unit is not None else [])
    return bare_tiff(GREY + value, 64, 64, 8, 1, tuple(extra))


@pytest.mark.parametrize(
    ("unit", "numerator", "denominator", "ppi"),
    [
        (2, 400, 1, 400.0),
        (3, 15748, 100, 400.0),  # 157.48 px/cm = 400 ppi: 1 in = 2.54 cm exactly
        (1, 400, 1, None),
        (None, 400, 1, None),
        (2, 0, 1, None),
        (2, 400, 0, None),
    ],
)
def test_resolution_needs_a_unit(unit: int | None, numerator: int, denominator: int, ppi: float | None) -> None:
    resolution = tags_of(rational_tiff(unit, numerator, denominator), "TIFF").resolution
    assert resolution.ppi == (pytest.approx(ppi) if ppi else None)
    assert resolution.words


def test_resolution_of_jpeg_and_png_headers(tmp_path: Path) -> None:
    """JFIF 1.02: units 1 = inch, 2 = cm, 0 = none. PNG pHYs counts pixels to the metre."""
    image = Image.fromarray(scene(64, 48))
    image.save(tmp_path / "a.jpg", dpi=(300, 300))
    image.save(tmp_path / "b.jpg")
    image.save(tmp_path / "c.png", dpi=(300, 300))
    for name, file_format, ppi in (("a.jpg", "JPEG", 300.0), ("b.jpg", "JPEG", None), ("c.png", "PNG", 300.0)):
        assert tags_of((tmp_path / name).read_bytes(), file_format).resolution.ppi == ppi


def test_who_scanned_and_when(tmp_path: Path) -> None:
    """EXIF 2.3: FileSource 0xA300 (1 film scanner, 2 reflection scanner, 3 camera), DateTime 0x0132."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0132] = "Quarrel", "Flat \n 9", "2026:03:09 09:14:00"
    exif.get_ifd(0x8769)[0xA300] = b"\x01"
    Image.fromarray(scene(64, 48)).save(tmp_path / "a.jpg", exif=exif)
    tags = tags_of((tmp_path / "a.jpg").read_bytes(), "JPEG")
    assert (tags.scanner, tags.scanned_at, tags.file_source) == ("Quarrel Flat 9", "2026-03-09T09:14:00", 1)


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("2019:12:31 23:59:59", "2019-12-31T23:59:59"),
        ("2019-12-31T23:59:59+01:00", "2019-12-31T23:59:59"),
        ("0000:00:00 00:00:00", ""),
        ("1970:01:01 00:00:00", ""),
        ("2019:13:01 10:00:00", ""),
        ("2019:02:30 10:00:00", ""),
        ("    :  :     :  :  ", ""),
    ],
)
def test_a_time_that_cannot_be_is_no_time(tmp_path: Path, written: str, kept: str) -> None:
    exif = Image.Exif()
    exif[0x0132] = written
    Image.fromarray(scene(64, 48)).save(tmp_path / "a.jpg", exif=exif)
    assert tags_of((tmp_path / "a.jpg").read_bytes(), "JPEG").scanned_at == kept


@pytest.mark.parametrize(("stored", "kept"), [(1, 1), (2, 2), (3, 3), (77, None)])
def test_film_or_reflection_scanner(tmp_path: Path, stored: int, kept: int | None) -> None:
    """EXIF 2.3, FileSource 0xA300."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA300] = bytes([stored])
    Image.fromarray(scene(64, 48)).save(tmp_path / "a.jpg", exif=exif)
    tags = tags_of((tmp_path / "a.jpg").read_bytes(), "JPEG")
    assert tags.file_source == kept and bool(tags.odd) == (kept is None)


@settings(max_examples=150, deadline=None)
@given(start=st.integers(8, 400), junk=st.binary(min_size=1, max_size=40))
def test_no_tag_block_can_break_it(start: int, junk: bytes) -> None:
    content = bytearray(rational_tiff(2, 400, 1))
    at = len(content) - 200 + start % 190
    content[at : at + len(junk)] = junk
    tags = tags_of(bytes(content), "TIFF")
    assert tags.orientation in range(1, 9)
    assert tags.resolution.ppi is None or tags.resolution.ppi > 0
