"""Painted heads: three-quarter and profile, lit from one side. Local frame: crown to chin is 1, y down, looking right."""

from dataclasses import dataclass

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats, blob, frame, oval, poly, tube

HATS = ("none", "fedora", "cap", "stetson", "helmet", "flyer", "beret", "hood", "scarf", "topper", "space", "band")
HAIRS: tuple[Rgb, ...] = ((28, 20, 20), (70, 40, 24), (130, 84, 40), (196, 150, 76), (150, 56, 28), (120, 116, 112))


@dataclass(frozen=True, slots=True)
class Face:
    """Who it is: chosen once for each person of a design."""

    woman: bool
    profile: bool
    hair: Rgb
    hat: str
    hat_colour: Rgb
    jaw: float
    long: float
    nose: float
    brow: float
    mouth: float
    beard: int
    style: int
    tint: Rgb | None = None


def meet(rng: np.random.Generator, palette: Palette, woman: bool, hats: tuple[str, ...], big: bool) -> Face:
    """Somebody new."""
    hats = hats or ("none",)
    hat = hats[int(rng.integers(len(hats)))]
    tints = (None, None, None, palette.accent, palette.second, mix(palette.sky_low, palette.second, 0.4))
    return Face(
        woman=woman,
        profile=bool(rng.random() < 0.3),
        hair=HAIRS[int(rng.integers(len(HAIRS)))],
        hat=hat,
        hat_colour=(mix(palette.near, palette.dark, 0.3), palette.accent, palette.second, palette.mid)[
            int(rng.integers(4))
        ],
        jaw=float(rng.uniform(-0.03, 0.03)),
        long=float(rng.uniform(0.94, 1.08)),
        nose=float(rng.uniform(-0.02, 0.035)),
        brow=float(rng.uniform(-0.03, 0.035)),
        mouth=float(rng.uniform(-0.02, 0.03)),
        beard=0 if woman else int(rng.choice(5, p=(0.5, 0.15, 0.15, 0.12, 0.08))),
        style=int(rng.integers(4)),
        tint=tints[int(rng.integers(len(tints)))] if big else None,
    )


def head(face: Face, palette: Palette, near_light: bool, neck: bool = True) -> list[Part]:
    """Parts of the head in painting order; `near_light` says that the side turned to us (left) is the lit one."""
    tones = _tones(face, palette)
    hair = face.hair if face.tint is None else mix(face.hair, tones[3], 0.6)
    draw = _profile if face.profile else _three_quarter
    parts = draw(face, palette, tones, hair, near_light)
    if neck:
        parts.insert(1 if face.woman else 0, _neck(face, tones, near_light))
    parts += _hat(face, palette, hair)
    stretch = np.array([[1, 0, 0], [0, face.long, 0]], np.float32)
    return [p.carried(stretch) for p in parts]


def _neck(face: Face, tones: tuple[Rgb, Rgb, Rgb, Rgb], near_light: bool) -> Part:
    thick = 0.15 if face.woman else 0.2
    light, base, shadow, deep = tones
    cast = poly([(-0.3, 0.2), (0.3, 0.2), (0.3, 0.5), (0.05, 0.66), (-0.3, 0.44)])
    return Part(
        tube([(-0.1, 0.15), (-0.1, 0.5), (-0.13, 0.95)], (thick, thick * 0.92, thick * 1.4)),
        base if near_light else mix(base, shadow, 0.4),
        shades=(
            Shade(cast, deep, 0.75, 0.03),
            Shade(poly([(0.0, 0.3), (0.3, 0.3), (0.3, 1), (0.02, 1)]), shadow, 0.7, 0.02),
        ),
        stroke=0.02,
        flow=1.4,
    )


