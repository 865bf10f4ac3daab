"""A flat thing with a picture on it, measured in pixels at a known ppi, and all that the truth must know about it.

Every process of the forward model (print, copy, wear, scan) turns one ``Page`` into another, so that the boxes of its
marks and the place of its art travel with the pixels.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.float32]
Matrix = NDArray[np.float64]
Box = tuple[float, float, float, float]
MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Mark:
    """A print code as it stands on a page: ``box`` is left, top, right, bottom in pixels."""

    kind: str
    text: str
    value: str
    box: Box
    type_height_mm: float


@dataclass(frozen=True, slots=True)
class Page:
    """``pixels``: (h, w, 3) float32 in 0..1, sRGB coded, ``ppi`` of them to the inch.

    ``art`` takes fractions of the painting to pixels (3x3), ``elements`` names boxes on the painting in fractions, and
    ``added`` names boxes on the page in pixels (a pasted strip). ``alpha`` is 0 where the thing is cut away, and
    ``shown`` is the part of the painting that can be seen, in fractions.
    """

    pixels: Pixels
    ppi: float
    marks: tuple[Mark, ...] = ()
    art: Matrix | None = None
    elements: Mapping[str, Box] = field(default_factory=dict)
    added: Mapping[str, Box] = field(default_factory=dict)
    alpha: Pixels | None = None
    shown: Box = (0.0, 0.0, 1.0, 1.0)

    @property
    def px_per_mm(self) -> float:
        """Pixels to the millimetre."""
        return self.ppi / MM_PER_INCH

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height in millimetres."""
        height, width = self.pixels.shape[:2]
        return width / self.px_per_mm, height / self.px_per_mm


def blank(width_mm: float, height_mm: float, ppi: float, colour: tuple[float, float, float]) -> Page:
    """Return an empty page of one colour (sRGB, 0..1)."""
    scale = ppi / MM_PER_INCH
    shape = (max(1, round(height_mm * scale)), max(1, round(width_mm * scale)), 3)
    return Page(np.broadcast_to(np.float32(colour), shape).copy(), ppi)


def carry_box(matrix: Matrix, box: Box) -> Box:
    """Return the upright box that holds ``box`` after ``matrix``."""
    left, top, right, bottom = box
    corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
    moved = cv2.perspectiveTransform(corners, np.asarray(matrix, np.float64))[0]
    (x0, y0), (x1, y1) = moved.min(axis=0), moved.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def carry(page: Page, matrix: Matrix, pixels: Pixels, alpha: Pixels | None = None) -> Page:
    """Return ``page`` with new ``pixels`` whose marks, art and added boxes were moved by ``matrix``."""
    return replace(
        page,
        pixels=pixels,
        marks=tuple(replace(m, box=carry_box(matrix, m.box)) for m in page.marks),
        art=None if page.art is None else matrix @ page.art,
        added={name: carry_box(matrix, box) for name, box in page.added.items()},
        alpha=alpha,
    )


def shift(dx: float, dy: float) -> Matrix:
    """Return the matrix that moves by (dx, dy)."""
    return np.array([[1, 0, dx], [0, 1, dy], [0, 0, 1]], np.float64)


def stretch(sx: float, sy: float) -> Matrix:
    """Return the matrix that scales by (sx, sy) about the origin."""
    return np.diag([sx, sy, 1.0])


def lay(ground: Page, piece: Page, x_mm: float, y_mm: float, angle_deg: float = 0.0, shadow: float = 0.0) -> Page:
    """Return ``ground`` with ``piece`` lying on it, its top left corner at (x, y) mm, turned about its middle.

    Both have one ppi. Marks and art of both are kept, the piece's art winning. ``shadow`` darkens round the edges.
    """
    h, w = piece.pixels.shape[:2]
    scale = ground.px_per_mm
    turn = np.vstack([cv2.getRotationMatrix2D((w / 2, h / 2), angle_deg, 1.0), [0, 0, 1]])
    matrix = shift(x_mm * scale, y_mm * scale) @ turn
    gh, gw = ground.pixels.shape[:2]
    mask = np.ones((h, w), np.float32) if piece.alpha is None else piece.alpha
    if angle_deg == 0.0:
        matrix = shift(round(x_mm * scale), round(y_mm * scale))
    x0, y0, x1, y1 = carry_box(matrix, (0, 0, w, h))
    pad = int(6 * scale) + 4
    left, top = max(0, int(x0) - pad), max(0, int(y0) - pad)
    right, bottom = min(gw, int(x1) + pad), min(gh, int(y1) + pad)
    local = shift(-left, -top) @ matrix
    size = (right - left, bottom - top)
    if angle_deg == 0.0:
        flat, cover = _placed(piece.pixels, local, size), _placed(mask, local, size)
    else:
        flat = cv2.warpPerspective(piece.pixels, local, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        cover = cv2.warpPerspective(mask, local, size, flags=cv2.INTER_LINEAR)
    out = ground.pixels.copy()
    under = out[top:bottom, left:right]
    if shadow > 0:
        dark = cv2.GaussianBlur(cv2.warpPerspective(cover, shift(0.5 * scale, 0.7 * scale), size), (0, 0), 0.9 * scale)
        under = under * (1 - shadow * dark[..., None])
    out[top:bottom, left:right] = under + (np.clip(flat, 0, 1) - under) * cover[..., None]
    laid = carry(piece, matrix, out)
    return replace(
        laid,
        ppi=ground.ppi,
        marks=ground.marks + laid.marks,
        art=ground.art if laid.art is None else laid.art,
        elements=piece.elements or ground.elements,
        added={**ground.added, **laid.added},
        alpha=ground.alpha,
        shown=ground.shown if laid.art is None else laid.shown,
    )


def _placed(pixels: Pixels, whole_shift: Matrix, size: tuple[int, int]) -> Pixels:
    """Return ``pixels`` moved by whole pixels into an empty picture of ``size`` (w, h)."""
    out = np.zeros((size[1], size[0], *pixels.shape[2:]), np.float32)
    x, y = round(whole_shift[0, 2]), round(whole_shift[1, 2])
    h, w = pixels.shape[:2]
    left, top, right, bottom = max(0, x), max(0, y), min(size[0], x + w), min(size[1], y + h)
    out[top:bottom, left:right] = pixels[top - y : bottom - y, left - x : right - x]
    return out
