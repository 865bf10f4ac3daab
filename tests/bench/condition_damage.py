"""Damage planted on a printed page at known places: what handling, pins, tape, water and pens do.

Each takes a page and a generator and returns the page with the damage's box under ``<sort>-<n>`` in ``added``, in
pixels of the page, so that it travels with the page through backing, bed and turn. Shapes are drawn anew for each.
"""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.random import Generator

from sample_batch.light import cloud
from sample_batch.page import Box, Page, Pixels

CORE = (0.95, 0.94, 0.92)  # the white inside of the paper, bare where it is torn
Damage = Callable[[Page, Generator], Page]


def _noted(page: Page, sort: str, box: Box, pixels: Pixels, alpha: Pixels | None = None) -> Page:
    number = sum(name.startswith(sort) for name in page.added)
    added = {**page.added, f"{sort}-{number}": box}
    return replace(page, pixels=pixels, alpha=page.alpha if alpha is None else alpha, added=added)


def _alpha(page: Page) -> Pixels:
    return np.ones(page.pixels.shape[:2], np.float32) if page.alpha is None else page.alpha.copy()


def _box(points: np.ndarray, grow: float = 0.0) -> Box:
    (x0, y0), (x1, y1) = points.min(axis=0) - grow, points.max(axis=0) + grow
    return float(x0), float(y0), float(x1), float(y1)


def _cut(page: Page, rng: Generator, polygon: np.ndarray, sort: str) -> Page:
    """Take ``polygon`` (n, 2 pixels) out of the paper; a rim of white core stays where it was torn."""
    scale = page.px_per_mm
    hole = np.zeros(page.pixels.shape[:2], np.float32)
    cv2.fillPoly(hole, [np.round(polygon * 8).astype(np.int32)], 1.0, cv2.LINE_AA, 3)
    rim = cv2.GaussianBlur(hole, (0, 0), float(rng.uniform(0.15, 0.6)) * scale)
    bare = (np.clip(rim * 2.2, 0, 1) * (1 - hole))[..., None]
    pixels = page.pixels + (np.float32(CORE) - page.pixels) * bare
    h, w = hole.shape
    seen = np.clip(polygon, 0, (w, h))
    return _noted(page, sort, _box(seen), pixels.astype(np.float32), _alpha(page) * (1 - hole))


def _rough(rng: Generator, points: np.ndarray, rough_px: float) -> np.ndarray:
    """The polyline through ``points`` with a torn edge's unevenness."""
    ends = np.vstack([points, points[:1]])
    made = []
    for a, b in pairwise(ends):
        count = max(2, int(np.hypot(*(b - a)) / max(2.0, rough_px)))
        made.append(a + (b - a) * (np.arange(count)[:, None] / count))
    line = np.vstack(made)
    return line + rng.normal(0, rough_px * 0.35, line.shape)


def _on_edge(page: Page, rng: Generator, least: float = 0.12) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A place on an edge away from the corners, the direction along the edge, and the one inward."""
    h, w = page.pixels.shape[:2]
    at = rng.uniform(least, 1 - least)
    side = int(rng.integers(4))
    place = ((at * w, 0), (w, at * h), (at * w, h), (0, at * h))[side]
    along = ((1, 0), (0, 1), (1, 0), (0, 1))[side]
    inward = ((0, 1), (-1, 0), (0, -1), (1, 0))[side]
    return np.array(place, float), np.array(along, float), np.array(inward, float)


def tear(page: Page, rng: Generator) -> Page:
    """An open tear from an edge inward, 0.6 to 4 mm wide at its mouth, that wanders."""
    scale = page.px_per_mm
    place, along, inward = _on_edge(page, rng)
    long, mouth = rng.uniform(10, 70) * scale, rng.uniform(0.6, 4.0) * scale
    steps = np.linspace(0, 1, 14)
    wander = np.cumsum(rng.normal(0, 0.05, 14)) + rng.uniform(-0.6, 0.6) * steps
    middle = place + inward * long * steps[:, None] + along * long * wander[:, None] - inward * 2
    half = (mouth / 2 * (1 - steps) + 0.1)[:, None]
    polygon = np.vstack([middle - along * half, (middle + along * half)[::-1]])
    return _cut(page, rng, polygon + rng.normal(0, 0.08 * scale, polygon.shape), "tear")


def missing_paper(page: Page, rng: Generator) -> Page:
    """A piece torn out of an edge: 6 to 60 mm wide, 4 to 30 mm deep."""
    scale = page.px_per_mm
    place, along, inward = _on_edge(page, rng)
    half, deep = rng.uniform(3, 30) * scale, rng.uniform(4, 30) * scale
    turn = np.linspace(0, np.pi, 12)
    reach = rng.uniform(0.75, 1.15, 12)
    arc = place + along * (half * np.cos(turn) * reach)[:, None] + inward * (deep * np.sin(turn) * reach)[:, None]
    points = np.vstack([place - along * half - inward * 3, place + along * half - inward * 3, arc])
    return _cut(page, rng, _rough(rng, points, 0.7 * scale), "missing_paper")


def missing_corner(page: Page, rng: Generator) -> Page:
    """A corner gone: 8 to 60 mm along each edge."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    x, y = int(rng.integers(2)), int(rng.integers(2))
    a, b = rng.uniform(8, 60, 2) * scale
    corner = np.array([x * w, y * h], float)
    into = np.array([1 - 2 * x, 1 - 2 * y], float)
    bulge = rng.uniform(-0.15, 0.25)
    points = corner + into * np.array([[-3, -3], [a, -3], [a * (0.5 + bulge), b * (0.5 + bulge)], [-3, b]])
    return _cut(page, rng, _rough(rng, points, 0.7 * scale), "missing_corner")


