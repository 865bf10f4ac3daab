"""Hats, helmets, hoods. Local frame of the head: crown to chin is 1, looking right."""

from sample_batch.art.brush import Part, Shade, mix
from sample_batch.art.face import Face
from sample_batch.art.palette import Palette
from sample_batch.art.shape import blob, oval, poly, tube

HATS = ("none", "fedora", "cap", "stetson", "helmet", "flyer", "beret", "hood", "scarf", "topper", "space", "band")


def hat(face: Face, palette: Palette) -> list[Part]:
    """What the person wears on the head."""
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