def _three_quarter(
    face: Face, palette: Palette, tones: tuple[Rgb, Rgb, Rgb, Rgb], hair: Rgb, near_light: bool
) -> list[Part]:
    light, base, shadow, deep = tones
    j = face.jaw + (-0.035 if face.woman else 0.015)
    outline = blob(
        [
            (-0.26, -0.3),
            (0.0, -0.42),
            (0.2, -0.36),
            (0.272, -0.2),
            (0.252, -0.075),
            (0.288, 0.05),
            (0.262, 0.17),
            (0.205 + j, 0.33),
            (0.13 + j * 0.6, 0.455),
            (0.04, 0.49),
            (-0.05 - j * 0.5, 0.455),
            (-0.2 - j, 0.32),
            (-0.275, 0.14),
            (-0.31, -0.06),
        ]
    )
    n = face.nose
    far_side = poly(
        [
            (0.17, -0.5),
            (0.15, -0.22),
            (0.185, -0.11),
            (0.105, -0.075),
            (0.1, 0.0),
            (0.15 + n, 0.13),
            (0.1, 0.185),
            (0.09, 0.225),
            (0.14, 0.275),
            (0.1, 0.33),
            (0.12, 0.38),
            (0.07, 0.5),
            (0.5, 0.6),
            (0.5, -0.5),
        ]
    )
    near_side = poly(
        [
            (-0.06, -0.5),
            (-0.12, -0.24),
            (-0.02, -0.115),
            (0.06, -0.07),
            (0.07, 0.02),
            (0.05, 0.13),
            (0.03, 0.18),
            (-0.03, 0.17),
            (-0.09, 0.1),
            (-0.13, 0.2),
            (-0.06, 0.3),
            (-0.03, 0.4),
            (0.01, 0.52),
            (-0.5, 0.6),
            (-0.5, -0.5),
        ]
    )
    planes = (
        Shade(far_side if near_light else near_side, shadow, 0.94, 0.009),
        Shade(oval(-0.16 if near_light else 0.22, 0.1, 0.09, 0.07, 0.5), mix(base, (206, 60, 46), 0.35), 0.5, 0.03),
        Shade(oval(-0.07, -0.05, 0.105, 0.05), shadow, 0.85, 0.016),
        Shade(oval(0.19, -0.05, 0.075, 0.046), deep if near_light else shadow, 0.7, 0.014),
        Shade(
            blob([(-0.02, -0.3), (-0.2, -0.26), (-0.2, -0.14), (0.0, -0.17)]), light, 0.75 if near_light else 0, 0.025
        ),
        Shade(blob([(-0.16, 0.02), (-0.04, 0.04), (-0.06, 0.12), (-0.2, 0.1)]), light, 0.75 if near_light else 0, 0.02),
        Shade(blob([(0.14, -0.3), (0.24, -0.22), (0.22, -0.13), (0.1, -0.17)]), light, 0 if near_light else 0.8, 0.02),
        Shade(blob([(0.2, 0.02), (0.27, 0.06), (0.23, 0.14), (0.17, 0.1)]), light, 0 if near_light else 0.8, 0.015),
        Shade(
            blob([(-0.25, 0.2), (-0.12, 0.16), (-0.06, 0.4), (-0.18, 0.38)]), shadow, 0 if face.woman else 0.55, 0.03
        ),
        Shade(oval(0.06, 0.37, 0.085, 0.02), shadow, 0.75, 0.012),
        Shade(oval(0.045, 0.43, 0.05, 0.03), light, 0.5 if near_light else 0.2, 0.02),
    )
    parts = [_back_hair(face, hair, palette)]
    parts.append(
        Part(
            oval(-0.3, 0.03, 0.055, 0.105, -0.2),
            mix(base, shadow, 0.4),
            shades=(
                Shade(tube([(-0.31, -0.03), (-0.28, -0.03), (-0.29, 0.05)], (0.006, 0.01, 0.012)), shadow, 0.8, 0.008),
            ),
            form=0.015,
            stroke=0.005,
        )
    )
    parts.append(Part(outline, base, shades=planes, form=0.06, stroke=0.0135, flow=1.25, swirl=0.5, vary=0.8))
    lit_ridge = light if near_light else mix(base, light, 0.8)
    parts.append(
        Part(
            tube([(0.09, -0.06), (0.115 + n * 0.5, 0.06), (0.125 + n, 0.13)], (0.012, 0.016, 0.028)),
            lit_ridge,
            opacity=0.85,
            soft=0.004,
        )
    )
    parts.append(
        Part(
            tube([(0.045, 0.165), (0.09, 0.18), (0.15 + n, 0.155)], (0.013, 0.009, 0.008)),
            deep,
            opacity=0.85,
            soft=0.003,
        )
    )
    parts += _eye(face, -0.07, -0.045, 0.068, tones, palette)
    parts += _eye(face, 0.19, -0.045, 0.05, tones, palette)
    b = face.brow
    heavy = 0.012 if face.woman else 0.02
    parts.append(
        Part(
            tube([(-0.165, -0.105), (-0.08, -0.14 - b * 0.3), (0.015, -0.105 + b)], (heavy * 0.4, heavy, heavy * 0.7)),
            mix(hair, deep, 0.5),
            ragged=0.004,
        )
    )
    parts.append(
        Part(
            tube(
                [(0.125, -0.105 + b), (0.19, -0.135 - b * 0.3), (0.25, -0.1)], (heavy * 0.7, heavy * 0.9, heavy * 0.3)
            ),
            mix(hair, deep, 0.5),
            ragged=0.004,
        )
    )
    parts += _mouth(face, tones, 0.07, 0.285, 0.1)
    parts += _beard(face, hair, tones)
    parts += _front_hair(face, hair, palette)
    return parts


