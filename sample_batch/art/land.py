"""The ground under the scene: ranges, dunes, seas, plains. In canvas units (height 1)."""

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, box, ground, poly, ridge, tube


def mountains(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, snow: bool) -> list[Part]:
    """Two ranges, the further one paler, with lit and shadowed faces."""
    parts = []
    for tier, (high, tone) in enumerate(((rng.uniform(0.18, 0.34), 0.45), (rng.uniform(0.1, 0.2), 0.0))):
        base = horizon + 0.02 + tier * 0.03
        knots, x = [(-0.1, base - 0.02)], -0.1
        while x < aspect + 0.1:
            step = rng.uniform(0.08, 0.22) * (0.6 + aspect * 0.5)
            knots += [
                (x + step * 0.5, base - high * rng.uniform(0.4, 1.0)),
                (x + step, base - high * rng.uniform(0.0, 0.3)),
            ]
            x += step
        line = _jag(rng, np.array(knots, np.float32), high * 0.05)
        stone = mix(mix(p.far, p.mid, tier * 0.4), p.sky_low, tone)
        faces = []
        for k in range(1, len(knots) - 1, 2):
            (px, py), (qx, qy) = knots[k], knots[k + 1]
            ridge_x = px + rng.uniform(-0.02, 0.02)
            face = [
                (px, py),
                (px + 0.012, py + 0.3 * (qy - py)),
                (ridge_x, py + 0.5 * (base - py)),
                (ridge_x + 0.03, base + 0.05),
                (qx, base + 0.05),
                (qx, qy),
            ]
            faces.append(Shade(poly(face), mix(stone, p.sky_top if not snow else p.near, 0.62), 0.9, 0.002))
            if snow:
                drop = (base - py) * rng.uniform(0.3, 0.6)
                cap = [
                    (px, py - 0.01),
                    (px - drop * 0.45, py + drop * 0.8),
                    (px - drop * 0.2, py + drop * 0.6),
                    (px - 0.01, py + drop),
                    (px + drop * 0.08, py + drop * 0.5),
                    (px + drop * 0.2, py + drop * 0.8),
                    (px + drop * 0.36, py + drop * 0.7),
                ]
                faces.append(Shade(poly(cap), mix(p.light, p.sky_top, 0.06), 0.85, 0.002))
                faces.append(
                    Shade(
                        poly(
                            [
                                (px, py),
                                (px + drop * 0.4, py + drop * 0.8),
                                (px + 0.02, py + drop * 0.7),
                                (px - 0.005, py + drop * 0.4),
                            ]
                        ),
                        mix(p.light, p.far, 0.6),
                        0.9,
                        0.003,
                    )
                )
        parts.append(
            Part(
                ground(line, base + 0.35),
                stone,
                shades=tuple(faces),
                stroke=0.0062,
                flow=0.95,
                swirl=0.4,
                ragged=0.003,
                vary=1.2,
            )
        )
    return parts


def _jag(rng: np.random.Generator, line: Floats, rough: float) -> Floats:
    for _ in range(3):
        middle = (line[:-1] + line[1:]) / 2 + np.column_stack(
            [np.zeros(len(line) - 1), rng.uniform(-rough, rough, len(line) - 1)]
        )
        line = np.insert(line, np.arange(1, len(line)), middle, axis=0).astype(np.float32)
        rough *= 0.55
    return line


def dunes(rng: np.random.Generator, p: Palette, aspect: float, horizon: float) -> list[Part]:
    """Sand in sweeping crests, a sunlit and a shaded slope to each."""
    parts = []
    for tier in range(4):
        t = tier / 3
        y = horizon + t * (1.0 - horizon) * 0.75
        knots = [(x, y + rng.uniform(-0.05, 0.05) * (0.5 + t)) for x in np.linspace(-0.1, aspect + 0.1, 5)]
        crest = blob([*knots, (aspect + 0.2, 1.15), (-0.2, 1.15)])
        sand = mix(mix(p.sky_low, p.mid, 0.5 + 0.3 * t), p.near, t * 0.45)
        top = knots[int(rng.integers(1, 4))]
        lee = blob(
            [
                top,
                (top[0] + 0.12, top[1] + 0.03),
                (top[0] + 0.4, top[1] + 0.16),
                (top[0] + 0.2, top[1] + 0.3),
                (top[0] - 0.08, top[1] + 0.2),
                (top[0] + 0.06, top[1] + 0.1),
            ]
        )
        ripples = tuple(
            Shade(
                tube([(x, y + d), (x + 0.15, y + d + 0.012), (x + 0.3, y + d)], (0.001, 0.003, 0.001)),
                mix(sand, p.near, 0.5),
                0.6,
                0.001,
            )
            for x, d in zip(rng.uniform(-0.1, aspect, 12), rng.uniform(0.02, 0.25, 12), strict=True)
        )
        parts.append(
            Part(
                crest,
                sand,
                fade=(0, y - 0.02, 0, y + 0.25, mix(sand, p.near, 0.5)),
                shades=(Shade(lee, mix(sand, p.near, 0.75), 0.85, 0.006), *ripples),
                stroke=0.0065 + t * 0.003,
                flow=0.15 * (-1) ** tier,
                swirl=0.2,
                ragged=0.003,
            )
        )
    return parts


