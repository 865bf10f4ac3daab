"""A negative printed: film base and mask taken off in density, the film's curve straightened, the print balanced."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.render import RenderRules
from intake.imaging.density import Table, density_table, to_code

Coded = NDArray[np.uint8] | NDArray[np.uint16]
_SMALL_PX = 256
_EVEN, _EVEN_SHARE, _NOT_ABOVE = 0.05, 0.6, 0.06  # densities, and the share of the rim
_GUESS_PERCENT, _GUESS_BELOW = 0.2, 0.03
_DEEPEST = 2.5  # density; beyond it 8 bits tell no colour
_LEAST_RANGE = 0.3


@dataclass(frozen=True, slots=True)
class Base:
    """Density of the unexposed film in red, green and blue, (3,); ``seen`` in a clear rim or only guessed."""

    density: NDArray[np.float32]
    seen: bool


def find_base(rim: NDArray[np.float32], picture: NDArray[np.float32]) -> Base:
    """Return the film's base from densities (n, 3) of its rim, where that is even and as clear as the shadows.

    Else the base is taken to lie a little below the clearest places of ``picture``, densities (n, 3).
    """
    if len(rim):
        level = np.median(rim, axis=0)
        even = (np.abs(rim - level).max(axis=1) < _EVEN).mean()
        if even > _EVEN_SHARE and (level < np.percentile(picture, 1, axis=0) + _NOT_ABOVE).all():
            return Base(np.asarray(level, np.float32), True)
    guess = np.percentile(picture, _GUESS_PERCENT, axis=0) - _GUESS_BELOW
    return Base(np.asarray(guess, np.float32), False)


def log_exposure(density: Table, rules: RenderRules) -> Table:
    """Return log10 exposure for densities above base: the curve's shoulder, then its toe, straightened.

    The curve is gamma x toe x ln(1 + e^(log E / toe)), held under the shoulder's density; what lies below the toe or
    beyond the shoulder stays at its end.
    """
    held = np.clip(density, 0.004, 0.97 * rules.film_shoulder).astype(np.float64)
    held = held / (1 - (held / rules.film_shoulder) ** 6) ** (1 / 6)
    steep = rules.film_gamma * rules.film_toe
    curved = rules.film_toe * np.log(np.expm1(np.minimum(held / steep, 20)))
    return np.asarray(np.where(held / steep > 20, held / rules.film_gamma, curved), np.float32)


def is_grey(coded: Coded, inside: NDArray[np.bool_], rules: RenderRules) -> bool:
    """Tell whether the film holds no colour: densities of the three channels differ by one constant all over."""
    size = tuple(max(1, round(side * min(1.0, _SMALL_PX / max(coded.shape[:2])))) for side in coded.shape[1::-1])
    small = cv2.resize(coded, size, interpolation=cv2.INTER_AREA)
    within = cv2.resize(inside.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    density = density_table(coded.dtype)[small[within]]
    density = density[density.max(axis=1) < _DEEPEST]
    if not len(density):
        return True
    apart = density - density.mean(axis=1, keepdims=True)
    return bool(np.percentile(np.abs(apart - np.median(apart, axis=0)).max(axis=1), 90) < rules.grey_density)


def printed(coded: Coded, inside: NDArray[np.bool_], rim: NDArray[np.bool_], rules: RenderRules) -> NDArray[np.uint8]:
    """Return (h, w, 3) sRGB of a print from a negative in sRGB coding of 8 or 16 bits.

    ``inside`` are pixels of the picture, ``rim`` of the film's edge. Exposure, contrast and balance come from the
    picture: its lightest place is made the paper's white, its darkest (with the light that the lens scattered) the
    paper's black; the contrast lies midway between what the film's gamma tells and what fills the paper. Film is made
    to balance under its lamps and coloured highlights are common, so only a part of their cast is taken for one.
    """
    table = density_table(coded.dtype)
    picture = table[coded[inside]]
    base = find_base(table[coded[rim]], picture)
    colourless = is_grey(coded, inside, rules)
    exposures = [log_exposure(table - base.density[c], rules) for c in range(3)]
    low, high = np.percentile(log_exposure(picture - base.density, rules), (rules.low_percent, rules.high_percent), 0)
    low, high = _drawn_together(low, 0.0), _drawn_together(high, 0.0 if colourless else rules.white_trust)
    high = np.maximum(high, low + _LEAST_RANGE)
    spread = high - low
    slope = np.minimum(np.sqrt(rules.paper_range / spread), rules.paper_most / spread)
    out = np.empty(coded.shape, np.uint8)
    for c in range(3):
        light = np.power(np.float32(10), slope[c] * (exposures[c] - high[c]))
        scattered = np.power(np.float32(10), slope[c] * (low[c] - high[c]))
        clear = (light - scattered) / (1 - scattered)
        on_paper = rules.paper_black + clear * (rules.paper_white - rules.paper_black)
        out[..., c] = to_code(np.asarray(on_paper, np.float32))[coded[..., c]]
    if colourless:
        grey = np.round(out.mean(axis=2, dtype=np.float32)).astype(np.uint8)
        out = np.repeat(grey[..., None], 3, axis=2)
    return out


def _drawn_together(levels: NDArray[np.floating], share: float) -> NDArray[np.floating]:
    """Three channels' levels, each at so much of its own distance from their mean."""
    return np.asarray(levels.mean() + share * (levels - levels.mean()))