def _eye(face: Face, x: float, y: float, r: float, tones: tuple[Rgb, Rgb, Rgb, Rgb], palette: Palette) -> list[Part]:
    light, base, shadow, deep = tones
    lid = 0.012 if face.woman else 0.009
    look = 0.012
    white = blob([(x - r, y + 0.006), (x - r * 0.2, y - 0.027), (x + r, y + 0.002), (x + r * 0.2, y + 0.021)])
    return [
        Part(white, mix(mix(light, (232, 232, 226), 0.6), shadow, 0.25)),
        Part(oval(x + look, y - 0.003, r * 0.4, 0.023), mix(deep, palette.second, 0.25)),
        Part(oval(x + look - 0.009, y - 0.011, 0.0065, 0.0065), (250, 248, 240)),
        Part(
            tube([(x - r * 1.12, y + 0.008), (x - r * 0.3, y - 0.03), (x + r * 1.05, y)], (lid * 0.4, lid, lid * 0.5)),
            deep,
        ),
        Part(
            tube([(x - r * 0.9, y - 0.02), (x, y - 0.055), (x + r, y - 0.02)], (0.003, 0.006, 0.003)), deep, opacity=0.6
        ),
        Part(
            tube([(x - r * 0.8, y + 0.02), (x, y + 0.036), (x + r * 0.9, y + 0.012)], (0.003, 0.006, 0.003)),
            shadow,
            opacity=0.8,
        ),
    ]


def _mouth(face: Face, tones: tuple[Rgb, Rgb, Rgb, Rgb], x: float, y: float, wide: float) -> list[Part]:
    light, base, shadow, deep = tones
    full = 0.032 if face.woman else 0.02
    red = mix(shadow, (176, 22, 34), 0.7 if face.woman else 0.25) if face.tint is None else shadow
    m = face.mouth
    left, right = (x - wide, y - m), (x + wide * 0.82, y - m)
    upper = blob(
        [left, (x - 0.02, y - full), (x + 0.01, y - full * 0.75), (x + 0.035, y - full), right, (x + 0.01, y + 0.006)]
    )
    lower = blob([(x - wide * 0.8, y), (x + 0.01, y + 0.006), (x + wide * 0.65, y), (x + 0.01, y + full * 1.35)])
    parts = [Part(upper, mix(red, deep, 0.3), soft=0.003), Part(lower, mix(red, light, 0.22), soft=0.003)]
    parts.append(
        Part(oval(x - 0.015, y + full * 0.75, 0.025, full * 0.25), mix(red, light, 0.65), opacity=0.8, soft=0.004)
    )
    if face.style == 3:
        teeth = blob(
            [(x - wide * 0.7, y - 0.004), (x + 0.01, y - 0.004), (x + wide * 0.6, y - 0.004), (x + 0.01, y + 0.022)]
        )
        parts.append(Part(teeth, mix(light, (250, 248, 240), 0.6)))
    parts.append(Part(tube([left, (x + 0.01, y + 0.006), right], (0.004, 0.006, 0.003)), deep))
    return parts


def _beard(face: Face, hair: Rgb, tones: tuple[Rgb, Rgb, Rgb, Rgb]) -> list[Part]:
    if face.beard == 1:
        shape = blob(
            [(-0.05, 0.262), (0.02, 0.225), (0.08, 0.24), (0.12, 0.225), (0.18, 0.26), (0.1, 0.258), (0.04, 0.26)]
        )
        return [Part(shape, mix(hair, tones[3], 0.3), ragged=0.008, stroke=0.006, flow=0.3)]
    if face.beard == 2:
        shade = blob(
            [
                (-0.25, 0.16),
                (-0.1, 0.24),
                (0.06, 0.21),
                (0.2, 0.24),
                (0.25, 0.2),
                (0.19, 0.38),
                (0.04, 0.5),
                (-0.17, 0.38),
            ]
        )
        return [Part(shade, tones[3], opacity=0.3, soft=0.025)]
    if face.beard == 3:
        full = blob(
            [
                (-0.29, 0.0),
                (-0.22, 0.2),
                (-0.06, 0.24),
                (0.06, 0.22),
                (0.2, 0.25),
                (0.25, 0.16),
                (0.24, 0.38),
                (0.1, 0.56),
                (-0.06, 0.55),
                (-0.22, 0.38),
            ]
        )
        lips = blob([(-0.03, 0.285), (0.07, 0.265), (0.15, 0.285), (0.07, 0.32)])
        return [
            Part(full, mix(hair, tones[3], 0.3), form=0.05, stroke=0.01, flow=1.5, swirl=0.3, ragged=0.012, vary=1.5),
            Part(lips, mix(tones[2], (150, 40, 40), 0.4)),
        ]
    return []


def _back_hair(face: Face, hair: Rgb, palette: Palette) -> Part:
    if not face.woman:
        points = [
            (-0.33, 0.12),
            (-0.39, -0.14),
            (-0.33, -0.4),
            (-0.1, -0.53),
            (0.14, -0.51),
            (0.27, -0.36),
            (0.1, -0.2),
            (-0.2, 0.1),
        ]
    elif face.style == 0:
        points = [
            (-0.3, 0.55),
            (-0.5, 0.4),
            (-0.42, 0.1),
            (-0.46, -0.2),
            (-0.32, -0.46),
            (-0.04, -0.57),
            (0.22, -0.5),
            (0.34, -0.26),
            (0.31, 0.1),
            (0.38, 0.36),
            (0.26, 0.46),
            (0.1, 0.2),
        ]
    elif face.style == 1:
        points = [
            (-0.26, 0.2),
            (-0.36, 0.08),
            (-0.5, -0.02),
            (-0.55, -0.2),
            (-0.42, -0.34),
            (-0.28, -0.5),
            (-0.02, -0.56),
            (0.24, -0.46),
            (0.3, -0.25),
            (0, -0.1),
        ]
    else:
        points = [
            (-0.34, 0.34),
            (-0.46, 0.18),
            (-0.44, -0.16),
            (-0.34, -0.44),
            (-0.06, -0.58),
            (0.2, -0.52),
            (0.35, -0.28),
            (0.36, 0.0),
            (0.34, 0.22),
            (0.24, 0.2),
            (0.0, 0.0),
            (-0.2, 0.3),
        ]
    lit = mix(hair, palette.light, 0.4)
    gleam = Shade(tube([(-0.38, 0.1), (-0.36, -0.2), (-0.2, -0.44)], (0.02, 0.05, 0.02)), lit, 0.7, 0.03)
    return Part(
        blob(points), hair, shades=(gleam,), form=0.08, stroke=0.012, flow=1.25, swirl=0.45, ragged=0.012, vary=1.7
    )


