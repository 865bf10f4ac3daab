"""A face from the side, looking right."""

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.face import Face, shifted
from sample_batch.art.hair import back_hair, front_hair
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, oval, poly, tube


def profile(face: Face, palette: Palette, tones: tuple[Rgb, Rgb, Rgb, Rgb], hair: Rgb, near_light: bool) -> list[Part]:
    """The parts from hair behind to hair before."""
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
    parts = [back_hair(face, hair, palette)]
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
    parts += [p.carried(shifted(-0.04, 0.0)) for p in front_hair(face, hair, palette)]
    return parts