def sea(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, rough: float) -> list[Part]:
    """Water to the horizon with waves that grow towards us and a lane of light."""
    deep, shallow = mix(p.sky_top, p.near, 0.5), mix(p.sky_low, p.far, 0.6)
    parts = [
        Part(
            box(-0.1, horizon, aspect + 0.1, 1.1),
            shallow,
            fade=(0, horizon, 0, 0.95, deep),
            stroke=0.006,
            flow=0.0,
            swirl=0.12,
            vary=1.3,
        )
    ]
    lane = aspect * rng.uniform(0.3, 0.7)
    for k in range(130):
        t = (k / 129) ** 1.7
        y = horizon + 0.004 + t * (1.04 - horizon)
        x = rng.uniform(-0.1, aspect + 0.1)
        near_lane = abs(x - lane) < 0.08 + t * 0.1
        long = (0.02 + 0.16 * t) * rng.uniform(0.6, 1.3)
        high = (0.0012 + 0.014 * t * rough) * rng.uniform(0.6, 1.3)
        colour = mix(p.glow, p.light, 0.3) if near_lane else mix(deep, shallow, rng.uniform(0.1, 0.9))
        crest = [
            (x - long, y),
            (x - long * 0.4, y - high * 0.7),
            (x, y - high * 1.6),
            (x + long * 0.3, y - high * 0.6),
            (x + long, y + high * 0.2),
            (x, y + high * 0.9),
        ]
        parts.append(
            Part(blob(crest, 5), colour, ragged=high * 0.4, stroke=max(high * 0.3, 0.0012), opacity=0.8, swirl=0.15)
        )
        if t * rough > 0.35 and rng.random() < 0.5:
            parts.append(
                Part(
                    tube(
                        [(x - long * 0.5, y - high * 0.8), (x, y - high * 1.7), (x + long * 0.3, y - high * 0.7)],
                        (0.0006, high * 0.22, 0.0006),
                    ),
                    p.light,
                    ragged=high * 0.3,
                    opacity=0.85,
                )
            )
    return parts


def plain(rng: np.random.Generator, p: Palette, aspect: float, horizon: float, colour: Rgb) -> list[Part]:
    """Flat country with tufts, stones and tracks."""
    parts = [
        Part(
            ground(ridge(rng, -0.1, aspect + 0.1, horizon + 0.01, 0.02), 1.1),
            mix(colour, p.sky_low, 0.35),
            fade=(0, horizon, 0, 0.9, mix(colour, p.near, 0.55)),
            stroke=0.0075,
            flow=0.05,
            swirl=0.25,
            vary=1.4,
        )
    ]
    for k in range(60):
        t = (k / 59) ** 1.6
        x, y, s = rng.uniform(-0.05, aspect + 0.05), horizon + 0.02 + t * (1 - horizon), 0.006 + 0.03 * t
        if k % 3:
            blades = [(x - s, y)]
            for b in np.linspace(-0.8, 0.8, 5):
                blades += [
                    (x + s * (b + rng.uniform(-0.3, 0.3)), y - s * rng.uniform(0.6, 1.5)),
                    (x + s * (b + 0.2), y - s * 0.1),
                ]
            parts.append(
                Part(
                    poly([*blades, (x, y + s * 0.2)]),
                    mix(p.near, p.mid, rng.uniform(0, 0.7)),
                    stroke=s * 0.08,
                    flow=1.4,
                )
            )
        else:
            parts.append(
                Part(
                    blob(
                        [
                            (x - s, y),
                            (x - s * 0.6, y - s * 0.7),
                            (x + s * 0.3, y - s * 0.8),
                            (x + s, y - s * 0.1),
                            (x, y + s * 0.2),
                        ],
                        4,
                    ),
                    mix(p.far, p.near, rng.uniform(0.2, 0.8)),
                    form=s * 0.2,
                    stroke=s * 0.1,
                )
            )
    return parts
