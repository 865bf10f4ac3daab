"""Negatives of known art for the positives bench: every figure is drawn, wider than the sample batch has it.

The sample's forward model holds (light, log exposure, film curve with toe and shoulder, density over the base, lamp),
but gammas cross from channel to channel, dyes absorb a little of the next channel's light, lamps are off balance,
exposures are off, and one film in four is scanned without its rebate.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from sample_batch.art.design import GENRES, paint
from sample_batch.light import cloud, grain, to_linear, to_srgb

LONG_PX = 480
SORTS = ("colour", "colour", "colour", "mono", "line")
Light = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Negative:
    """``scan`` is (h, w, 3) of 8 or 16 bits, ``art`` what it shows, (h, w, 3) sRGB in 0..1, ``frame`` the exposed area.

    ``into`` carries pixels of the art into the scan (3 x 3); ``frame`` is left, top, right, bottom there.
    """

    sort: str
    scan: NDArray[np.uint8] | NDArray[np.uint16]
    art: Light
    into: NDArray[np.float64]
    frame: tuple[int, int, int, int]
    rebate: bool


def negative(seed: int) -> Negative:
    """Negative number ``seed``, always the same."""
    rng = np.random.default_rng([seed, 4])
    sort = SORTS[seed % len(SORTS)]
    art = _art(rng, sort)
    frame, into, frame_px = _copied(rng, art)
    light = frame * np.float32(10 ** rng.normal(0, 0.06, 3)) * _lamps(rng, frame.shape[:2])
    seen = cv2.GaussianBlur(light, (0, 0), float(rng.uniform(0.4, 0.9))) + np.float32(rng.uniform(0.003, 0.025))
    rebate = bool(rng.random() < 0.75)
    side, end = (round(LONG_PX * rng.uniform(0.02, 0.06)) if rebate else 0 for _ in range(2))
    density, base = _developed(rng, sort, seen)
    whole = np.empty((density.shape[0] + 2 * end, density.shape[1] + 2 * side, 3), np.float32)
    whole[:] = base
    whole[end : end + density.shape[0], side : side + density.shape[1]] = density
    if rebate and rng.random() < 0.7:  # edge print, as dark as an exposed place
        at = (max(2, side // 4), end + 40)
        letters = np.zeros(whole.shape[:2], np.uint8)
        cv2.putText(letters, "KV 7314", at, cv2.FONT_HERSHEY_SIMPLEX, side / 60, 255, 1, cv2.LINE_AA)
        whole += letters[..., None] / np.float32(255) * np.float32(rng.uniform(0.4, 1.0))
    whole = _grained(rng, whole, sort)
    scan, moved = _scanned(rng, whole)
    place = np.array([[1, 0, side], [0, 1, end], [0, 0, 1.0]])
    corners = (moved @ np.array([[side, end, 1], [side + density.shape[1], end + density.shape[0], 1]]).T)[:2].T
    (left, top), (right, bottom) = np.round(corners).astype(int)
    inner = (
        max(0, left + frame_px // 4), max(0, top + frame_px // 4),
        min(scan.shape[1], right - frame_px // 4), min(scan.shape[0], bottom - frame_px // 4),
    )  # fmt: skip
    return Negative(sort, scan, art, moved @ place @ into, inner, rebate)


def _art(rng: Generator, sort: str) -> Light:
    """A painting; in grey for film that sees no colour; drawn in black and white for line film."""
    seed, genre = int(rng.integers(1, 2**31)), GENRES[int(rng.integers(len(GENRES)))]
    wide = int(LONG_PX * rng.uniform(0.66, 0.78))
    size = (wide, LONG_PX) if rng.random() < 0.7 else (LONG_PX, wide)
    painted = paint(seed, genre, *size).pixels.astype(np.float32) / 255
    if sort == "colour":
        return painted
    weights = rng.dirichlet((6, 11, 4)).astype(np.float32)
    grey = to_srgb(to_linear(painted) @ weights)
    if sort == "line":
        away = grey - cv2.GaussianBlur(grey, (0, 0), 14)
        grey = 0.05 + 0.87 / (1 + np.exp(-away / 0.012)).astype(np.float32)
    return np.repeat(grey[..., None], 3, axis=2)


def _copied(rng: Generator, art: Light) -> tuple[Light, NDArray[np.float64], int]:
    """Linear light in the camera's frame: the art, a little askew on its ground; and the matrix from art to frame."""
    high, wide = art.shape[:2]
    air = round(LONG_PX * rng.uniform(0.01, 0.08))
    ground = np.clip(rng.uniform(0.02, 0.75) + rng.normal(0, 0.02, 3), 0.01, 0.9)
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), float(rng.normal(0, 0.4)), 1.0)
    matrix[:, 2] += air
    frame = cv2.warpAffine(
        to_linear(art), matrix, (wide + 2 * air, high + 2 * air), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT, borderValue=tuple(float(v) for v in ground),
    )  # fmt: skip
    return np.asarray(frame, np.float32), np.vstack([matrix, (0, 0, 1)]), air