def _front_hair(face: Face, hair: Rgb, palette: Palette) -> list[Part]:
    lit, dark = mix(hair, palette.light, 0.45), mix(hair, palette.dark, 0.5)
    if face.woman:
        wave = [
            (-0.33, 0.12),
            (-0.36, -0.2),
            (-0.24, -0.46),
            (0.04, -0.56),
            (0.26, -0.42),
            (0.31, -0.16),
            (0.22, -0.32),
            (0.06, -0.36),
            (-0.1, -0.3),
            (-0.22, -0.14),
            (-0.27, 0.06),
        ]
        if face.style in (1, 3):
            wave = [
                (-0.34, 0.02),
                (-0.37, -0.24),
                (-0.2, -0.5),
                (0.08, -0.56),
                (0.29, -0.36),
                (0.31, -0.12),
                (0.25, -0.26),
                (0.2, -0.36),
                (0.02, -0.24),
                (-0.2, -0.2),
                (-0.26, 0.0),
            ]
    elif face.style in (0, 3):
        wave = [
            (-0.31, 0.1),
            (-0.35, -0.16),
            (-0.3, -0.4),
            (-0.06, -0.53),
            (0.16, -0.52),
            (0.3, -0.4),
            (0.24, -0.28),
            (0.1, -0.34),
            (-0.08, -0.3),
            (-0.2, -0.2),
            (-0.25, -0.02),
        ]
    else:
        wave = [
            (-0.31, 0.14),
            (-0.35, -0.16),
            (-0.28, -0.42),
            (-0.04, -0.52),
            (0.18, -0.48),
            (0.27, -0.36),
            (0.27, -0.24),
            (0.18, -0.36),
            (0.0, -0.4),
            (-0.18, -0.32),
            (-0.24, -0.14),
            (-0.26, 0.02),
        ]
    locks = (
        Shade(tube([(-0.26, -0.26), (-0.1, -0.44), (0.12, -0.46)], (0.012, 0.032, 0.01)), lit, 0.8, 0.015),
        Shade(tube([(-0.3, -0.05), (-0.25, -0.25), (-0.08, -0.36)], (0.01, 0.014, 0.01)), dark, 0.8, 0.008),
        Shade(tube([(0.06, -0.38), (0.18, -0.42), (0.26, -0.3)], (0.008, 0.012, 0.006)), dark, 0.7, 0.006),
    )
    return [
        Part(blob(wave), hair, shades=locks, form=0.035, stroke=0.008, flow=-0.6, swirl=0.5, ragged=0.008, vary=1.6)
    ]


