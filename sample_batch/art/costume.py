"""Clothes and what is carried: coats, collars, capes, lamps, weapons. In the local frame of the figure."""

import math
from dataclasses import dataclass

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.face import Face
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, frame, oval, poly, tube

COSTUMES = ("trench", "jacket", "dress", "uniform", "suit", "gown", "shirt", "cape", "spacesuit")


@dataclass(frozen=True, slots=True)
class Person:
    """A face, a costume and its colours."""

    face: Face
    costume: str
    cloth: Rgb
    trousers: Rgb
    prop: str
    recut: bool = False  # another cut of the same clothes


def pairs(points: list[Floats]) -> list[tuple[float, float]]:
    """The points as plain pairs."""
    return [(float(q[0]), float(q[1])) for q in points]


def tailoring(
    neck: Floats,
    mid: Floats,
    side: Floats,
    up: Floats,
    broad: float,
    waist: float,
    hip: Floats,
    person: Person,
    p: Palette,
    shape: np.random.Generator,
) -> list[Part]:
    """Lapels, buttons, pockets and straps: what makes a coat a coat."""
    cloth, dark, lit = person.cloth, mix(person.cloth, p.dark, 0.7), mix(person.cloth, p.light, 0.35)
    double = shape.random() < 0.5
    drop = shape.uniform(0.07, 0.12)
    parts: list[Part] = []
    if person.costume in ("trench", "suit", "uniform", "jacket", "cape"):
        middle = neck - up * drop + side * 0.012
        for s, tone in ((-1.0, lit), (1.0, dark)):
            lapel = poly(
                pairs(
                    [
                        neck + side * s * 0.022,
                        neck - up * 0.03 + side * s * broad * 0.62,
                        neck - up * 0.055 + side * s * broad * 0.42,
                        neck - up * 0.062 + side * s * broad * 0.6,
                        middle,
                    ]
                )
            )
            parts.append(Part(lapel, mix(cloth, tone, 0.45), form=0.01, stroke=0.006, flow=1.2))
        brass = p.glow if person.costume == "uniform" else mix(p.dark, p.glow, 0.35)
        for k in range(3):
            spot = middle + (mid - middle) * (0.2 + 0.33 * k)
            for s in (-1.0, 1.0) if double else (0.2,):
                q = spot + side * s * 0.022
                parts.append(Part(oval(float(q[0]), float(q[1]), 0.0055, 0.0055, points=12), brass, form=0.003))
    if person.costume in ("trench", "uniform", "jacket", "shirt", "spacesuit"):
        for s in (-1.0, 1.0):
            q = neck - up * 0.1 + side * s * broad * 0.55
            parts.append(
                Part(
                    poly(
                        pairs(
                            [
                                q - side * 0.022,
                                q + side * 0.022,
                                q + side * 0.02 - up * 0.016,
                                q - up * 0.021,
                                q - side * 0.02 - up * 0.016,
                            ]
                        )
                    ),
                    mix(cloth, dark if s > 0 else lit, 0.4),
                    form=0.005,
                    stroke=0.004,
                )
            )
        q = hip - up * 0.012 - side * waist * 0.6
        if person.costume != "shirt":
            parts.append(
                Part(
                    poly(
                        pairs(
                            [
                                q - side * 0.03,
                                q + side * 0.03,
                                q + side * 0.028 - up * 0.02,
                                q - side * 0.028 - up * 0.02,
                            ]
                        )
                    ),
                    mix(cloth, lit, 0.3),
                    form=0.006,
                    stroke=0.005,
                )
            )
    if person.costume in ("shirt", "jacket") and shape.random() < 0.6:
        a, b = neck - up * 0.02 - side * broad * 0.8, mid + side * waist * 0.9
        parts.append(
            Part(
                tube(pairs([a, (a + b) / 2 - side * 0.008, b]), (0.009, 0.009, 0.009)),
                mix(p.dark, (96, 56, 30), 0.6),
                form=0.006,
                stroke=0.004,
            )
        )
    if person.costume == "spacesuit":
        parts.append(
            Part(
                blob(
                    pairs(
                        [
                            mid + up * 0.08 - side * 0.035,
                            mid + up * 0.08 + side * 0.035,
                            mid + up * 0.03 + side * 0.035,
                            mid + up * 0.03 - side * 0.035,
                        ]
                    ),
                    3,
                ),
                p.metal,
                shades=tuple(
                    Shade(oval(float(c[0]), float(c[1]), 0.007, 0.007), t)
                    for c, t in ((mid + up * 0.06 - side * 0.015, p.accent), (mid + up * 0.06 + side * 0.012, p.glow))
                ),
                form=0.01,
                stroke=0.004,
            )
        )
    if person.costume == "gown":
        parts.append(
            Part(
                blob(
                    pairs(
                        [
                            mid - side * waist - up * 0.02,
                            mid - side * waist * 1.3 + up * 0.015,
                            mid - side * waist * 0.7 + up * 0.01,
                            mid - side * waist * 0.9 - up * 0.09,
                            mid - side * waist * 1.25 - up * 0.08,
                        ]
                    )
                ),
                p.accent,
                form=0.01,
                stroke=0.006,
            )
        )
    return parts