def _lamps(rng: Generator, shape: tuple[int, int]) -> Light:
    """Fall-off to the corners, and one lamp a little stronger than the other."""
    y, x = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j].astype(np.float32)
    fall = 1 - np.float32(rng.uniform(0, 0.16)) * (x * x + y * y) / 2
    return np.asarray((fall * (1 + np.float32(rng.normal(0, 0.03)) * x))[..., None], np.float32)


def _developed(rng: Generator, sort: str, light: Light) -> tuple[Light, Light]:
    """Densities of the exposed film, and those of its base."""
    if sort == "colour":
        gammas = rng.uniform(0.5, 0.72) * (1 + rng.normal(0, 0.05, 3))
        masked = rng.random() < 0.85
        base = rng.uniform((0.12, 0.42, 0.72), (0.32, 0.75, 1.1)) if masked else rng.uniform(0.1, 0.3, 3)
        leaks = np.eye(3) + rng.uniform(0, 0.08, (3, 3)) * (1 - np.eye(3))
        faded = 1 - rng.uniform(0, 0.2, 3) * (rng.random() < 0.25)
    else:
        light = np.repeat(light.mean(axis=2, keepdims=True), 3, axis=2)
        gammas = np.full(3, rng.uniform(0.5, 0.8) if sort == "mono" else rng.uniform(2.2, 3.6))
        base = rng.uniform(0.06, 0.32) + rng.normal(0, 0.012, 3)
        leaks, faded = np.eye(3), np.ones(3)
    latitude = rng.uniform(1.6, 2.15) if sort != "line" else rng.uniform(0.7, 1.0)
    exposure = np.log10(np.maximum(light, 1e-5)) + latitude + rng.normal(0, 0.1)
    toe = float(rng.uniform(0.06, 0.2))
    image = gammas * toe * np.logaddexp(0, exposure / toe)
    shoulder = float(rng.uniform(1.5, 2.3) if sort != "line" else rng.uniform(2.2, 3.2))
    image = image / (1 + (image / shoulder) ** 6) ** (1 / 6)
    return np.asarray(base + (image @ leaks.T) * faded, np.float32), base.astype(np.float32)


def _grained(rng: Generator, density: Light, sort: str) -> Light:
    shape = density.shape[:2]
    amount = float(rng.uniform(0.005, 0.015)) * np.sqrt(np.maximum(density, 0.02))
    noise = grain(rng, shape, 0.6)[..., None] * amount
    if sort == "colour":
        noise = noise + np.stack([grain(rng, shape, 0.6) for _ in range(3)], axis=2) * amount * 0.5
    return np.maximum(density + noise + (cloud(rng, shape, min(shape) * 0.5) * 0.008)[..., None], 0)


def _scanned(rng: Generator, density: Light) -> tuple[NDArray[np.uint8] | NDArray[np.uint16], NDArray[np.float64]]:
    """The film on a lamp, in a black mask or cut to its edge, as the file has it; and the matrix from film to scan."""
    light = 10.0**-density
    pad = round(LONG_PX * rng.uniform(0.02, 0.07)) if rng.random() < 0.7 else 0
    lamp = 1.0 if rng.random() < 0.75 else 0.012
    size = (density.shape[1] + 2 * pad, density.shape[0] + 2 * pad)
    matrix = cv2.getRotationMatrix2D(
        (density.shape[1] / 2, density.shape[0] / 2), float(rng.normal(0, 0.5)) * (pad > 0), 1.0
    )
    matrix[:, 2] += pad
    laid = cv2.warpAffine(
        light.astype(np.float32), matrix, size, flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT if pad else cv2.BORDER_REPLICATE, borderValue=(lamp,) * 3,
    )  # fmt: skip
    warmth = float(rng.normal(0, 0.02))
    gain = rng.uniform(0.86, 0.99) * np.float32([1 + warmth, 1, 1 - warmth])
    coded = to_srgb(laid * gain)
    coded = np.clip(coded + grain(rng, coded.shape[:2], 0.4)[..., None] * rng.uniform(0.0005, 0.004), 0, 1)
    back = np.vstack([matrix, (0, 0, 1)])
    if rng.random() < 0.5:
        return np.asarray(coded * 65535 + 0.5, np.uint16), back
    eight = np.asarray(coded * 255 + 0.5, np.uint8)
    if rng.random() < 0.6:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(80, 96))]
        packed = cv2.imencode(".jpg", np.ascontiguousarray(eight[..., ::-1]), quality)[1]
        eight = np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1])
    return eight, back
