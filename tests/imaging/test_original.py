"""The only opener: what is refused before and while decoding, and what every sound form of picture becomes."""

import os
import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import pyvips
from PIL import Image

from intake.config.check import CheckRules
from intake.imaging.original import Original, Unreadable, open_original
from intake.model import Box, PartFound, PartKey
from tests.imaging.pictures import bare_tiff, png_that_claims, save, scene
from tests.made import CONFIG, section

RULES = section(CheckRules, CONFIG / "check.toml")


def opened(path: Path, rules: CheckRules = RULES) -> Original:
    return open_original(path, rules, path.parent)


def refusal(path: Path, rules: CheckRules = RULES) -> str:
    with pytest.raises(Unreadable) as caught:
        opened(path, rules)
    return caught.value.finding.code


def whole(original: Original) -> np.ndarray:
    leaf = original.leaves[0]
    return original.page(PartKey("d", 1), PartFound(1, leaf.number, leaf.whole)).crop(leaf.whole)


# ---- damage --------------------------------------------------------------------------------------------------------

FORMS = {
    "strips.tif": {"compression": "none"},
    "lzw.tif": {"compression": "lzw", "predictor": "horizontal"},
    "deflate.tif": {"compression": "deflate"},
    "tiles.tif": {"compression": "lzw", "tile": True},
    "base.jpg": {"Q": 88},
    "progressive.jpg": {"Q": 88, "interlace": True},
    "plain.png": {},
    "sound.webp": {"Q": 88},
}


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("kept", [0.3, 0.6, 0.97])
def test_a_file_cut_off_anywhere_is_truncated(tmp_path: Path, name: str, kept: float) -> None:
    path = save(tmp_path / name, scene(640, 480), **FORMS[name])
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * kept)])
    assert refusal(path) == "truncated"


def test_a_tiff_whose_index_comes_first_is_caught_too(tmp_path: Path) -> None:
    """Pillow writes the index before the strips, so the header of the cut file is whole."""
    path = tmp_path / "index-first.tif"
    Image.fromarray(scene(640, 480)).save(path, compression="tiff_lzw")
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * 0.6)])
    assert refusal(path) in {"truncated", "damaged"}


# Not deflate TIFF: no decoder at hand (libvips, Pillow, OpenCV, all over libtiff) holds its strips against their
# checksums.
@pytest.mark.parametrize("name", ["lzw.tif", "plain.png"])
def test_damage_in_the_middle_of_a_lossless_file_is_seen(tmp_path: Path, name: str) -> None:
    path = save(tmp_path / name, scene(640, 480), **FORMS[name])
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 64] = bytes(reversed(range(64)))
    path.write_bytes(content)
    try:
        with opened(path) as original:
            assert "damaged" in {f.code for f in original.troubles}
    except Unreadable as error:
        assert error.finding.code == "damaged"


def test_damage_in_the_middle_of_a_jpeg_is_named_and_the_rest_can_be_looked_at(tmp_path: Path) -> None:
    path = save(tmp_path / "base.jpg", scene(640, 480), Q=88)
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    # a marker that cannot stand in entropy-coded data (ITU T.81, B.1.1.2)
    content[middle : middle + 4] = b"\xff\xd3\xff\xc4"
    path.write_bytes(content)
    with opened(path) as original:
        assert [f.code for f in original.troubles] == ["damaged"]
        assert whole(original).shape == (480, 640, 3)


# ---- bounds --------------------------------------------------------------------------------------------------------


def test_a_bomb_is_refused_by_its_header_without_decoding(tmp_path: Path) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(png_that_claims(41_000, 41_000))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert refusal(path) == "too_large"
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 50_000


def test_sizes_at_the_ends(tmp_path: Path) -> None:
    assert refusal(save(tmp_path / "one.png", np.zeros((1, 1, 3), np.uint8))) == "not_a_picture"
    with opened(save(tmp_path / "strip.png", scene(20_000, 40))) as original:
        page = original.page(PartKey("d", 1), PartFound(1, 0, original.leaves[0].whole))
        assert page.working.shape == (4, 2048, 3)
        assert page.stored_per_working == pytest.approx(20_000 / 2048)


def test_what_is_no_picture_is_named(tmp_path: Path) -> None:
    (tmp_path / "empty.tif").write_bytes(b"")
    (tmp_path / "words.tif").write_text("Dear sirs", encoding="utf-8")
    (tmp_path / "drawing.svg").write_text("<svg width='9' height='9'/>", encoding="utf-8")
    assert refusal(tmp_path / "empty.tif") == "empty_file"
    assert refusal(tmp_path / "words.tif") == "not_a_picture"
    assert refusal(tmp_path / "drawing.svg") == "not_a_picture"
    assert refusal(tmp_path / "not there.tif") == "unreadable"


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.tif")
    assert refusal(tmp_path / "pipe.tif") == "unreadable"


