"""Files that are broken, absurd or rare: each is refused or named for what it is, and none is passed in silence."""

import struct
import warnings
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from intake.config.check import CheckRules
from intake.imaging.original import Original, Unreadable, open_original
from tests.imaging.pictures import bare_tiff, save, scene
from tests.made import CONFIG, section

RULES = section(CheckRules, CONFIG / "check.toml")
PICTURE = scene(160, 120)
FORMS = {
    "strips.tif": {"compression": "none"},
    "lzw.tif": {"compression": "lzw", "predictor": "horizontal"},
    "deflate.tif": {"compression": "deflate"},
    "packbits.tif": {"compression": "packbits"},
    "jpeg.tif": {"compression": "jpeg"},
    "tiles.tif": {"compression": "lzw", "tile": True, "tile_width": 64, "tile_height": 64},
    "big.tif": {"compression": "lzw", "bigtiff": True},
    "base.jpg": {"Q": 88},
    "progressive.jpg": {"Q": 88, "interlace": True},
    "plain.png": {},
    "interlaced.png": {"interlace": True},
    "lossy.webp": {"Q": 88},
    "lossless.webp": {"lossless": True},
}


def opened(path: Path, rules: CheckRules = RULES) -> Original:
    return open_original(path, rules, path.parent)


def codes(path: Path, rules: CheckRules = RULES) -> set[str]:
    try:
        with opened(path, rules) as original:
            original.overview(original.leaves[0])
            return {f.code for f in original.troubles}
    except Unreadable as error:
        return {error.finding.code}


