"""Is the brushwork of a painting that on film of it? Their fine drawing, place by place, and what either lacks.

A replica has the shapes and contours of a painting, not its brush edges; a painting that was repainted since has them
but where it was repainted. So two things are told: how far faint drawing, away from contours, goes together; and how
much of either picture any single place leaves untold by the other, over what grain, tones and lens leave on this pair.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.very_object import VeryObjectRules
from intake.imaging.geometry import Points
from intake.imaging.overlay import Floats, Overlay, Picture, flow, grey, lay, twins_of
from intake.imaging.untold import Ground

Plane = NDArray[np.float64]
Mask = NDArray[np.bool_]
_LEAST_PLACES = 400  # cells of the grid: too small a piece says nothing
_APART = 3.0  # windows between places that are shown


@dataclass(frozen=True, slots=True, eq=False)
class Brushwork:
    """``faint`` and ``plain``: median correlations (-1 to 1) of fine drawing where the painting is drawn faintly and
    where plainly; ``aside``: the most that faint drawing has with the film moved aside. ``untold_film`` and
    ``untold_art``: the most that a place of either is left untold, in times of its noise; ``strange``: the most of a
    patch of places where both are drawn on and it does not go together. ``alike`` and ``unlike``: (n, 4, 2) corners of
    places in the frame of ``over``, the most telling first."""

    over: Overlay
    faint: float
    plain: float
    aside: float
    untold_film: float
    untold_art: float
    strange: float
    alike: Points
    unlike: Points


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Of every place that both show (n,): variances of fine drawing on painting and film, what they have in common,
    the film's tone, and where on the grid it is (row, column)."""

    art: Plane
    film: Plane
    both: Plane
    tone: Plane
    at: NDArray[np.intp]

    @property
    def alike(self) -> Plane:
        return np.asarray(self.both / np.sqrt(np.maximum(self.art * self.film, 1e-4)), np.float64)


def brushwork(
    art: Picture, film: Picture, ground: Ground, rules: VeryObjectRules, *, polarity_flip: bool
) -> Brushwork | None:
    """How far the fine drawing of a painting lies on film of it, laid as ``ground`` has them (a: the painting).

    ``art`` and ``film`` are (h, w, 3) RGB. None where they share too little.
    """
    over = _closer(art, film, ground, rules, polarity_flip=polarity_flip)
    if over is None:
        return None
    fine = _fine(grey(over.a), rules), _fine(grey(over.b) * (-1 if polarity_flip else 1), rules)
    cells = _cells(over, *fine, rules)
    if len(cells.art) < _LEAST_PLACES:
        return None
    low, high, plain = np.quantile(cells.art, [*rules.faint, rules.plain])
    faint = (cells.art >= low) & (cells.art <= high)
    alike = cells.alike
    on_film, on_art, tells = _untold(cells, alike, rules)
    strange = _within_patches((alike < rules.strange) & (tells > rules.drawn_over_noise), cells, rules)
    told = np.maximum(on_film / rules.untold_on_film, on_art / rules.untold_on_art)
    told = np.maximum(told, strange / rules.most_strange)
    seen = np.where(cells.art <= plain, alike * np.sqrt(np.maximum(tells, 0)), 0)
    return Brushwork(
        over,
        float(np.median(alike[faint])),
        float(np.median(alike[cells.art >= plain])),
        max(_moved_aside(over, *fine, way, faint, rules) for way in ((0, 1), (1, 0), (0, -1), (-1, 0))),
        float(on_film.max()),
        float(on_art.max()),
        float(strange.max()),
        _places(cells, np.where(alike > rules.same_hand, seen, 0), rules),
        _places(cells, np.where(told > 1, told, 0), rules),
    )


def _closer(
    art: Picture, film: Picture, ground: Ground, rules: VeryObjectRules, *, polarity_flip: bool
) -> Overlay | None:
    """The two as ``ground`` laid them, in a larger frame, drawn up a little further; ``seen`` is clear of its edge."""
    coarse = ground.sharp
    a_to_b = np.linalg.inv(coarse.b_to_frame) @ coarse.a_to_frame
    over = lay(art, film, a_to_b, rules.longest_px)
    if over is None:
        return None
    h, w = over.seen.shape
    grown = np.array([w / coarse.seen.shape[1], h / coarse.seen.shape[0]], np.float32)
    over = _bent(over, np.asarray(cv2.resize(coarse.bend, (w, h), interpolation=cv2.INTER_LINEAR) * grown, np.float32))
    for most in rules.slack_px:
        moved = flow(*twins_of(over, polarity_flip=polarity_flip))
        near = ((np.hypot(moved[..., 0], moved[..., 1]) <= most) & over.seen).astype(np.float32)
        share = np.maximum(cv2.GaussianBlur(near, (0, 0), rules.slack_over_px), 1e-3)
        slow = cv2.GaussianBlur(moved * near[..., None], (0, 0), rules.slack_over_px) / share[..., None]
        over = _bent(over, np.asarray(slow, np.float32))
    inside = (cv2.resize(ground.field, (w, h)) > 0.5) & over.seen
    rim = 2 * rules.rim_px + 1
    seen = cv2.erode(inside.astype(np.uint8), np.ones((rim, rim), np.uint8), borderValue=0) > 0
    return replace(over, seen=np.asarray(seen, np.bool_))


