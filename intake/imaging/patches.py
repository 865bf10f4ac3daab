"""Patches of one ground, with or without lettering: strips pasted on, places covered."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.imaging.bands import BandSizes, both_ways, box_around
from intake.imaging.overlay import grey
from intake.imaging.structure import STEP_PX
from intake.imaging.untold import Floats, FrameBox, Mask

_TONES_TRIED = 3
_FULL_CONTRAST = 55.0
_STRIP_TURN_DEG = 3.0
_STRIP_SIZES = (0.1, 0.015, 0.15)  # least long, least and most high, of the frame's long side


@dataclass(frozen=True, slots=True)
class Patch:
    """A four-sided place of one ground: its box, how much of it is of that tone, and how much longer than high it
    is."""

    box: FrameBox
    even: float
    long: float


def strips(picture: Floats, even: float, rules: DifferRules) -> list[FrameBox]:
    """The boxes of even bands between two straight cuts, much longer than high: whatever else differs beside them."""
    sizes = BandSizes(even, _STRIP_TURN_DEG, *_STRIP_SIZES, rules.strip_long)
    made = []
    for way in both_ways(np.clip(picture, 0, 255).astype(np.uint8), sizes):
        for band in way.bands:
            left, top, wide, high = box_around(band)
            box = (left, top, left + wide, top + high)
            made.append((box[1], box[0], box[3], box[2]) if way.turned else box)
    return made


def patches(picture: Floats, cells: Mask, box: FrameBox, even: float, rules: DifferRules) -> list[Patch]:
    """The patches of one ground, with or without lettering, that the cells lie on."""
    grow = rules.window_px
    left, top = (max(0, int(v) - grow) for v in box[:2])
    right, bottom = (int(v) + grow for v in box[2:])
    cut = picture[top:bottom, left:right]
    if min(cut.shape[:2]) < 8:
        return []
    size = (picture.shape[1], picture.shape[0])
    where = cv2.resize(cells.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)[top:bottom, left:right]
    tones = cut[where > 0]
    light = tones.mean(axis=1)
    levels = np.convolve(np.histogram(light, bins=32, range=(0, 256))[0], [1, 1, 1], "same")
    found: list[Patch] = []
    for _ in range(_TONES_TRIED):
        fullest = int(levels.argmax())
        near = np.abs(light - (fullest * 8 + 4)) < 12
        if near.sum() > 30:
            found += _patches_of(cut, where, np.median(tones[near], axis=0), (left, top), even, rules)
        levels[max(0, fullest - 2) : fullest + 3] = 0
    return sorted(found, key=lambda p: -(p.box[2] - p.box[0]) * (p.box[3] - p.box[1]))


def _patches_of(
    cut: Floats, where: NDArray[np.uint8], tone: Floats, at: tuple[int, int], even: float, rules: DifferRules
) -> list[Patch]:
    levels = tone.astype(np.float64)
    ground = np.minimum(cv2.inRange(np.ascontiguousarray(cut), levels - even, levels + even), 1)
    # letters are closed within the ground, then all that is thinner than a strip falls away
    high = min(cut.shape[:2])
    letters = min(23, max(7, int(0.35 * high)) | 1)
    closed = cv2.morphologyEx(ground, cv2.MORPH_CLOSE, np.ones((letters, letters), np.uint8), borderValue=0)
    closed = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    outlines, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = []
    for outline in outlines:
        area = cv2.contourArea(outline)
        x, y, w, h = cv2.boundingRect(outline)
        touches = x == 0 or y == 0 or x + w >= cut.shape[1] or y + h >= cut.shape[0]
        if touches or area < rules.least_cells * STEP_PX**2:
            continue
        _, (one, other), _ = cv2.minAreaRect(outline)
        if area < rules.strip_fill * one * other:
            continue
        field = np.zeros(cut.shape[:2], np.uint8)
        cv2.drawContours(field, [outline], -1, 1, cv2.FILLED)
        inside = field > 0
        # a patch over flat ground differs along its edges alone
        rim = (cv2.dilate(field, np.ones((7, 7), np.uint8)) - cv2.erode(field, np.ones((7, 7), np.uint8))) > 0
        if max(float(where[rim].mean()), float(where[inside].mean())) < rules.patch_held:
            continue
        share = float((ground[inside] > 0).mean())
        there = (float(at[0] + x), float(at[1] + y), float(at[0] + x + w), float(at[1] + y + h))
        found.append(Patch(there, share, max(one, other) / max(1.0, min(one, other))))
    return found


def even_within(picture: Floats, rules: DifferRules) -> float:
    """Within so many levels a ground is of one tone: fewer on a picture of little contrast."""
    return rules.even_levels * float(np.clip(grey(picture)[::4, ::4].std() / _FULL_CONTRAST, 0.3, 1.2))


def evenness(picture: Floats, box: FrameBox, levels: float) -> float:
    """The share of a place that is of one tone."""
    left, top, right, bottom = (round(v) for v in box)
    inner = picture[max(0, top + 2) : bottom - 2, max(0, left + 2) : right - 2].reshape(-1, 3)
    if len(inner) < 30:
        return 0.0
    return float((np.abs(inner - np.median(inner, axis=0)).max(axis=1) < levels).mean())