def middle(path: Path) -> list[int]:
    with opened(path) as original:
        seen = original.overview(original.leaves[0])
    return [int(v) for v in seen[seen.shape[0] // 2, seen.shape[1] // 2]]


def tiff(tags: dict[int, tuple[int, int]], data: bytes, then: bytes = b"") -> bytes:
    """A little-endian TIFF of one page: tag -> (type, value); the pixels begin at byte 8 (TIFF 6.0 section 2)."""
    data += b"\0" * (len(data) % 2)
    index = struct.pack("<H", len(tags))
    for tag, (kind, value) in sorted(tags.items()):
        index += struct.pack("<HHI", tag, kind, 1) + struct.pack("<I", value)
    return b"II*\0" + struct.pack("<I", 8 + len(data)) + data + index + struct.pack("<I", 0) + then


def grey_tags(side: int = 64, **changed: int) -> dict[int, tuple[int, int]]:
    named = {"width": 256, "height": 257, "bits": 258, "compression": 259, "photometric": 262, "at": 273}
    named |= {"orientation": 274, "samples": 277, "rows": 278, "bytes": 279, "planes": 284, "kind": 339}
    values = {"width": side, "height": side, "bits": 8, "compression": 1, "photometric": 1, "at": 8, "samples": 1}
    values |= {"rows": side, "bytes": side * side}
    return {named[name]: (4, value) for name, value in (values | changed).items()}


# ---- cut off and changed -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FORMS)
def test_wherever_a_file_is_cut_it_is_told(tmp_path: Path, name: str) -> None:
    content = save(tmp_path / name, PICTURE, **FORMS[name]).read_bytes()
    kept = {len(content) * k // 24 for k in range(1, 24)} | {len(content) - k for k in (1, 2, 3, 4, 8, 11, 12, 13, 40)}
    silent = []
    for size in sorted(kept):
        (tmp_path / name).write_bytes(content[:size])
        if not codes(tmp_path / name) & {"truncated", "damaged", "not_a_picture"}:
            silent.append(size)
    assert silent == []


@pytest.mark.parametrize("name", FORMS)
def test_changed_bytes_are_told_where_pillow_tells_them(tmp_path: Path, name: str) -> None:
    """Pillow's full load is the other decoder. Bytes that no decoder misses are told by the digest alone."""
    content = save(tmp_path / name, PICTURE, **FORMS[name]).read_bytes()
    silent = []
    for number in range(32):
        at = len(content) * (2 * number + 1) // 64
        changed = bytearray(content)
        changed[at : at + 4] = bytes(b ^ 0xA5 for b in changed[at : at + 4])
        (tmp_path / name).write_bytes(changed)
        if not codes(tmp_path / name) & {"truncated", "damaged", "not_a_picture", "not_supported", "too_large"}:
            try:
                with warnings.catch_warnings(action="ignore"), Image.open(tmp_path / name) as image:
                    image.load()
            except (OSError, SyntaxError, ValueError) as error:
                silent.append((at, str(error)))
    assert silent == []


def test_an_end_mark_that_was_overwritten_is_missed(tmp_path: Path) -> None:
    """libvips reads no further than the last row. A preview in the header has an end mark too, and more may follow."""
    exif = Image.Exif()
    exif[0x010E] = "a preview \xff\xd9".encode("latin-1")
    path = tmp_path / "end.jpg"
    Image.fromarray(PICTURE).save(path, exif=exif)
    content = path.read_bytes()
    assert content.count(b"\xff\xd9") == 2 and codes(path) == set()
    path.write_bytes(content + bytes(100_000))
    assert codes(path) == set()
    path.write_bytes(content[:-1] + b"\x54")
    assert codes(path) == {"truncated"}


def test_a_page_that_lies_behind_the_end_of_the_file_is_missed(tmp_path: Path) -> None:
    pages = [Image.fromarray(scene(64, 64, n)) for n in range(3)]
    path = tmp_path / "pages.tif"
    pages[0].save(path, save_all=True, append_images=pages[1:])
    content = path.read_bytes()
    assert codes(path) == set()
    path.write_bytes(content[: len(content) * 2 // 5])
    assert codes(path) & {"truncated"}


# ---- absurd tags ---------------------------------------------------------------------------------------------------

ABSURD = {
    "no width": {"width": 0},
    "no height": {"height": 0},
    "all the width there is": {"width": 2**32 - 1},
    "all the size there is": {"width": 2**31, "height": 2**31},
    "no bits": {"bits": 0},
    "too many bits": {"bits": 65535},
    "no samples": {"samples": 0},
    "too many samples": {"samples": 65535},
    "a compression that is none": {"compression": 9999},
    "a colour that is none": {"photometric": 9999},
    "pixels behind the end": {"at": 2**31},
    "more bytes than there are": {"bytes": 2**31, "height": 4096, "rows": 4096},
    "no bytes": {"bytes": 0, "compression": 5},
    "no rows in a strip": {"rows": 0},
    "a lie about compression": {"compression": 5},
    "twelve bits": {"bits": 12},
    "half a float": {"bits": 24, "kind": 3},
}


@pytest.mark.parametrize("name", ABSURD)
def test_absurd_tags_are_refused_or_do_no_harm(tmp_path: Path, name: str) -> None:
    path = tmp_path / "absurd.tif"
    path.write_bytes(tiff(grey_tags(**ABSURD[name]), bytes(range(256)) * 16))
    try:
        with opened(path) as original:
            assert original.leaves[0].whole[2:] == (64, 64)
            assert original.overview(original.leaves[0]).shape == (64, 64, 3)
    except Unreadable as error:
        assert error.finding.code in {"truncated", "damaged", "not_supported", "not_a_picture", "too_large"}


def test_an_index_that_leads_to_itself_ends(tmp_path: Path) -> None:
    content = bytearray(tiff(grey_tags(), bytes(4096)))
    content[-4:] = content[4:8]
    (tmp_path / "loop.tif").write_bytes(content)
    assert codes(tmp_path / "loop.tif") <= {"odd_tags", "damaged"}


def test_a_tag_that_the_decoder_warns_of_is_no_damage(tmp_path: Path) -> None:
    """PageNumber with one value, where TIFF 6.0 section 12 has two."""
    path = tmp_path / "page.tif"
    path.write_bytes(tiff(grey_tags() | {297: (3, 3)}, bytes(range(256)) * 16))
    assert codes(path) == {"odd_tags"}


def test_what_is_said_of_a_file_does_not_depend_on_the_one_before(tmp_path: Path) -> None:
    """libvips keeps the words of a warning that was let pass until the next error."""
    content = bytearray(save(tmp_path / "before.jpg", PICTURE, Q=88).read_bytes())
    content[len(content) // 2 : len(content) // 2 + 4] = b"\xff\xd3\xff\xc4"
    (tmp_path / "before.jpg").write_bytes(content)
    (tmp_path / "after.tif").write_bytes(tiff(grey_tags() | {297: (3, 3)}, bytes(range(256)) * 16))
    assert codes(tmp_path / "before.jpg") == {"damaged"}
    assert codes(tmp_path / "after.tif") == {"odd_tags"}


def test_signed_numbers_are_not_read_as_if_they_were_none(tmp_path: Path) -> None:
    path = tmp_path / "signed.tif"
    path.write_bytes(tiff(grey_tags(kind=2), bytes(range(256)) * 16))
    assert codes(path) == {"not_supported"}


# ---- what has to be held whole -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["progressive.jpg", "interlaced.png", "lossy.webp", "one-strip.tif"])
def test_what_cannot_be_streamed_has_a_bound_of_its_own(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    large = scene(800, 600)
    if name == "one-strip.tif":
        Image.fromarray(large).save(path, compression="tiff_lzw", tiffinfo={278: 600})
    else:
        save(path, large, **FORMS[name])
    assert codes(path) == set()
    assert codes(path, RULES.model_copy(update={"whole_mb": 1})) == {"too_large"}


def test_a_large_scan_in_one_strip_is_read(tmp_path: Path) -> None:
    """More than the 50 MB in a strip that libtiff allows unless told otherwise."""
    noise = np.random.default_rng(5).integers(0, 256, (4000, 4500, 3), np.uint8)
    path = tmp_path / "one.tif"
    Image.fromarray(noise).save(path, compression="tiff_lzw", tiffinfo={278: 4000})
    with opened(path) as original:
        leaf = original.leaves[0]
        assert original.troubles == []
        assert np.array_equal(original.read(leaf, leaf.whole)[3900:], noise[3900:])


@pytest.mark.parametrize("name", ["base.jpg", "plain.png", "strips.tif", "tiles.tif"])
def test_what_is_streamed_has_not(tmp_path: Path, name: str) -> None:
    path = save(tmp_path / name, scene(800, 600), **FORMS[name])
    assert codes(path, RULES.model_copy(update={"whole_mb": 1})) == set()


# ---- rare but sound ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bits", [8, 16])
def test_lab(tmp_path: Path, bits: int) -> None:
    """L* = 50, a* = b* = 0 is Y = 0.1842 (CIE 15), which sRGB codes as 119 (IEC 61966-2-1). TIFF 6.0 section 23 has L*
    from 0 to 255 in 8 bits; the TIFF technical notes have it from 0 to 65535 in 16 (libtiff: to 65280)."""
    level = [127, 0, 0] if bits == 8 else [32640, 0, 0]
    data = np.tile(np.array(level, "<u1" if bits == 8 else "<u2"), (64, 64, 1)).tobytes()
    path = tmp_path / "lab.tif"
    path.write_bytes(tiff(grey_tags(photometric=8, samples=3, bits=bits, bytes=len(data)), data))
    assert np.abs(np.array(middle(path)) - 119).max() <= 2


def test_separate_planes_floats_and_opacity(tmp_path: Path) -> None:
    planes = np.stack([np.full((64, 64), v, np.uint8) for v in (200, 90, 30)]).tobytes()
    path = tmp_path / "planes.tif"
    tags = grey_tags(photometric=2, samples=3, planes=2, bytes=4096)
    strips = {273: struct.pack("<3I", 8, 8 + 4096, 8 + 8192), 279: struct.pack("<3I", 4096, 4096, 4096)}
    path.write_bytes(with_lists(tags, planes, strips))
    assert middle(path) == [200, 90, 30]
    grey = np.full((64, 64), 0.5, "<f4").tobytes()
    path.write_bytes(tiff(grey_tags(bits=32, kind=3, bytes=len(grey)), grey))
    assert np.abs(np.array(middle(path)) - 128).max() <= 1
    # half of a grey over white, stored as it is (ExtraSamples 2) or multiplied already (1): TIFF 6.0 section 18
    for extra, stored in ((2, 100), (1, 50)):
        half = np.tile(np.array([stored] * 3 + [128], np.uint8), (64, 64, 1)).tobytes()
        path.write_bytes(tiff(grey_tags(photometric=2, samples=4, bytes=len(half)) | {338: (3, extra)}, half))
        assert np.abs(np.array(middle(path)) - 177).max() <= 1


def with_lists(tags: dict[int, tuple[int, int]], data: bytes, lists: dict[int, bytes]) -> bytes:
    """The same as ``tiff``, some tags with several LONG values each."""
    content = data
    places = {}
    for tag, values in lists.items():
        places[tag] = (8 + len(content), len(values) // 4)
        content += values
    index = struct.pack("<H", len(tags))
    for tag, (kind, value) in sorted(tags.items()):
        at, count = places.get(tag, (value, 1))
        index += struct.pack("<HHII", tag, kind, count, at)
    return b"II*\0" + struct.pack("<I", 8 + len(content)) + content + index + struct.pack("<I", 0)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_no_orientation_turns_a_picture_and_each_is_reported(tmp_path: Path, orientation: int) -> None:
    """Pixels stay where they are stored, so that boxes hold; who shows the picture turns it, once."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    for name in ("a.jpg", "a.tif", "a.png"):
        Image.fromarray(PICTURE).save(tmp_path / name, exif=exif)
        with opened(tmp_path / name) as original:
            assert original.tags.orientation == orientation, name
            assert original.leaves[0].whole[2:] == (160, 120)
            seen = original.overview(original.leaves[0])
        assert np.abs(seen.astype(int) - PICTURE).mean() < 8


def test_tags_are_read_from_a_large_block(tmp_path: Path) -> None:
    """More than a file buffer of 8 kB, as with any thumbnail in it: libvips moves the place in the file meanwhile."""
    exif = Image.Exif()
    exif[0x010E], exif[0x011A], exif[0x011B], exif[0x0128] = "x" * 20_000, 317.0, 317.0, 2
    Image.fromarray(PICTURE).save(tmp_path / "a.jpg", exif=exif)
    with opened(tmp_path / "a.jpg") as original:
        assert original.tags.resolution.ppi == 317


def test_a_smaller_copy_within_a_tiff_is_no_page_of_its_own(tmp_path: Path) -> None:
    """NewSubfileType 1 (TIFF 6.0 section 8), as programs store a thumbnail."""
    first = bare_tiff(bytes(range(256)) * 16, 64, 64, 8, 1)
    index = struct.unpack_from("<I", first, 4)[0]
    small = struct.pack("<H", 10)
    values = {254: 1, 256: 32, 257: 32, 258: 8, 259: 1, 262: 1, 273: 8, 277: 1, 278: 32, 279: 1024}
    for tag, value in values.items():
        small += struct.pack("<HHII", tag, 4, 1, value)
    content = bytearray(first + small + struct.pack("<I", 0))
    content[len(first) - 4 : len(first)] = struct.pack("<I", len(first))
    assert index < len(first)
    (tmp_path / "a.tif").write_bytes(content)
    with opened(tmp_path / "a.tif") as original:
        assert [leaf.whole[2:] for leaf in original.leaves] == [(64, 64)]
        assert original.troubles == []
