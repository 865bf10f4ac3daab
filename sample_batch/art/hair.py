"""Hair and beards, in the local frame of the head."""

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.face import Face
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, tube


def beard(face: Face, hair: Rgb, tones: tuple[Rgb, Rgb, Rgb, Rgb]) -> list[Part]:
    """Moustache, stubble or full beard."""
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


def back_hair(face: Face, hair: Rgb, palette: Palette) -> Part:
    """What lies behind the face."""
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


def front_hair(face: Face, hair: Rgb, palette: Palette) -> list[Part]:
    """What falls over the forehead."""
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
