"""The painter's hand: shaded parts laid on a canvas, with brush strokes that belong to the part, not to the pixels."""

import math
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.shape import Floats, carry, size_of, within

Rgb = tuple[int, int, int]
Image8 = NDArray[np.uint8]
BORDER = 0.5


@dataclass(frozen=True, slots=True)
class Shade:
    """A plane of another tone inside a part; `soft` is the blur of its edge in local units."""

    outline: Floats
    colour: Rgb
    strength: float = 1.0
    soft: float = 0.0


@dataclass(frozen=True, slots=True)
class Part:
    """One shape laid in one go: ground colour or gradient, planes, roundness under the light, then strokes."""

    outline: Floats
    colour: Rgb
    fade: tuple[float, float, float, float, Rgb] | None = None  # from `colour` at x0, y0 to another at x1, y1
    shades: tuple[Shade, ...] = ()
    form: float = 0.0  # radius of the rounding, local units; 0 leaves it flat
    stroke: float = 0.0  # half-width of a brush stroke, local units; 0 leaves it smooth
    flow: float = 0.0  # direction of the strokes, radians
    swirl: float = 0.35  # how far strokes turn from it
    ragged: float = 0.0  # dry-brush edge, local units
    soft: float = 0.0  # blurred edge, local units
    opacity: float = 1.0
    vary: float = 1.0  # how far stroke colours stray
    melt: tuple[float, float] | None = None  # local y where the part begins and ends to run out into what lies below

    def carried(self, matrix: Floats) -> "Part":
        """This part in the outer frame of `matrix`."""
        size = size_of(matrix)
        turn = math.atan2(*(matrix[:, :2] @ (math.cos(self.flow), math.sin(self.flow)))[::-1])
        fade, melt = self.fade, self.melt
        if melt is not None:
            melt = (
                float(carry(np.array([[0, melt[0]]], np.float32), matrix)[0, 1]),
                float(carry(np.array([[0, melt[1]]], np.float32), matrix)[0, 1]),
            )
        if fade is not None:
            ends = carry(np.array([fade[:2], fade[2:4]], np.float32), matrix)
            fade = (*map(float, ends.ravel()), fade[4])  # type: ignore[assignment]
        shades = tuple(replace(s, outline=carry(s.outline, matrix), soft=s.soft * size) for s in self.shades)
        return replace(
            self,
            outline=carry(self.outline, matrix),
            fade=fade,
            shades=shades,
            form=self.form * size,
            stroke=self.stroke * size,
            ragged=self.ragged * size,
            soft=self.soft * size,
            flow=turn,
            melt=melt,
        )


def mix(a: Rgb, b: Rgb, share: float) -> Rgb:
    """The colour a share of the way from a to b."""
    return tuple(round(p + (q - p) * share) for p, q in zip(a, b, strict=True))  # type: ignore[return-value]


