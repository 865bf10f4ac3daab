"""Buildings that a story needs. Placed by foot and height."""

import math

import numpy as np

from sample_batch.art.brush import Part, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, box, oval, poly, tube


def house(rng: np.random.Generator, p: Palette, x: float, y: float, high: float, kind: str) -> list[Part]:
    """A building that the story needs: manor, station, lighthouse, tents, temple, hut or warehouse."""
    wall, dark, lit = mix(p.far, p.near, 0.5), mix(p.near, p.dark, 0.6), mix(p.glow, p.second, 0.25)
    parts: list[Part] = []
    if kind == "manor":
        for k, (dx, w, h) in enumerate(((-0.3, 0.2, 0.7), (0.26, 0.24, 0.62), (0.0, 0.3, 0.85))):
            left, right, t = x + (dx - w / 2) * high, x + (dx + w / 2) * high, y - h * high * rng.uniform(0.85, 1.1)
            peak = t - high * rng.uniform(0.25, 0.42)
            shade = Shade(box(left + (right - left) * 0.6, t - 1, right + 0.1, y + 0.1), p.dark, 0.55, high * 0.01)
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
                for wx in np.arange(left + 0.03 * high, right - 0.05 * high, 0.08 * high)
                for wy in np.arange(t + 0.16 * high, y, 0.2 * high)
            )
            parts.append(
                Part(
                    box(left, t, right, y + 0.02),
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
                            (left - 0.03 * high, t + 0.01 * high),
                            (left + (right - left) * 0.3, peak + (t - peak) * 0.45),
                            ((left + right) / 2, peak),
                            (left + (right - left) * 0.7, peak + (t - peak) * 0.45),
                            (right + 0.03 * high, t + 0.01 * high),
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
                Part(
                    tube(
                        [((left + right) / 2, peak), ((left + right) / 2, peak - 0.1 * high)],
                        (0.006 * high, 0.002 * high),
                    ),
                    dark,
                )
            )
            if k == 2:
                parts.append(
                    Part(
                        box(left + 0.02 * high, peak + 0.1 * high, left + 0.06 * high, t),
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
