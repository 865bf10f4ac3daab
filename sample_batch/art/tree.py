"""Trees, belts of wood, and the leaves that frame a jungle. In canvas units (height 1)."""

import math

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, poly, tube


def woods(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, kind: str) -> list[Part]:
    """A belt of firs, palms, broad crowns or bare trees."""
    parts = []
    for tier in range(3):
        count = int((9 - tier * 2) * (0.5 + aspect * 0.7))
        for k in range(count):
            x = (k + rng.uniform(0, 1)) / count * (aspect + 0.2) - 0.1
            if tier == 2 and 0.28 * aspect < x < 0.72 * aspect:
                continue
            high = (0.1 + 0.1 * tier) * rng.uniform(0.7, 1.3) * (1.35 if kind == "palm" else 1.0)
            y = horizon + 0.03 + 0.07 * tier
            colour = mix(mix(p.far, p.sky_low, 0.25), p.near, tier / 2 * 0.9)
            parts += tree(rng, p, x, y, high, colour, kind)
    return parts


def tree(rng: np.random.Generator, p: Palette, x: float, y: float, high: float, colour: Rgb, kind: str) -> list[Part]:
    """One tree with its foot at (x, y)."""
    bark = mix(colour, p.dark, 0.5)
    if kind == "fir":
        edge_l, edge_r = [], []
        for k in range(7):
            t = k / 6
            w = high * (0.05 + 0.24 * t)
            edge_l += [
                (x - w * 0.45, y - high * (1 - t * 0.9)),
                (x - w * rng.uniform(0.9, 1.15), y - high * (0.92 - t * 0.9)),
            ]
            edge_r += [
                (x + w * 0.45, y - high * (1 - t * 0.9)),
                (x + w * rng.uniform(0.9, 1.15), y - high * (0.92 - t * 0.9)),
            ]
        return [
            Part(
                poly([(x, y - high * 1.06), *edge_r, (x, y), *edge_l[::-1]]),
                colour,
                form=high * 0.06,
                stroke=high * 0.02,
                flow=0.9,
                swirl=0.6,
                ragged=high * 0.02,
                vary=1.3,
            )
        ]
    if kind == "palm":
        lean = rng.uniform(-0.25, 0.25) * high
        top = (x + lean, y - high)
        parts = [
            Part(
                tube([(x, y), (x + lean * 0.3, y - high * 0.5), top], (high * 0.035, high * 0.025, high * 0.02)),
                bark,
                form=high * 0.012,
                stroke=high * 0.01,
                flow=0.1,
            )
        ]
        for a in np.linspace(-2.9, 0.3, 9) + rng.uniform(-0.15, 0.15, 9):
            long = high * rng.uniform(0.35, 0.55)
            mid = (top[0] + math.cos(a) * long * 0.6, top[1] + math.sin(a) * long * 0.5)
            end = (top[0] + math.cos(a) * long, top[1] + math.sin(a) * long * 0.4 + long * 0.3)
            parts.append(
                Part(
                    tube([top, mid, end], (high * 0.01, high * 0.04, high * 0.006)),
                    mix(colour, p.mid, rng.uniform(0, 0.5)),
                    form=high * 0.015,
                    stroke=high * 0.011,
                    flow=a,
                    ragged=high * 0.025,
                    vary=1.3,
                )
            )
        return parts
    parts = [
        Part(
            tube(
                [
                    (x, y),
                    (x + rng.uniform(-0.1, 0.1) * high, y - high * 0.45),
                    (x + rng.uniform(-0.15, 0.15) * high, y - high * 0.8),
                ],
                (high * 0.05, high * 0.035, high * 0.015),
            ),
            bark,
            form=high * 0.02,
            stroke=high * 0.012,
            flow=1.5,
        )
    ]
    for _ in range(7):
        a, t = rng.uniform(-1.2, 1.2), rng.uniform(0.35, 0.7)
        start = (x, y - high * t)
        end = (x + math.sin(a) * high * 0.45, y - high * t - math.cos(a) * high * 0.4)
        bow = ((start[0] + end[0]) / 2 + rng.uniform(-0.06, 0.06) * high, (start[1] + end[1]) / 2 + 0.05 * high)
        parts.append(
            Part(tube([start, bow, end], (high * 0.02, high * 0.012, high * 0.003)), bark, stroke=high * 0.006)
        )
    if kind == "broad":
        for _ in range(8):
            cx, cy, r = (
                x + rng.uniform(-0.3, 0.3) * high,
                y - high * rng.uniform(0.55, 1.0),
                high * rng.uniform(0.14, 0.26),
            )
            parts.append(
                Part(
                    blob(
                        [
                            (cx + math.cos(b) * r * rng.uniform(0.7, 1.2), cy + math.sin(b) * r * rng.uniform(0.6, 1))
                            for b in np.linspace(0, math.tau, 9)[:-1]
                        ]
                    ),
                    mix(colour, p.mid, rng.uniform(0, 0.5)),
                    form=r * 0.3,
                    stroke=r * 0.1,
                    swirl=1.2,
                    ragged=r * 0.15,
                    vary=1.5,
                )
            )
    return parts


def leaves(rng: np.random.Generator, p: Palette, aspect: float) -> list[Part]:
    """Big dark leaves in the near corners, framing the scene."""
    parts = []
    for corner_x, corner_y in ((-0.03, 1.02), (aspect + 0.03, 1.02), (-0.03, 0.02), (aspect + 0.03, 0.02)):
        for _ in range(7):
            a = math.atan2(0.5 - corner_y, aspect / 2 - corner_x) + rng.uniform(-0.8, 0.8)
            long = rng.uniform(0.12, 0.26)
            side = rng.uniform(-0.3, 0.3)
            end = (corner_x + math.cos(a) * long, corner_y + math.sin(a) * long)
            mid = (
                (corner_x + end[0]) / 2 - math.sin(a) * side * long,
                (corner_y + end[1]) / 2 + math.cos(a) * side * long,
            )
            colour = mix(p.near, p.mid, rng.uniform(0, 0.8))
            vein = Shade(
                tube([(corner_x, corner_y), mid, end], (0.001, 0.002, 0.001)), mix(colour, p.glow, 0.5), 0.8, 0.001
            )
            parts.append(
                Part(
                    tube([(corner_x, corner_y), mid, end], (0.006, 0.034, 0.002)),
                    colour,
                    shades=(vein,),
                    form=0.014,
                    stroke=0.005,
                    flow=a,
                    swirl=0.4,
                    ragged=0.003,
                )
            )
    return parts
