"""One picture laid over another: by a homography, then by a slow bend; tones made alike from the pair itself."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.geometry import Matrix, Points, apply, tell

Picture = NDArray[np.uint8]
Floats = NDArray[np.float32]
Twins = tuple[Picture, Picture]  # (h, w) each

_BINS = 24
_TONE_STEP, _FINE = 5, 4  # px between the places that tell tones; steps a level
_SOFT_PX = 1.0
_CONTRAST_PX = 41
_LEAST_CONTRAST = 6.0
_ALIKE = 0.5
_BEND_ROUNDS = 10
_LEAST_SIDE_PX = 48
_SLACK_PX = 31


@dataclass(frozen=True, slots=True, eq=False)
class Overlay:
    """a and b in one frame: (h, w, 3) float32 each, softened alike; ``seen`` (h, w) where both have a picture.

    ``a_to_frame`` and ``b_to_frame`` lead from pixels of the two pictures to those of the frame, the bend left out;
    ``bend`` (h, w, 2) is what is added to a frame place to find it on b as laid by the homography alone.
    """

    a: Floats
    b: Floats
    seen: NDArray[np.bool_]
    a_to_frame: Matrix
    b_to_frame: Matrix
    bend: Floats

    def on_a(self, points: Points) -> Points:
        """(n, 2) places of the frame in pixels of a."""
        return apply(np.asarray(np.linalg.inv(self.a_to_frame), np.float64), points)

    def on_b(self, points: Points) -> Points:
        """(n, 2) places of the frame in pixels of b."""
        h, w = self.seen.shape
        x = np.clip(points[:, 0], 0, w - 1).astype(np.intp)
        y = np.clip(points[:, 1], 0, h - 1).astype(np.intp)
        return apply(np.asarray(np.linalg.inv(self.b_to_frame), np.float64), points + self.bend[y, x])


def lay(a: Picture, b: Picture, a_to_b: Matrix, longest_px: int) -> Overlay | None:
    """b laid on a, cut to what both may show, at most ``longest_px`` long and no finer than the coarser of the two.

    ``a`` and ``b`` are (h, w, 3) RGB, ``a_to_b`` leads from pixels of a to those of b. None where they do not meet.
    """
    high, wide = a.shape[:2]
    try:
        back = np.asarray(np.linalg.inv(a_to_b), np.float64)
    except np.linalg.LinAlgError:
        return None
    corners = apply(back, np.array([[0, 0], [b.shape[1], 0], [b.shape[1], b.shape[0]], [0, b.shape[0]]], np.float64))
    if not np.isfinite(corners).all():
        return None
    left, top = np.clip(np.floor(corners.min(axis=0)), 0, (wide, high)).astype(int)
    right, bottom = np.clip(np.ceil(corners.max(axis=0)), 0, (wide, high)).astype(int)
    if min(right - left, bottom - top) < _LEAST_SIDE_PX:
        return None
    growth = tell(a_to_b, ((left + right) / 2, (top + bottom) / 2)).scale
    scale = min(1.0, growth, longest_px / max(right - left, bottom - top))
    size = max(1, round((right - left) * scale)), max(1, round((bottom - top) * scale))
    if min(size) < _LEAST_SIDE_PX:
        return None
    small_a = cv2.resize(a[top:bottom, left:right], size, interpolation=cv2.INTER_AREA)
    share = min(1.0, scale / growth)
    small_b = cv2.resize(b, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    a_to_frame = _scaled(size[0] / (right - left), size[1] / (bottom - top)) @ np.array(
        [[1, 0, -left], [0, 1, -top], [0, 0, 1.0]]
    )
    to_small = _scaled(small_b.shape[1] / b.shape[1], small_b.shape[0] / b.shape[0])
    b_to_frame = a_to_frame @ back
    warp = to_small @ np.linalg.inv(b_to_frame)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = cv2.warpPerspective(small_b, warp, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.warpPerspective(
        np.ones(small_b.shape[:2], np.uint8), warp, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    )
    bend = np.zeros((size[1], size[0], 2), np.float32)
    return Overlay(_soft(small_a), _soft(laid), seen > 0, a_to_frame, b_to_frame, bend)


def bent(overlay: Overlay, twins: Twins, pa: Points, pb: Points) -> Overlay:
    """The same with b bent to a by a slow surface (a cubic in x and y) that most of the places (n, 2) follow.

    What moved by itself is left where it is: the fit is robust and stiff. A bend that makes the two less alike is not
    made.
    """
    more = _stiff(pa, pb - pa, overlay.seen.shape)
    x, y = _grid(*overlay.seen.shape)
    at_x, at_y = x + more[..., 0], y + more[..., 1]
    b = cv2.remap(overlay.b, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.remap(overlay.seen.astype(np.uint8), at_x, at_y, cv2.INTER_NEAREST) > 0
    one, other = twins
    there = cv2.remap(other, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    if likeness(one, there, seen) < likeness(one, other, overlay.seen):
        return overlay
    return replace(overlay, b=b, seen=seen, bend=overlay.bend + more)


def twins_of(overlay: Overlay, *, polarity_flip: bool) -> Twins:
    """The two as alike as they can be made, in even light: a with the tones of b, or where another palette leaves these
    unlike, the strength of edges, whichever side is the lighter."""
    toned = evened(grey(_toned(overlay.a, overlay.b, overlay.seen, polarity_flip))), evened(grey(overlay.b))
    alike = likeness(*toned, overlay.seen)
    if alike >= _ALIKE:
        return toned
    drawn = evened(_edges(overlay.a)), evened(_edges(overlay.b))
    return drawn if likeness(*drawn, overlay.seen) > alike else toned


def likeness(one: Picture, other: Picture, seen: NDArray[np.bool_]) -> float:
    """How far two planes of one frame go together where both are seen: a correlation."""
    some = seen[::3, ::3]
    if some.sum() < 2:
        return 0.0
    a, b = (p[::3, ::3][some].astype(np.float64) for p in (one, other))
    with np.errstate(invalid="ignore"):
        return float(np.nan_to_num(np.corrcoef(a, b)[0, 1]))


def _edges(picture: Floats) -> Floats:
    """(h, w): how strongly the colours of (h, w, 3) change, whichever way."""
    across, down = (cv2.Sobel(picture, cv2.CV_32F, i, j) for i, j in ((1, 0), (0, 1)))
    return np.asarray(np.sqrt((across**2 + down**2).sum(axis=2)), np.float32)


def settled(overlay: Overlay, moved: Floats, most_px: float) -> Overlay:
    """The same with b drawn up by at most ``most_px`` to where its flow ``moved`` leads: what a cubic cannot bend."""
    slack = cv2.blur(moved, (_SLACK_PX, _SLACK_PX))
    far = np.maximum(np.hypot(slack[..., 0], slack[..., 1]), 1e-6)
    slack *= np.where(far > most_px, 0, 1)[..., None]
    slack = cv2.GaussianBlur(slack, (0, 0), _SLACK_PX / 4)
    return replace(overlay, b=carried(overlay.b, slack), bend=overlay.bend + slack)


def softened(overlay: Overlay, field: Floats, sigma_px: float) -> Overlay:
    """The same with both pictures softer within the field: what only another brush or screen drew is gone."""
    share = np.maximum(cv2.GaussianBlur(field, (0, 0), sigma_px), 1e-3)[..., None]
    a, b = (cv2.GaussianBlur(x * field[..., None], (0, 0), sigma_px) / share for x in (overlay.a, overlay.b))
    return replace(overlay, a=a, b=b)


def grey(picture: Floats) -> Floats:
    """(h, w) luma."""
    return np.asarray(picture @ np.array([0.299, 0.587, 0.114], np.float32), np.float32)


def contrast(plane: Floats) -> Floats:
    """(h, w) local standard deviation, in levels."""
    mean = cv2.blur(plane, (_CONTRAST_PX, _CONTRAST_PX))
    return np.sqrt(np.maximum(cv2.blur(plane * plane, (_CONTRAST_PX, _CONTRAST_PX)) - mean * mean, 0))


def evened(plane: Floats) -> Picture:
    """(h, w) uint8 with the light made even: what differs from its surroundings, over their contrast."""
    mean = cv2.blur(plane, (_CONTRAST_PX, _CONTRAST_PX))
    return np.clip(128 + 48 * (plane - mean) / (contrast(plane) + _LEAST_CONTRAST), 0, 255).astype(np.uint8)


def flow(one: Picture, other: Picture) -> Floats:
    """(h, w, 2): where each place of a plane lies on the other, less where it lies. Dense inverse search (Kroeger
    2016)."""
    search = cv2.DISOpticalFlow_create(cv2.DISOPTICAL_FLOW_PRESET_FAST)  # type: ignore[attr-defined]
    return np.asarray(search.calc(one, other, None), np.float32)


def carried(picture: Floats, moved: Floats) -> Floats:
    """The picture with each place taken from where ``moved`` (h, w, 2) leads."""
    x, y = _grid(*moved.shape[:2])
    at = x + moved[..., 0], y + moved[..., 1]
    return np.asarray(cv2.remap(picture, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)


def _toned(source: Floats, target: Floats, seen: NDArray[np.bool_], polarity_flip: bool) -> Floats:
    """``source`` with the tones of ``target``, one monotone curve a channel.

    A channel follows the channel (or the luma) of the other picture that tells it best; the curve is the median of what
    lies over each tone, made monotone (pool adjacent violators), so that places that differ have little say.
    """
    at = (slice(None, None, _TONE_STEP), slice(None, None, _TONE_STEP))
    inside = seen[at]
    planes = [source[..., c] for c in range(3)] + [grey(source)]
    had = [_binned(p[at][inside]) for p in planes]
    out = np.empty_like(target)
    levels = np.arange(256 * _FINE, dtype=np.float32) / _FINE
    for c in range(3):
        wanted = target[..., c][at][inside]
        best: tuple[float, int, Floats] | None = None
        for number, have in enumerate(had):
            told_at, says = _curve(have, wanted, falling=polarity_flip)
            table = np.interp(levels, told_at, says).astype(np.float32)
            miss = float(np.mean(np.abs(table[have.fine] - wanted)))
            if best is None or miss < best[0]:
                best = miss, number, table
        assert best is not None
        out[..., c] = best[2][_fine(planes[best[1]])]
    return out


def _fine(plane: Floats) -> NDArray[np.intp]:
    return np.clip(plane * _FINE + 0.5, 0, 256 * _FINE - 1).astype(np.intp)


@dataclass(frozen=True, slots=True, eq=False)
class _Binned:
    """Tones (n,) as ``_fine`` has them, their order, where in it each of some equally full bins begins, and the middle
    tone of each; none where the tones are too few."""

    fine: NDArray[np.intp]
    order: NDArray[np.intp]
    starts: NDArray[np.intp]
    at: Floats


def _binned(have: Floats) -> _Binned:
    order = np.argsort(have, kind="stable")
    told = have[order]
    edges = np.unique(told[np.linspace(0, max(0, len(told) - 1), _BINS + 1).astype(np.intp)]) if len(told) else told
    starts = np.searchsorted(told, edges[:-1]) if len(edges) > 2 else np.empty(0, np.intp)
    ends = np.append(starts[1:], len(told))
    at = told[(starts + ends - 1) // 2] if len(starts) else np.empty(0, np.float32)
    return _Binned(_fine(have), order, starts, at)


def _curve(have: _Binned, wanted: Floats, *, falling: bool) -> tuple[Floats, Floats]:
    if not len(have.starts):
        return np.array([0, 255], np.float32), np.full(2, np.median(wanted), np.float32)
    held = np.split(wanted[have.order], have.starts[1:])
    says = np.array([float(np.partition(x, len(x) // 2)[len(x) // 2]) for x in held])
    weights = np.array([float(len(x)) for x in held])
    sign = -1.0 if falling else 1.0
    return have.at, np.array(sign * _pooled(sign * says, weights), np.float32)


def _pooled(values: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """The nearest values that never fall (pool adjacent violators; Barlow et al. 1972)."""
    blocks: list[list[float]] = []
    for value, weight in zip(values, weights, strict=True):
        blocks.append([float(value), float(weight), 1.0])
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            value_2, weight_2, count_2 = blocks.pop()
            value_1, weight_1, count_1 = blocks.pop()
            both = weight_1 + weight_2
            blocks.append([(value_1 * weight_1 + value_2 * weight_2) / both, both, count_1 + count_2])
    return np.concatenate([np.full(int(count), value) for value, _, count in blocks])


def _stiff(at: Points, moved: Points, size: tuple[int, int]) -> Floats:
    """(h, w, 2): the cubic surface that most places follow (iteratively reweighted least squares, Tukey's weights)."""
    h, w = size
    near = int((np.hypot(*moved.T) < 0.02 * max(h, w)).sum()) if len(at) else 0
    degree = next((d for d, least in ((3, 80), (2, 40), (1, 16)) if near >= least), 0)
    if not degree:
        return np.zeros((h, w, 2), np.float32)
    powers = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]

    def terms(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        u, v = 2 * x / w - 1, 2 * y / h - 1
        return np.stack([u**i * v**j for i, j in powers], axis=-1)

    design = terms(at[:, 0], at[:, 1])
    ridge = len(at) * np.diag([1e-6 if i + j < 2 else 1e-3 for i, j in powers])
    weights = np.ones(len(at))
    solved = np.zeros((len(powers), 2))
    solved[0] = np.median(moved, axis=0)
    reach = 0.02 * max(h, w)
    for _ in range(_BEND_ROUNDS):
        miss = np.hypot(*(design @ solved - moved).T)
        weights = np.clip(1 - (miss / reach) ** 2, 0, 1) ** 2
        if weights.sum() < len(powers):
            return np.zeros((h, w, 2), np.float32)
        reach = max(0.5 * reach, 4.7 * max(1.4826 * float(np.median(miss[weights > 0])), 0.25))
        weighted = design * weights[:, None]
        solved = np.linalg.solve(weighted.T @ design + ridge, weighted.T @ moved)
    # the surface is slow: told on a coarse grid
    x, y = np.meshgrid(np.linspace(0, w - 1, 33), np.linspace(0, h - 1, 33))
    coarse = (terms(x, y) @ solved).astype(np.float32)
    to_x, to_y = _grid(h, w)
    return np.asarray(
        cv2.remap(coarse, to_x * (32 / max(1, w - 1)), to_y * (32 / max(1, h - 1)), cv2.INTER_LINEAR), np.float32
    )


def _grid(h: int, w: int) -> tuple[Floats, Floats]:
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    return x, y


def _scaled(x: float, y: float) -> Matrix:
    """A change of scale, pixel centres on pixel centres."""
    return np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1.0]])


def _soft(picture: Picture) -> Floats:
    return np.asarray(cv2.GaussianBlur(picture.astype(np.float32), (0, 0), _SOFT_PX), np.float32)