def _profile(face: Face, palette: Palette, tones: tuple[Rgb, Rgb, Rgb, Rgb], hair: Rgb, near_light: bool) -> list[Part]:
    light, base, shadow, deep = tones
    n, soft = face.nose, 0.02 if face.woman else 0.0
    j = face.jaw
    knots = [
        (-0.3, -0.28),
        (-0.02, -0.44),
        (0.2, -0.38),
        (0.265, -0.24),
        (0.27, -0.13),
        (0.245, -0.07),
        (0.3 + n, 0.04),
        (0.365 + n, 0.125),
        (0.355 + n, 0.16),
        (0.28, 0.185),
        (0.275, 0.215),
        (0.31, 0.25),
        (0.305, 0.275),
        (0.28, 0.285),
        (0.305, 0.3),
        (0.3, 0.325),
        (0.265, 0.355),
        (0.275 + j - soft, 0.41),
        (0.25 + j - soft, 0.47),
        (0.17, 0.495),
        (0.05, 0.44),
        (-0.1, 0.35),
        (-0.16, 0.2),
        (-0.22, 0.0),
    ]
    outline = blob(knots, 5)
    back = poly(
        [
            (-0.5, -0.5),
            (0.0, -0.5),
            (0.08, -0.2),
            (0.02, -0.05),
            (0.1, 0.1),
            (0.02, 0.22),
            (0.1, 0.34),
            (0.16, 0.52),
            (-0.5, 0.6),
        ]
    )
    front = poly(
        [
            (0.5, -0.5),
            (0.2, -0.5),
            (0.17, -0.2),
            (0.2, -0.05),
            (0.24, 0.06),
            (0.2, 0.2),
            (0.24, 0.3),
            (0.18, 0.52),
            (0.5, 0.6),
        ]
    )
    planes = (
        Shade(back if not near_light else front, shadow, 0.85, 0.02),
        Shade(oval(0.2, -0.06, 0.06, 0.04), deep, 0.75, 0.018),
        Shade(oval(0.1, 0.1, 0.08, 0.06), mix(light, (220, 80, 60), 0.25), 0.55, 0.03),
        Shade(blob([(0.1, -0.32), (0.22, -0.3), (0.22, -0.16), (0.1, -0.16)]), light, 0.6, 0.025),
        Shade(tube([(0.25, -0.05), (0.3 + n, 0.06), (0.34 + n, 0.13)], (0.01, 0.014, 0.012)), light, 0.8, 0.006),
        Shade(tube([(-0.1, 0.32), (0.05, 0.42), (0.18, 0.48)], (0.03, 0.04, 0.03)), deep, 0.6, 0.025),
        Shade(oval(0.25, 0.19, 0.035, 0.016, -0.3), deep, 0.7, 0.008),
        Shade(tube([(0.2, 0.14), (0.23, 0.1), (0.28, 0.17)], (0.004, 0.008, 0.004)), shadow, 0.9, 0.004),
    )
    lip = mix(shadow, (176, 22, 34), 0.65 if face.woman else 0.3) if face.tint is None else shadow
    heavy = 0.012 if face.woman else 0.02
    parts = [_back_hair(face, hair, palette)]
    parts.append(Part(outline, base, shades=planes, form=0.05, stroke=0.0135, flow=1.2, swirl=0.5, vary=0.8))
    parts += [
        Part(
            oval(-0.09, 0.04, 0.05, 0.1, -0.15),
            mix(base, shadow, 0.3),
            shades=(
                Shade(
                    tube([(-0.11, -0.02), (-0.07, -0.03), (-0.075, 0.05), (-0.1, 0.09)], (0.006, 0.01, 0.014, 0.006)),
                    shadow,
                    0.8,
                    0.008,
                ),
            ),
            form=0.015,
            stroke=0.005,
        ),
        Part(
            poly([(0.165, -0.045), (0.225, -0.075), (0.235, -0.035), (0.22, -0.022)]), mix(light, (236, 236, 230), 0.5)
        ),
        Part(oval(0.22, -0.048, 0.013, 0.024), deep),
        Part(tube([(0.15, -0.045), (0.2, -0.085), (0.245, -0.07)], (0.004, 0.011, 0.008)), deep),
        Part(
            tube(
                [(0.13, -0.1), (0.2, -0.14 - face.brow * 0.3), (0.27, -0.115 + face.brow * 0.5)],
                (heavy * 0.4, heavy, heavy * 0.7),
            ),
            mix(hair, deep, 0.5),
            ragged=0.004,
        ),
        Part(blob([(0.2, 0.282), (0.26, 0.262), (0.308, 0.262), (0.295, 0.284)]), mix(lip, deep, 0.25)),
        Part(blob([(0.21, 0.288), (0.28, 0.288), (0.302, 0.306), (0.26, 0.325)]), mix(lip, light, 0.2)),
        Part(tube([(0.18, 0.29), (0.24, 0.285), (0.29, 0.287)], (0.004, 0.006, 0.003)), deep),
    ]
    temple = blob(
        [
            (-0.36, 0.1),
            (-0.36, -0.3),
            (-0.1, -0.42),
            (0.1, -0.4),
            (0.06, -0.24),
            (-0.0, -0.18),
            (0.01, -0.02),
            (-0.03, 0.04),
            (-0.05, -0.07),
            (-0.12, -0.06),
            (-0.15, 0.08),
            (-0.16, 0.22),
            (-0.26, 0.3),
        ]
    )
    parts.append(
        Part(
            temple, mix(hair, palette.dark, 0.15), form=0.04, stroke=0.008, flow=1.3, swirl=0.4, ragged=0.008, vary=1.5
        )
    )
    if face.beard == 3:
        full = blob(
            [
                (-0.2, 0.02),
                (-0.1, 0.2),
                (0.1, 0.22),
                (0.26, 0.2),
                (0.25, 0.26),
                (0.22, 0.3),
                (0.27, 0.34),
                (0.3, 0.5),
                (0.16, 0.58),
                (-0.04, 0.46),
                (-0.16, 0.26),
            ]
        )
        parts.append(Part(full, mix(hair, deep, 0.3), form=0.04, stroke=0.01, flow=1.2, ragged=0.012, vary=1.5))
    parts += [p.carried(_shift(-0.04, 0.0)) for p in _front_hair(face, hair, palette)]
    return parts


def _shift(x: float, y: float) -> Floats:
    return np.array([[1, 0, x], [0, 1, y]], np.float32)