def pinholes(page: Page, rng: Generator) -> Page:
    """Pins at two to four corners, some doubled, a few at the middle of an edge."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    pixels = page.pixels.copy()
    places = [(x, y) for x in (0, 1) for y in (0, 1) if rng.random() < 0.8] or [(0, 0)]
    for x, y in places:
        for _ in range(int(rng.integers(1, 4))):
            dx, dy = rng.uniform(3, 14, 2) * scale
            at = np.array([dx if x == 0 else w - dx, dy if y == 0 else h - dy])
            radius = rng.uniform(0.35, 0.7) * scale
            if rng.random() < 0.5:
                _disc(pixels, at, radius * 1.9, (0.66, 0.52, 0.40))
            _disc(pixels, at, radius, (0.12, 0.11, 0.11) if rng.random() < 0.8 else (0.30, 0.28, 0.26))
            page = _noted(page, "pinhole", _box(at[None], radius * 2), pixels)
    return page


def _disc(pixels: Pixels, at: np.ndarray, radius: float, colour: tuple[float, float, float]) -> None:
    x, y = (round(float(v) * 16) for v in at)
    cv2.circle(pixels, (x, y), max(8, int(radius * 16)), colour, -1, cv2.LINE_AA, 4)


def tape(page: Page, rng: Generator) -> Page:
    """A yellowed strip 12 to 26 mm wide and 30 to 140 mm long, over an edge or within the sheet."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    long, wide = rng.uniform(30, 140) * scale, rng.uniform(12, 26) * scale
    if rng.random() < 0.5:
        long, wide = wide, long
    if rng.random() < 0.7:
        place, _, inward = _on_edge(page, rng)
        at = place + inward * rng.uniform(0.2, 0.5) * (wide if abs(inward[1]) else long)
    else:
        at = np.array([rng.uniform(0.2, 0.8) * w, rng.uniform(0.2, 0.8) * h])
    corners = cv2.boxPoints(((float(at[0]), float(at[1])), (long, wide), float(rng.normal(0, 2.5))))
    cover = np.zeros((h, w), np.float32)
    cv2.fillPoly(cover, [np.round(corners * 8).astype(np.int32)], 1.0, cv2.LINE_AA, 3)
    age = rng.uniform(0.3, 1.0)
    uneven = 1 + 0.12 * cloud(rng, (max(2, h // 4), max(2, w // 4)), 12 * scale / 4)
    uneven = cv2.resize(uneven, (w, h), interpolation=cv2.INTER_LINEAR)
    tint = np.float32([0.05, 0.14, 0.36]) * np.float32(age)
    pixels = page.pixels * (1 - (cover * uneven)[..., None] * tint)
    return _noted(page, "tape", _box(np.clip(corners, 0, (w, h))), pixels.astype(np.float32))


def stain(page: Page, rng: Generator) -> Page:
    """Water from an edge with a tide line, or a blot with a darker rim within the sheet."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    small = (max(2, h // 3), max(2, w // 3))
    at = scale / 3
    y, x = np.mgrid[0 : small[0], 0 : small[1]].astype(np.float32)
    field = cloud(rng, small, rng.uniform(25, 60) * at)
    place, _, inward = _on_edge(page, rng, 0.2)
    reach = rng.uniform(14, 60) * at
    middle = place / 3 + inward * (reach * rng.uniform(-0.3, 0.3) if rng.random() < 0.7 else reach * 3)
    stretch = rng.uniform(0.6, 2.0)
    distance = np.hypot((x - middle[0]) * stretch, (y - middle[1]) / stretch) + field * reach * 0.16
    strength = rng.uniform(0.4, 1.2)
    inside = 1 / (1 + np.exp(np.clip((distance - reach) / (0.8 * at), -60, 60)))
    line = np.exp(-(((distance - reach) / (1.4 * at)) ** 2))
    amount = (strength * (0.07 * inside + 0.16 * line)).astype(np.float32)
    full = cv2.resize(amount, (w, h), interpolation=cv2.INTER_LINEAR)
    pixels = page.pixels * (1 - full[..., None] * np.float32((0.5, 0.9, 1.4)))
    ys, xs = np.nonzero(inside > 0.5)
    box = (float(xs.min() * 3), float(ys.min() * 3), float(xs.max() * 3 + 3), float(ys.max() * 3 + 3))
    return _noted(page, "stain", box, pixels.astype(np.float32))


def writing(page: Page, rng: Generator) -> Page:
    """A few words of a running hand in the margin or over the picture: pen, red or blue pencil, marker."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    high, letters = rng.uniform(4, 11) * scale, int(rng.integers(5, 16))
    steps = np.linspace(0, letters * 2 * np.pi, letters * 22)
    sway = np.interp(steps, np.linspace(0, steps[-1], letters + 1), rng.uniform(0.35, 1.0, letters + 1))
    x = steps / (2 * np.pi) * high * 0.55 + np.cos(steps) * high * 0.28 * sway
    y = (
        np.sin(steps) * high * 0.5 * sway
        + np.interp(steps, np.linspace(0, steps[-1], 5), rng.normal(0, 0.08, 5)) * high
    )
    turn = np.deg2rad(rng.normal(0, 6))
    line = np.stack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)], axis=1)
    place, _, inward = _on_edge(page, rng, 0.1)
    at = place + inward * rng.uniform(6, 14) * scale if rng.random() < 0.6 else rng.uniform(0.15, 0.75, 2) * (w, h)
    line += np.clip(at, (high, high), (max(high + 1, w - np.ptp(line[:, 0]) - high), h - high)) - line[0]
    colour = ((0.1, 0.15, 0.5), (0.6, 0.1, 0.1), (0.15, 0.15, 0.16), (0.35, 0.35, 0.36))[int(rng.integers(4))]
    cover = np.zeros((h, w), np.float32)
    wide = max(1, round(rng.uniform(0.4, 1.1) * scale))
    cv2.polylines(
        cover, [np.round(line * 8).astype(np.int32)], False, float(rng.uniform(0.7, 1.0)), wide, cv2.LINE_AA, 3
    )
    pixels = page.pixels * (1 - cover[..., None] * (1 - np.float32(colour)))
    return _noted(page, "writing", _box(np.clip(line, 0, (w, h)), wide), pixels.astype(np.float32))