def test_more_pages_or_bytes_than_allowed(tmp_path: Path) -> None:
    pages = [pyvips.Image.new_from_array(scene(60, 50, n)) for n in range(5)]
    path = tmp_path / "pages.tif"
    tall = pyvips.Image.arrayjoin(pages, across=1).copy()
    tall.set_type(pyvips.GValue.gint_type, "page-height", 50)
    tall.tiffsave(str(path))
    assert refusal(path, RULES.model_copy(update={"max_pages": 4})) == "too_large"
    with opened(path) as original:
        assert [leaf.whole for leaf in original.leaves] == [Box(0, 0, 60, 50)] * 5
    big = save(tmp_path / "big.tif", scene(900, 900), compression="none")
    assert refusal(big, RULES.model_copy(update={"max_file_mb": 1})) == "too_large"


@pytest.mark.parametrize("name", ["a b[page=1].png", "ünï ćode [shrink=8].png", "-n.png", "%d.png"])
def test_a_name_is_a_name_and_never_an_option(tmp_path: Path, name: str) -> None:
    """libvips reads ``file.png[options]`` from names; the opener passes it a descriptor instead."""
    plain = save(tmp_path / "plain.png", scene(64, 48))
    odd = tmp_path / name
    odd.write_bytes(plain.read_bytes())
    with opened(odd) as original:
        assert whole(original).shape == (48, 64, 3)


# ---- colour and depth ----------------------------------------------------------------------------------------------


def test_grey_of_every_depth_and_both_senses(tmp_path: Path) -> None:
    """PhotometricInterpretation 0 is white-is-zero, 1 black-is-zero (TIFF 6.0 section 4)."""
    ramp = np.tile(np.array([0, 128, 200, 255], np.uint8).repeat(16), (64, 1))
    packed = np.packbits(ramp > 127, axis=1).tobytes()
    deep = (ramp.astype("<u2") * 257).tobytes()
    for bits, data, expected in ((8, ramp.tobytes(), ramp), (16, deep, ramp), (1, packed, (ramp > 127) * 255)):
        for photometric in (0, 1):
            path = tmp_path / f"{bits}-{photometric}.tif"
            path.write_bytes(bare_tiff(data, 64, 64, bits, photometric))
            with opened(path) as original:
                seen = whole(original)[..., 0].astype(int)
            true = 255 - expected if photometric == 0 else expected
            assert np.abs(seen - true).max() <= 1, (bits, photometric)


def test_sixteen_bits_stay_sixteen_where_film_needs_them(tmp_path: Path) -> None:
    """A known trap: Pillow opens 16-bit RGB as 8-bit, and clips 16-bit grey at 255."""
    ramp = np.linspace(0, 65535, 1024).astype(np.uint16)
    grey = np.tile(ramp, (64, 1))
    rgb = np.dstack([grey, grey[:, ::-1], grey])
    for name, pixels, colour in (("grey.tif", grey, "grey16"), ("rgb.tif", rgb, "rgb16")):
        with opened(save(tmp_path / name, pixels, compression="lzw", interpretation=colour)) as original:
            page = original.page(PartKey("d", 1), PartFound(1, 0, original.leaves[0].whole))
            assert original.leaves[0].bits == 16
            assert page.deep is not None and len(np.unique(page.deep[..., 0])) == 1024
            assert np.abs(page.working[..., 0].astype(int) - np.round(ramp / 257)).max() <= 1


def test_cmyk_palette_and_alpha_become_what_they_look_like(tmp_path: Path) -> None:
    white_and_red = np.zeros((64, 64, 4), np.uint8)
    white_and_red[:, 32:, 1:3] = 255
    cmyk = tmp_path / "cmyk.jpg"
    Image.fromarray(white_and_red, "CMYK").save(cmyk, quality=95)
    with opened(cmyk) as original:
        assert original.leaves[0].colour == "CMYK"
        seen = whole(original)
        assert seen[32, 8].min() > 245
        assert seen[32, 56, 0] > 200 and seen[32, 56, 1:].max() < 90
    flat = np.zeros((64, 64, 3), np.uint8)
    flat[:, :32] = (200, 30, 60)
    palette = tmp_path / "palette.png"
    Image.fromarray(flat).quantize(4).save(palette)
    with opened(palette) as original:
        assert np.abs(whole(original)[32, 8].astype(int) - (200, 30, 60)).max() <= 2
    clear = np.dstack([flat, np.full((64, 64), 255, np.uint8)])
    clear[:, 32:, 3] = 0
    with opened(save(tmp_path / "alpha.png", clear)) as original:
        assert whole(original)[32, 56].tolist() == [255, 255, 255]


