"""Whole figures from a pose and a costume. Local frame: about 1 high, the pelvis at (0, 0), y down, facing right."""

import math
from dataclasses import dataclass

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.head import Face, head
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, frame, oval, poly, tube

# Angles in radians from hanging straight down, positive towards the right: torso lean, head, near arm (upper, fore),
# far arm (upper, fore), near leg (thigh, shin), far leg (thigh, shin).
POSES: dict[str, tuple[float, ...]] = {
    "run": (0.3, 0.1, -0.9, 0.5, 1.0, 2.3, 0.9, -0.1, -0.5, -1.5),
    "stride": (0.12, 0.0, -0.5, 0.2, 0.5, 1.0, 0.45, 0.2, -0.4, -0.6),
    "stand": (0.0, 0.05, -0.35, 0.5, 0.35, 0.9, 0.12, 0.05, -0.2, -0.15),
    "aim": (0.05, 0.0, -0.5, 0.6, 1.45, 1.55, 0.4, 0.1, -0.4, -0.35),
    "reach": (0.25, -0.3, 2.6, 2.9, 0.7, 1.2, 0.6, 0.0, -0.6, -0.9),
    "shield": (-0.25, -0.2, 0.9, 2.5, -1.2, -1.7, 0.7, 0.2, -0.35, -0.3),
    "kneel": (0.2, 0.0, 0.5, 1.4, 0.9, 1.7, 1.35, 0.0, -0.2, -1.5),
    "leap": (0.4, 0.2, 1.9, 2.4, -1.5, -1.9, 1.3, 0.2, -0.8, -1.3),
    "hips": (-0.05, 0.0, -0.8, 0.7, 0.75, -0.6, 0.35, 0.3, -0.35, -0.3),
    "wave": (0.0, 0.1, -0.4, 0.3, 2.4, 2.9, 0.2, 0.1, -0.15, -0.2),
    "haul": (-0.35, 0.1, 1.2, 1.7, 1.5, 1.9, 0.8, -0.1, -0.3, -0.5),
    "brace": (0.5, -0.2, 0.9, 1.7, 1.4, 2.0, 0.9, -0.2, -0.7, -0.8),
}
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


def figure(person: Person, pose: str, p: Palette, near_light: bool, shape: np.random.Generator) -> list[Part]:
    """Parts of the figure in painting order; `shape` decides folds, collar and hem."""
    a = POSES[pose]
    hip = np.array([0.0, 0.0])
    neck = _step(hip, math.pi + a[0] * -1, 0.29)
    near_hand = _limb(neck + (-0.035, 0.03), a[2], a[3], 0.165, 0.15)
    far_hand = _limb(neck + (0.045, 0.03), a[4], a[5], 0.16, 0.145)
    near_foot = _limb(hip + (-0.025, 0.02), a[6], a[7], 0.245, 0.24)
    far_foot = _limb(hip + (0.03, 0.02), a[8], a[9], 0.24, 0.235)
    woman = person.face.woman
    dark = mix(person.cloth, p.dark, 0.55)
    bare = person.costume in ("dress", "gown")
    legs = p.skin if bare else person.trousers
    parts: list[Part] = []
    if person.costume == "cape":
        parts.append(_cape(neck, a[0], person, p, shape))
    parts += _arm(far_hand, mix(person.cloth, p.dark, 0.4), p, person, True)
    parts += _leg(far_foot, mix(legs, p.dark, 0.35), p, woman and bare, a[9])
    parts += _leg(near_foot, legs, p, woman and bare, a[7])
    parts += _body(neck, hip, near_foot, far_foot, person, p, shape, near_light)
    turn = a[0] * 0.5 + a[1]
    at = _step(neck, math.pi - turn, 0.072)
    parts += [
        x.carried(frame(float(at[0]) + 0.012, float(at[1]), 0.138, turn)) for x in head(person.face, p, near_light)
    ]
    parts.append(_collar(neck, person, p, dark))
    parts += _prop(person.prop, far_hand[2], a[5], p)
    parts += _arm(near_hand, person.cloth, p, person, False)
    return parts


def _step(start: Floats, angle: float, length: float) -> Floats:
    return np.asarray(start + np.array([math.sin(angle), math.cos(angle)]) * length)


def _limb(root: Floats, upper: float, lower: float, long: float, short: float) -> list[Floats]:
    joint = _step(root, upper, long)
    return [np.asarray(root), joint, _step(joint, lower, short)]


def _pairs(points: list[Floats]) -> list[tuple[float, float]]:
    return [(float(q[0]), float(q[1])) for q in points]