@dataclass(slots=True)
class Canvas:
    """A picture in the making. The unit is its height; the light comes from (`light_x`, `light_y`)."""

    pixels: Image8
    light_x: float = -0.6
    light_y: float = -0.8
    lit: Rgb = (255, 240, 205)
    dark: Rgb = (20, 16, 30)
    noise: Floats = field(default_factory=lambda: _noise_tile())

    def lay(self, part: Part, matrix: Floats, rng: np.random.Generator) -> None:
        """Paint one part, given in the local frame of `matrix` (to units of the canvas height)."""
        high, wide = self.pixels.shape[:2]
        to_pixels = np.asarray(matrix * high, np.float32)
        scale = size_of(to_pixels)
        outline = carry(part.outline, to_pixels)
        reach = (part.soft * 2.5 + part.ragged * 1.5) * scale + 2
        left, top = np.maximum(np.floor(outline.min(0) - reach), 0).astype(int)
        right, bottom = np.minimum(np.ceil(outline.max(0) + reach), (wide, high)).astype(int)
        if right - left < 1 or bottom - top < 1:
            return
        shift = np.array([[1, 0, -left], [0, 1, -top]], np.float32)
        local = within(shift, to_pixels)
        size = (int(right - left), int(bottom - top))
        mask = _mask(carry(part.outline, local), size, part.soft * scale)
        if part.melt is not None:
            mask = _melt(mask, part, local)
        if part.ragged:
            mask = self._tear(mask, part.ragged * scale, part, local)
        patch = np.empty((size[1], size[0], 3), np.uint8)
        patch[:] = part.colour
        if part.fade is not None:
            self._fade(patch, part, local)
        for shade in part.shades:
            _plane(patch, shade, local, scale)
        if part.form:
            self._round(patch, mask, part.form * scale)
        if part.stroke:
            self._stroke(patch, mask, part, local, scale, rng)
        weight = mask * np.float32(part.opacity)
        view = self.pixels[top:bottom, left:right]
        view[:] = cv2.blendLinear(patch, np.ascontiguousarray(view), weight, 1 - weight)

    def _fade(self, patch: Image8, part: Part, local: Floats) -> None:
        assert part.fade is not None
        ends = carry(np.array([part.fade[:2], part.fade[2:4]], np.float32), local)
        way = ends[1] - ends[0]
        way = way / max(float(way @ way), 1e-6)
        xs = (np.arange(patch.shape[1], dtype=np.float32) - ends[0, 0]) * way[0]
        ys = (np.arange(patch.shape[0], dtype=np.float32) - ends[0, 1]) * way[1]
        share = np.clip(ys[:, None] + xs[None], 0, 1)
        other = np.empty_like(patch)
        other[:] = part.fade[4]
        patch[:] = cv2.blendLinear(other, patch, share, 1 - share)

    def _round(self, patch: Image8, mask: Floats, radius: float) -> None:
        """Turn the form: the side towards the light warms, the other sinks, in steps as planes of gouache do."""
        finer = max(1.0, radius / 5)
        small = (max(2, int(mask.shape[1] / finer)), max(2, int(mask.shape[0] / finer)))
        low = cv2.resize(mask, small, interpolation=cv2.INTER_AREA)
        low = cv2.GaussianBlur(low, (0, 0), max(radius / finer, 0.3))
        slope_x = cv2.Sobel(low, cv2.CV_32F, 1, 0, scale=0.125)
        slope_y = cv2.Sobel(low, cv2.CV_32F, 0, 1, scale=0.125)
        facing = -(slope_x * self.light_x + slope_y * self.light_y) * (radius / finer * 2.5)
        facing = cv2.resize(facing, (mask.shape[1], mask.shape[0]), interpolation=cv2.INTER_LINEAR)
        for tone, amount, edge in ((self.dark, -facing, 0.62), (self.lit, facing, 0.5)):
            share = np.clip(amount * 0.35 + np.clip((amount - 0.3) * 5, 0, 1) * 0.28, 0, edge)
            other = np.empty_like(patch)
            other[:] = tone
            patch[:] = cv2.blendLinear(other, patch, share, 1 - share)

    def _tear(self, mask: Floats, reach: float, part: Part, local: Floats) -> Floats:
        """Fray the edge along the flow of the strokes, as a brush running dry leaves it."""
        turn = part.flow
        cell = max(part.ragged * 0.28, 1e-5)
        along = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]], np.float32)
        back = cv2.invertAffineTransform(local)
        grid = np.diag(np.array([0.18, 1.0], np.float32) / cell) @ along @ back
        streaks = cv2.warpAffine(
            self.noise,
            np.asarray(grid, np.float32),
            (mask.shape[1], mask.shape[0]),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_WRAP,
        )
        blurred = _blur(mask, reach)
        return np.asarray(np.clip((blurred + (streaks - 0.5) * 0.55 - 0.44) * 6, 0, 1), np.float32)

    def _stroke(
        self, patch: Image8, mask: Floats, part: Part, local: Floats, scale: float, rng: np.random.Generator
    ) -> None:
        if scale * part.stroke < 0.12:
            return
        # Colours are picked from the ground before the first stroke, so that the fine pass keeps the planes.
        ground = patch.copy()
        for half, spread, thin in ((part.stroke, 1.0, 1.0), (part.stroke * 0.5, 0.75, 0.55)):
            low, far = part.outline.min(0), part.outline.max(0)
            count = int(min(9000, float(np.prod(far - low)) / (half * half * 11.0))) + 6
            at = (low + (far - low) * rng.random((count, 2))).astype(np.float32)
            turn = part.flow + part.swirl * rng.normal(size=count)
            long = half * rng.uniform(3.0, 10.0, count)
            thick = half * rng.uniform(0.35, 1.1, count) * thin
            bend = rng.normal(size=count) * 0.25
            tone = rng.normal(size=(count, 1)) * 11 * part.vary * spread + rng.normal(size=(count, 3)) * 5 * part.vary
            column, row = np.floor(carry(at, local)).astype(int).T
            reach = 9 * half * scale
            seen = (
                (column >= -reach) & (column < mask.shape[1] + reach) & (row >= -reach) & (row < mask.shape[0] + reach)
            )
            column, row = np.clip(column, 0, mask.shape[1] - 1), np.clip(row, 0, mask.shape[0] - 1)
            seen &= mask[row, column] > 0.02
            colours = np.clip(ground[row, column] + tone, 0, 255)
            shapes = _strokes(at, turn, long, np.maximum(thick - BORDER / scale, 0.1 * thick), bend)
            pixels = np.round((shapes @ local[:, :2].T + local[:, 2] - 0.5) * 16).astype(np.int32)
            for index in np.flatnonzero(seen):
                cv2.fillConvexPoly(patch, pixels[index], colours[index].tolist(), cv2.LINE_AA, 4)


