"""What can be measured of one part to tell what it is: a flat table of named figures, each absent when not known."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.classify import ClassifyRules
from intake.imaging.bed import find_bed
from intake.imaging.density import light_table
from intake.imaging.flat import flatten
from intake.imaging.halftone import find_screen
from intake.imaging.margin import Margin, count_inks, count_patches, count_specks, find_margin, outside
from intake.imaging.outline import Corners
from intake.imaging.page import Page
from intake.imaging.registration import count_register_marks
from intake.model import Box, Checked, Rendered

MM_PER_INCH = 25.4
_REGISTER_MM = (4.0, 4.8, 5.7, 6.8)
_TILES = 5
_CLEAR_STEP = 26
_LEAST_TONED = 0.03
Traits = dict[str, float]


def read_traits(page: Page, rendered: Rendered, checked: Checked, rules: ClassifyRules) -> Traits:
    """Return the traits of a part. Lengths in mm (absent without a trusted resolution), levels 0-255, shares 0-1."""
    corners = _working_corners(page, rendered)
    flat, matrix = flatten(page.working, corners)
    small, _ = flatten(page.working, corners, rules.look_px)
    margin = find_margin(small)
    mm_per_small_px = _mm_per_px(page, checked, flat.shape[1] / small.shape[1])
    traits: Traits = {"outline": float(len(rendered.outline) == 4), "bits": float(checked.bits)}
    if checked.file_source is not None:
        traits["file_source"] = float(checked.file_source)
    traits |= _bed(page, rendered, rules)
    traits |= _size(small, mm_per_small_px, rules)
    traits |= _rim(margin)
    if "bed_level" in traits:
        traits["below_bed"] = traits["bed_level"] - traits["rim_level"]
    traits |= _tones(small, margin)
    traits |= _colours(small, margin)
    traits |= _margins(small, margin, mm_per_small_px)
    traits |= _marks(flat, small, margin, mm_per_small_px)
    traits |= _print(page, matrix, margin, flat.shape[1] / small.shape[1])
    traits |= _edges(flat, margin, small.shape[1], mm_per_small_px)
    traits |= _within(small, margin)
    return traits


def _working_corners(page: Page, rendered: Rendered) -> Corners:
    height, width = page.working.shape[:2]
    if len(rendered.outline) != 4:
        return np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    stored = np.array(rendered.outline, np.float64)
    return np.asarray((stored - (page.box.left, page.box.top)) / page.stored_per_working, np.float64)


def _mm_per_px(page: Page, checked: Checked, working_per_small: float) -> float | None:
    return None if checked.ppi is None else page.stored_per_working * working_per_small * MM_PER_INCH / checked.ppi


def _bed(page: Page, rendered: Rendered, rules: ClassifyRules) -> Traits:
    if len(rendered.outline) != 4:
        return {}
    bed = find_bed(page.working, rules.bed_share, rules.bed_levels)
    return {} if bed is None else {"bed_level": bed.level, "bed_tint": bed.tint}


def _size(small: NDArray[np.uint8], mm_per_px: float | None, rules: ClassifyRules) -> Traits:
    high, wide = small.shape[:2]
    long_px, short_px = max(high, wide), min(high, wide)
    found: Traits = {"aspect": long_px / short_px}
    if mm_per_px is None:
        return found
    long_mm, short_mm = long_px * mm_per_px, short_px * mm_per_px
    return {
        **found,
        "long_mm": long_mm,
        "short_mm": short_mm,
        "film_size": _is_size(long_mm, short_mm, rules.film_sizes_mm, rules.size_share),
        "plate_size": _is_size(long_mm, short_mm, rules.plate_sizes_mm, rules.size_share),
    }


def _is_size(long_mm: float, short_mm: float, sizes: tuple[tuple[float, float], ...], share: float) -> float:
    return float(
        any(abs(long_mm - max(s)) <= share * max(s) and abs(short_mm - min(s)) <= share * min(s) for s in sizes)
    )


def _rim(margin: Margin) -> Traits:
    colour = np.array(margin.colour)
    light = light_table(np.dtype(np.uint8))[np.round(colour).astype(np.intp)]
    red, green, blue = (max(float(c), 1e-4) for c in light)
    return {
        "rim_level": float(colour.mean()),
        "rim_even": margin.even,
        "rim_red_blue": red / blue,
        "rim_red_green": red / green,
        "rim_tint": float(colour.max() - colour.min()),
    }


def _tones(small: NDArray[np.uint8], margin: Margin) -> Traits:
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    inset = max(2, round(0.02 * max(grey.shape)))
    inner = grey[inset:-inset, inset:-inset]
    rim = float(np.dot(margin.colour, (0.299, 0.587, 0.114)))
    picture = grey[margin.top : margin.bottom, margin.left : margin.right]
    low, middle, high = (float(v) for v in np.percentile(picture, (2, 50, 98)))
    return {
        "lighter_share": float((inner > rim + 12).mean()),
        "darker_share": float((inner < rim - 12).mean()),
        "plain_share": float(margin.plain[inset:-inset, inset:-inset].mean() / 255),
        "dark_share": float((picture < 48).mean()),
        "light_share": float((picture > 208).mean()),
        "mid_share": float(((picture >= 72) & (picture <= 184)).mean()),
        "low": low,
        "middle": middle,
        "high": high,
        "letters": float(count_specks(inner < rim - 45, max(4, round(0.02 * max(grey.shape))))),
        "patches": float(count_patches(small)),
    }


def _colours(small: NDArray[np.uint8], margin: Margin) -> Traits:
    """Chroma in CIELAB about the picture's own cast, and the share of strong colour."""
    picture = small[margin.top : margin.bottom, margin.left : margin.right]
    lab = cv2.cvtColor(np.ascontiguousarray(picture[::2, ::2]), cv2.COLOR_RGB2LAB).astype(np.float32)
    tone = (lab[..., 0] > 30) & (lab[..., 0] < 235)
    if tone.mean() < _LEAST_TONED:
        # hardly anything on it: the colour of a stamp is not the colour of the piece
        tone = np.ones_like(tone)
    ab = lab[..., 1:][tone] - 128
    cast = np.median(ab, axis=0)
    away = np.hypot(*(ab - cast).T)
    return {
        "chroma": float(np.percentile(away, 90)),
        "cast": float(np.hypot(*cast)),
        "strong_share": float((np.hypot(*ab.T) > 35).mean()),
    }


