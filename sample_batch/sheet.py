"""A printed sheet, laid out in millimetres: painting, title treatment, billing block, border, and its small marks."""

from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np

from sample_batch.art.design import Painting
from sample_batch.art.lettering import letter
from sample_batch.billing import set_billing
from sample_batch.certificate import Certificate, print_certificate
from sample_batch.page import Mark, Matrix, Page, Pixels, blank, carry_box
from sample_batch.typeset import BLACK, Ink, made_mark, press_ink, print_line

Rgb = tuple[int, int, int]
WHITE: Ink = (0.96, 0.95, 0.91)
# From this size on the lettering needs no finer drawing, so a title is drawn once and then only enlarged or reduced.
DRAWN_CAP = 400


@dataclass(frozen=True, slots=True)
class Title:
    """The title treatment of a campaign: the same on each of its sheets."""

    lines: tuple[str, ...]
    face: str = "condensed"
    fill: Rgb = (240, 225, 180)
    outline: Rgb | None = (20, 16, 16)
    shadow: Rgb | None = None
    slant: float = 0.0
    arch: float = 0.0
    tracking: float = 0.0


@dataclass(frozen=True, slots=True)
class SmallLine:
    """One small line. ``place`` is a named place of ``place_of``; ``kind`` is empty for what is no mark."""

    text: str
    kind: str = ""
    value: str = ""
    place: str = "bottom-left"
    cap_mm: float = 3.0
    face: str = "grotesque"
    light: bool = False


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """All that the printer was given. Lengths in mm; ``margins`` are left, top, right, bottom.

    ``window`` is the part of the painting that is shown: middle x, middle y and width, as fractions; its height
    follows from the picture's place. ``title_at`` is the middle of the title in fractions of the picture; without a
    height it stands just above the billing block. ``band_mm`` is a plain panel under the picture, for the billing.
    """

    width_mm: float
    height_mm: float
    margins: tuple[float, float, float, float]
    title: Title | None
    billing: tuple[str, ...] = ()
    tagline: str = ""
    window: tuple[float, float, float] = (0.5, 0.5, 1.0)
    title_at: tuple[float, float | None] = (0.5, None)
    title_width: float = 0.86
    title_tallest: float = 0.24
    tag_at: float = 0.05
    band_mm: float = 0.0
    band: Ink = WHITE
    billing_ink: Ink = WHITE
    billing_face: str = "billing"
    billing_cap_mm: float = 9.0
    lines: tuple[SmallLine, ...] = ()
    certificate: Certificate | None = None
    certificate_at: str = "left"
    paper: Ink = (0.955, 0.945, 0.91)
    frame: bool = False
    tint: Ink | None = None


def print_sheet(plan: SheetPlan, painting: Painting, ppi: float) -> Page:
    """Print ``plan`` with ``painting`` at ``ppi``: one page with the boxes of every small line and certificate."""
    page = blank(plan.width_mm, plan.height_mm, ppi, plan.paper)
    page = _print_art(page, plan, painting)
    marks: list[Mark] = []
    if plan.tagline:
        _print_tagline(page, plan)
    billing_middle, billing_top = _print_billing(page, plan)
    _print_title(page, plan, billing_top)
    for line in plan.lines:
        x, y, anchor, turned = place_of(plan, line.place, line.cap_mm)
        colour = WHITE if line.light else BLACK
        box = print_line(page, line.text, line.cap_mm, line.face, x, y, anchor=anchor, turned=turned, colour=colour)
        if line.kind:
            marks.append(made_mark(line.kind, line.text, line.value, box, line.cap_mm))
    if plan.certificate:
        marks.append(_print_certificate(page, plan, billing_middle))
    return replace(page, marks=tuple(marks))


def picture_place(plan: SheetPlan) -> tuple[float, float, float, float]:
    """Return left, top, right, bottom of the picture on the sheet in mm."""
    left, top, right, bottom = plan.margins
    return left, top, plan.width_mm - right, plan.height_mm - bottom - plan.band_mm


def art_matrix(plan: SheetPlan, aspect: float) -> Matrix:
    """Return the 3x3 matrix from fractions of a painting (``aspect`` = width / height) to mm on the sheet."""
    left, top, right, bottom = picture_place(plan)
    cx, cy, wide = plan.window
    mm_wide = (right - left) / wide
    mm_high = mm_wide / aspect
    if mm_high < bottom - top:
        mm_wide, mm_high = mm_wide * (bottom - top) / mm_high, bottom - top
    x = np.clip((left + right) / 2 - cx * mm_wide, right - mm_wide, left)
    y = np.clip((top + bottom) / 2 - cy * mm_high, bottom - mm_high, top)
    return np.array([[mm_wide, 0, x], [0, mm_high, y], [0, 0, 1]], np.float64)


