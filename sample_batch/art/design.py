"""Invented film-poster paintings: seed and genre make the design, at any size; `Edits` make it another copy."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_batch.art.brush import Canvas, Part
from sample_batch.art.compose import Planned, plan, stream
from sample_batch.art.finish import finish
from sample_batch.art.genre import GENRES, STORE
from sample_batch.art.palette import Palette, choose
from sample_batch.art.shape import Floats, box, carry, frame, within

__all__ = ["GENRES", "Edits", "Painting", "elements", "paint"]

# Above this the picture is painted at this size and enlarged: a brush leaves nothing finer, the grain is added after.
LONGEST_PAINTED = 3000
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Edits:
    """How one physical piece's picture differs from the design as first painted; the defaults are no difference."""

    redraw: tuple[str, ...] = ()
    scale: tuple[tuple[str, float], ...] = ()
    move: tuple[tuple[str, float, float], ...] = ()
    drop: tuple[str, ...] = ()
    signature: bool = True
    covered: tuple[str, ...] = ()
    palette: int = 0
    brush: int = 0
    board: int = 0


@dataclass(frozen=True, slots=True)
class Painting:
    """`pixels` is (h, w, 3) uint8 sRGB; `boxes` gives each element's left, top, right, bottom as shares."""

    pixels: NDArray[np.uint8]
    boxes: dict[str, Box]


def elements(seed: int, genre: str, aspect: float) -> tuple[str, ...]:
    """Names of the design's elements in painting order, for a picture `aspect` times as wide as high."""
    return tuple(each.name for each in plan(seed, genre, aspect).elements)


def paint(seed: int, genre: str, width: int, height: int, edits: Edits = Edits()) -> Painting:
    """Paint the design. ValueError if an edit names an element that the design lacks; KeyError for an unknown genre."""
    aspect = width / height
    planned = plan(seed, genre, aspect)
    _check(edits, {each.name for each in planned.elements})
    palette = choose(STORE[genre].palettes, seed, edits.palette)
    shrink = min(1.0, LONGEST_PAINTED / max(width, height))
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    canvas = Canvas(
        np.full((size[1], size[0], 3), palette.sky_low, np.uint8),
        light_x=0.6 * planned.light_x,
        lit=palette.light,
        dark=palette.dark,
    )
    boxes: dict[str, Box] = {}
    for each in planned.elements:
        if each.name in edits.drop or (each.name == "signature" and not edits.signature):
            continue
        parts = _parts(each, seed, edits, palette)
        place = _placed(each, parts, edits, aspect)
        for index, part in enumerate(parts):
            canvas.lay(part, place, stream(seed, each.name, index, edits.brush, "strokes"))
        seen = _box(parts, place, aspect)
        if seen is not None:
            boxes[each.name] = seen
    for name in edits.covered:
        if name in boxes:
            _cover(canvas, boxes[name], aspect, stream(seed, name, edits.brush, "cover"))
    return Painting(finish(canvas.pixels, (width, height), seed, edits.board), boxes)


def _check(edits: Edits, names: set[str]) -> None:
    asked = {*edits.redraw, *edits.drop, *edits.covered, *(s[0] for s in edits.scale), *(m[0] for m in edits.move)}
    if asked - names:
        raise ValueError(f"the design has no {', '.join(sorted(asked - names))}; it has {', '.join(sorted(names))}")


def _parts(each: Planned, seed: int, edits: Edits, palette: Palette) -> list[Part]:
    redrawn = each.name in edits.redraw
    parts = each.build(palette, stream(seed, each.name, "shape", int(redrawn)), redrawn)
    if not redrawn:
        return parts
    # Another hand's contour: one slow wave field pulls at every outline of the element.
    rng = stream(seed, each.name, "warp")
    points = np.concatenate([p.outline for p in parts])
    reach = float(np.ptp(np.clip(points, -3, 3), axis=0).max())
    waves = rng.normal(size=(5, 2)) * (7.0 / reach)
    phases, pull = rng.uniform(0, 6.28, 5), rng.normal(size=(5, 2)) * reach * 0.017

    def warp(outline: Floats) -> Floats:
        return np.asarray(outline + np.sin(outline @ waves.T + phases) @ pull, np.float32)

    return [
        replace(p, outline=warp(p.outline), shades=tuple(replace(s, outline=warp(s.outline)) for s in p.shades))
        for p in parts
    ]


def _placed(each: Planned, parts: list[Part], edits: Edits, aspect: float) -> Floats:
    place = each.place
    points = np.concatenate([carry(p.outline, place) for p in parts])
    centre = (points.min(0) + points.max(0)) / 2
    for name, factor in edits.scale:
        if name == each.name:
            place = within(frame(*(centre * (1 - factor)), factor), place)
    for name, right, down in edits.move:
        if name == each.name:
            place = within(frame(right * aspect, down, 1.0), place)
    return place


def _box(parts: list[Part], place: Floats, aspect: float) -> Box | None:
    points = np.concatenate([carry(p.outline, place) for p in parts]) / (aspect, 1.0)
    left, top = np.clip(points.min(0), 0, 1)
    right, bottom = np.clip(points.max(0), 0, 1)
    return (float(left), float(top), float(right), float(bottom)) if right > left and bottom > top else None


def _cover(canvas: Canvas, area: Box, aspect: float, rng: np.random.Generator) -> None:
    """Opaque over the area with one flat tone, near that of its surroundings but plainly a patch."""
    high, wide = canvas.pixels.shape[:2]
    left, top, right, bottom = area
    margin = 0.12 * (bottom - top) + 0.003
    window = canvas.pixels[
        int(max(top - margin, 0) * high) : int(min(bottom + margin, 1) * high) + 1,
        int(max(left - margin, 0) * wide) : int(min(right + margin, 1) * wide) + 1,
    ]
    tone = cv2.resize(window, (1, 1), interpolation=cv2.INTER_AREA)[0, 0]
    colour = (int(tone[0]), int(tone[1]), int(tone[2]))
    outline = box(left * aspect - margin, top - margin, right * aspect + margin, bottom + margin)
    canvas.lay(Part(outline, colour, stroke=0.006, swirl=0.15, vary=0.25, ragged=0.004), frame(0, 0, 1), rng)
