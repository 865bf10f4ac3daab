"""Hard crops of one line each: every field under every condition, set, printed and scanned by the bench itself."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.design import GENRES, paint
from sample_batch.typeset import set_line
from tests.bench.reading_faces import Faces
from tests.bench.reading_words import FIELDS, Told, Words

Picture = NDArray[np.uint8]
Light = NDArray[np.float32]
# Cap heights in pixels: 5 pt capitals at the eight pixels a millimetre that the product asks of a margin are 10.
TINY_PX, SMALL_PX = (9.0, 13.0), (15.0, 34.0)
FINER = 4
SIDE_SEED = {"tune": 80_000, "report": 90_000}
# How a detector's quad lies round a line: grown by these shares of the line's height above, below and at both ends
# (5th to 95th percentile of the product's own on 60 lines of the side for tuning), its corners off by the last.
ABOVE, BELOW, ENDS, OFF = (0.12, 0.4), (0.12, 0.6), (0.1, 0.4), 0.03


@dataclass(frozen=True, slots=True)
class LineCrop:
    """``picture`` (h, w, 3) uint8 with the line on it; ``quad`` its corners in reading order, as a detector gives."""

    told: Told
    condition: str
    face: str
    cap_px: float
    picture: Picture
    quad: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Scene:
    """What a condition works on: the ink's cover (h, w), the ground (h, w, 3) in 0..1, and whether ink is light."""

    cover: Light
    ground: Light
    light: bool
    cap_px: float


def art_of(side: str, count: int = 5, seed: int = 0) -> list[Light]:
    """Paintings to print lines on, of a seed that belongs to the side."""
    first = SIDE_SEED[side] + seed * 100
    painted = (paint(s, GENRES[s % len(GENRES)], 1000, 800).pixels for s in range(first, first + count))
    return [pixels.astype(np.float32) / 255 for pixels in painted]


def _printed(scene: Scene, ink: float, strength: float = 1.0) -> Light:
    cover = scene.cover[..., None] * np.float32(strength)
    return scene.ground + (np.float32(ink) - scene.ground) * cover


def _plain(scene: Scene, _: np.random.Generator) -> Light:
    return _printed(scene, 0.95 if scene.light else 0.1)


def _low_contrast(scene: Scene, rng: np.random.Generator) -> Light:
    step = float(rng.uniform(0.07, 0.15))
    level = float(scene.ground.mean())
    return _printed(scene, level - step if level > 0.5 else level + step)


def _blurred(scene: Scene, rng: np.random.Generator) -> Light:
    return cv2.GaussianBlur(_plain(scene, rng), (0, 0), scene.cap_px * float(rng.uniform(0.08, 0.14)))


def _screened(scene: Scene, rng: np.random.Generator) -> Light:
    """Letters that are a tint, printed as round dots (a screen of 5 to 8 lines to the cap height)."""
    tint = cv2.GaussianBlur(scene.cover, (0, 0), 0.4) * float(rng.uniform(0.6, 0.85)) + 0.08
    high, wide = tint.shape
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    pitch, angle = scene.cap_px / float(rng.uniform(5, 8)), math.radians(float(rng.choice([15, 45, 75])))
    u = (x * math.cos(angle) + y * math.sin(angle)) / pitch
    v = (y * math.cos(angle) - x * math.sin(angle)) / pitch
    spot = 0.5 + 0.25 * (np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v))
    dots = np.clip((tint - spot) * pitch * 1.2 + 0.5, 0, 1).astype(np.float32)
    return scene.ground + (np.float32(0.12) - scene.ground) * dots[..., None]


def _folded(scene: Scene, rng: np.random.Generator) -> Light:
    """A crease across the line: paper shifted, one side shaded, and ink flaked off along it."""
    seen = _plain(scene, rng)
    high, wide = seen.shape[:2]
    slope = float(rng.uniform(-0.5, 0.5)) if rng.random() < 0.7 else float(rng.uniform(8, 20))
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    at = float(rng.uniform(0.25, 0.75))
    away = (x - at * wide + slope * (y - high / 2)) / math.hypot(1, slope)
    shift = np.where(away > 0, scene.cap_px * float(rng.uniform(0.05, 0.15)), 0).astype(np.float32)
    seen = cv2.remap(seen, x, y + shift, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = seen * (1 - 0.25 * np.exp(-np.maximum(away, 0) / (scene.cap_px * 1.5)) * (away > 0))[..., None]
    ragged = cv2.GaussianBlur(rng.normal(0, 1, (high, wide)).astype(np.float32), (0, 0), 1.5) * scene.cap_px * 0.25
    bare = np.clip((scene.cap_px * float(rng.uniform(0.06, 0.14)) - np.abs(away + ragged)) / 1.5, 0, 1)
    return seen + (np.float32(0.93) - seen) * bare[..., None].astype(np.float32)


CONDITIONS: Mapping[str, Callable[[Scene, np.random.Generator], Light]] = {
    "clean": _plain,
    "tiny": _plain,
    "blur": _blurred,
    "halftone": _screened,
    "jpeg": _plain,
    "low contrast": _low_contrast,
    "over art": _plain,
    "white on dark": _plain,
    "skew": _plain,
    "fold": _folded,
    "vertical": _plain,
}


def line_crop(told: Told, condition: str, faces: Faces, art: Sequence[Light], rng: np.random.Generator) -> LineCrop:
    """Set, print and scan one line."""
    options = faces.display if told.field == "title" else faces.small_for(told.text)
    face = options[int(rng.integers(len(options)))]
    low, high = TINY_PX if condition == "tiny" else SMALL_PX
    cap = float(np.exp(rng.uniform(math.log(low), math.log(high))))
    ink = set_line(told.text, cap * FINER, face, float(rng.choice([0.0, 0.0, 0.0, 0.06])))
    angle = float(rng.choice([-1, 1]) * rng.uniform(2, 7)) if condition == "skew" else float(rng.normal(0, 0.25))
    cover, quad = _placed(ink, angle, cap)
    scene = _scene(cover, condition, told, art, rng, cap)
    seen = cv2.GaussianBlur(CONDITIONS[condition](scene, rng), (0, 0), float(rng.uniform(0.4, 0.7)))
    seen = seen + rng.normal(0, rng.uniform(0.006, 0.016), (*cover.shape, 1)).astype(np.float32)
    picture = np.clip(seen * 255 + 0.5, 0, 255).astype(np.uint8)
    if condition == "jpeg":
        quality = int(rng.integers(14, 32))
        packed = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
        picture = cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1]
    quad = _as_detected(quad, rng)
    if condition == "vertical":
        picture, quad = _on_end(picture, quad, bool(rng.random() < 0.5))
    return LineCrop(told, condition, face, cap, np.ascontiguousarray(picture), quad)