def _arm(joints: list[Floats], cloth: Rgb, p: Palette, person: Person, far: bool) -> list[Part]:
    bare = person.costume in ("gown", "dress")
    colour = mix(p.skin, p.dark, 0.25 if far else 0.0) if bare else cloth
    thin = 0.72 if person.face.woman else 1.0
    way = joints[2] - joints[1]
    way = way / max(float(np.linalg.norm(way)), 1e-6)
    side = np.array([-way[1], way[0]])
    wrist, palm = joints[2], joints[2] + way * 0.035
    tip = joints[2] + way * 0.062 + side * 0.008
    skin = mix(p.skin, p.dark, 0.3 if far else 0.08)
    elbow = joints[1]
    creases = tuple(
        Shade(
            tube(
                _pairs([elbow + side * 0.03, elbow + way * k, elbow - side * 0.025 + way * (k + 0.02)]),
                (0.002, 0.006, 0.002),
            ),
            mix(colour, p.dark, 0.7),
            0 if bare else 0.8,
            0.003,
        )
        for k in (-0.03, 0.01, 0.05)
    )
    hand = [
        Part(tube(_pairs([wrist, palm, tip]), (0.016 * thin, 0.02 * thin, 0.009)), skin, form=0.01, stroke=0.004),
        Part(
            tube(
                _pairs([wrist + way * 0.012, palm - side * 0.022, palm - side * 0.024 + way * 0.015]),
                (0.008, 0.007, 0.005),
            ),
            skin,
            form=0.006,
        ),
    ]
    sleeve = tube(
        _pairs([joints[0], (joints[0] + joints[1]) / 2, elbow, (elbow + wrist) / 2, wrist]),
        [w * thin for w in (0.044, 0.042, 0.033, 0.032, 0.022 if bare else 0.027)],
    )
    return [
        *hand,
        Part(
            sleeve,
            colour,
            shades=creases,
            form=0.022,
            stroke=0.0065,
            flow=math.atan2(way[1], way[0]),
            ragged=0.002,
            vary=1.2,
        ),
    ]


def _leg(joints: list[Floats], colour: Rgb, p: Palette, bare: bool, shin: float) -> list[Part]:
    thin = 0.78 if bare else 1.0
    hip, knee, ankle = joints
    way = (ankle - knee) / max(float(np.linalg.norm(ankle - knee)), 1e-6)
    turn = math.pi / 2 + min(shin, 0.6) * 0.7
    toe = _step(ankle + way * 0.02, turn, 0.085)
    side = np.array([-way[1], way[0]])
    crease = tuple(
        Shade(
            tube(
                _pairs([knee + side * 0.04 - way * k, knee - way * (k - 0.02), knee - side * 0.02 + way * 0.02]),
                (0.002, 0.007, 0.002),
            ),
            mix(colour, p.dark, 0.65),
            0 if bare else 0.8,
            0.004,
        )
        for k in (0.05, 0.0, -0.05)
    )
    boot = Part(
        tube(
            _pairs([ankle - way * (0.0 if bare else 0.09), ankle, ankle + way * 0.022 + (toe - ankle) * 0.4, toe]),
            (0.03 * thin, 0.027 * thin, 0.024, 0.012),
        ),
        mix(p.dark, p.near, 0.35),
        form=0.014,
        stroke=0.006,
    )
    limb = tube(
        _pairs([hip, (hip + knee) / 2, knee, (knee + ankle) / 2, ankle]),
        [w * thin for w in (0.068, 0.062, 0.042, 0.044, 0.026)],
    )
    return [
        Part(limb, colour, shades=crease, form=0.03, stroke=0.0075, flow=math.atan2(way[1], way[0]), vary=1.1),
        boot,
    ]