def place_of(plan: SheetPlan, place: str, cap_mm: float) -> tuple[float, float, str, int]:
    """Return x mm, y mm, anchor and turn of a named place.

    Places: ``bottom-left``, ``-centre``, ``-right`` in the lower border (a number behind it counts lines downward),
    ``art-left`` and ``art-right`` over the foot of the picture, ``left-side`` and ``right-side`` along the sides.
    """
    left, top, right, bottom = plan.margins
    name, _, row = place.partition("/")
    foot = plan.height_mm - bottom
    y = foot + min(bottom * 0.34, cap_mm * 1.9) + (int(row or 0)) * cap_mm * 2.0
    inset = 2.0
    if name == "bottom-left":
        return left + inset, y, "left", 0
    if name == "bottom-centre":
        return plan.width_mm / 2, y, "centre", 0
    if name == "bottom-right":
        return plan.width_mm - right - inset, y, "right", 0
    if name == "art-left":
        return left + 5, foot - plan.band_mm - 5 - int(row or 0) * cap_mm * 2.1, "left", 0
    if name == "art-right":
        return plan.width_mm - right - 5, foot - plan.band_mm - 5 - int(row or 0) * cap_mm * 2.1, "right", 0
    if name == "band-left":
        return left + 6, foot - 6 - int(row or 0) * cap_mm * 2.1, "left", 0
    if name == "band-right":
        return plan.width_mm - right - 6, foot - 6 - int(row or 0) * cap_mm * 2.1, "right", 0
    if name == "left-side":
        return left * 0.55, plan.height_mm * 0.72, "left", 270
    if name == "right-side":
        return plan.width_mm - right * 0.55, plan.height_mm * 0.3, "left", 90
    if name == "top-right":
        return plan.width_mm - right - inset, top * 0.6, "right", 0
    raise KeyError(place)


def _print_art(page: Page, plan: SheetPlan, painting: Painting) -> Page:
    h, w = painting.pixels.shape[:2]
    scale = page.px_per_mm
    to_page = np.diag([scale, scale, 1.0]) @ art_matrix(plan, w / h)
    x0, y0, x1, y1 = (round(v * scale) for v in picture_place(plan))
    from_px = to_page @ np.diag([1 / w, 1 / h, 1.0])
    local = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1]], np.float64) @ from_px
    art = resample(painting.pixels.astype(np.float32) / 255, local, (x1 - x0, y1 - y0))
    if plan.tint is not None:
        art = art * np.float32(plan.tint)
    page.pixels[y0:y1, x0:x1] = art
    if plan.band_mm:
        foot = round((plan.height_mm - plan.margins[3]) * scale)
        page.pixels[y1:foot, x0:x1] = np.float32(plan.band)
    if plan.frame:
        foot = round((plan.height_mm - plan.margins[3]) * scale)
        cv2.rectangle(page.pixels, (x0, y0), (x1 - 1, foot - 1), BLACK, max(1, round(0.9 * scale)))
    x0, y0, x1, y1 = carry_box(np.linalg.inv(to_page), (x0, y0, x1, y1))
    return replace(page, art=to_page, elements=dict(painting.boxes), shown=(x0, y0, x1, y1))


