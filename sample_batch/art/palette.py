"""Limited palettes: a handful of colours for each design that belong together."""

from dataclasses import dataclass, fields

import numpy as np

from sample_batch.art.brush import Rgb, mix


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one design, named by their work."""

    sky_top: Rgb
    sky_low: Rgb
    glow: Rgb
    far: Rgb
    mid: Rgb
    near: Rgb
    dark: Rgb
    light: Rgb
    accent: Rgb
    second: Rgb
    skin: Rgb = (222, 160, 118)
    metal: Rgb = (150, 160, 166)


# fmt: off
PALETTES: dict[str, Palette] = {
    "dusk": Palette((34, 54, 104), (242, 164, 84), (255, 228, 150), (146, 88, 92), (202, 122, 64), (108, 56, 40),
                    (28, 18, 32), (255, 240, 204), (206, 40, 30), (18, 112, 124)),
    "ochre": Palette((196, 142, 52), (250, 224, 160), (255, 248, 214), (204, 150, 92), (214, 138, 62), (126, 66, 34),
                     (42, 22, 20), (255, 246, 220), (176, 32, 30), (24, 74, 96)),
    "turquoise": Palette((26, 122, 142), (248, 226, 170), (255, 244, 200), (188, 112, 84), (220, 150, 88),
                         (134, 68, 42), (38, 20, 22), (255, 248, 222), (196, 46, 30), (26, 64, 98)),
    "harbour": Palette((8, 16, 36), (52, 98, 112), (236, 224, 160), (26, 50, 68), (34, 64, 74), (14, 24, 36),
                       (8, 9, 17), (242, 236, 208), (210, 46, 36), (226, 168, 58)),
    "blood": Palette((58, 8, 14), (220, 66, 26), (255, 204, 96), (104, 22, 24), (140, 34, 26), (46, 12, 18),
                     (16, 6, 12), (255, 236, 192), (238, 176, 40), (70, 92, 112)),
    "violet": Palette((20, 14, 46), (104, 76, 140), (206, 232, 150), (52, 38, 86), (44, 34, 68), (20, 16, 36),
                      (9, 7, 18), (230, 242, 198), (208, 44, 62), (146, 196, 66)),
    "acid": Palette((12, 34, 30), (150, 186, 62), (240, 246, 160), (40, 84, 60), (28, 62, 48), (12, 30, 28),
                    (6, 13, 14), (244, 250, 206), (226, 84, 30), (108, 60, 132)),
    "snow": Palette((34, 94, 152), (196, 224, 234), (255, 250, 226), (124, 152, 186), (224, 234, 242), (66, 90, 120),
                    (18, 26, 42), (255, 255, 250), (222, 54, 28), (246, 186, 38)),
    "jungle": Palette((22, 62, 56), (222, 216, 122), (255, 246, 172), (78, 128, 100), (38, 96, 60), (14, 50, 36),
                      (8, 20, 18), (252, 250, 212), (222, 72, 26), (242, 190, 52)),
    "carnival": Palette((30, 18, 78), (238, 92, 126), (255, 216, 124), (112, 50, 122), (86, 40, 110), (36, 18, 62),
                        (16, 8, 32), (255, 244, 214), (252, 190, 36), (26, 166, 176)),
    "deep": Palette((6, 34, 56), (42, 144, 142), (196, 242, 204), (18, 84, 96), (12, 64, 76), (6, 30, 44),
                    (4, 11, 20), (228, 250, 232), (238, 88, 36), (240, 200, 66)),
    "lemon": Palette((242, 188, 32), (254, 234, 150), (255, 252, 232), (228, 148, 44), (206, 110, 34), (120, 52, 26),
                     (26, 18, 24), (255, 252, 236), (202, 26, 36), (18, 62, 122)),
    "cream": Palette((232, 222, 196), (250, 244, 226), (255, 255, 246), (188, 178, 158), (150, 140, 126), (84, 76, 74),
                     (24, 22, 28), (255, 254, 244), (210, 34, 30), (22, 84, 136)),
    "scarlet": Palette((168, 18, 24), (240, 78, 36), (255, 220, 130), (130, 16, 26), (96, 14, 26), (54, 12, 22),
                       (18, 8, 14), (255, 244, 216), (250, 200, 52), (22, 70, 112)),
    "void": Palette((4, 6, 26), (54, 38, 108), (140, 226, 255), (36, 28, 78), (70, 58, 116), (22, 18, 48),
                    (6, 5, 16), (236, 248, 255), (248, 106, 36), (244, 208, 70)),
    "mint": Palette((44, 128, 120), (202, 232, 204), (255, 255, 236), (110, 164, 146), (70, 120, 110), (30, 62, 66),
                    (14, 24, 32), (252, 255, 242), (230, 70, 50), (236, 174, 48)),
}
# fmt: on
SKINS: tuple[Rgb, ...] = (
    (226, 164, 122),
    (212, 146, 104),
    (236, 182, 144),
    (176, 112, 76),
    (122, 76, 54),
    (200, 140, 92),
)


def choose(names: tuple[str, ...], seed: int, other: int) -> Palette:
    """The design's palette, its hues a little turned by the seed; `other` picks another of the genre's palettes."""
    rng = np.random.Generator(np.random.PCG64([seed, 0x9A1]))
    start = int(rng.integers(len(names)))
    base = PALETTES[names[(start + other) % len(names)]]
    turn, value = rng.uniform(-1, 1, 3) * 14, rng.uniform(0.92, 1.06)
    skin = SKINS[int(rng.integers(len(SKINS)))]
    tuned = {}
    for each in fields(Palette):
        colour = getattr(base, each.name)
        amount = 0.25 if each.name in ("light", "glow", "skin", "dark") else 1.0
        shifted = [int(np.clip(c * value + t * amount, 0, 255)) for c, t in zip(colour, turn, strict=True)]
        tuned[each.name] = (shifted[0], shifted[1], shifted[2])
    tuned["skin"] = mix(skin, tuned["sky_low"], 0.08)
    return Palette(**tuned)
