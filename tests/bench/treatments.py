"""What happens to a picture in an agency: film, proof, separation, sheet, another version, a photo by hand.

Every figure is drawn from the generator given. Of the sample batch only its paintings are used, not its film and press,
so that neither is tuned on the other.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
WORDS = [
    "HARROW",
    "VESPER",
    "LANTERN",
    "QUILL",
    "MERIDIAN",
    "TUMBLE",
    "OXBOW",
    "CINDER",
    "PALISADE",
    "FATHOM",
    "BRINE",
    "THIMBLE",
    "GANTRY",
    "SORREL",
]


@dataclass(frozen=True, slots=True)
class Layout:
    """A title treatment and billing block that several designs of a campaign bear."""

    name: str
    title: str
    lines: tuple[str, ...]
    ink: tuple[int, int, int]
    title_at: float
    band: bool


def make_layout(name: str, rng: np.random.Generator) -> Layout:
    title = " ".join(rng.choice(WORDS, 2))
    lines = tuple(" ".join(rng.choice(WORDS, 9)) for _ in range(4))
    ink = tuple(int(v) for v in rng.choice([(235, 230, 40), (240, 240, 240), (200, 30, 20), (20, 20, 20)]))
    return Layout(name, title, lines, ink, float(rng.choice([0.1, 0.74])), bool(rng.random() < 0.5))


def resized(picture: Picture, long_px: int) -> Picture:
    scale = long_px / max(picture.shape[:2])
    return cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)


def _noisy(picture: NDArray[np.float32], rng: np.random.Generator, sigma: float, soft: float = 0.0) -> Picture:
    grain = rng.normal(0, 1, picture.shape[:2]).astype(np.float32)
    if soft:
        grain = cv2.GaussianBlur(grain, (0, 0), soft)
        grain /= grain.std()
    return np.clip(picture + grain[..., None] * sigma, 0, 255).astype(np.uint8)


def _cropped(picture: Picture, rng: np.random.Generator, most: float) -> Picture:
    h, w = picture.shape[:2]
    left, right, t, b = rng.uniform(0, most, 4)
    return picture[int(t * h) : h - int(b * h), int(left * w) : w - int(right * w)]


def _bordered(picture: Picture, colour: tuple[int, ...], share: float) -> Picture:
    n = int(max(picture.shape[:2]) * share)
    return cv2.copyMakeBorder(picture, n, n, n, n, cv2.BORDER_CONSTANT, value=colour)


def negative(art: Picture, rng: np.random.Generator, colour: bool) -> Picture:
    light = (art.astype(np.float32) / 255) ** 2.2 + 0.012
    density = float(rng.uniform(0.5, 0.75)) * np.log10(light / 0.012)
    density = density / (1 + (density / 1.7) ** 6) ** (1 / 6)
    base = np.float32([0.2, 0.6, 0.9]) if colour else np.float32([0.16] * 3)
    if not colour:
        density = density @ np.float32([[0.2], [0.6], [0.2]])
    coded = 255 * (0.97 * 10.0 ** -(density + base)) ** (1 / 2.2)
    seen = _noisy(_cropped(coded, rng, 0.04), rng, 4, 0.8)
    rebate = tuple(float(v) for v in 255 * (0.97 * 10.0**-base) ** (1 / 2.2))
    framed = _bordered(seen, rebate, 0.05)
    edge = f"{rng.choice(WORDS)} SAFETY {rng.integers(10, 99)}"
    cv2.putText(framed, edge, (40, int(max(art.shape[:2]) * 0.035)), 0, 0.7, (60, 40, 20), 2, cv2.LINE_AA)
    return _bordered(framed, (250, 250, 250) if rng.random() < 0.5 else (12, 12, 12), 0.02)


def proof(art: Picture, rng: np.random.Generator) -> Picture:
    seen = _cropped(art, rng, 0.03).astype(np.float32)
    y, x = np.mgrid[: seen.shape[0], : seen.shape[1]].astype(np.float32)
    screen = np.sin(x * 1.9 + y * 0.9) * np.sin(y * 1.9 - x * 0.9)
    printed = _noisy(seen + 22 * screen[..., None], rng, 3)
    framed = _bordered(printed, (244, 242, 236), 0.07)
    for n, ink in enumerate([(0, 160, 220), (220, 20, 130), (245, 225, 20), (25, 25, 25)] * 3):
        at = (int(framed.shape[1] * 0.2) + n * 34, 12)
        cv2.rectangle(framed, at, (at[0] + 30, 42), ink, -1)
    return framed


def separation(art: Picture, rng: np.random.Generator) -> Picture:
    ink = 255 - art[..., int(rng.integers(3))]
    seen = 255 - ink if rng.random() < 0.5 else ink
    return _bordered(cv2.cvtColor(_cropped(seen, rng, 0.02), cv2.COLOR_GRAY2RGB), (225, 228, 230), 0.06)


def sheet(art: Picture, layout: Layout, rng: np.random.Generator) -> Picture:
    """A printed sheet: the art cropped, with title, billing block and folds in the layout."""
    page = cv2.resize(_cropped(art, rng, 0.1), (900, 1330), interpolation=cv2.INTER_AREA)
    aspect = art.shape[1] / art.shape[0]
    if aspect > 1:
        page = np.full((1330, 900, 3), 240, np.uint8)
        high = int(900 / aspect)
        page[200 : 200 + high] = cv2.resize(art, (900, high), interpolation=cv2.INTER_AREA)
    if layout.band:
        page[1110:] = (238, 236, 226)
    top = int(layout.title_at * 1330)
    cv2.putText(page, layout.title, (40, top + 60), 3, 1.9, layout.ink, 7, cv2.LINE_AA)
    for n, line in enumerate(layout.lines):
        ink = (30, 30, 30) if layout.band else layout.ink
        cv2.putText(page, line, (60, 1150 + n * 38), 2, 0.62, ink, 1, cv2.LINE_AA)
    seen = page.astype(np.float32)
    seen = seen * rng.uniform(0.75, 1.0) + rng.uniform(0, 35)
    for share in (0.25, 0.5, 0.75)[:: int(rng.integers(1, 3))]:
        at = int(1330 * share)
        seen[at - 2 : at + 2] = seen[at - 2 : at + 2] * 0.3 + 160
    return _bordered(_noisy(seen, rng, 4), (236, 232, 220), float(rng.choice([0.0, 0.03])))


def variant(art: Picture, rng: np.random.Generator) -> Picture:
    """Another version of the painting: elements scaled and moved, a strip pasted, other palette and brush."""
    seen = cv2.bilateralFilter(art, 7, 40, 5)
    h, w = seen.shape[:2]
    for _ in range(3):
        ew, eh = int(w * rng.uniform(0.12, 0.25)), int(h * rng.uniform(0.12, 0.25))
        x, y = int(rng.uniform(0, w - ew)), int(rng.uniform(0, h - eh))
        factor = rng.uniform(1.1, 1.4)
        patch = cv2.resize(seen[y : y + eh, x : x + ew], None, fx=factor, fy=factor)
        dx, dy = rng.integers(-30, 30, 2)
        px, py = int(np.clip(x + dx, 0, w - patch.shape[1] - 1)), int(np.clip(y + dy, 0, h - patch.shape[0] - 1))
        if px >= 0 and py >= 0:
            seen[py : py + patch.shape[0], px : px + patch.shape[1]] = patch
    x, y = int(rng.uniform(0, w * 0.8)), int(rng.uniform(0, h * 0.8))
    seen[y : y + int(h * 0.07), x : x + int(w * 0.16)] = 25
    at = int(rng.uniform(0.1, 0.8) * h)
    seen[at : at + int(h * 0.09), : int(w * rng.uniform(0.5, 1))] = (232, 228, 214)
    hsv = cv2.cvtColor(seen, cv2.COLOR_RGB2HSV)
    hsv[..., 0] = (hsv[..., 0].astype(int) + int(rng.integers(-14, 14))) % 180
    seen = cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB)
    return _noisy(_cropped(cv2.GaussianBlur(seen, (0, 0), 1.2), rng, 0.05).astype(np.float32), rng, 3, 1.5)


def phone(picture: Picture, rng: np.random.Generator) -> Picture:
    """Photographed by hand: perspective, uneven light, blur, noise, compression."""
    h, w = picture.shape[:2]
    source = np.float32([[0, 0], [w, 0], [w, h], [0, h]])
    target = source + rng.uniform(-0.07, 0.07, (4, 2)).astype(np.float32) * (w, h) + np.float32([w * 0.15, h * 0.15])
    matrix = cv2.getPerspectiveTransform(source, target.astype(np.float32))
    size = (int(w * 1.3), int(h * 1.3))
    ground = np.full((size[1], size[0], 3), rng.integers(60, 190, 3), np.uint8)
    ground = _noisy(ground.astype(np.float32), rng, 14, 6)
    seen = cv2.warpPerspective(picture, matrix, size, ground, borderMode=cv2.BORDER_TRANSPARENT, flags=cv2.INTER_AREA)
    y, x = np.mgrid[: size[1], : size[0]].astype(np.float32)
    light = 1 + rng.uniform(-0.3, 0.3) * (x / size[0] - 0.5) + rng.uniform(-0.3, 0.3) * (y / size[1] - 0.5)
    lit = _noisy(cv2.GaussianBlur(seen.astype(np.float32) * light[..., None], (0, 0), 1.1), rng, 5)
    packed = cv2.imencode(".jpg", lit, [cv2.IMWRITE_JPEG_QUALITY, 70])[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR)


def still(art: Picture, layout: Layout, number: int) -> Picture:
    """One of a numbered set: the same border, title and caption, another picture in each."""
    page = np.full((800, 1000, 3), (240, 238, 230), np.uint8)
    page[40:640, 60:940] = cv2.resize(art, (880, 600), interpolation=cv2.INTER_AREA)
    cv2.putText(page, layout.title, (60, 710), 3, 1.3, (150, 30, 20), 4, cv2.LINE_AA)
    cv2.putText(page, layout.lines[0][:60], (60, 760), 2, 0.6, (30, 30, 30), 1, cv2.LINE_AA)
    cv2.putText(page, str(number), (930, 775), 2, 0.8, (30, 30, 30), 2, cv2.LINE_AA)
    return page


def verso(layout: Layout, rng: np.random.Generator) -> Picture:
    """The back of a sheet: paper, an agency's stamp at some place and turn, a pencilled number."""
    page = _noisy(np.full((1330, 900, 3), (228, 222, 206), np.float32), rng, 5, 4)
    stamp = np.zeros((260, 420), np.uint8)
    cv2.ellipse(stamp, (210, 130), (200, 120), 0, 0, 360, 255, 6)
    for n, line in enumerate((layout.title, "POSTER EXCHANGE", "RETURN TO DEPOT 14")):
        cv2.putText(stamp, line[:20], (50, 95 + n * 45), 3, 0.8, 255, 2, cv2.LINE_AA)
    turned = cv2.warpAffine(stamp, cv2.getRotationMatrix2D((210, 130), float(rng.uniform(-25, 25)), 1), (420, 260))
    y, x = int(rng.uniform(0, 1000)), int(rng.uniform(0, 450))
    ink = turned[..., None].astype(np.float32) / 255 * rng.uniform(0.5, 0.9)
    page[y : y + 260, x : x + 420] = page[y : y + 260, x : x + 420] * (1 - ink) + np.float32([70, 40, 120]) * ink
    cv2.putText(page, str(rng.integers(100, 999)), (700, 1250), 4, 1.4, (120, 118, 112), 2, cv2.LINE_AA)
    return page


