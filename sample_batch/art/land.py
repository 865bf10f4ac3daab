"""The ground under the scene: ranges, dunes, seas, towns, harbours, woods, houses, rails. In canvas units (height 1)."""

import math

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, box, ground, oval, poly, ridge, tube


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


def house(rng: np.random.Generator, p: Palette, x: float, y: float, high: float, kind: str) -> list[Part]:
    """A building that the story needs: manor, station, lighthouse, tents, temple, hut or warehouse."""
    wall, dark, lit = mix(p.far, p.near, 0.5), mix(p.near, p.dark, 0.6), mix(p.glow, p.second, 0.25)
    parts: list[Part] = []
    if kind == "manor":
        for k, (dx, w, h) in enumerate(((-0.3, 0.2, 0.7), (0.26, 0.24, 0.62), (0.0, 0.3, 0.85))):
            l, r, t = x + (dx - w / 2) * high, x + (dx + w / 2) * high, y - h * high * rng.uniform(0.85, 1.1)
            peak = t - high * rng.uniform(0.25, 0.42)
            shade = Shade(box(l + (r - l) * 0.6, t - 1, r + 0.1, y + 0.1), p.dark, 0.55, high * 0.01)
            panes = tuple(
                Shade(
                    poly(
                        [
                            (wx, wy),
                            (wx, wy - 0.08 * high),
                            (wx + 0.022 * high, wy - 0.105 * high),
                            (wx + 0.045 * high, wy - 0.08 * high),
                            (wx + 0.045 * high, wy),
                        ]
                    ),
                    lit if rng.random() < 0.6 else p.dark,
                    0.95,
                )
                for wx in np.arange(l + 0.03 * high, r - 0.05 * high, 0.08 * high)
                for wy in np.arange(t + 0.16 * high, y, 0.2 * high)
            )
            parts.append(
                Part(
                    box(l, t, r, y + 0.02),
                    mix(wall, dark, 0.3),
                    shades=(shade, *panes),
                    stroke=high * 0.012,
                    flow=1.5,
                    swirl=0.3,
                    ragged=high * 0.004,
                )
            )
            parts.append(
                Part(
                    poly(
                        [
                            (l - 0.03 * high, t + 0.01 * high),
                            (l + (r - l) * 0.3, peak + (t - peak) * 0.45),
                            ((l + r) / 2, peak),
                            (l + (r - l) * 0.7, peak + (t - peak) * 0.45),
                            (r + 0.03 * high, t + 0.01 * high),
                        ]
                    ),
                    mix(dark, p.accent, 0.12),
                    form=high * 0.03,
                    stroke=high * 0.011,
                    flow=1.1,
                    ragged=high * 0.003,
                )
            )
            parts.append(
                Part(tube([((l + r) / 2, peak), ((l + r) / 2, peak - 0.1 * high)], (0.006 * high, 0.002 * high)), dark)
            )
            if k == 2:
                parts.append(
                    Part(
                        box(l + 0.02 * high, peak + 0.1 * high, l + 0.06 * high, t),
                        dark,
                        form=high * 0.01,
                        stroke=high * 0.008,
                    )
                )
    elif kind == "lighthouse":
        beam = poly([(x, y - 0.93 * high), (x + 1.6, y - 1.35 * high), (x + 1.6, y - 0.6 * high)])
        parts.append(Part(beam, p.glow, opacity=0.35, soft=0.006))
        bands = tuple(
            Shade(box(x - 1, y - high * t, x + 1, y - high * (t - 0.14)), p.accent, 0.9) for t in (0.28, 0.56, 0.84)
        )
        parts += [
            Part(
                poly(
                    [
                        (x - 0.12 * high, y),
                        (x - 0.07 * high, y - 0.86 * high),
                        (x + 0.07 * high, y - 0.86 * high),
                        (x + 0.12 * high, y),
                    ]
                ),
                p.light,
                shades=bands,
                form=high * 0.05,
                stroke=high * 0.012,
                flow=1.5,
            ),
            Part(box(x - 0.1 * high, y - 0.88 * high, x + 0.1 * high, y - 0.85 * high), dark),
            Part(box(x - 0.05 * high, y - 0.97 * high, x + 0.05 * high, y - 0.88 * high), p.glow, form=high * 0.02),
            Part(
                blob([(x - 0.07 * high, y - 0.96 * high), (x, y - 1.08 * high), (x + 0.07 * high, y - 0.96 * high)]),
                dark,
                form=high * 0.02,
            ),
        ]
    elif kind == "tents":
        wheel = (x + 0.5 * high, y - 0.62 * high)
        r = 0.52 * high
        ring = np.concatenate(
            [
                oval(*wheel, r, r, points=60),
                oval(*wheel, r, r, points=60)[:1],
                oval(*wheel, r * 0.93, r * 0.93, points=60)[::-1],
                oval(*wheel, r * 0.93, r * 0.93, points=60)[:1],
            ]
        )
        for k in range(12):
            a = k * math.tau / 12 + rng.uniform(0, 0.02)
            rim = (wheel[0] + math.cos(a) * r, wheel[1] + math.sin(a) * r)
            parts.append(Part(tube([wheel, rim], (0.006 * high, 0.005 * high)), mix(dark, p.metal, 0.4)))
            parts.append(
                Part(
                    blob(
                        [
                            (rim[0] - 0.05 * high, rim[1]),
                            (rim[0], rim[1] - 0.05 * high),
                            (rim[0] + 0.05 * high, rim[1]),
                            (rim[0] + 0.03 * high, rim[1] + 0.07 * high),
                            (rim[0] - 0.03 * high, rim[1] + 0.07 * high),
                        ],
                        4,
                    ),
                    (p.accent, p.second, p.glow)[k % 3],
                    form=0.02 * high,
                    stroke=0.009 * high,
                )
            )
        parts.append(Part(ring, mix(dark, p.metal, 0.6), stroke=0.008 * high))
        parts += [Part(tube([wheel, (wheel[0] + d * high, y)], (0.012 * high, 0.02 * high)), dark) for d in (-0.2, 0.2)]
        for dx, s in ((-0.55, 0.8), (-0.1, 0.6)):
            cx = x + dx * high
            stripes = tuple(
                Shade(
                    poly(
                        [
                            (cx, y - s * high),
                            (cx + (k - 4.5) / 4 * 0.42 * s * high, y),
                            (cx + (k - 4) / 4 * 0.42 * s * high, y),
                        ]
                    ),
                    p.light,
                    0.95,
                )
                for k in range(1, 9)
            )
            parts.append(
                Part(
                    blob(
                        [
                            (cx - 0.4 * s * high, y),
                            (cx - 0.36 * s * high, y - 0.45 * s * high),
                            (cx, y - s * high),
                            (cx + 0.36 * s * high, y - 0.45 * s * high),
                            (cx + 0.4 * s * high, y),
                        ],
                        3,
                    ),
                    p.accent if dx < -0.3 else p.second,
                    shades=stripes,
                    form=0.06 * high,
                    stroke=0.011 * high,
                    flow=1.4,
                )
            )
            parts.append(
                Part(
                    poly(
                        [
                            (cx, y - s * high * 1.18),
                            (cx + 0.14 * high, y - s * high * 1.13),
                            (cx, y - s * high * 1.08),
                            (cx, y - s * high * 0.95),
                            (cx - 0.006, y - s * high * 0.95),
                            (cx - 0.006, y - s * high * 1.18),
                        ]
                    ),
                    p.glow,
                )
            )
    elif kind == "temple":
        for k in range(6):
            w, t = (0.62 - 0.09 * k) * high, y - k * 0.15 * high
            parts.append(
                Part(
                    poly([(x - w, t), (x - w * 0.96, t - 0.15 * high), (x + w * 0.96, t - 0.15 * high), (x + w, t)]),
                    mix(wall, p.mid, rng.uniform(0, 0.4)),
                    shades=(Shade(box(x + w * 0.35, t - 0.2 * high, x + w * 1.1, t), p.dark, 0.5, 0.01 * high),),
                    form=0.02 * high,
                    stroke=0.013 * high,
                    flow=0.05,
                    ragged=0.006 * high,
                    vary=1.6,
                )
            )
        parts.append(
            Part(
                poly(
                    [
                        (x - 0.09 * high, y),
                        (x - 0.05 * high, y - 0.9 * high),
                        (x + 0.05 * high, y - 0.9 * high),
                        (x + 0.09 * high, y),
                    ]
                ),
                mix(wall, p.glow, 0.4),
                stroke=0.01 * high,
                flow=0.0,
            )
        )
        parts.append(
            Part(
                poly(
                    [
                        (x - 0.07 * high, y - 0.8 * high),
                        (x - 0.06 * high, y - 0.98 * high),
                        (x + 0.06 * high, y - 0.98 * high),
                        (x + 0.07 * high, y - 0.8 * high),
                    ]
                ),
                p.dark,
            )
        )
    else:
        w = high * rng.uniform(0.62, 0.8)
        planks = tuple(
            Shade(tube([(x - w, y - t * high), (x + w, y - t * high)], (0.004 * high, 0.003 * high)), p.dark, 0.55)
            for t in np.arange(0.05, 0.6, 0.05)
        )
        panes = []
        for k in range(5):
            cx, top, low = x + (k - 2) * w * 0.38, y - 0.46 * high, y - (0.0 if k in (1, 4) else 0.2 * high)
            glow = lit if rng.random() < 0.6 else p.dark
            panes += [
                Shade(box(cx - 0.1 * w, top - 0.03 * high, cx + 0.1 * w, low), mix(wall, p.light, 0.4)),
                Shade(box(cx - 0.075 * w, top, cx + 0.075 * w, low), glow),
                Shade(box(cx - 0.006 * high, top, cx + 0.006 * high, low), p.dark),
            ]
        parts.append(
            Part(
                box(x - w, y - 0.6 * high, x + w, y + 0.01),
                mix(wall, p.mid, 0.3),
                shades=(*planks, *panes, Shade(box(x + 0.45 * w, y - high, x + 2 * w, y), p.dark, 0.45, 0.03 * high)),
                stroke=0.008 * high,
                flow=0.0,
                swirl=0.2,
                vary=1.4,
            )
        )
        roof = dark if kind == "warehouse" else mix(p.accent, p.dark, 0.5)
        slope = [
            (x - w * 1.12, y - 0.55 * high),
            (x - w * 0.82, y - 0.85 * high),
            (x + w * 0.82, y - 0.85 * high),
            (x + w * 1.12, y - 0.55 * high),
        ]
        tiles = tuple(
            Shade(
                tube(
                    [(x + t * w * 0.82, y - 0.85 * high), (x + t * w * 1.12, y - 0.55 * high)],
                    (0.004 * high, 0.005 * high),
                ),
                p.dark,
                0.5,
            )
            for t in np.linspace(-0.9, 0.9, 15)
        )
        parts.append(Part(poly(slope), roof, shades=tiles, form=0.04 * high, stroke=0.009 * high, flow=1.2))
        parts.append(
            Part(
                box(x - 0.55 * w, y - 1.05 * high, x - 0.45 * w, y - 0.8 * high),
                mix(roof, p.near, 0.5),
                form=0.02 * high,
                stroke=0.009 * high,
            )
        )
        parts.append(
            Part(
                poly([(x - 0.2 * w, y - 0.7 * high), (x, y - 1.08 * high), (x + 0.2 * w, y - 0.7 * high)]),
                mix(wall, p.mid, 0.5),
                shades=(Shade(oval(x, y - 0.84 * high, 0.05 * high, 0.05 * high), lit),),
                form=0.02 * high,
                stroke=0.008 * high,
                flow=1.5,
            )
        )
    return parts