def resample(pixels: Pixels, matrix: Matrix, size: tuple[int, int]) -> Pixels:
    """Return ``pixels`` moved by ``matrix`` into a picture of ``size`` (w, h), smoothed first when it gets smaller."""
    shrink = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    if shrink < 0.75:
        small = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
        fx, fy = small.shape[1] / pixels.shape[1], small.shape[0] / pixels.shape[0]
        pixels, matrix = small, matrix @ np.diag([1 / fx, 1 / fy, 1.0])
    moved = cv2.warpPerspective(pixels, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.clip(moved, 0, 1)


def _print_tagline(page: Page, plan: SheetPlan) -> None:
    left, top, right, bottom = picture_place(plan)
    wide = (right - left) * 0.8 * page.px_per_mm
    y = (top + (bottom - top) * plan.tag_at) * page.px_per_mm
    lines = plan.tagline.split("|")
    cap = min((right - left) * 0.024, 17.0)
    for number, line in enumerate(lines):
        ink = set_billing((line,), wide, cap * page.px_per_mm, "gothic")
        x = (left + right) / 2 * page.px_per_mm - ink.shape[1] / 2
        soft = cv2.GaussianBlur(ink, (0, 0), cap * 0.22 * page.px_per_mm)
        press_ink(page.pixels, np.clip(soft * 1.4, 0, 0.7), x, y + number * cap * 1.75 * page.px_per_mm, BLACK)
        press_ink(page.pixels, ink, x, y + number * cap * 1.75 * page.px_per_mm, WHITE)


@lru_cache(maxsize=24)
def _drawn_line(title: Title, line: str) -> Pixels:
    """Return one line of a title treatment at a cap height of ``DRAWN_CAP`` pixels, RGBA float32 in 0..1."""
    rgba = letter(
        line,
        DRAWN_CAP,
        face=title.face,
        fill=title.fill,
        outline=title.outline,
        shadow=title.shadow,
        slant=title.slant,
        arch=title.arch,
        tracking=title.tracking,
    )
    return rgba.astype(np.float32) / 255


def title_block(title: Title, width_px: float) -> Pixels:
    """Return the title treatment ``width_px`` wide as RGBA float32 in 0..1."""
    lines = [_drawn_line(title, line) for line in title.lines]
    zoom = width_px / max(line.shape[1] for line in lines)
    way = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
    drawn = [np.clip(cv2.resize(line, None, fx=zoom, fy=zoom, interpolation=way), 0, 1) for line in lines]
    gap = int(DRAWN_CAP * zoom * 0.16)
    width, height = max(d.shape[1] for d in drawn), sum(d.shape[0] + gap for d in drawn) - gap
    block = np.zeros((height, width, 4), np.float32)
    y = 0
    for d in drawn:
        x = (width - d.shape[1]) // 2
        block[y : y + d.shape[0], x : x + d.shape[1]] = d
        y += d.shape[0] + gap
    return block


def lay_rgba(pixels: Pixels, rgba: Pixels, x: float, y: float) -> None:
    """Lay ``rgba`` on ``pixels`` (changed in place) with its top left corner at (x, y)."""
    h, w = pixels.shape[:2]
    left, top = round(x), round(y)
    l0, t0 = max(0, left), max(0, top)
    r0, b0 = min(w, left + rgba.shape[1]), min(h, top + rgba.shape[0])
    if r0 > l0 and b0 > t0:
        cut = rgba[t0 - top : b0 - top, l0 - left : r0 - left]
        under = pixels[t0:b0, l0:r0]
        under += (cut[..., :3] - under) * cut[..., 3:]


def _print_title(page: Page, plan: SheetPlan, foot_mm: float) -> None:
    if plan.title is None:
        return
    left, top, right, bottom = picture_place(plan)
    scale = page.px_per_mm
    block = title_block(plan.title, (right - left) * plan.title_width * scale)
    tallest = (bottom - top) * plan.title_tallest * scale
    if block.shape[0] > tallest:
        block = title_block(plan.title, block.shape[1] * tallest / block.shape[0])
    x = (left + (right - left) * plan.title_at[0]) * scale - block.shape[1] / 2
    if plan.title_at[1] is None:
        y = (foot_mm - (bottom - top) * 0.012) * scale - block.shape[0]
    else:
        y = (top + (bottom - top) * plan.title_at[1]) * scale - block.shape[0] / 2
    lay_rgba(page.pixels, block, x, y)


def _print_billing(page: Page, plan: SheetPlan) -> tuple[float, float]:
    """Print the billing block at the foot and return the heights (mm) of its middle and of what a title may reach."""
    left, _, right, bottom = picture_place(plan)
    foot = plan.height_mm - plan.margins[3]
    if not plan.billing:
        return foot - 8, bottom
    scale = page.px_per_mm
    ink = set_billing(plan.billing, (right - left) * 0.8 * scale, plan.billing_cap_mm * scale, plan.billing_face)
    x = (left + right) / 2 * scale - ink.shape[1] / 2
    high = ink.shape[0] / scale
    middle = (bottom + foot) / 2 if plan.band_mm else foot - high / 2 - plan.billing_cap_mm * 0.9
    if not plan.band_mm and plan.billing_ink[0] > 0.5:
        soft = cv2.GaussianBlur(ink, (0, 0), plan.billing_cap_mm * 0.3 * scale)
        press_ink(page.pixels, np.clip(soft * 1.3, 0, 0.6), x, middle * scale - ink.shape[0] / 2, BLACK)
    press_ink(page.pixels, ink, x, middle * scale - ink.shape[0] / 2, plan.billing_ink)
    return middle, bottom if plan.band_mm else middle - high / 2


def _print_certificate(page: Page, plan: SheetPlan, middle_mm: float) -> Mark:
    assert plan.certificate is not None
    left, _, right, _ = picture_place(plan)
    on_dark = (not plan.band_mm and plan.billing_ink[0] > 0.5) or (plan.band_mm and plan.band[0] < 0.5)
    ink = WHITE if on_dark else BLACK
    where = {"left": (left + 7, middle_mm, 0.0), "right": (right - 7, middle_mm, 1.0)}
    where["border"] = (plan.width_mm / 2, plan.height_mm - plan.margins[3] * 0.5, 0.5)
    where["top"] = (right - 8, plan.margins[1] + 14, 1.0)
    x, y, along = where[plan.certificate_at]
    return print_certificate(page, plan.certificate, x, y, BLACK if plan.certificate_at == "border" else ink, along)