def transparency(art: Picture, rng: np.random.Generator) -> Picture:
    """A colour positive on film: steep curve, black rebate."""
    light = (art.astype(np.float32) / 255) ** float(rng.uniform(1.1, 1.6)) * 255
    seen = _noisy(_cropped(light, rng, 0.03), rng, 3, 0.8)
    return _bordered(_bordered(seen, (14, 12, 16), 0.05), (250, 250, 250), 0.02)


def line_film(art: Picture, rng: np.random.Generator) -> Picture:
    """High-contrast film of one process camera: hardly a grey between black and clear; positive or negative."""
    grey = cv2.GaussianBlur(cv2.cvtColor(art, cv2.COLOR_RGB2GRAY), (0, 0), 1.5).astype(np.float32)
    middle = float(np.percentile(grey, rng.uniform(40, 60)))
    hard = 255 / (1 + np.exp(-(grey - middle) / float(rng.uniform(9, 18))))
    return _bordered(cv2.cvtColor(_noisy(hard[..., None], rng, 3), cv2.COLOR_GRAY2RGB), (240, 240, 240), 0.05)


def print_of(art: Picture, rng: np.random.Generator) -> Picture:
    """A photographic proof: grey, curled tones, white margin."""
    grey = cv2.cvtColor(_cropped(art, rng, 0.05), cv2.COLOR_RGB2GRAY).astype(np.float32) / 255
    toned = 255 * (0.08 + 0.86 * grey ** float(rng.uniform(0.7, 1.5)))
    warm = toned[..., None] * np.float32([1.0, 0.97, 0.9]) if rng.random() < 0.5 else np.repeat(toned[..., None], 3, 2)
    return _bordered(_noisy(warm, rng, 3, 0.7), (238, 236, 230), 0.06)