def _placed(ink: Light, angle_deg: float, cap: float) -> tuple[Light, NDArray[np.float32]]:
    """The ink at its size, turned by ``angle_deg`` on a field with ground round it; and its corners there."""
    high, wide = ink.shape
    pad = int(cap * 1.3) * FINER
    lean = abs(math.sin(math.radians(angle_deg)))
    size = (wide + 2 * pad) // FINER * FINER, int(high + 2 * pad + lean * wide) // FINER * FINER
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), angle_deg, 1.0)
    matrix[:, 2] += (size[0] / 2 - wide / 2, size[1] / 2 - high / 2)
    field = cv2.warpAffine(ink, matrix, size, flags=cv2.INTER_LINEAR)
    corners = np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float32)
    quad = cv2.transform(corners, matrix)[0] / FINER
    return cv2.resize(field, (size[0] // FINER, size[1] // FINER), interpolation=cv2.INTER_AREA), quad


def _scene(
    cover: Light, condition: str, told: Told, art: Sequence[Light], rng: np.random.Generator, cap: float
) -> Scene:
    high, wide = cover.shape
    if condition == "over art":
        picture = art[int(rng.integers(len(art)))]
        zoom = max(1.0, (wide + 2) / picture.shape[1], (high + 2) / picture.shape[0])
        picture = cv2.resize(picture, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC)
        tops, lefts = (rng.integers(s - size, size=8) for s, size in zip(picture.shape, cover.shape, strict=False))
        patches = [picture[t : t + high, x : x + wide] for t, x in zip(tops, lefts, strict=True)]
        ground = np.ascontiguousarray(max(patches, key=_business))
        return Scene(cover, ground, float(np.median(ground)) < 0.5, cap)
    on_film = told.field == "edge print" and condition not in ("halftone", "low contrast")
    dark = condition == "white on dark" or on_film
    level = rng.uniform(0.05, 0.25) if dark else rng.uniform(0.78, 0.96)
    tint = np.clip(level + rng.uniform(-0.06, 0.04, 3), 0, 1).astype(np.float32)
    return Scene(cover, np.broadcast_to(tint, (high, wide, 3)).astype(np.float32), dark, cap)


def _business(patch: Light) -> float:
    return float(patch.mean(axis=2).std())


def _as_detected(quad: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    along, down = quad[1] - quad[0], quad[3] - quad[0]
    high = float(np.linalg.norm(down))
    along, down = along / np.linalg.norm(along), down / high
    left, right = rng.uniform(*ENDS, 2) * high
    above, below = rng.uniform(*ABOVE) * high, rng.uniform(*BELOW) * high
    moved = [(-left, -above), (right, -above), (right, below), (-left, below)]
    grown = np.array([q + along * a + down * d for q, (a, d) in zip(quad, moved, strict=True)])
    return (grown + rng.normal(0, OFF * high, (4, 2))).astype(np.float32)


def _on_end(picture: Picture, quad: NDArray[np.float32], upward: bool) -> tuple[Picture, NDArray[np.float32]]:
    high, wide = picture.shape[:2]
    x, y = quad[:, 0], quad[:, 1]
    moved = np.stack([y, wide - x] if upward else [high - y, x], axis=1)
    return np.rot90(picture, 1 if upward else -1), moved.astype(np.float32)


def line_crops(count: int, side: str, seed: int, faces: Faces, art: Sequence[Light]) -> list[LineCrop]:
    """``count`` crops that go round all fields and conditions; crop n of a seed is always the same."""
    made = []
    cells = [(f, c) for c in CONDITIONS for f in FIELDS]
    order = np.random.default_rng([seed, 1]).permutation(len(cells))
    for number in range(count):
        field, condition = cells[int(order[number % len(cells)])]
        rng = np.random.default_rng([seed, SIDE_SEED[side], number])
        made.append(line_crop(FIELDS[field](Words(side, rng)), condition, faces, art, rng))
    return made
