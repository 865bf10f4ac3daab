"""Painted heads, lit from one side. Local frame: crown to chin is 1, y down, looking right."""

import numpy as np

from sample_batch.art.brush import Part, Rgb, Shade, mix
from sample_batch.art.face import Face, shifted, tones_of
from sample_batch.art.hat import hat
from sample_batch.art.palette import Palette
from sample_batch.art.profile import profile
from sample_batch.art.shape import Floats, blob, frame, poly, tube
from sample_batch.art.threequarter import three_quarter


def head(face: Face, palette: Palette, near_light: bool, neck: bool = True) -> list[Part]:
    """Parts of the head in painting order; `near_light` says that the side turned to us (left) is the lit one."""
    tones = tones_of(face, palette)
    hair = face.hair if face.tint is None else mix(face.hair, tones[3], 0.6)
    draw = profile if face.profile else three_quarter
    parts = draw(face, palette, tones, hair, near_light)
    if neck:
        parts.insert(1 if face.woman else 0, _neck(face, tones, near_light))
    parts += hat(face, palette)
    stretch = np.array([[1, 0, 0], [0, face.long, 0]], np.float32)
    return [p.carried(stretch) for p in parts]


def _neck(face: Face, tones: tuple[Rgb, Rgb, Rgb, Rgb], near_light: bool) -> Part:
    thick = 0.15 if face.woman else 0.2
    _, base, shadow, deep = tones
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
    neck = _neck(face, tones_of(face, palette), near_light).carried(frame(0, 0, 1))
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
    parts = [q.carried(shifted(0.0, -0.15)) for q in parts]
    # Long hair hangs over the collar, so the hair behind a woman's head goes on before the shoulders.
    return [heads[0], *parts, *heads[1:]] if face.woman and face.style != 0 else [*parts, *heads]


def carried(parts: list[Part], matrix: Floats) -> list[Part]:
    """All parts in the outer frame."""
    return [p.carried(matrix) for p in parts]
