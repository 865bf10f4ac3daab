"""A face in three-quarter view, looking right."""

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.face import Face
from sample_batch.art.hair import back_hair, beard, front_hair
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, oval, poly, tube


def three_quarter(
    face: Face, palette: Palette, tones: tuple[Rgb, Rgb, Rgb, Rgb], hair: Rgb, near_light: bool
) -> list[Part]:
    """The parts from hair behind to hair before."""
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
    parts = [back_hair(face, hair, palette)]
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
    parts += beard(face, hair, tones)
    parts += front_hair(face, hair, palette)
    return parts


def _eye(face: Face, x: float, y: float, r: float, tones: tuple[Rgb, Rgb, Rgb, Rgb], palette: Palette) -> list[Part]:
    light, _, shadow, deep = tones
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
    light, _, shadow, deep = tones
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
