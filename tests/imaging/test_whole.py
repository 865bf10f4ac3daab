"""JPEG 2000: written by Pillow and OpenCV, put together by hand after ISO/IEC 15444-1, and broken."""

import struct
from pathlib import Path

import cv2
import numpy as np
import pytest
import pyvips
from PIL import Image

from intake.config.check import CheckRules
from intake.imaging.original import Original, Unreadable, open_original
from intake.model import PartFound, PartKey
from tests.imaging.pictures import scene
from tests.made import CONFIG, section

RULES = section(CheckRules, CONFIG / "check.toml")
PICTURE = scene(320, 240)


def opened(path: Path, rules: CheckRules = RULES) -> Original:
    return open_original(path, rules, path.parent)


def refusal(path: Path, rules: CheckRules = RULES) -> str:
    with pytest.raises(Unreadable) as caught:
        opened(path, rules)
    return caught.value.finding.code


def box(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I4s", 8 + len(content), kind) + content


def jp2(codestream: bytes, colour: bytes, extra: bytes = b"") -> bytes:
    """A file around a codestream of three channels of 8 bits (Annex I)."""
    image = box(b"ihdr", struct.pack(">IIHBBBB", *PICTURE.shape[:2], 3, 7, 7, 0, 0))
    header = box(b"jp2h", image + box(b"colr", colour) + extra)
    signature = box(b"jP  ", b"\r\n\x87\n") + box(b"ftyp", b"jp2 \0\0\0\0jp2 ")
    return signature + header + box(b"jp2c", codestream)


def codestream(folder: Path) -> bytes:
    Image.fromarray(PICTURE).save(folder / "bare.j2k")
    return (folder / "bare.j2k").read_bytes()


@pytest.mark.parametrize("name", ["a.jp2", "a.j2k"])
@pytest.mark.parametrize("options", [{}, {"tile_size": (128, 128)}, {"num_resolutions": 2}])
def test_what_pillow_writes_without_loss_comes_back(tmp_path: Path, name: str, options: dict[str, object]) -> None:
    Image.fromarray(PICTURE).save(tmp_path / name, **options)
    with opened(tmp_path / name) as original:
        leaf = original.leaves[0]
        assert (original.file_format, leaf.bits, leaf.colour) == ("JPEG 2000", 8, "RGB")
        assert np.array_equal(original.read(leaf, leaf.whole), PICTURE)
        assert original.troubles == []


def test_sixteen_bits_stay_sixteen(tmp_path: Path) -> None:
    ramp = np.tile(np.linspace(0, 65535, 1024).astype(np.uint16), (64, 1))
    lossless = [cv2.IMWRITE_JPEG2000_COMPRESSION_X1000, 1000]
    for name, pixels in (("grey.jp2", ramp), ("rgb.jp2", np.dstack([ramp, ramp[:, ::-1], ramp]))):
        cv2.imwrite(str(tmp_path / name), pixels, lossless)
        with opened(tmp_path / name) as original:
            leaf = original.leaves[0]
            page = original.page(PartKey("d", 1), PartFound(1, 0, leaf.whole))
            assert leaf.bits == 16 and page.deep is not None
            assert (
                np.abs(page.deep.astype(int) - (pixels if pixels.ndim == 3 else ramp[..., None])[..., ::-1]).max() < 8
            )


def test_its_profile_and_its_resolution(tmp_path: Path) -> None:
    """Colour box of method 2 (I.5.3.3); capture resolution in pixels to the metre, 11811 = 300 ppi (I.5.3.7.1)."""
    wide = pyvips.Image.new_from_array(PICTURE, interpretation="srgb").icc_transform("p3", input_profile="srgb")
    Image.fromarray(wide.numpy()).save(tmp_path / "bare.j2k")
    bare = (tmp_path / "bare.j2k").read_bytes()
    resolution = box(b"res ", box(b"resc", struct.pack(">4H2b", 11811, 1, 11811, 1, 0, 0)))
    path = tmp_path / "p3.jp2"
    path.write_bytes(jp2(bare, b"\2\0\0" + wide.get("icc-profile-data"), resolution))
    with opened(path) as original:
        seen = original.overview(original.leaves[0]).astype(int)
        assert np.abs(seen - PICTURE).mean() < 1.5 < np.abs(wide.numpy().astype(int) - PICTURE).mean()
        assert original.tags.resolution.ppi == pytest.approx(300, abs=0.1)


def test_wherever_it_is_cut_it_is_truncated(tmp_path: Path) -> None:
    whole = jp2(codestream(tmp_path), b"\1\0\0" + struct.pack(">I", 16))
    path = tmp_path / "cut.jp2"
    path.write_bytes(whole)
    with opened(path) as original:
        assert original.troubles == []
    for kept in [len(whole) * k // 20 for k in range(1, 20)] + [len(whole) - k for k in (1, 2, 3, 9)]:
        path.write_bytes(whole[:kept])
        assert refusal(path) == "truncated", kept


def test_what_is_not_read_and_what_is_too_much(tmp_path: Path) -> None:
    Image.fromarray(np.dstack([PICTURE, PICTURE[..., 0]])).save(tmp_path / "alpha.jp2")
    assert refusal(tmp_path / "alpha.jp2") == "not_supported"
    bare = codestream(tmp_path)
    path = tmp_path / "odd.jp2"
    path.write_bytes(jp2(bare, b"\1\0\0" + struct.pack(">I", 14)))  # CIELab
    assert refusal(path) == "not_supported"
    path.write_bytes(jp2(bare, b"\1\0\0" + struct.pack(">I", 16), box(b"pclr", bytes(16))))
    assert refusal(path) == "not_supported"
    path.write_bytes(bare)
    assert refusal(path, RULES.model_copy(update={"whole_mb": 1})) == "too_large"
    path.write_bytes(bare[:8] + struct.pack(">2I", 2**31, 2**31) + bare[16:])
    assert refusal(path) == "too_large"
    path.write_bytes(bare[:8] + struct.pack(">4I", 100, 100, 200, 200) + bare[24:])
    assert refusal(path) in {"damaged", "not_a_picture"}
    path.write_bytes(bare[:30])
    assert refusal(path) == "truncated"


def test_headers_at_random_break_nothing(tmp_path: Path) -> None:
    whole = jp2(codestream(tmp_path), b"\1\0\0" + struct.pack(">I", 16))
    rng = np.random.default_rng(4)
    path = tmp_path / "odd.jp2"
    for _ in range(60):
        changed = bytearray(whole)
        for at in rng.integers(12, 240, 3):
            changed[at] = int(rng.integers(0, 256))
        path.write_bytes(changed)
        try:
            opened(path).close()
        except Unreadable as error:
            assert error.finding.code in {"truncated", "damaged", "not_supported", "not_a_picture", "too_large"}