def _hat(face: Face, palette: Palette, hair: Rgb) -> list[Part]:
    c, dark = face.hat_colour, mix(face.hat_colour, palette.dark, 0.75)
    lit = mix(c, palette.light, 0.4)
    under = Part(
        blob([(-0.32, -0.2), (0.0, -0.26), (0.3, -0.2), (0.27, -0.1), (0.0, -0.14), (-0.3, -0.04)]),
        palette.dark,
        opacity=0.5,
        soft=0.02,
    )
    cloth = {"form": 0.07, "stroke": 0.012, "vary": 1.2}
    if face.hat == "fedora":
        crown = blob(
            [
                (-0.33, -0.28),
                (-0.32, -0.5),
                (-0.24, -0.68),
                (-0.04, -0.66),
                (0.12, -0.72),
                (0.25, -0.6),
                (0.3, -0.4),
                (0.31, -0.26),
            ]
        )
        brim = blob(
            [
                (-0.58, -0.2),
                (-0.3, -0.36),
                (0.06, -0.38),
                (0.36, -0.3),
                (0.58, -0.16),
                (0.42, -0.14),
                (0.06, -0.2),
                (-0.3, -0.16),
                (-0.52, -0.12),
            ]
        )
        band = poly([(-0.34, -0.32), (-0.33, -0.43), (0.0, -0.46), (0.3, -0.4), (0.32, -0.27), (0.0, -0.34)])
        dent = Shade(tube([(-0.1, -0.64), (0.0, -0.56), (0.08, -0.44)], (0.03, 0.04, 0.01)), dark, 0.7, 0.02)
        return [
            under,
            Part(crown, c, shades=(dent,), flow=1.3, **cloth),
            Part(band, dark, stroke=0.008),
            Part(
                brim,
                c,
                shades=(Shade(tube([(-0.5, -0.13), (0, -0.2), (0.5, -0.13)], (0.02, 0.025, 0.02)), dark, 0.8, 0.01),),
                form=0.03,
                stroke=0.01,
                ragged=0.005,
            ),
        ]
    if face.hat == "stetson":
        crown = blob(
            [(-0.32, -0.28), (-0.3, -0.58), (-0.22, -0.76), (-0.04, -0.7), (0.14, -0.78), (0.26, -0.66), (0.29, -0.3)]
        )
        brim = blob(
            [
                (-0.74, -0.42),
                (-0.56, -0.24),
                (-0.3, -0.34),
                (0.06, -0.36),
                (0.36, -0.3),
                (0.6, -0.24),
                (0.76, -0.38),
                (0.62, -0.14),
                (0.3, -0.12),
                (0.0, -0.18),
                (-0.3, -0.14),
                (-0.62, -0.18),
            ]
        )
        return [
            under,
            Part(crown, c, flow=1.3, **cloth),
            Part(
                poly([(-0.33, -0.32), (-0.32, -0.4), (0.0, -0.43), (0.29, -0.38), (0.3, -0.3), (0.0, -0.35)]),
                palette.accent if c != palette.accent else palette.light,
                stroke=0.008,
            ),
            Part(brim, mix(c, lit, 0.2), form=0.035, stroke=0.011, ragged=0.005),
        ]
    if face.hat == "cap":
        crown = blob(
            [
                (-0.4, -0.3),
                (-0.48, -0.5),
                (-0.2, -0.66),
                (0.16, -0.68),
                (0.42, -0.52),
                (0.34, -0.36),
                (0.3, -0.26),
                (-0.1, -0.3),
            ]
        )
        peak = blob([(0.02, -0.27), (0.32, -0.29), (0.44, -0.16), (0.4, -0.11), (0.22, -0.17), (0.04, -0.2)])
        badge = oval(0.2, -0.4, 0.045, 0.055)
        return [
            under,
            Part(crown, c, **cloth),
            Part(
                poly([(-0.36, -0.22), (-0.35, -0.33), (0.05, -0.38), (0.32, -0.35), (0.32, -0.26), (0.05, -0.29)]),
                dark,
                stroke=0.008,
            ),
            Part(peak, dark, form=0.025),
            Part(badge, palette.glow, form=0.015),
        ]
    if face.hat == "helmet":
        shell = blob(
            [
                (-0.42, -0.08),
                (-0.42, -0.4),
                (-0.2, -0.62),
                (0.1, -0.64),
                (0.32, -0.48),
                (0.38, -0.2),
                (0.2, -0.24),
                (-0.1, -0.2),
                (-0.3, 0.0),
            ]
        )
        strap = tube([(-0.28, -0.1), (-0.2, 0.25), (0.02, 0.47)], (0.02, 0.018, 0.016))
        return [
            under,
            Part(
                shell,
                c,
                form=0.12,
                stroke=0.012,
                shades=(Shade(oval(-0.14, -0.46, 0.08, 0.05, -0.5), palette.light, 0.8, 0.02),),
            ),
            Part(strap, dark, form=0.01),
        ]
    if face.hat == "flyer":
        shell = blob(
            [
                (-0.2, 0.36),
                (-0.36, 0.3),
                (-0.42, -0.1),
                (-0.36, -0.42),
                (-0.12, -0.58),
                (0.14, -0.56),
                (0.3, -0.36),
                (0.3, -0.2),
                (0.1, -0.28),
                (-0.12, -0.2),
                (-0.22, 0.0),
                (-0.2, 0.2),
            ]
        )
        leather = mix(c, (84, 48, 28), 0.6)
        goggles = [
            Part(oval(x, -0.36, w, 0.085, 0.1), (52, 44, 40), form=0.02) for x, w in ((-0.03, 0.115), (0.2, 0.085))
        ]
        glass = [
            Part(
                oval(x, -0.36, w, 0.06, 0.1),
                mix(palette.second, palette.light, 0.35),
                shades=(Shade(oval(x - 0.03, -0.38, 0.03, 0.02), (255, 255, 250), 0.9, 0.01),),
            )
            for x, w in ((-0.03, 0.085), (0.2, 0.06))
        ]
        return [
            Part(shell, leather, **cloth, flow=1.0),
            Part(tube([(-0.37, -0.28), (-0.1, -0.36), (0.29, -0.36)], (0.03, 0.03, 0.03)), (44, 36, 34)),
            *goggles,
            *glass,
        ]
    if face.hat == "beret":
        shape = blob(
            [
                (-0.36, -0.24),
                (-0.5, -0.42),
                (-0.4, -0.6),
                (-0.1, -0.68),
                (0.2, -0.6),
                (0.32, -0.4),
                (0.2, -0.36),
                (-0.1, -0.3),
            ]
        )
        return [under, Part(shape, c, form=0.12, stroke=0.012, ragged=0.006, vary=1.3)]
    if face.hat in ("hood", "scarf"):
        shape = blob(
            [
                (0.2, 0.66),
                (-0.1, 0.8),
                (-0.42, 0.7),
                (-0.44, 0.3),
                (-0.44, -0.3),
                (-0.2, -0.6),
                (0.12, -0.6),
                (0.33, -0.36),
                (0.37, -0.02),
                (0.34, 0.26),
                (0.3, 0.56),
                (0.14, 0.5),
                (0.27, 0.2),
                (0.29, -0.1),
                (0.22, -0.31),
                (0.06, -0.38),
                (-0.12, -0.32),
                (-0.25, -0.12),
                (-0.27, 0.16),
                (-0.14, 0.44),
            ]
        )
        folds = tuple(
            Shade(
                tube([(-0.2 - k, -0.4), (-0.34 - k * 0.5, 0.0), (-0.24 - k, 0.5)], (0.008, 0.02, 0.01)),
                dark,
                0.7,
                0.012,
            )
            for k in (0.0, 0.08, 0.15)
        )
        return [Part(shape, c, shades=folds, form=0.06, stroke=0.014, flow=1.4, ragged=0.008, vary=1.3)]
    if face.hat == "topper":
        crown = poly([(-0.3, -0.3), (-0.36, -0.92), (-0.1, -0.97), (0.2, -0.96), (0.34, -0.9), (0.29, -0.3)])
        return [
            under,
            Part(
                crown,
                dark,
                shades=(Shade(tube([(-0.2, -0.9), (-0.18, -0.4)], (0.04, 0.03)), lit, 0.6, 0.03),),
                form=0.08,
                stroke=0.012,
                flow=1.57,
            ),
            Part(poly([(-0.32, -0.34), (-0.33, -0.46), (0.3, -0.46), (0.3, -0.34)]), palette.accent, stroke=0.008),
            Part(
                blob([(-0.54, -0.3), (0.0, -0.37), (0.52, -0.3), (0.4, -0.2), (0.0, -0.25), (-0.42, -0.2)]),
                dark,
                form=0.03,
            ),
        ]
    if face.hat == "space":
        glass = oval(0.02, -0.03, 0.62, 0.66)
        glare = Shade(
            tube([(-0.44, 0.1), (-0.42, -0.26), (-0.14, -0.54)], (0.02, 0.06, 0.015)), (255, 255, 255), 0.8, 0.012
        )
        return [
            Part(
                glass,
                mix(palette.glow, palette.second, 0.4),
                shades=(
                    glare,
                    Shade(
                        tube([(0.5, 0.2), (0.54, -0.06), (0.42, -0.34)], (0.008, 0.02, 0.008)),
                        (255, 255, 255),
                        0.8,
                        0.008,
                    ),
                ),
                opacity=0.26,
            ),
            Part(
                tube([(-0.44, -0.16), (-0.34, -0.42), (-0.1, -0.56)], (0.008, 0.03, 0.008)),
                (255, 255, 255),
                opacity=0.75,
                soft=0.006,
            ),
            Part(
                tube([(-0.4, 0.5), (0.0, 0.62), (0.42, 0.48)], (0.055, 0.075, 0.055)),
                palette.metal,
                form=0.05,
                stroke=0.009,
            ),
        ]
    if face.hat == "band":
        return [
            Part(tube([(-0.36, -0.2), (-0.08, -0.34), (0.28, -0.34)], (0.04, 0.045, 0.035)), c, form=0.02, stroke=0.008)
        ]
    return []