def _bent(over: Overlay, more: Floats) -> Overlay:
    h, w = over.seen.shape
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    at = x + more[..., 0], y + more[..., 1]
    b = cv2.remap(over.b, *at, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.remap(over.seen.astype(np.uint8), *at, cv2.INTER_NEAREST) > 0
    return replace(over, b=b, seen=seen, bend=over.bend + more)


def _fine(plane: Floats, rules: VeryObjectRules) -> Floats:
    """What is drawn finely, cut where it stands out of its surroundings."""
    fine = cv2.GaussianBlur(plane, (0, 0), rules.fine_px) - cv2.GaussianBlur(plane, (0, 0), rules.coarse_px)
    wide = 2 * rules.window_px + 1
    most = rules.clip * np.sqrt(cv2.blur(fine * fine, (wide, wide)) + 0.05)
    return np.asarray(np.clip(fine, -most, most), np.float32)


def _mean(plane: Floats, rules: VeryObjectRules) -> Floats:
    step = rules.step_px
    return np.asarray(cv2.blur(plane, (rules.window_px, rules.window_px))[::step, ::step], np.float32)


def _cells(over: Overlay, art: Floats, film: Floats, rules: VeryObjectRules) -> _Cells:
    inside = over.seen[:: rules.step_px, :: rules.step_px]
    mean_a, mean_b = _mean(art, rules), _mean(film, rules)

    def there(plane: Floats) -> Plane:
        return np.asarray(plane[inside], np.float64)

    return _Cells(
        there(_mean(art * art, rules) - mean_a * mean_a),
        there(_mean(film * film, rules) - mean_b * mean_b),
        there(_mean(art * film, rules) - mean_a * mean_b),
        there(_mean(grey(over.b), rules)),
        np.argwhere(inside),
    )


def _moved_aside(
    over: Overlay, art: Floats, film: Floats, way: tuple[int, int], faint: Mask, rules: VeryObjectRules
) -> float:
    away = tuple(rules.aside_px * w for w in way)
    cells = _cells(over, art, np.roll(film, away, axis=(0, 1)), rules)
    return float(np.median(cells.alike[faint]))


def _untold(cells: _Cells, alike: Plane, rules: VeryObjectRules) -> tuple[Plane, Plane, Plane]:
    """Of every place, in times of the noise there: what of the film the painting does not tell, what of the painting
    the film ought to hold and does not, and how much is drawn on both."""
    common = np.clip(cells.both, 0, None) ** 2
    told = common / np.maximum(cells.art, 1e-3)
    left_film, left_art = cells.film - told, cells.art - common / np.maximum(cells.film, 1e-3)
    bounds = np.quantile(cells.tone, np.linspace(0, 1, rules.tones + 1)[1:-1])
    tone = np.digitize(cells.tone, bounds)
    noise, quiet, holds = (np.zeros(rules.tones) for _ in range(3))
    for step in range(rules.tones):
        here = tone == step
        if not here.any():
            continue
        noise[step] = np.quantile(left_film[here], rules.quiet)
        quiet[step] = np.quantile(left_art[here], rules.quiet)
        sure = here & (alike > rules.holds)
        if sure.sum() > 20:
            holds[step] = np.median(cells.both[sure] / cells.art[sure]) ** 2
    noise, quiet, holds = np.maximum(noise, rules.least_noise)[tone], quiet[tone], holds[tone]
    usual = noise + rules.told_unlike * told
    on_film, on_art = left_film / usual, left_art * holds / (usual + quiet * holds)
    return on_film, on_art, np.minimum(cells.film, cells.art * holds) / noise


def _within_patches(odd: Mask, cells: _Cells, rules: VeryObjectRules) -> Plane:
    """Of every place: how much of the patch round it is odd; 0 where the patch is mostly out of sight."""
    high, wide = (int(v) + 1 for v in cells.at.max(axis=0))
    row, column = cells.at.T
    here, seen = np.zeros((high, wide), np.float32), np.zeros((high, wide), np.float32)
    here[row, column], seen[row, column] = odd, 1
    side = (max(1, rules.patch_px // rules.step_px),) * 2
    share = cv2.blur(seen, side, borderType=cv2.BORDER_CONSTANT)
    made = cv2.blur(here, side, borderType=cv2.BORDER_CONSTANT) / np.maximum(share, 1e-3)
    return np.asarray(np.where(share > 0.5, made, 0)[row, column], np.float64)


def _places(cells: _Cells, weight: Plane, rules: VeryObjectRules) -> Points:
    """(n, 4, 2) corners of the places of most weight, none beside another."""
    left, made = weight.copy(), []
    for _ in range(rules.places):
        best = int(left.argmax())
        if left[best] <= 0:
            break
        y, x = cells.at[best] * float(rules.step_px)
        half = 1.5 * rules.window_px
        made.append([[x - half, y - half], [x + half, y - half], [x + half, y + half], [x - half, y + half]])
        far = np.abs(cells.at - cells.at[best]).max(axis=1) * rules.step_px > _APART * rules.window_px
        left[~far] = 0
    return np.array(made, np.float64).reshape(-1, 4, 2)