def edge_wear(page: Page, rng: Generator) -> Page:
    """Small chips and rubbed ink along a stretch of one edge, 60 to 300 mm long."""
    scale = page.px_per_mm
    h, w = page.pixels.shape[:2]
    place, along, inward = _on_edge(page, rng, 0.3)
    edge = w if along[0] else h
    long = min(rng.uniform(60, 300) * scale, 0.5 * edge)
    before, alpha, pixels = dict(page.added), _alpha(page), page.pixels
    for at in np.sort(rng.uniform(-0.5, 0.5, int(long / scale / rng.uniform(5, 14)))) * long:
        half, deep = rng.uniform(0.6, 2.6) * scale, rng.uniform(0.6, 3.0) * scale
        turn = np.linspace(0, np.pi, 7)
        middle = place + along * at
        arc = middle + along * (half * np.cos(turn))[:, None] + inward * (deep * np.sin(turn))[:, None]
        page = _cut(replace(page, pixels=pixels, alpha=alpha), rng, np.vstack([arc, middle - inward * 2]), "chip")
        alpha, pixels = _alpha(page), page.pixels
    ends = np.array([place - along * long / 2, place + along * long / 2 + inward * 3 * scale])
    return _noted(replace(page, added=before), "edge_wear", _box(np.clip(ends, 0, (w, h))), pixels, alpha)


def fold_loss(page: Page, rng: Generator, crossing: tuple[float, float]) -> Page:
    """A hole where two folds cross, 5 to 24 mm wide; ``crossing`` in shares of the page."""
    h, w = page.pixels.shape[:2]
    scale = page.px_per_mm
    at = np.array([crossing[0] * w, crossing[1] * h])
    turn = np.linspace(0, 2 * np.pi, 14)[:-1]
    reach = rng.uniform(2.5, 12) * scale * rng.uniform(0.6, 1.1, 13)
    points = at + np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)
    return _cut(page, rng, _rough(rng, points, 0.6 * scale), "fold_loss")


PLANTED: dict[str, Damage] = {
    "tear": tear,
    "missing_paper": missing_paper,
    "missing_corner": missing_corner,
    "pinhole": pinholes,
    "tape": tape,
    "stain": stain,
    "writing": writing,
    "edge_wear": edge_wear,
}