def _margins(small: NDArray[np.uint8], margin: Margin, mm_per_px: float | None) -> Traits:
    depths = sorted(margin.depths)
    longest = max(small.shape[:2])
    found: Traits = {
        "margin_least": depths[0] / longest,
        "margin_most": depths[3] / longest,
        "margin_ratio": depths[3] / max(1, depths[0]),
        "picture_share": (margin.right - margin.left)
        * (margin.bottom - margin.top)
        / (small.shape[0] * small.shape[1]),
    }
    if mm_per_px is not None:
        found |= {"margin_least_mm": depths[0] * mm_per_px, "margin_most_mm": depths[3] * mm_per_px}
    return found


def _marks(flat: NDArray[np.uint8], small: NDArray[np.uint8], margin: Margin, mm_per_px: float | None) -> Traits:
    """What stands in the margin, looked at on the whole working image."""
    scale = flat.shape[1] / small.shape[1]
    big = Margin(
        margin.colour,
        margin.even,
        round(margin.left * scale),
        round(margin.top * scale),
        round(margin.right * scale),
        round(margin.bottom * scale),
        np.asarray(cv2.resize(margin.plain, flat.shape[1::-1], interpolation=cv2.INTER_NEAREST), np.uint8),
    )
    longest = max(flat.shape[:2])
    mask = outside(big, max(3, round(0.006 * longest)))
    if mask.mean() < 0.01:
        return {"inks": 0.0, "registers": 0.0, "specks": 0.0}
    grey = np.asarray(cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY), np.uint8)
    rim = float(np.dot(margin.colour, (0.299, 0.587, 0.114)))
    halves = [0.006 * longest, 0.009 * longest, 0.013 * longest]
    if mm_per_px is not None:
        halves = [mm / (mm_per_px / scale) for mm in _REGISTER_MM]
    sizes = tuple(sorted({min(48, max(4, round(h))) for h in halves}))
    return {
        "inks": float(count_inks(small, outside(margin, max(2, round(0.006 * max(small.shape[:2])))))),
        "registers": float(_registers(grey, mask, big, sizes)),
        "specks": float(count_specks((grey < rim - 45) & mask, max(4, round(0.02 * longest)))),
    }


def _registers(grey: NDArray[np.uint8], mask: NDArray[np.bool_], margin: Margin, sizes: tuple[int, ...]) -> int:
    """Register marks in the four strips of the margin."""
    strips = (
        np.s_[: margin.top, :],
        np.s_[margin.bottom :, :],
        np.s_[margin.top : margin.bottom, : margin.left],
        np.s_[margin.top : margin.bottom, margin.right :],
    )
    return sum(
        count_register_marks(np.ascontiguousarray(grey[s]), mask[s], sizes) for s in strips if min(grey[s].shape) > 12
    )


