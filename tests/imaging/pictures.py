"""Pictures for the tests of the arrival check, made in memory: sound ones in every form, and damaged ones."""

import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pyvips
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]


def scene(width: int, height: int, seed: int = 0) -> Rgb:
    """A picture with areas, edges and a little grain, (height, width, 3)."""
    rng = np.random.default_rng(seed)
    patches = rng.integers(30, 225, (6, 8, 3)).astype(np.uint8)
    ground = cv2.resize(patches, (width, height), interpolation=cv2.INTER_CUBIC)
    for _ in range(24):
        x, y = int(rng.integers(0, width)), int(rng.integers(0, height))
        size = int(rng.integers(4, max(5, min(width, height) // 5)))
        colour = tuple(int(v) for v in rng.integers(0, 255, 3))
        cv2.rectangle(ground, (x, y), (x + size, y + size), colour, -1)
    noise = rng.normal(0, 2.0, ground.shape)
    return np.clip(ground + noise, 0, 255).astype(np.uint8)


def on_bed(
    piece: Rgb, bed: tuple[int, int, int], margin: tuple[int, int], angle_deg: float = 0.0, shadow: bool = False
) -> tuple[Rgb, NDArray[np.float64]]:
    """Lay ``piece`` on a bed. Return the scan and the true corners, clockwise from the top left, in pixels."""
    high, wide = piece.shape[:2]
    size = (wide + 2 * margin[0], high + 2 * margin[1])
    turn = np.vstack([cv2.getRotationMatrix2D((wide / 2, high / 2), angle_deg, 1.0), [0, 0, 1]])
    matrix = np.array([[1, 0, margin[0]], [0, 1, margin[1]], [0, 0, 1.0]]) @ turn
    ground = np.empty((size[1], size[0], 3), np.float32)
    ground[:] = bed
    ground += np.random.default_rng(1).normal(0, 1.0, ground.shape).astype(np.float32)
    cover = cv2.warpPerspective(np.ones((high, wide), np.float32), matrix, size)
    if shadow:
        fall = cv2.GaussianBlur(np.roll(cover, (5, 4), (0, 1)), (0, 0), 5.0)
        ground *= (1 - 0.4 * fall)[..., None]
    laid = cv2.warpPerspective(piece.astype(np.float32), matrix, size, borderMode=cv2.BORDER_REPLICATE)
    out = ground + (laid - ground) * cover[..., None]
    corners = cv2.perspectiveTransform(np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float64), matrix)[0]
    return np.clip(out, 0, 255).astype(np.uint8), corners


def save(path: Path, pixels: NDArray[np.uint8] | NDArray[np.uint16], **options: object) -> Path:
    """Write by the ending of ``path`` with libvips; ``interpretation`` among the options names the colour."""
    interpretation = options.pop("interpretation", None) or ("rgb16" if pixels.dtype == np.uint16 else "srgb")
    image = pyvips.Image.new_from_array(np.ascontiguousarray(pixels), interpretation=interpretation)
    image.write_to_file(str(path), **options)
    return path


def bare_tiff(
    data: bytes, width: int, height: int, bits: int, photometric: int, extra: tuple[tuple[int, ...], ...] = ()
) -> bytes:
    """A one-strip little-endian TIFF with just the tags of TIFF 6.0 section 4 (bilevel and grey images)."""
    data += b"\0" * (len(data) % 2)
    tags = [
        (256, 4, 1, width),
        (257, 4, 1, height),
        (258, 3, 1, bits),
        (259, 3, 1, 1),
        (262, 3, 1, photometric),
        (273, 4, 1, 8),
        (277, 3, 1, 1),
        (278, 4, 1, height),
        (279, 4, 1, len(data)),
        *extra,
    ]
    tags.sort()
    index = struct.pack("<H", len(tags)) + b"".join(struct.pack("<HHII", *tag) for tag in tags) + struct.pack("<I", 0)
    return b"II*\0" + struct.pack("<I", 8 + len(data)) + data + index


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims any size (PNG specification, IHDR chunk)."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body
