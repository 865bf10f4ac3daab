"""Ships, submarines and the cranes that load them. Local frame: about 1 long, nose to the right."""

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, box, oval, poly, tube
from sample_batch.art.sky import smoke


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
