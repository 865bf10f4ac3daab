"""Skylines and railway lines. In canvas units (height 1)."""

import numpy as np

from sample_batch.art.brush import Part, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import box, poly


def city(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, lit: bool) -> list[Part]:
    """A skyline in two depths with lit windows."""
    parts = []
    for tier in range(2):
        x = -0.05
        while x < aspect + 0.05:
            wide, high = rng.uniform(0.05, 0.13), rng.uniform(0.1, 0.36) * (1.0 - 0.35 * tier)
            base = mix(mix(p.far, p.sky_low, 0.4), p.near, tier * 0.8)
            top = horizon - high
            roof = [
                (x, horizon + 0.06),
                (x, top),
                (x + wide * 0.2, top),
                (x + wide * 0.2, top - 0.02),
                (x + wide * 0.5, top - rng.choice([0.02, 0.06, 0.03])),
                (x + wide * 0.8, top - 0.02),
                (x + wide * 0.8, top),
                (x + wide, top),
                (x + wide, horizon + 0.06),
            ]
            side = Shade(box(x + wide * 0.62, top - 0.1, x + wide + 0.01, horizon + 0.1), mix(base, p.dark, 0.55), 0.85)
            panes = []
            for wx in np.arange(x + wide * 0.1, x + wide * 0.9, 0.011):
                for wy in np.arange(top + 0.012, horizon, 0.018):
                    if rng.random() < (0.45 if lit else 0.7):
                        glow = mix(p.glow, p.second, 0.3 * rng.random()) if lit else mix(base, p.dark, 0.6)
                        panes.append(Shade(box(wx, wy, wx + 0.0055, wy + 0.01), glow, rng.uniform(0.5, 1)))
            parts.append(
                Part(
                    poly(roof), base, shades=(side, *panes), stroke=0.0042, flow=1.5, swirl=0.25, ragged=0.001, vary=0.9
                )
            )
            x += wide * rng.uniform(0.75, 1.2)
    return parts


def rails(rng: np.random.Generator, p: Palette, aspect: float, horizon: float) -> list[Part]:
    """A line of railway that runs from the horizon towards us."""
    vanish, foot = aspect * rng.uniform(0.3, 0.7), aspect * rng.uniform(0.25, 0.75)
    parts = [
        Part(
            poly([(vanish - 0.01, horizon), (vanish + 0.01, horizon), (foot + 0.34, 1.1), (foot - 0.34, 1.1)]),
            mix(p.near, p.mid, 0.3),
            stroke=0.005,
            flow=0.2,
            swirl=1.0,
            ragged=0.006,
            vary=1.8,
        )
    ]
    for k in range(16):
        t = (k / 15) ** 2.2
        y, x, w = horizon + 0.005 + t * (1.08 - horizon), vanish + (foot - vanish) * t, 0.008 + 0.26 * t
        high = 0.001 + 0.018 * t
        parts.append(
            Part(
                poly([(x - w, y), (x + w, y), (x + w * 1.06, y + high), (x - w * 1.06, y + high)]),
                mix(p.dark, p.near, 0.5),
                stroke=0.003,
                flow=0.0,
            )
        )
    for side in (-1, 1):
        parts.append(
            Part(
                poly(
                    [
                        (vanish + side * 0.006, horizon),
                        (foot + side * 0.19, 1.1),
                        (foot + side * 0.212, 1.1),
                        (vanish + side * 0.0068, horizon),
                    ]
                ),
                mix(p.metal, p.glow, 0.4),
                stroke=0.0025,
                flow=1.4,
            )
        )
    return parts
