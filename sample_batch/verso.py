"""Backs: bare paper with what shows through, folds seen from behind, rubber stamps and pencil."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from sample_batch.light import LUMA, cloud, grain, seeded
from sample_batch.page import Mark, Page, Pixels, blank
from sample_batch.typeset import Ink, made_mark, press_ink, print_line, set_line
from sample_batch.wear import Wear, fold

STAMP_INKS: dict[str, Ink] = {"violet": (0.36, 0.22, 0.52), "red": (0.66, 0.16, 0.16), "blue": (0.16, 0.24, 0.52)}
PENCIL: Ink = (0.40, 0.40, 0.42)


@dataclass(frozen=True, slots=True)
class Stamp:
    """A rubber stamp of a few lines; ``marks`` gives kind and value for a line's number. Places are fractions."""

    lines: tuple[str, ...]
    x: float = 0.5
    y: float = 0.5
    cap_mm: float = 4.0
    ink: str = "violet"
    angle_deg: float = 3.0
    framed: bool = True
    marks: tuple[tuple[int, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Back:
    """The back of a piece: its stamps, and pencil lines at (x, y) fractions with a cap height in mm."""

    stamps: tuple[Stamp, ...] = ()
    pencil: tuple[tuple[str, float, float, float], ...] = ()
    paper: Ink = (0.90, 0.88, 0.82)
    through: float = 0.06
    seed: int = 0


def turn_over(front: Page, back: Back, wear: Wear | None) -> Page:
    """Return the back of ``front``: mirrored show-through, its own folds, stamps and pencil."""
    wide, high = front.size_mm
    page = blank(wide, high, front.ppi, back.paper)
    h, w = page.pixels.shape[:2]
    rng = seeded(back.seed, "back")
    scale = page.px_per_mm
    show = cv2.GaussianBlur(front.pixels[:, ::-1] @ LUMA, (0, 0), 1.1 * scale)[:h, :w]
    tone = 1 - back.through * (1 - show) + cloud(rng, (h, w), 80 * scale) * 0.010 + grain(rng, (h, w), 0.8) * 0.004
    pixels = page.pixels * tone[..., None]
    if wear is not None and wear.folds != (1, 1):
        pixels = fold(pixels, scale, wear.folds, wear.fold_wear * 0.5, wear.seed + 1, printed=True)
    page = replace(page, pixels=np.ascontiguousarray(pixels, np.float32))
    marks: list[Mark] = []
    for number, stamp in enumerate(back.stamps):
        marks += _stamp(page, stamp, seeded(back.seed, "stamp", number))
    for text, x, y, cap in back.pencil:
        print_line(page, text, cap, "script", x * wide, y * high, colour=PENCIL, strength=0.72)
    return replace(page, pixels=np.clip(page.pixels, 0, 1), marks=tuple(marks))


def _stamp(page: Page, stamp: Stamp, rng: np.random.Generator) -> list[Mark]:
    """Print a stamp with uneven ink, slightly turned. Return its marks."""
    scale = page.px_per_mm
    cap = stamp.cap_mm * scale
    inks = [set_line(line, cap, "grotesque-bold", 0.12) for line in stamp.lines]
    lead, pad = round(cap * 1.9), round(cap * 1.3)
    wide = max(i.shape[1] for i in inks) + 2 * pad
    high = lead * (len(inks) - 1) + inks[-1].shape[0] + 2 * pad
    layer = np.zeros((high, wide), np.float32)
    boxes = []
    for row, ink in enumerate(inks):
        x, y = (wide - ink.shape[1]) // 2, pad + row * lead
        layer[y : y + ink.shape[0], x : x + ink.shape[1]] = ink
        boxes.append((x, y, x + ink.shape[1], y + ink.shape[0]))
    if stamp.framed:
        thick = max(1, round(cap * 0.16))
        cv2.rectangle(layer, (thick, thick), (wide - 1 - thick, high - 1 - thick), 1.0, thick)
    matrix = np.vstack([cv2.getRotationMatrix2D((wide / 2, high / 2), stamp.angle_deg, 1), [0, 0, 1]])
    slack = round(wide * 0.08) + 4
    matrix = np.array([[1, 0, slack], [0, 1, slack], [0, 0, 1.0]]) @ matrix
    size = (wide + 2 * slack, high + 2 * slack)
    layer = cv2.GaussianBlur(cv2.warpPerspective(layer, matrix, size), (0, 0), 0.07 * scale + 0.2)
    uneven = np.clip(
        0.82 + 0.16 * cloud(rng, layer.shape, 9 * scale) + 0.10 * cloud(rng, layer.shape, 1.2 * scale), 0.3, 1
    )
    h, w = page.pixels.shape[:2]
    x = np.clip(stamp.x * w - size[0] / 2, 0, max(0, w - size[0]))
    y = np.clip(stamp.y * h - size[1] / 2, 0, max(0, h - size[1]))
    press_ink(page.pixels, layer * uneven, x, y, STAMP_INKS[stamp.ink])
    marks = []
    for row, kind, value in stamp.marks:
        box = _moved(boxes[row], matrix, round(x), round(y))
        marks.append(made_mark(kind, stamp.lines[row], value, box, stamp.cap_mm))
    return marks


def _moved(box: tuple[int, int, int, int], matrix: Pixels, x: int, y: int) -> tuple[float, float, float, float]:
    left, top, right, bottom = box
    corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
    points = cv2.perspectiveTransform(corners, np.asarray(matrix, np.float64))[0] + (x, y)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