def part_of(picture: Picture, rng: np.random.Generator) -> Picture:
    """A strip or corner that shows a quarter to two fifths of a piece, scanned larger."""
    high, wide = picture.shape[:2]
    share = float(rng.uniform(0.26, 0.42))
    broad = float(rng.uniform(max(share, 0.45), 1.0))
    h, w = int(high * share / broad), int(wide * broad)
    top, left = int(rng.uniform(0, high - h)), int(rng.uniform(0, wide - w))
    return resized(np.ascontiguousarray(picture[top : top + h, left : left + w]), 1040)


def with_figure(art: Picture, other: Picture, rng: np.random.Generator) -> Picture:
    """``art`` with a figure of ``other`` used again: cut out, scaled, perhaps mirrored."""
    seen = art.copy()
    side = int(min(other.shape[:2]) * rng.uniform(0.4, 0.6))
    top, left = int(rng.uniform(0, other.shape[0] - side)), int(rng.uniform(0, other.shape[1] - side))
    figure = other[top : top + side, left : left + side]
    figure = resized(figure, int(side * rng.uniform(0.6, 1.1)))
    figure = cv2.flip(figure, 1) if rng.random() < 0.3 else figure
    high, wide = figure.shape[:2]
    mask = np.zeros((high, wide), np.uint8)
    cv2.ellipse(mask, (wide // 2, high // 2), (int(wide * 0.42), int(high * 0.48)), 0, 0, 360, 255, -1)
    soft = cv2.GaussianBlur(mask, (0, 0), 4)[..., None].astype(np.float32) / 255
    y, x = int(rng.uniform(0, seen.shape[0] - high)), int(rng.uniform(0, seen.shape[1] - wide))
    seen[y : y + high, x : x + wide] = seen[y : y + high, x : x + wide] * (1 - soft) + figure * soft
    return seen


def text_page(rng: np.random.Generator) -> Picture:
    """A typed letter: many words, no picture."""
    page = _noisy(np.full((1040, 740, 3), (240, 238, 228), np.float32), rng, 3, 2)
    for n in range(24):
        line = " ".join(rng.choice(WORDS, int(rng.integers(3, 7)))).lower()
        cv2.putText(page, line, (60, 120 + n * 34), 1, 1.0, (40, 40, 46), 1, cv2.LINE_AA)
    return page


def turned(picture: Picture, rng: np.random.Generator) -> Picture:
    """Turned by a quarter or two, half of the time not at all."""
    return np.ascontiguousarray(np.rot90(picture, int(rng.choice([0, 0, 0, 1, 2, 3]))))