def _print(page: Page, matrix: NDArray[np.float64], margin: Margin, scale: float) -> Traits:
    """The strongest screen over a few places of the picture, at the stored resolution."""
    back = np.linalg.inv(matrix)
    best, period = 0.0, 0.0
    places = [(0.5, 0.5), (0.3, 0.3), (0.7, 0.3), (0.3, 0.7), (0.7, 0.7)][:_TILES]
    strengths = []
    for sx, sy in places:
        x = (margin.left + (margin.right - margin.left) * sx) * scale
        y = (margin.top + (margin.bottom - margin.top) * sy) * scale
        wx, wy = cv2.perspectiveTransform(np.array([[[x, y]]], np.float64), back)[0, 0].tolist()
        at = (page.box.left + wx * page.stored_per_working, page.box.top + wy * page.stored_per_working)
        tile = page.crop(Box(int(at[0]) - 128, int(at[1]) - 128, 256, 256))
        if min(tile.shape[:2]) < 64:
            continue
        screen = find_screen(np.asarray(cv2.cvtColor(tile, cv2.COLOR_RGB2GRAY), np.uint8))
        strengths.append(screen.strength)
        if screen.strength > best:
            best, period = screen.strength, screen.period_px
    return {"screen": float(np.median(strengths)) if strengths else 0.0, "screen_period_px": period}


def _edges(flat: NDArray[np.uint8], margin: Margin, small_width: int, mm_per_px: float | None) -> Traits:
    """How straight the picture's own edges are: half of the places where it begins lie nearer to a line than this."""
    scale = flat.shape[1] / small_width
    left, top, right, bottom = (round(v * scale) for v in (margin.left, margin.top, margin.right, margin.bottom))
    turned = np.ascontiguousarray(flat.transpose(1, 0, 2))
    spreads = [
        _wander(flat, left, top, bottom),
        _wander(flat[:, ::-1], flat.shape[1] - right, top, bottom),
        _wander(turned, top, left, right),
        _wander(turned[:, ::-1], flat.shape[0] - bottom, left, right),
    ]
    known = [s for s in spreads if s is not None]
    if len(known) < 2:
        return {}
    px = float(np.median(known))
    found: Traits = {"ragged_px": px}
    if mm_per_px is not None:
        found["ragged_mm"] = px * mm_per_px / scale
    return found


def _within(small: NDArray[np.uint8], margin: Margin) -> Traits:
    """What rims the picture inside its own margin: a photograph of a painting shows the board round the paint."""
    inset = max(2, round(0.004 * max(small.shape[:2])))
    left, top, right, bottom = margin.left + inset, margin.top + inset, margin.right - inset, margin.bottom - inset
    if min(right - left, bottom - top) < 0.3 * min(small.shape[:2]):
        return {}
    inner = np.ascontiguousarray(small[top:bottom, left:right])
    board = find_margin(inner)
    return {"board_even": board.even, "board_least": min(board.depths) / max(inner.shape[:2])}


def _wander(view: NDArray[np.uint8], at: int, low: int, high: int) -> float | None:
    """Median distance, in pixels, of a left edge near column ``at`` from its straight line, between rows low and high.

    The edge of a row is its first clear step from the margin; rows where the picture is as pale as paper do not count.
    """
    reach = max(8, round(0.012 * max(view.shape[:2])))
    span = (high - low) // 10
    if at <= reach or high - low < 100:
        return None
    strip = view[low + span : high - span, at - reach : at + reach].astype(np.int16)
    step = np.abs(strip[:, 2:] - strip[:, :-2])
    clear = np.maximum(np.maximum(step[..., 0], step[..., 1]), step[..., 2]) > _CLEAR_STEP
    rows = np.flatnonzero(clear.any(axis=1))
    if len(rows) < max(60, 0.25 * len(strip)):
        return None
    begins = np.argmax(clear[rows], axis=1).astype(np.float64)
    near = np.abs(begins - np.median(begins)) <= reach / 2
    for _ in range(3):
        line = np.polyfit(rows[near], begins[near], 1)
        away = np.abs(begins - np.polyval(line, rows))
        near = away <= max(1.5, 3 * float(np.median(away)))
    return float(np.median(away))
