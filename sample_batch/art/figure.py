"""Whole figures from a pose and a costume. Local frame: about 1 high, the pelvis at (0, 0), y down, facing right."""

import math

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.costume import Person, cape, collar, pairs, prop, tailoring
from sample_batch.art.head import head
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, frame, tube

# Angles in radians from hanging straight down, positive towards the right: torso lean, head, near arm (upper, fore),
# far arm (upper, fore), near leg (thigh, shin), far leg (thigh, shin).
POSES: dict[str, tuple[float, ...]] = {
    "run": (0.3, 0.1, -0.9, 0.5, 1.0, 2.3, 0.9, -0.1, -0.5, -1.5),
    "stride": (0.12, 0.0, -0.5, 0.2, 0.5, 1.0, 0.45, 0.2, -0.4, -0.6),
    "stand": (0.0, 0.05, -0.35, 0.5, 0.35, 0.9, 0.12, 0.05, -0.2, -0.15),
    "aim": (0.05, 0.0, -0.5, 0.6, 1.45, 1.55, 0.4, 0.1, -0.4, -0.35),
    "reach": (0.25, -0.3, 0.7, 1.2, 2.6, 2.9, 0.6, 0.0, -0.6, -0.9),
    "shield": (-0.25, -0.2, 0.9, 2.5, -1.2, -1.7, 0.7, 0.2, -0.35, -0.3),
    "kneel": (0.2, 0.0, 0.5, 1.4, 0.9, 1.7, 1.35, 0.0, -0.2, -1.5),
    "leap": (0.4, 0.2, -1.5, -1.9, 1.9, 2.4, 1.3, 0.2, -0.8, -1.3),
    "hips": (-0.05, 0.0, -0.8, 0.7, 0.75, -0.6, 0.35, 0.3, -0.35, -0.3),
    "wave": (0.0, 0.1, -0.4, 0.3, 2.4, 2.9, 0.2, 0.1, -0.15, -0.2),
    "haul": (-0.35, 0.1, 1.2, 1.7, 1.5, 1.9, 0.8, -0.1, -0.3, -0.5),
    "brace": (0.5, -0.2, 0.9, 1.7, 1.4, 2.0, 0.9, -0.2, -0.7, -0.8),
}


def figure(person: Person, pose: str, p: Palette, near_light: bool, shape: np.random.Generator) -> list[Part]:
    """Parts of the figure in painting order; `shape` decides folds, collar and hem."""
    a = POSES[pose]
    hip = np.array([0.0, 0.0])
    neck = _step(hip, math.pi + a[0] * -1, 0.29)
    near_hand = _limb(np.add(neck, (-0.035, 0.03)), a[2], a[3], 0.165, 0.15)
    far_hand = _limb(np.add(neck, (0.045, 0.03)), a[4], a[5], 0.16, 0.145)
    near_foot = _limb(np.add(hip, (-0.025, 0.02)), a[6], a[7], 0.245, 0.24)
    far_foot = _limb(np.add(hip, (0.03, 0.02)), a[8], a[9], 0.24, 0.235)
    woman = person.face.woman
    dark = mix(person.cloth, p.dark, 0.55)
    bare = person.costume in ("dress", "gown")
    legs = p.skin if bare else person.trousers
    parts: list[Part] = []
    if person.costume == "cape":
        parts.append(cape(neck, a[0], p, shape))
    parts += _arm(far_hand, mix(person.cloth, p.dark, 0.4), p, person, True)
    parts += _leg(far_foot, mix(legs, p.dark, 0.35), p, woman and bare, a[9])
    parts += _leg(near_foot, legs, p, woman and bare, a[7])
    parts += _body(neck, hip, near_foot, far_foot, person, p, shape, near_light)
    turn = a[0] * 0.5 + a[1]
    at = _step(neck, math.pi - turn, 0.072)
    parts += [
        x.carried(frame(float(at[0]) + 0.012, float(at[1]), 0.138, turn)) for x in head(person.face, p, near_light)
    ]
    parts.append(collar(neck, person, p, dark))
    parts += prop(person.prop, far_hand[2], a[5], p)
    parts += _arm(near_hand, person.cloth, p, person, False)
    return parts


def _step(start: Floats, angle: float, length: float) -> Floats:
    return np.asarray(start + np.array([math.sin(angle), math.cos(angle)]) * length)


def _limb(root: Floats, upper: float, lower: float, long: float, short: float) -> list[Floats]:
    joint = _step(root, upper, long)
    return [np.asarray(root), joint, _step(joint, lower, short)]


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
                pairs([elbow + side * 0.03, elbow + way * k, elbow - side * 0.025 + way * (k + 0.02)]),
                (0.002, 0.006, 0.002),
            ),
            mix(colour, p.dark, 0.7),
            0 if bare else 0.8,
            0.003,
        )
        for k in (-0.03, 0.01, 0.05)
    )
    hand = [
        Part(tube(pairs([wrist, palm, tip]), (0.016 * thin, 0.02 * thin, 0.009)), skin, form=0.01, stroke=0.004),
        Part(
            tube(
                pairs([wrist + way * 0.012, palm - side * 0.022, palm - side * 0.024 + way * 0.015]),
                (0.008, 0.007, 0.005),
            ),
            skin,
            form=0.006,
        ),
    ]
    sleeve = tube(
        pairs([joints[0], (joints[0] + joints[1]) / 2, elbow, (elbow + wrist) / 2, wrist]),
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
                pairs([knee + side * 0.04 - way * k, knee - way * (k - 0.02), knee - side * 0.02 + way * 0.02]),
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
            pairs([ankle - way * (0.0 if bare else 0.09), ankle, ankle + way * 0.022 + (toe - ankle) * 0.4, toe]),
            (0.03 * thin, 0.027 * thin, 0.024, 0.012),
        ),
        mix(p.dark, p.near, 0.35),
        form=0.014,
        stroke=0.006,
    )
    limb = tube(
        pairs([hip, (hip + knee) / 2, knee, (knee + ankle) / 2, ankle]),
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
        pairs(
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
                pairs(
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
                pairs([neck + away * 0.03, neck + away * 0.2, hip + away * 0.2, hip + away * 0.03, mid + away * 0.02])
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
                tube(pairs([top_l, hip - side * hips * 1.1, (hip - side * hips + left) / 2, left]), (0.001,) * 4)[
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
                        pairs([start, (start + end) / 2 + (shape.uniform(-0.012, 0.012), 0), end]),
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
            pairs(
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
                shades=(Shade(tube(pairs([mid, hip - up * 0.08]), (0.003, 0.005)), dark, 0.9, 0.003),),
                form=0.025,
                stroke=0.008,
                flow=1.4,
                vary=1.2,
            )
        )
    belt = tube(
        pairs([mid - side * waist * 1.12 - up * 0.012, mid - up * 0.022, mid + side * waist * 1.02 - up * 0.012]),
        (0.011, 0.012, 0.011),
    )
    parts.append(
        Part(belt, mix(p.dark, p.near, 0.4) if person.costume != "gown" else p.accent, form=0.008, stroke=0.005)
    )
    return [*parts, *tailoring(neck, mid, side, up, broad, waist, hip, person, p, shape)]