def collar(neck: Floats, person: Person, p: Palette, dark: Rgb) -> Part:
    """What lies about the neck."""
    x, y = float(neck[0]), float(neck[1])
    if person.costume in ("gown", "dress"):
        return Part(
            blob(
                [
                    (x - 0.03, y - 0.01),
                    (x + 0.03, y - 0.012),
                    (x + 0.05, y + 0.02),
                    (x + 0.012, y + 0.075),
                    (x - 0.03, y + 0.025),
                ]
            ),
            mix(p.skin, p.light, 0.1),
            form=0.02,
            stroke=0.006,
        )
    if person.costume == "suit":
        return Part(
            poly([(x - 0.018, y + 0.0), (x + 0.035, y - 0.002), (x + 0.022, y + 0.13)]),
            p.light,
            shades=(
                Shade(
                    poly([(x + 0.004, y + 0.01), (x + 0.016, y + 0.01), (x + 0.024, y + 0.12), (x + 0.012, y + 0.11)]),
                    p.accent,
                ),
            ),
            stroke=0.005,
        )
    if person.costume == "spacesuit":
        return Part(
            tube([(x - 0.06, y + 0.015), (x, y + 0.03), (x + 0.065, y + 0.012)], (0.018, 0.02, 0.018)),
            p.metal,
            form=0.014,
            stroke=0.005,
        )
    return Part(
        blob(
            [
                (x - 0.06, y + 0.0),
                (x - 0.02, y - 0.014),
                (x + 0.03, y - 0.012),
                (x + 0.06, y + 0.004),
                (x + 0.03, y + 0.08),
                (x + 0.012, y + 0.03),
            ]
        ),
        dark,
        form=0.016,
        stroke=0.006,
    )


def cape(neck: Floats, lean: float, p: Palette, shape: np.random.Generator) -> Part:
    """A cape blown back."""
    x, y = float(neck[0]), float(neck[1])
    blow = 0.25 + lean * 0.5 + shape.uniform(0, 0.2)
    edge = blob(
        [
            (x + 0.05, y),
            (x - 0.06, y),
            (x - 0.16 - blow * 0.3, y + 0.2),
            (x - 0.22 - blow, y + 0.5),
            (x - 0.1 - blow * 0.6, y + 0.62),
            (x - 0.05, y + 0.6),
            (x + 0.06, y + 0.62),
            (x + 0.08, y + 0.3),
        ]
    )
    folds = tuple(
        Shade(
            tube(
                [(x - 0.02, y + 0.05), (x - 0.1 - blow * k * 0.5, y + 0.3), (x - 0.05 - blow * k, y + 0.55)],
                (0.002, 0.012, 0.02),
            ),
            mix(p.accent, p.dark, 0.6),
            0.8,
            0.01,
        )
        for k in (0.2, 0.5, 0.85)
    )
    return Part(edge, p.accent, shades=folds, form=0.05, stroke=0.011, flow=1.3, ragged=0.008, vary=1.3)


def prop(prop: str, hand: Floats, angle: float, p: Palette) -> list[Part]:
    """What the hand holds."""
    place = frame(float(hand[0]), float(hand[1]), 1.0, math.pi / 2 - angle)
    steel = mix(p.dark, p.metal, 0.35)
    parts: list[Part] = []
    if prop == "pistol":
        parts = [
            Part(
                poly(
                    [
                        (0.03, -0.035),
                        (0.15, -0.035),
                        (0.15, -0.016),
                        (0.08, -0.014),
                        (0.06, 0.0),
                        (0.05, 0.035),
                        (0.028, 0.032),
                    ]
                ),
                steel,
                form=0.008,
            )
        ]
    elif prop == "lantern":
        parts = [
            Part(oval(0.1, 0.06, 0.12, 0.12), p.glow, soft=0.04, opacity=0.6),
            Part(blob([(0.07, 0.02), (0.13, 0.02), (0.14, 0.1), (0.06, 0.1)]), p.glow, form=0.02),
            Part(poly([(0.06, 0.0), (0.14, 0.0), (0.12, 0.025), (0.08, 0.025)]), steel),
            Part(poly([(0.055, 0.095), (0.145, 0.095), (0.14, 0.12), (0.06, 0.12)]), steel),
        ]
    elif prop == "torch":
        parts = [
            Part(tube([(0.03, 0.02), (0.12, -0.08)], (0.009, 0.012)), (90, 56, 30), form=0.01),
            Part(
                blob([(0.1, -0.07), (0.1, -0.14), (0.15, -0.22), (0.17, -0.12), (0.16, -0.07)]),
                (250, 150, 40),
                ragged=0.008,
                stroke=0.006,
            ),
            Part(blob([(0.115, -0.08), (0.13, -0.15), (0.15, -0.09)]), (255, 236, 150), soft=0.006),
        ]
    elif prop == "rifle":
        parts = [
            Part(
                tube([(-0.16, 0.03), (-0.02, 0.0), (0.34, -0.03)], (0.022, 0.012, 0.006)),
                (86, 54, 32),
                form=0.01,
                stroke=0.005,
            ),
            Part(tube([(0.0, -0.012), (0.38, -0.042)], (0.006, 0.005)), steel),
        ]
    elif prop == "rope":
        parts = [
            Part(
                tube([(0.03, 0.0), (0.2, -0.2), (0.5, -0.5)], (0.005, 0.005, 0.005)),
                mix(p.light, p.mid, 0.5),
                stroke=0.003,
            )
        ]
    elif prop == "flag":
        parts = [
            Part(tube([(-0.1, 0.3), (0.1, -0.5)], (0.006, 0.005)), steel),
            Part(
                blob([(0.1, -0.5), (0.25, -0.44), (0.42, -0.5), (0.4, -0.28), (0.24, -0.24), (0.06, -0.3)]),
                p.accent,
                form=0.04,
                stroke=0.008,
            ),
        ]
    elif prop == "bag":
        parts = [
            Part(blob([(0.0, 0.05), (0.12, 0.05), (0.14, 0.15), (-0.02, 0.15)]), (96, 58, 34), form=0.02, stroke=0.006)
        ]
    return [q.carried(place) for q in parts]
