"""What lies on the unprinted margin of a sheet: dots of pins, strips of another tint, stains."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Box4 = tuple[int, int, int, int]
# a line is the margin's when this share of it is paper; narrower margins say nothing
_PAPER_LINES, _LEAST_MARGIN_MM = 0.75, 5.0
_LEVELS = np.log(np.arange(256, dtype=np.float32) + np.float32(4.0))


@dataclass(frozen=True, slots=True)
class Dot:
    """A round dark spot on an even ground, in pixels; ``dark`` is its share of the ground's light that is missing."""

    box: Box4
    across_mm: float
    dark: float


@dataclass(frozen=True, slots=True)
class Patch:
    """Paper of another tint than the margin elsewhere. ``tint`` (yellow: log blue lost against red) at its middle,
    ``rim`` at its border beside plain paper; ``fill`` is its share of its tightest rectangle, ``sharp`` the steepest
    change across its border over the whole change, per mm."""

    box: Box4
    area_mm2: float
    tint: float
    rim: float
    fill: float
    sharp: float


def dots(patch: Picture, px_per_mm: float, across_mm: tuple[float, float], dark: float, alone_mm: float) -> list[Dot]:
    """Return single round dark spots of ``across_mm`` on even ground, nothing else dark within ``alone_mm``."""
    grey = cv2.cvtColor(patch, cv2.COLOR_RGB2GRAY)
    side = round(6 * px_per_mm) | 1
    ground = cv2.medianBlur(grey, min(side, 101))
    lost = 1 - (grey.astype(np.float32) + 1) / (ground.astype(np.float32) + 1)
    mask = (lost > dark).astype(np.uint8)
    faint = (np.abs(lost) > dark / 3).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    found, near = [], round(alone_mm * px_per_mm)
    round_ones = np.zeros(grey.shape, np.uint8)
    for number in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[number])
        across = 2 * float(np.sqrt(area / np.pi)) / px_per_mm
        is_round = max(w, h) <= 1.4 * min(w, h) + 1 and area > 0.6 * w * h
        if is_round and across_mm[0] <= across <= across_mm[1]:
            found.append(Dot((x, y, x + w, y + h), across, float(lost[y : y + h, x : x + w].max())))
            # a pin leaves a ring of rust: it belongs to the spot
            cv2.circle(round_ones, (x + w // 2, y + h // 2), round(max(w, h) * 1.2) + 1, 1, -1)
    others = faint * (1 - round_ones)
    kept = []
    for dot in found:
        x0, y0, x1, y1 = dot.box
        beside = others[max(0, y0 - near) : y1 + near, max(0, x0 - near) : x1 + near]
        if beside.mean() <= 0.01 and x0 > 1 and y0 > 1 and x1 < grey.shape[1] - 1 and y1 < grey.shape[0] - 1:
            kept.append(dot)
    return kept


def margin_paper(picture: Picture, px_per_mm: float, most_mm: float) -> Mask:
    """Which pixels are unprinted paper of the margins, of whatever tint; a margin is as deep as its lines are paper.

    Paper is light and no bluer than it is elsewhere on the rim. Empty where the print runs to the edge.
    """
    light = picture[..., 0].astype(np.float32)
    band = max(2, round(6 * px_per_mm))
    rim = np.ones(light.shape, bool)
    rim[band:-band, band:-band] = False
    paper = np.percentile(light[rim], 80)
    code = _LEVELS[picture]
    base = np.median(code[rim & (light > 0.9 * paper)], axis=0)
    yellow = (code[..., 0] - code[..., 2]) - (base[0] - base[2])
    green = (code[..., 0] - code[..., 1]) - (base[0] - base[1])
    mask = (light > 0.72 * paper) & (yellow > -0.06) & (yellow < 0.75) & (green > -0.04) & (green < 0.25)
    margin = np.zeros(light.shape, bool)
    most, skin = round(most_mm * px_per_mm), max(1, round(1.0 * px_per_mm))
    for view, out in ((mask, margin), (mask[::-1], margin[::-1]), (mask.T, margin.T), (mask.T[::-1], margin.T[::-1])):
        inner = view[:, view.shape[1] // 20 : -(view.shape[1] // 20) or None]
        lines = inner.mean(axis=1)[: min(most, len(view) // 4)]
        ends = np.flatnonzero(lines[skin:] < _PAPER_LINES)
        deep = skin + (int(ends[0]) if len(ends) else len(lines) - skin)
        if deep >= _LEAST_MARGIN_MM * px_per_mm:
            out[skin : deep - skin] = True
    return np.asarray(mask & margin)


def patches(picture: Picture, paper: Mask, px_per_mm: float, least: float, least_mm2: float) -> list[Patch]:
    """Return where the ``paper`` is yellower than elsewhere as deep from the edge, by ``least`` in log tint."""
    code = cv2.GaussianBlur(_LEVELS[picture], (0, 0), 0.5 * px_per_mm)
    yellow = code[..., 0] - code[..., 2]
    high, wide = paper.shape
    y, x = np.ogrid[0:high, 0:wide]
    deep = np.minimum(np.minimum(x, wide - 1 - x), np.minimum(y, high - 1 - y)).astype(np.int32)
    solid = cv2.erode(paper.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    step = max(1, round(2 * px_per_mm))
    level = deep // step
    usual = np.full(int(level.max()) + 1, np.nan)
    for number in range(len(usual)):
        some = yellow[solid & (level == number)]
        if len(some) > 200:
            usual[number] = np.percentile(some, 40)
    if np.isnan(usual).all():
        return []
    known = np.flatnonzero(~np.isnan(usual))
    usual = np.interp(np.arange(len(usual)), known, usual[known])
    extra = np.where(solid, yellow - np.interp(deep / step - 0.5, np.arange(len(usual)), usual), 0).astype(np.float32)
    mask = ((extra > least) & solid).astype(np.uint8)
    close = max(3, round(2 * px_per_mm)) | 1
    mask = cv2.morphologyEx(
        cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((close, close), np.uint8)),
        cv2.MORPH_OPEN,
        np.ones((3, 3), np.uint8),
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    found = []
    for number in range(1, count):
        left, top, w, h, area = (int(v) for v in stats[number])
        if area < least_mm2 * px_per_mm**2:
            continue
        grow = round(5 * px_per_mm)
        rows, columns = slice(max(0, top - grow), top + h + grow), slice(max(0, left - grow), left + w + grow)
        found.append(
            _patch(
                (left, top, left + w, top + h),
                labels[rows, columns] == number,
                extra[rows, columns],
                solid[rows, columns],
                px_per_mm,
                area,
            )
        )
    return found


def _patch(box: Box4, own: Mask, extra: NDArray[np.float32], solid: Mask, px_per_mm: float, area: int) -> Patch:
    inner = (
        cv2.erode(
            own.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, round(2.5 * px_per_mm)), borderValue=0
        )
        > 0
    )
    plain = solid & ~own
    beside = (
        cv2.dilate(plain.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=max(1, round(2.0 * px_per_mm))) > 0
    )
    border = own & beside & solid
    middle = float(np.median(extra[inner & solid])) if (inner & solid).sum() > 20 else float(np.median(extra[own]))
    rim = float(np.percentile(extra[border], 75)) if border.sum() > 20 else middle
    slope = np.hypot(cv2.Sobel(extra, cv2.CV_32F, 1, 0) / 8, cv2.Sobel(extra, cv2.CV_32F, 0, 1) / 8)
    safe = cv2.erode(solid.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    near = border & safe
    steep = float(np.percentile(slope[near], 85)) * px_per_mm / max(middle, 0.03) if near.sum() > 8 else 0.0
    contours, _ = cv2.findContours(own.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    (_, (a, b), _) = cv2.minAreaRect(max(contours, key=cv2.contourArea))
    return Patch(box, area / px_per_mm**2, middle, rim, float(own.sum()) / max(1.0, (a + 1) * (b + 1)), steep)