def _strokes(at: Floats, turn: Floats, long: Floats, thick: Floats, bend: Floats) -> Floats:
    """Tapered, slightly bent strokes as (n, 8, 2) outlines."""
    t = np.array([-0.5, -0.2, 0.2, 0.5, 0.5, 0.2, -0.2, -0.5])
    side = np.array([-0.5, -1.0, -0.85, -0.2, 0.2, 0.85, 1.0, 0.5])
    along = t[None] * long[:, None]
    across = side[None] * thick[:, None] + (t[None] ** 2 - 0.1) * (bend * long)[:, None]
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    return np.stack([along * c - across * s, along * s + across * c], -1) + at[:, None]


def _mask(outline: Floats, size: tuple[int, int], soft: float) -> Floats:
    """Coverage 0..1 of the outline in a window of `size` (w, h), blurred by `soft` pixels."""
    finer = max(1.0, soft / 4)
    small = (max(2, math.ceil(size[0] / finer)), max(2, math.ceil(size[1] / finer)))
    fit = np.array([small[0] / size[0], small[1] / size[1]], np.float32)
    mask = np.zeros((small[1], small[0]), np.uint8)
    # OpenCV puts pixel centres on whole numbers, we put them at halves.
    points = np.round((_inset(outline * fit) - 0.5) * 16).clip(-(2**26), 2**26).astype(np.int32)
    cv2.fillPoly(mask, [points], 255, cv2.LINE_AA, 4)
    cover = mask.astype(np.float32) / 255
    if soft >= 0.5:
        cover = cv2.GaussianBlur(cover, (0, 0), soft / finer, borderType=cv2.BORDER_REPLICATE)
    if small != size:
        cover = cv2.resize(cover, size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(cover, np.float32)


def _melt(mask: Floats, part: Part, local: Floats) -> Floats:
    assert part.melt is not None
    ends = carry(np.array([[0, part.melt[0]], [0, part.melt[1]]], np.float32), local)
    way = ends[1] - ends[0]
    way = way / max(float(way @ way), 1e-6)
    xs = (np.arange(mask.shape[1], dtype=np.float32) - ends[0, 0]) * way[0]
    ys = (np.arange(mask.shape[0], dtype=np.float32) - ends[0, 1]) * way[1]
    return np.asarray(mask * (1 - np.clip(ys[:, None] + xs[None], 0, 1)), np.float32)


def _inset(outline: Floats) -> Floats:
    """The outline drawn in by half a pixel, since OpenCV's smoothed fill covers its own border line as well."""
    after, before = np.roll(outline, -1, 0), np.roll(outline, 1, 0)
    area = float(np.sum(outline[:, 0] * after[:, 1] - after[:, 0] * outline[:, 1]))
    way = after - before
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-3)
    return np.asarray(outline + math.copysign(BORDER, area) * np.column_stack([-way[:, 1], way[:, 0]]), np.float32)


def _plane(patch: Image8, shade: Shade, local: Floats, scale: float) -> None:
    outline = carry(shade.outline, local)
    reach = shade.soft * scale * 2.5 + 2
    left, top = np.maximum(np.floor(outline.min(0) - reach), 0).astype(int)
    right, bottom = np.minimum(np.ceil(outline.max(0) + reach), (patch.shape[1], patch.shape[0])).astype(int)
    if right - left < 1 or bottom - top < 1:
        return
    window = outline - np.array([left, top], np.float32)
    share = _mask(window, (int(right - left), int(bottom - top)), shade.soft * scale) * np.float32(shade.strength)
    view = patch[top:bottom, left:right]
    other = np.empty(view.shape, np.uint8)
    other[:] = shade.colour
    view[:] = cv2.blendLinear(other, np.ascontiguousarray(view), share, 1 - share)


def _blur(mask: Floats, radius: float) -> Floats:
    finer = max(1.0, radius / 4)
    size = (mask.shape[1], mask.shape[0])
    small = (max(2, int(size[0] / finer)), max(2, int(size[1] / finer)))
    low = cv2.resize(mask, small, interpolation=cv2.INTER_AREA)
    low = cv2.GaussianBlur(low, (0, 0), max(radius / finer, 0.3))
    return np.asarray(cv2.resize(low, size, interpolation=cv2.INTER_LINEAR), np.float32)


def _noise_tile() -> Floats:
    rng = np.random.Generator(np.random.PCG64(0xB2))
    return rng.random((256, 256), np.float32)
