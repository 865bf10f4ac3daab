"""Things on wheels: locomotive and racing car. Local frame: about 1 long, nose to the right."""

import math

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, oval, poly, tube
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