def test_an_embedded_profile_is_applied(tmp_path: Path) -> None:
    """Display P3 red (1, 0, 0) lies outside sRGB; its mid tones become more saturated. Profile built into libvips."""
    pixels = np.zeros((64, 64, 3), np.uint8)
    pixels[:] = (180, 100, 100)
    image = pyvips.Image.new_from_array(pixels, interpretation="srgb")
    wide = image.icc_transform("p3", input_profile="srgb")
    wide.write_to_file(str(tmp_path / "p3.png"))
    (wide.cast("ushort") * 257).cast("ushort").copy(interpretation="rgb16").write_to_file(str(tmp_path / "p3-16.tif"))
    for name, bits in (("p3.png", 8), ("p3-16.tif", 16)):
        with opened(tmp_path / name) as original:
            assert original.leaves[0].bits == bits and original.leaves[0].profile
            assert np.abs(whole(original)[32, 32].astype(int) - (180, 100, 100)).max() <= 2
            page = original.page(PartKey("d", 1), PartFound(1, 0, original.leaves[0].whole))
            assert np.abs(page.working[32, 32].astype(int) - (180, 100, 100)).max() <= 2


def test_a_broken_profile_costs_nothing_but_itself(tmp_path: Path) -> None:
    pixels = scene(64, 48)
    path = tmp_path / "broken-profile.png"
    Image.fromarray(pixels).save(path, icc_profile=b"not a profile" * 20)
    with opened(path) as original:
        assert np.array_equal(whole(original), pixels)


def test_orientation_tags_never_turn_a_picture(tmp_path: Path) -> None:
    """Coordinates are stored pixels; OpenCV and browsers would turn this one."""
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "turned.jpg"
    Image.fromarray(scene(96, 48)).save(path, exif=exif)
    with opened(path) as original:
        assert original.tags.orientation == 6
        assert whole(original).shape == (48, 96, 3)


# ---- one decode, bounded memory ------------------------------------------------------------------------------------


def test_crops_are_the_stored_pixels_wherever_they_are_kept(tmp_path: Path) -> None:
    pixels = scene(900, 700)
    path = save(tmp_path / "sheet.png", pixels)
    in_file = RULES.model_copy(update={"memory_mb": 1})
    with opened(path) as here, opened(path, in_file) as there:
        assert here.leaves[0].pixels.held_bytes == pixels.nbytes
        assert there.leaves[0].pixels.held_bytes == 0
        for original in (here, there):
            page = original.page(PartKey("d", 1), PartFound(1, 0, original.leaves[0].whole))
            assert np.array_equal(page.crop(Box(100, 50, 200, 300)), pixels[50:350, 100:300])
            assert np.array_equal(page.crop(Box(-20, 650, 60, 90)), pixels[650:, :40])
            assert page.crop(Box(0, 0, 900, 700), 300).shape == (233, 300, 3)
            with pytest.raises(ValueError):
                page.crop(Box(900, 0, 10, 10))
        assert np.array_equal(here.overview(here.leaves[0]), there.overview(there.leaves[0]))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["sheet.png"]


def test_the_original_is_never_written(tmp_path: Path) -> None:
    path = save(tmp_path / "sheet.png", scene(200, 100))
    path.chmod(0o400)
    before = (path.stat().st_mtime_ns, path.read_bytes())
    with opened(path) as original:
        whole(original)
    assert (path.stat().st_mtime_ns, path.read_bytes()) == before


# VmHWM, not ru_maxrss: over an exec the latter keeps the peak of the process that forked, here pytest itself.
PEAK = """
import re, sys
from pathlib import Path
from intake.config.check import CheckRules
from intake.imaging.original import open_original
from intake.model import Box, PartFound, PartKey
from intake.stages.check import check
from tests.made import CONFIG, section
rules = section(CheckRules, CONFIG / "check.toml")
path = Path(sys.argv[1])
with open_original(path, rules, path.parent) as original:
    checked = check(path, original, rules)
    page = original.page(PartKey("d", 1), checked.parts[0])
    page.crop(Box(4000, 5000, 1500, 600))
status = Path("/proc/self/status").read_text()
print(int(re.search(r"VmHWM:\\s*(\\d+) kB", status).group(1)) // 1024)
"""


def test_a_large_film_scan_stays_under_400_mb(tmp_path: Path) -> None:
    """A 115 MP 16-bit LZW TIFF: 690 MB of pixels. The bound is the house's own, from the issue."""
    small = scene(1500, 1200).astype(np.uint16) * 257
    image = pyvips.Image.new_from_array(small, interpretation="rgb16").resize(8, kernel="linear")
    path = tmp_path / "film.tif"
    image.cast("ushort").tiffsave(str(path), compression="lzw", predictor="horizontal")
    assert image.width * image.height >= 115e6
    run = subprocess.run([sys.executable, "-c", PEAK, str(path)], capture_output=True, text=True, check=True)
    assert int(run.stdout) < 400
