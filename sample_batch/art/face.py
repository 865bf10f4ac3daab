"""Who a painted person is, and the tones of the skin."""

from dataclasses import dataclass

import numpy as np

from sample_batch.art.brush import Rgb, mix
from sample_batch.art.palette import Palette
from sample_batch.art.shape import Floats

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


def shifted(x: float, y: float) -> Floats:
    """The frame moved aside."""
    return np.array([[1, 0, x], [0, 1, y]], np.float32)


def tones_of(face: Face, palette: Palette) -> tuple[Rgb, Rgb, Rgb, Rgb]:
    """Light, ground, shadow and deepest tone of the skin, or of the tint that stands for it."""
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