def _body(
    neck: Floats,
    hip: Floats,
    near: list[Floats],
    far: list[Floats],
    person: Person,
    p: Palette,
    shape: np.random.Generator,
    near_light: bool,
) -> list[Part]:
    woman = person.face.woman
    up = (neck - hip) / max(float(np.linalg.norm(neck - hip)), 1e-6)
    side = np.array([-up[1], up[0]])  # towards the right of the figure
    broad, waist, hips = (0.075, 0.05, 0.078) if woman else (0.1, 0.07, 0.075)
    cloth, dark, lit = person.cloth, mix(person.cloth, p.dark, 0.6), mix(person.cloth, p.light, 0.4)
    mid = hip + up * 0.12
    torso = blob(
        _pairs(
            [
                neck + up * 0.005 - side * 0.035,
                neck - up * 0.03 - side * broad,
                mid - side * waist * 1.15,
                hip - side * hips,
                hip - up * 0.05,
                hip + side * hips,
                mid + side * waist,
                neck - up * 0.07 + side * broad * (1.08 if woman else 1.0),
                neck - up * 0.02 + side * broad * 0.8,
                neck + up * 0.005 + side * 0.03,
            ]
        ),
        6,
    )
    flow = math.atan2(up[1], up[0])
    folds = [
        Shade(
            tube(
                _pairs(
                    [
                        mid + side * waist * k,
                        mid + side * waist * (k * 0.3) + up * 0.05,
                        neck - up * 0.05 + side * broad * k * 0.8,
                    ]
                ),
                (0.002, 0.006, 0.002),
            ),
            dark,
            0.8,
            0.004,
        )
        for k in (-0.7, -0.2, 0.6)
    ]
    away = side if near_light else -side
    folds.append(
        Shade(
            blob(
                _pairs([neck + away * 0.03, neck + away * 0.2, hip + away * 0.2, hip + away * 0.03, mid + away * 0.02])
            ),
            dark,
            0.7,
            0.015,
        )
    )
    parts = [Part(torso, cloth, shades=tuple(folds), form=0.03, stroke=0.008, flow=flow, swirl=0.4, vary=1.2)]
    flare = shape.uniform(0.03, 0.15) + (0.09 if person.recut else 0.0)
    if person.costume in ("trench", "dress", "gown", "spacesuit"):
        reach = {"trench": 0.62, "dress": 0.7, "gown": 1.02, "spacesuit": 0.15}[person.costume] * (
            0.74 if person.recut else 1.0
        ) + shape.uniform(-0.08, 0.05)
        ends = [
            n + (n2 - n) * reach if reach <= 1 else n2 + (n2 - n) * (reach - 1)
            for n, n2 in ((near[0] + (near[1] - near[0]) * 0.4, near[2]), (far[0] + (far[1] - far[0]) * 0.4, far[2]))
        ]
        ends.sort(key=lambda e: float(e[0]))
        left, right = ends[0] + (-0.06 - flare, 0.0), ends[1] + (0.045 + flare * 0.4, 0.0)
        low = (left + right) / 2 + (0, shape.uniform(-0.02, 0.05))
        top_l, top_r = mid - side * waist * 1.1, mid + side * waist
        skirt = np.concatenate(
            [
                tube(_pairs([top_l, hip - side * hips * 1.1, (hip - side * hips + left) / 2, left]), (0.001,) * 4)[
                    : 3 * 8
                ],
                [left],
                [left * 0.6 + low * 0.4 + (0, 0.02)],
                [low - (0, 0.012)],
                [right * 0.6 + low * 0.4 + (0, 0.022)],
                [right],
                [(hip + side * hips + right) / 2 + (0.01, 0)],
                [hip + side * hips * 1.1],
                [top_r],
            ]
        ).astype(np.float32)
        pleats = []
        for k in range(7):
            t = (k + shape.uniform(0.2, 0.8)) / 7
            start, end = top_l + (top_r - top_l) * t, left + (right - left) * t + (0, 0.02)
            pleats.append(
                Shade(
                    tube(
                        _pairs([start, (start + end) / 2 + (shape.uniform(-0.012, 0.012), 0), end]),
                        (0.001, 0.006, 0.013),
                    ),
                    dark if k % 2 else lit,
                    0.75,
                    0.005,
                )
            )
        parts.append(
            Part(
                skirt,
                cloth,
                shades=tuple(pleats),
                form=0.035,
                stroke=0.009,
                flow=1.45,
                swirl=0.35,
                ragged=0.004,
                vary=1.3,
            )
        )
    else:
        tail = blob(
            _pairs(
                [
                    mid - side * waist * 1.1,
                    hip - side * hips * 1.2 - up * (0.05 + flare * 0.3),
                    hip - up * 0.075,
                    hip + side * hips * 1.15 - up * 0.05,
                    mid + side * waist,
                ]
            )
        )
        parts.append(
            Part(
                tail,
                cloth if person.costume != "shirt" else person.trousers,
                shades=(Shade(tube(_pairs([mid, hip - up * 0.08]), (0.003, 0.005)), dark, 0.9, 0.003),),
                form=0.025,
                stroke=0.008,
                flow=1.4,
                vary=1.2,
            )
        )
    belt = tube(
        _pairs([mid - side * waist * 1.12 - up * 0.012, mid - up * 0.022, mid + side * waist * 1.02 - up * 0.012]),
        (0.011, 0.012, 0.011),
    )
    parts.append(
        Part(belt, mix(p.dark, p.near, 0.4) if person.costume != "gown" else p.accent, form=0.008, stroke=0.005)
    )
    return [*parts, *_tailoring(neck, mid, side, up, broad, waist, hip, person, p, shape)]


def _tailoring(
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
                _pairs(
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
                        _pairs(
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
                        _pairs(
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
                tube(_pairs([a, (a + b) / 2 - side * 0.008, b]), (0.009, 0.009, 0.009)),
                mix(p.dark, (96, 56, 30), 0.6),
                form=0.006,
                stroke=0.004,
            )
        )
    if person.costume == "spacesuit":
        parts.append(
            Part(
                blob(
                    _pairs(
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
                    _pairs(
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


def _collar(neck: Floats, person: Person, p: Palette, dark: Rgb) -> Part:
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


def _cape(neck: Floats, lean: float, person: Person, p: Palette, shape: np.random.Generator) -> Part:
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


def _prop(prop: str, hand: Floats, angle: float, p: Palette) -> list[Part]:
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
