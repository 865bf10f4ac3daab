"""Things that fly or hang: aircraft, rocket, cable car. Local frame: about 1 long, nose to the right."""

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, box, oval, poly, tube


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