def bust(face: Face, palette: Palette, near_light: bool, coat: Rgb, collar: int) -> list[Part]:
    """A big head with the shoulders under it, running out in brush strokes as collage heads on posters do."""
    dark, lit = mix(coat, palette.dark, 0.7), mix(coat, palette.light, 0.4)
    wide = 0.72 if face.woman else 0.92
    shoulders = blob(
        [
            (-0.16, 0.62),
            (-0.42, 0.74),
            (-wide, 0.9),
            (-wide - 0.12, 1.25),
            (-wide * 0.7, 1.55),
            (0.0, 1.5),
            (wide * 0.62, 1.56),
            (wide * 0.8, 1.2),
            (wide * 0.6, 0.88),
            (0.16, 0.7),
        ]
    )
    folds = (
        Shade(poly([(0.0, 0.7), (0.9, 0.7), (0.9, 1.7), (0.16, 1.7)]), dark, 0.75 if near_light else 0, 0.04),
        Shade(poly([(-0.3, 0.6), (-1.2, 0.7), (-1.2, 1.7), (-0.36, 1.7)]), dark, 0 if near_light else 0.7, 0.04),
        Shade(tube([(-0.6, 0.88), (-0.5, 1.15), (-0.56, 1.5)], (0.01, 0.035, 0.01)), dark, 0.8, 0.02),
        Shade(tube([(-0.7, 0.92), (-0.64, 1.1), (-0.7, 1.4)], (0.01, 0.03, 0.01)), lit, 0.6, 0.02),
        Shade(tube([(0.4, 0.86), (0.36, 1.1), (0.44, 1.45)], (0.01, 0.03, 0.01)), palette.dark, 0.7, 0.02),
    )
    body = Part(
        shoulders,
        coat,
        shades=folds,
        form=0.12,
        stroke=0.022,
        flow=1.1,
        swirl=0.5,
        ragged=0.03,
        vary=1.4,
        melt=(1.05, 1.5),
    )
    parts = [body]
    if collar == 0:
        parts.append(
            Part(
                poly([(-0.28, 0.6), (-0.02, 1.3), (0.14, 0.66)]),
                mix(palette.light, palette.far, 0.15),
                shades=(
                    Shade(
                        poly([(-0.1, 0.5), (0.2, 0.5), (0.2, 1.2), (0.0, 1.3)]),
                        mix(palette.light, palette.dark, 0.45),
                        0.8,
                        0.02,
                    ),
                ),
                stroke=0.015,
                flow=1.3,
            )
        )
        parts.append(
            Part(
                poly(
                    [
                        (-0.09, 0.82),
                        (-0.01, 0.78),
                        (0.04, 0.83),
                        (0.01, 0.9),
                        (0.05, 1.3),
                        (-0.04, 1.42),
                        (-0.09, 1.28),
                        (-0.05, 0.9),
                    ]
                ),
                palette.accent,
                form=0.03,
                stroke=0.01,
                flow=1.4,
            )
        )
    neck = _neck(face, _tones(face, palette), near_light).carried(frame(0, 0, 1))
    heads = head(face, palette, near_light, neck=False)
    parts.insert(1, neck)
    left = blob([(-0.3, 0.5), (-0.5, 0.66), (-0.46, 0.86), (-0.2, 1.3), (-0.02, 1.5), (-0.1, 1.0), (-0.26, 0.74)])
    right = blob([(0.1, 0.56), (0.26, 0.64), (0.34, 0.86), (0.12, 1.3), (-0.02, 1.5), (0.02, 1.0), (0.1, 0.76)])
    if face.woman and collar:
        parts.append(
            Part(
                tube([(-0.3, 0.8), (-0.1, 0.96), (0.1, 0.82)], (0.014, 0.02, 0.014)),
                palette.glow,
                form=0.012,
                stroke=0.01,
            )
        )
    else:
        parts += [
            Part(
                s,
                mix(coat, lit if near_light == (i == 0) else dark, 0.3),
                form=0.05,
                stroke=0.014,
                flow=1.1,
                ragged=0.008,
                melt=(0.95, 1.5),
            )
            for i, s in enumerate((left, right))
        ]
    parts = [q.carried(_shift(0.0, -0.15)) for q in parts]
    # Long hair hangs over the collar, so the hair behind a woman's head goes on before the shoulders.
    return [heads[0], *parts, *heads[1:]] if face.woman and face.style != 0 else [*parts, *heads]


def _tones(face: Face, palette: Palette) -> tuple[Rgb, Rgb, Rgb, Rgb]:
    skin = palette.skin
    if face.tint is not None:
        return (
            mix(palette.light, face.tint, 0.12),
            mix(palette.light, face.tint, 0.48),
            mix(face.tint, palette.dark, 0.42),
            mix(face.tint, palette.dark, 0.88),
        )
    warm = mix(palette.dark, (96, 20, 22), 0.5)
    return mix(skin, (255, 236, 206), 0.45), skin, mix(skin, warm, 0.62), mix(skin, palette.dark, 0.86)


def carried(parts: list[Part], matrix: Floats) -> list[Part]:
    """All parts in the outer frame."""
    return [p.carried(matrix) for p in parts]
