"""Machines. Local frame: about 1 long, nose to the right, y down, the middle at (0, 0)."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, box, oval, poly, tube
from sample_batch.art.sky import smoke


def _wheel(p: Palette, x: float, y: float, r: float, squash: float = 1.0, spokes: int = 8) -> list[Part]:
    parts = [
        Part(oval(x, y, r * squash, r), mix(p.dark, p.near, 0.25), form=r * 0.2, stroke=r * 0.08),
        Part(oval(x, y, r * 0.66 * squash, r * 0.66), mix(p.metal, p.dark, 0.25), stroke=r * 0.07),
    ]
    for k in range(spokes):
        a = k * math.tau / spokes
        end = (x + math.cos(a) * r * 0.64 * squash, y + math.sin(a) * r * 0.64)
        parts.append(Part(tube([(x, y), end], (r * 0.05, r * 0.035)), mix(p.dark, p.accent, 0.3)))
    return [*parts, Part(oval(x, y, r * 0.16 * squash, r * 0.16), mix(p.metal, p.light, 0.4), form=r * 0.06)]


def plane(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A propeller aircraft, banking, seen from the side and a little above."""
    dark, lit = mix(paint, p.dark, 0.65), mix(paint, p.light, 0.5)
    sweep, span, biplane = shape.uniform(-0.1, 0.14), shape.uniform(0.42, 0.58), shape.random() < 0.35
    far_wing = blob(
        [
            (0.16, -0.05),
            (0.02 - sweep, -0.05),
            (-0.1 - sweep, -span * 0.85),
            (-0.02 - sweep, -span * 0.9),
            (0.08 - sweep, -span * 0.8),
        ]
    )
    fuselage = blob(
        [
            (-0.56, -0.06),
            (-0.3, -0.09),
            (0.0, -0.115),
            (0.25, -0.11),
            (0.42, -0.075),
            (0.48, -0.01),
            (0.42, 0.06),
            (0.2, 0.1),
            (-0.1, 0.075),
            (-0.4, 0.02),
            (-0.56, -0.01),
        ]
    )
    near_wing = blob(
        [
            (0.22, 0.02),
            (0.0, 0.02),
            (-0.16 - sweep, span * 0.75),
            (-0.12 - sweep, span * 0.85),
            (0.0 - sweep, span * 0.84),
            (0.12 - sweep * 0.5, span * 0.4),
        ]
    )
    fin = blob([(-0.42, -0.05), (-0.52, -0.24), (-0.6, -0.26), (-0.62, -0.16), (-0.56, -0.03)])
    tail = blob([(-0.4, -0.03), (-0.56, 0.13), (-0.64, 0.14), (-0.6, 0.0), (-0.5, -0.03)])
    panels = tuple(
        Shade(tube([(x, -0.12), (x + 0.01, 0.0), (x, 0.1)], (0.002, 0.003, 0.002)), dark, 0.6)
        for x in (-0.34, -0.2, -0.02, 0.14, 0.3)
    )
    roundel = (
        Shade(oval(-0.06 - sweep * 0.6, span * 0.55, 0.075, 0.06), p.light),
        Shade(oval(-0.06 - sweep * 0.6, span * 0.55, 0.045, 0.036), p.accent),
    )
    cloth = {"stroke": 0.0105, "vary": 1.1}
    parts = [Part(far_wing, mix(paint, p.dark, 0.3), form=0.03, flow=1.3, **cloth)]
    parts.append(Part(fin, p.accent, form=0.03, flow=1.0, **cloth))
    parts.append(
        Part(
            fuselage,
            paint,
            shades=(
                Shade(
                    blob([(-0.56, 0.0), (0.0, 0.02), (0.46, 0.02), (0.4, 0.12), (0.0, 0.14), (-0.5, 0.05)]),
                    dark,
                    0.75,
                    0.02,
                ),
                Shade(tube([(-0.4, -0.05), (0.0, -0.08), (0.36, -0.065)], (0.006, 0.012, 0.006)), lit, 0.9, 0.006),
                *panels,
            ),
            form=0.05,
            flow=0.05,
            **cloth,
        )
    )
    parts.append(Part(oval(0.43, -0.01, 0.035, 0.085), mix(p.dark, p.metal, 0.3), form=0.02, stroke=0.008))
    parts.append(
        Part(
            blob([(0.02, -0.1), (0.06, -0.18), (0.17, -0.18), (0.25, -0.1), (0.12, -0.08)]),
            mix(p.second, p.light, 0.35),
            shades=(
                Shade(
                    tube([(0.06, -0.13), (0.1, -0.165), (0.16, -0.165)], (0.004, 0.01, 0.004)),
                    (255, 255, 250),
                    0.9,
                    0.004,
                ),
                Shade(tube([(0.13, -0.19), (0.13, -0.08)], (0.005, 0.005)), dark),
            ),
            stroke=0.007,
        )
    )
    parts.append(Part(tail, dark, form=0.02, flow=1.0, **cloth))
    parts.append(
        Part(
            near_wing,
            mix(paint, p.light, 0.12),
            shades=(*roundel, Shade(tube([(0.0, 0.05), (-0.14 - sweep, span * 0.8)], (0.02, 0.014)), dark, 0.7, 0.01)),
            form=0.035,
            flow=1.25,
            **cloth,
        )
    )
    if biplane:
        parts.append(
            Part(
                blob(
                    [
                        (0.24, -0.24),
                        (0.06, -0.26),
                        (-0.18 - sweep, span * 0.42),
                        (0.02 - sweep, span * 0.5),
                        (0.18, 0.08),
                    ]
                ),
                mix(paint, p.accent, 0.25),
                form=0.03,
                flow=1.25,
                **cloth,
            )
        )
        parts += [Part(tube([(x, -0.1), (x + 0.01, 0.06)], (0.005, 0.005)), p.dark) for x in (0.04, 0.16)]
    else:
        parts.append(
            Part(
                tube([(0.2, 0.16), (0.06, 0.18), (-0.06, 0.17)], (0.04, 0.045, 0.012)),
                mix(paint, p.dark, 0.2),
                form=0.025,
                flow=0.0,
                **cloth,
            )
        )
    for turn in (0.3, 1.87):
        parts.append(Part(oval(0.485, -0.01, 0.02, 0.22, turn * 0.12), p.dark, opacity=0.35, soft=0.01))
    parts.append(Part(blob([(0.45, -0.04), (0.53, -0.01), (0.45, 0.025)]), p.accent, form=0.015))
    return parts


def locomotive(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A steam engine coming on from the left, boiler end foremost."""
    dark, lit = mix(p.dark, paint, 0.25), mix(p.metal, p.light, 0.35)
    tall = shape.uniform(0.1, 0.2)
    parts = smoke(
        np.random.Generator(np.random.PCG64(int(shape.integers(1 << 30)))),
        0.24,
        -0.3 - tall,
        0.75,
        -0.9,
        p.light,
        mix(p.far, p.dark, 0.4),
    )
    parts.append(
        Part(
            poly([(-0.62, -0.26), (-0.34, -0.36), (-0.26, -0.36), (-0.26, 0.16), (-0.62, 0.1)]),
            paint,
            shades=(
                Shade(poly([(-0.54, -0.2), (-0.42, -0.24), (-0.42, -0.1), (-0.54, -0.08)]), p.glow),
                Shade(poly([(-0.38, -0.26), (-0.3, -0.28), (-0.3, -0.1), (-0.38, -0.1)]), p.glow),
            ),
            form=0.03,
            stroke=0.012,
            flow=1.5,
        )
    )
    parts.append(
        Part(
            poly([(-0.66, -0.26), (-0.32, -0.4), (-0.2, -0.39), (-0.24, -0.34), (-0.62, -0.22)]),
            dark,
            form=0.02,
            stroke=0.01,
        )
    )
    boiler = poly([(-0.28, -0.24), (0.2, -0.34), (0.28, 0.16), (-0.28, 0.12)])
    bands = tuple(
        Shade(tube([(x, -0.26 - (x + 0.28) * 0.2), (x + 0.015, 0.0), (x, 0.15)], (0.006, 0.006, 0.006)), lit, 0.7)
        for x in (-0.16, -0.02, 0.11)
    )
    parts.append(
        Part(
            boiler,
            mix(paint, p.dark, 0.35),
            shades=(
                Shade(tube([(-0.28, -0.15), (0.2, -0.24)], (0.02, 0.03)), lit, 0.7, 0.02),
                Shade(tube([(-0.28, 0.1), (0.26, 0.13)], (0.05, 0.07)), p.dark, 0.8, 0.03),
                *bands,
            ),
            stroke=0.012,
            flow=0.0,
        )
    )
    for x, h in ((-0.08, 0.1), (0.06, 0.08)):
        parts.append(
            Part(
                blob([(x - 0.06, -0.26), (x - 0.05, -0.3 - h), (x + 0.03, -0.32 - h), (x + 0.05, -0.28)]),
                p.accent,
                form=0.025,
                stroke=0.009,
            )
        )
    parts.append(
        Part(
            poly([(0.19, -0.3), (0.15 - tall * 0.3, -0.36 - tall), (0.33 + tall * 0.3, -0.38 - tall), (0.3, -0.3)]),
            dark,
            form=0.03,
            stroke=0.011,
            flow=1.5,
        )
    )
    parts.append(Part(oval(0.25, -0.1, 0.2, 0.255), mix(p.dark, paint, 0.4), form=0.04, stroke=0.012, swirl=1.2))
    parts.append(
        Part(
            oval(0.26, -0.1, 0.155, 0.2),
            mix(p.dark, p.metal, 0.35),
            shades=tuple(
                Shade(oval(0.26 + math.cos(a) * 0.13, -0.1 + math.sin(a) * 0.17, 0.009, 0.011), lit)
                for a in np.linspace(0, math.tau, 15)[:-1]
            ),
            form=0.05,
            stroke=0.011,
            swirl=1.2,
        )
    )
    parts.append(Part(tube([(0.16, -0.1), (0.36, -0.1)], (0.012, 0.012)), p.accent))
    parts.append(Part(oval(0.27, -0.38, 0.16, 0.16), p.glow, soft=0.045, opacity=0.7))
    parts.append(
        Part(oval(0.27, -0.37, 0.055, 0.062), p.light, shades=(Shade(oval(0.27, -0.37, 0.035, 0.04), (255, 255, 250)),))
    )
    for x, r in ((-0.46, 0.11), (-0.26, 0.16), (-0.06, 0.17)):
        parts += _wheel(p, x, 0.2, r, 0.8)
    parts.append(
        Part(tube([(-0.46, 0.22), (-0.06, 0.25), (0.12, 0.2)], (0.016, 0.018, 0.014)), lit, form=0.01, stroke=0.006)
    )
    parts.append(
        Part(poly([(0.04, 0.12), (0.46, 0.1), (0.48, 0.2), (0.04, 0.22)]), p.accent, form=0.02, stroke=0.01, flow=0.0)
    )
    parts += [Part(oval(x, 0.15, 0.03, 0.034), lit, form=0.012) for x in (0.12, 0.4)]
    catcher = poly([(0.06, 0.22), (0.46, 0.2), (0.56, 0.42), (0.28, 0.46), (0.0, 0.42)])
    bars = tuple(
        Shade(
            poly([(0.06 + t * 0.4, 0.2), (0.075 + t * 0.4, 0.2), (0.03 + t * 0.54, 0.48), (0.0 + t * 0.54, 0.48)]),
            lit if k % 2 else p.dark,
            0.8,
        )
        for k, t in enumerate(np.linspace(0, 1, 11))
    )
    parts.append(Part(catcher, dark, shades=bars, form=0.03, stroke=0.008, flow=1.4))
    return parts


def rocket(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A finned rocket under power."""
    fat, fins = shape.uniform(0.1, 0.15), shape.uniform(0.22, 0.34)
    dark = mix(paint, p.dark, 0.7)
    parts = [
        Part(
            blob([(-0.46, -0.08), (-0.8, -0.12 * 1.2), (-1.25, 0.0), (-0.8, 0.12 * 1.2), (-0.46, 0.08)]),
            p.accent,
            ragged=0.03,
            stroke=0.014,
            flow=0.0,
            swirl=0.2,
            vary=1.5,
        ),
        Part(
            blob([(-0.46, -0.06), (-0.72, -0.08), (-1.0, 0.0), (-0.72, 0.08), (-0.46, 0.06)]),
            (255, 190, 60),
            ragged=0.02,
            stroke=0.011,
            flow=0.0,
            swirl=0.2,
        ),
        Part(
            blob([(-0.46, -0.04), (-0.62, -0.04), (-0.78, 0.0), (-0.62, 0.04), (-0.46, 0.04)]),
            (255, 248, 214),
            soft=0.01,
        ),
    ]
    parts.append(
        Part(
            blob([(-0.2, -fat * 0.7), (-0.42, -fins), (-0.58, -fins * 1.1), (-0.5, -0.06), (-0.3, -0.04)]),
            mix(p.accent, p.dark, 0.25),
            form=0.03,
            stroke=0.01,
            flow=0.6,
        )
    )
    body = blob(
        [
            (0.6, 0.0),
            (0.42, -fat * 0.62),
            (0.1, -fat),
            (-0.26, -fat * 0.9),
            (-0.48, -fat * 0.6),
            (-0.5, fat * 0.6),
            (-0.26, fat * 0.9),
            (0.1, fat),
            (0.42, fat * 0.62),
        ]
    )
    rings = tuple(
        Shade(tube([(x, -0.2), (x + 0.03, 0.0), (x, 0.2)], (w, w, w)), c, 0.9)
        for x, w, c in (
            (0.34, 0.02, p.accent),
            (-0.12, 0.006, dark),
            (0.02, 0.006, dark),
            (-0.34, 0.03, p.accent),
            (0.2, 0.005, dark),
        )
    )
    parts.append(
        Part(
            body,
            paint,
            shades=(
                *rings,
                Shade(blob([(0.6, 0.02), (0.1, 0.03), (-0.5, 0.02), (-0.5, 0.2), (0.1, 0.2)]), dark, 0.75, 0.025),
                Shade(
                    tube([(-0.4, -fat * 0.45), (0.1, -fat * 0.6), (0.44, -fat * 0.3)], (0.008, 0.016, 0.006)),
                    p.light,
                    0.95,
                    0.006,
                ),
            ),
            form=0.06,
            stroke=0.0105,
            flow=0.0,
            swirl=0.25,
        )
    )
    parts += [
        x
        for k in range(3)
        for x in (
            Part(oval(0.22 - k * 0.13, -0.02, 0.038, 0.042), dark, form=0.01),
            Part(
                oval(0.22 - k * 0.13, -0.02, 0.027, 0.03),
                p.glow,
                shades=(Shade(oval(0.21 - k * 0.13, -0.03, 0.01, 0.01), (255, 255, 255)),),
            ),
        )
    ]
    parts.append(
        Part(
            blob([(-0.18, fat * 0.5), (-0.42, fins * 0.95), (-0.6, fins * 1.1), (-0.52, 0.03), (-0.3, 0.02)]),
            p.accent,
            form=0.03,
            stroke=0.01,
            flow=-0.6,
        )
    )
    return [
        *parts,
        Part(
            tube([(-0.24, 0.02), (-0.5, 0.04), (-0.64, 0.05)], (0.008, 0.022, 0.012)),
            mix(p.accent, p.dark, 0.35),
            form=0.012,
            stroke=0.008,
        ),
    ]


def car(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """An open racing car with its driver and dust."""
    dark, lit = mix(paint, p.dark, 0.65), mix(paint, p.light, 0.6)
    long, tail = shape.uniform(0.42, 0.54), shape.uniform(0.4, 0.56)
    number = int(shape.integers(1, 90))
    parts = [
        Part(
            blob([(-0.4, 0.2), (-0.7, 0.05), (-1.2, 0.0), (-1.1, 0.22), (-0.6, 0.28)]),
            mix(p.mid, p.sky_low, 0.5),
            form=0.06,
            stroke=0.02,
            swirl=0.7,
            ragged=0.06,
            opacity=0.8,
        )
    ]
    parts += _wheel(p, 0.36, 0.12, 0.13, 0.8) + _wheel(p, -0.27, 0.12, 0.14, 0.8)
    body = blob(
        [
            (long + 0.06, 0.06),
            (long, -0.04),
            (0.2, -0.09),
            (0.02, -0.1),
            (-0.06, -0.04),
            (-0.2, -0.04),
            (-0.24, -0.14),
            (-tail * 0.8, -0.06),
            (-tail - 0.1, 0.06),
            (-tail, 0.12),
            (0.0, 0.15),
            (long, 0.13),
        ],
        6,
    )
    louvres = tuple(
        Shade(tube([(x, -0.02), (x + 0.012, 0.06)], (0.004, 0.004)), dark, 0.9) for x in np.linspace(0.1, 0.3, 8)
    )
    parts.append(
        Part(
            body,
            paint,
            shades=(
                Shade(
                    blob([(long + 0.1, 0.08), (0.0, 0.07), (-tail - 0.1, 0.07), (-tail, 0.2), (long, 0.2)]),
                    dark,
                    0.8,
                    0.015,
                ),
                Shade(tube([(-tail, 0.0), (-0.24, -0.08)], (0.006, 0.012)), lit, 0.9, 0.005),
                Shade(tube([(0.0, -0.07), (0.24, -0.055), (long, -0.01)], (0.006, 0.014, 0.006)), lit, 0.9, 0.005),
                Shade(oval(-0.34, 0.03, 0.075, 0.07), p.light),
                *_digits(number, -0.34, 0.03, 0.08, p.dark),
                *louvres,
            ),
            form=0.04,
            stroke=0.0095,
            flow=0.05,
            swirl=0.25,
        )
    )
    parts.append(
        Part(
            blob([(long + 0.045, 0.08), (long + 0.03, -0.02), (long - 0.02, 0.0), (long - 0.01, 0.1)]),
            p.metal,
            form=0.015,
            stroke=0.006,
        )
    )
    parts.append(
        Part(
            blob([(-0.2, -0.05), (-0.17, -0.16), (-0.1, -0.19), (-0.05, -0.1), (-0.04, -0.05)]),
            mix(p.second, p.dark, 0.2),
            form=0.025,
            stroke=0.008,
        )
    )
    parts += [
        Part(oval(-0.09, -0.235, 0.047, 0.055), p.skin, form=0.02, stroke=0.006),
        Part(
            blob([(-0.145, -0.21), (-0.15, -0.28), (-0.09, -0.31), (-0.04, -0.27), (-0.045, -0.25), (-0.1, -0.245)]),
            p.light if shape.random() < 0.5 else p.accent,
            form=0.02,
            stroke=0.006,
        ),
        Part(oval(-0.06, -0.245, 0.022, 0.017), p.dark),
        Part(
            blob([(-0.13, -0.19), (-0.26, -0.22), (-0.38, -0.18), (-0.25, -0.18), (-0.12, -0.16)]),
            p.accent,
            stroke=0.006,
            ragged=0.004,
        ),
    ]
    parts.append(
        Part(
            tube([(-0.1, -0.13), (-0.02, -0.11), (0.03, -0.13)], (0.02, 0.018, 0.014)),
            mix(p.second, p.dark, 0.2),
            form=0.01,
        )
    )
    parts.append(Part(poly([(0.03, -0.1), (0.01, -0.17), (0.03, -0.175), (0.07, -0.1)]), p.glow, opacity=0.7))
    parts.append(
        Part(
            tube([(0.2, 0.1), (-0.05, 0.12), (-0.4, 0.15), (-0.56, 0.13)], (0.016, 0.018, 0.018, 0.02)),
            p.metal,
            form=0.01,
            stroke=0.006,
        )
    )
    return [*parts, *_wheel(p, 0.4, 0.17, 0.15, 0.82), *_wheel(p, -0.24, 0.17, 0.17, 0.82)]


def _digits(number: int, x: float, y: float, high: float, ink: Rgb) -> tuple[Shade, ...]:
    """Seven-stroke numerals are enough at this size."""
    lines = {
        "a": ((0, 0), (1, 0)),
        "b": ((1, 0), (1, 1)),
        "c": ((1, 1), (1, 2)),
        "d": ((0, 2), (1, 2)),
        "e": ((0, 1), (0, 2)),
        "f": ((0, 0), (0, 1)),
        "g": ((0, 1), (1, 1)),
    }
    use = ("abcdef", "bc", "abged", "abgcd", "fgbc", "afgcd", "afgedc", "abc", "abcdefg", "abcdfg")
    text, out = str(number), []
    for k, digit in enumerate(text):
        left = x + (k - (len(text) - 1) / 2) * high * 0.62 - high * 0.2
        for seg in use[int(digit)]:
            ends = [(left + px * high * 0.4, y - high / 2 + py * high / 2) for px, py in lines[seg]]
            out.append(Shade(tube(ends, (high * 0.07, high * 0.07)), ink))
    return tuple(out)


def submarine(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A submarine on or under the water, bow to the right."""
    dark, lit = mix(paint, p.dark, 0.7), mix(paint, p.light, 0.5)
    sail = shape.uniform(-0.12, 0.08)
    hull = blob(
        [
            (0.62, -0.03),
            (0.4, -0.085),
            (0.0, -0.1),
            (-0.4, -0.075),
            (-0.64, -0.01),
            (-0.4, 0.07),
            (0.0, 0.11),
            (0.4, 0.1),
            (0.58, 0.05),
        ]
    )
    rivets = tuple(
        Shade(oval(x, y, 0.004, 0.004, points=8), lit, 0.8) for x in np.linspace(-0.5, 0.5, 34) for y in (-0.02, 0.035)
    )
    ports = tuple(Shade(oval(x, 0.005, 0.013, 0.013), p.glow) for x in np.linspace(0.08, 0.42, 6))
    parts = [
        Part(tube([(sail + 0.02, -0.2), (sail + 0.02, -0.42)], (0.008, 0.006)), dark),
        Part(tube([(sail - 0.05, -0.2), (sail - 0.05, -0.36), (sail, -0.37)], (0.007, 0.007, 0.01)), dark),
    ]
    parts.append(
        Part(
            blob([(sail - 0.15, -0.08), (sail - 0.12, -0.24), (sail + 0.09, -0.26), (sail + 0.16, -0.08)], 4),
            mix(paint, p.dark, 0.15),
            shades=(
                Shade(box(sail + 0.04, -0.3, sail + 0.3, 0), dark, 0.6, 0.02),
                Shade(tube([(sail - 0.1, -0.2), (sail + 0.1, -0.21)], (0.006, 0.006)), lit),
            ),
            form=0.03,
            stroke=0.01,
            flow=1.5,
        )
    )
    parts.append(
        Part(
            hull,
            paint,
            shades=(
                Shade(blob([(0.64, 0.0), (0.0, 0.03), (-0.64, 0.01), (-0.4, 0.14), (0.3, 0.16)]), dark, 0.85, 0.02),
                Shade(tube([(-0.5, -0.04), (0.0, -0.07), (0.45, -0.05)], (0.005, 0.013, 0.005)), lit, 0.9, 0.008),
                *rivets,
                *ports,
            ),
            form=0.05,
            stroke=0.0095,
            flow=0.0,
            swirl=0.3,
        )
    )
    parts += [
        Part(blob([(-0.5, -0.03), (-0.62, -0.2), (-0.7, -0.2), (-0.62, 0.0)]), dark, form=0.02, stroke=0.008),
        Part(blob([(-0.46, 0.03), (-0.6, 0.16), (-0.7, 0.15), (-0.62, 0.01)]), dark, form=0.02, stroke=0.008),
        Part(
            blob([(0.3, -0.01), (0.22, 0.05), (0.34, 0.06), (0.42, 0.0)]),
            mix(paint, p.accent, 0.6),
            form=0.012,
            stroke=0.006,
        ),
    ]
    parts.append(Part(poly([(0.58, 0.0), (1.3, -0.16), (1.3, 0.2)]), p.glow, opacity=0.3, soft=0.02))
    return parts


def ship(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A steamer, bow to the right."""
    dark, rust = mix(paint, p.dark, 0.6), mix(p.accent, p.dark, 0.35)
    funnels = int(shape.integers(1, 4))
    parts: list[Part] = []
    for k in range(funnels):
        x = -0.2 + k * 0.16
        parts += smoke(
            np.random.Generator(np.random.PCG64(int(shape.integers(1 << 30)))),
            x,
            -0.36,
            0.45,
            -0.8,
            mix(p.far, p.light, 0.3),
            p.dark,
        )
        parts.append(
            Part(
                poly([(x - 0.045, -0.12), (x - 0.06, -0.38), (x + 0.025, -0.38), (x + 0.045, -0.12)]),
                p.accent,
                shades=(
                    Shade(box(x - 0.2, -0.4, x + 0.2, -0.33), p.dark),
                    Shade(box(x - 0.2, -0.28, x + 0.2, -0.24), p.light),
                ),
                form=0.02,
                stroke=0.009,
                flow=1.5,
            )
        )
    parts.append(
        Part(
            poly([(-0.42, -0.02), (-0.4, -0.13), (0.18, -0.13), (0.26, -0.02)]),
            p.light,
            shades=tuple(Shade(box(x, -0.1, x + 0.02, -0.07), p.dark) for x in np.arange(-0.36, 0.2, 0.045)),
            form=0.02,
            stroke=0.008,
            flow=0.0,
        )
    )
    parts.append(
        Part(
            poly([(0.02, -0.12), (0.03, -0.22), (0.17, -0.22), (0.19, -0.12)]),
            mix(p.light, p.far, 0.2),
            shades=(Shade(box(0.04, -0.2, 0.18, -0.17), p.dark),),
            stroke=0.007,
        )
    )
    parts += [Part(tube([(x, -0.02), (x, -0.5)], (0.006, 0.003)), dark) for x in (-0.48, 0.36)]
    parts += [
        Part(tube([(0.36, -0.48), (x, y)], (0.0015, 0.0015)), dark)
        for x, y in ((0.62, -0.1), (-0.48, -0.48), (0.16, -0.12))
    ]
    hull = blob(
        [
            (0.68, -0.12),
            (0.4, -0.03),
            (0.0, 0.0),
            (-0.5, -0.05),
            (-0.58, -0.04),
            (-0.54, 0.14),
            (-0.3, 0.17),
            (0.3, 0.17),
            (0.56, 0.16),
        ],
        6,
    )
    parts.append(
        Part(
            hull,
            paint,
            shades=(
                Shade(box(-0.7, 0.09, 0.7, 0.3), rust, 0.95, 0.003),
                Shade(poly([(0.3, -0.1), (0.8, -0.2), (0.6, 0.3), (0.36, 0.3)]), dark, 0.65, 0.02),
                *(Shade(oval(x, 0.04, 0.01, 0.01), p.glow) for x in np.linspace(-0.44, 0.44, 14)),
            ),
            form=0.03,
            stroke=0.01,
            flow=0.0,
            swirl=0.3,
            vary=1.2,
        )
    )
    return [
        *parts,
        Part(
            blob([(0.62, 0.16), (0.5, 0.11), (0.0, 0.15), (-0.6, 0.14), (-0.8, 0.2), (0.0, 0.22), (0.7, 0.21)]),
            p.light,
            ragged=0.02,
            stroke=0.008,
            flow=0.0,
            opacity=0.9,
        ),
    ]


def crane(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A dockside crane with a load on the hook."""
    dark, reach = mix(p.dark, paint, 0.3), shape.uniform(0.45, 0.65)
    parts: list[Part] = []
    for a, b, wide in (((-0.16, 0.5), (-0.03, -0.2), 0.1), ((0.0, -0.2), (reach, -0.56), 0.05)):
        start, end = np.array(a), np.array(b)
        way = (end - start) / np.linalg.norm(end - start)
        side = np.array([-way[1], way[0]]) * wide
        steps = [start + (end - start) * t for t in np.linspace(0, 1, 9)]
        for s in (-1.0, 1.0):
            parts.append(
                Part(tube([tuple(start + side * s), tuple(end + side * s * 0.3)], (0.011, 0.008)), dark, stroke=0.006)
            )
        for k in range(8):
            s = 1.0 if k % 2 else -1.0
            t0, t1 = 1 - k / 8 * 0.7, 1 - (k + 1) / 8 * 0.7
            parts.append(
                Part(tube([tuple(steps[k] + side * s * t0), tuple(steps[k + 1] - side * s * t1)], (0.006, 0.006)), dark)
            )
    parts.append(
        Part(
            poly([(-0.16, -0.16), (-0.14, -0.34), (0.06, -0.34), (0.1, -0.16)]),
            paint,
            shades=(Shade(box(0.0, -0.31, 0.07, -0.23), p.glow),),
            form=0.02,
            stroke=0.01,
        )
    )
    parts.append(Part(tube([(reach, -0.56), (reach, -0.05)], (0.003, 0.003)), dark))
    return [
        *parts,
        Part(
            poly([(reach - 0.11, -0.02), (reach + 0.11, -0.02), (reach + 0.11, 0.14), (reach - 0.11, 0.14)]),
            mix(p.mid, p.near, 0.4),
            shades=tuple(
                Shade(tube([(x + reach, -0.02), (x + reach, 0.14)], (0.004, 0.004)), p.dark) for x in (-0.06, 0.0, 0.06)
            ),
            form=0.02,
            stroke=0.01,
            flow=0.0,
        ),
        Part(tube([(reach - 0.1, -0.02), (reach, -0.1), (reach + 0.1, -0.02)], (0.003, 0.003, 0.003)), dark),
    ]


def cable_car(p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """A cabin on its cable."""
    wide = shape.uniform(0.3, 0.4)
    parts = [
        Part(tube([(-2.5, -0.2), (0.0, -0.62), (2.5, -1.3)], (0.01, 0.01, 0.01)), p.dark),
        Part(
            tube([(0.0, -0.62), (0.03, -0.4), (0.0, -0.28)], (0.016, 0.014, 0.02)), mix(p.dark, p.metal, 0.3), form=0.01
        ),
    ]
    parts.append(
        Part(poly([(-0.12, -0.6), (0.12, -0.66), (0.12, -0.6), (-0.12, -0.54)]), p.metal, form=0.015, stroke=0.008)
    )
    glass = tuple(
        Shade(poly([(x, -0.16), (x + 0.13, -0.16), (x + 0.13, 0.04), (x, 0.04)]), mix(p.sky_top, p.light, 0.45))
        for x in (-0.3, -0.14, 0.02, 0.18)
        if x > -wide + 0.02 and x + 0.13 < wide - 0.01
    )
    parts.append(
        Part(
            blob(
                [
                    (-wide, -0.2),
                    (-wide * 0.6, -0.27),
                    (wide * 0.6, -0.27),
                    (wide, -0.2),
                    (wide * 1.05, 0.1),
                    (wide * 0.8, 0.28),
                    (-wide * 0.8, 0.28),
                    (-wide * 1.05, 0.1),
                ],
                5,
            ),
            paint,
            shades=(
                *glass,
                Shade(box(-1, 0.08, 1, 0.12), p.light),
                Shade(box(0.1, -0.5, 1, 0.5), mix(paint, p.dark, 0.5), 0.5, 0.04),
            ),
            form=0.05,
            stroke=0.011,
            flow=1.5,
        )
    )
    return parts


def machine(kind: str, p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """The machine of that kind, touched in with a small brush, so that windows and numbers hold."""
    return [replace(part, stroke=part.stroke * 0.6) for part in MACHINES[kind](p, paint, shape)]


MACHINES: dict[str, Callable[[Palette, Rgb, np.random.Generator], list[Part]]] = {
    "plane": plane,
    "locomotive": locomotive,
    "rocket": rocket,
    "car": car,
    "submarine": submarine,
    "ship": ship,
    "crane": crane,
    "cable_car": cable_car,
}
