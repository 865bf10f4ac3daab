"""Censors' certificates as invented symbols: a letter in a circle, triangle or box, with the word beside it."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from sample_batch.page import Mark, Page, Pixels
from sample_batch.typeset import BLACK, Ink, press_ink, set_line

Shape = Literal["circle", "triangle", "box", "word"]


@dataclass(frozen=True, slots=True)
class Certificate:
    """``text`` is the one line that a reader should read (`"AA" CERTIFICATE`), ``letter`` what stands in the shape."""

    text: str
    value: str
    shape: Shape
    letter: str = ""
    word: str = ""
    cap_mm: float = 4.0


def draw_certificate(certificate: Certificate, scale: float) -> tuple[Pixels, float]:
    """Return the ink of the symbol, (h, w) float32, at ``scale`` pixels to the mm, and its type height in mm."""
    cap = certificate.cap_mm * scale
    if certificate.shape == "word":
        return set_line(certificate.text, cap, "grotesque-bold"), certificate.cap_mm
    inside = set_line(certificate.letter, cap * 1.7, "grotesque-bold")
    side = int(max(inside.shape) + cap * (3.6 if certificate.shape == "triangle" else 1.5))
    sign = np.zeros((side * 4, side * 4), np.uint8)
    line = max(2, round(cap * 0.8))
    edge = line * 2
    if certificate.shape == "circle":
        cv2.circle(sign, (side * 2, side * 2), max(1, side * 2 - edge), 255, line, cv2.LINE_AA)
    elif certificate.shape == "triangle":
        points = np.array([[side * 2, edge], [side * 4 - edge, side * 4 - edge], [edge, side * 4 - edge]], np.int32)
        cv2.polylines(sign, [points], True, 255, line, cv2.LINE_AA)
    else:
        cv2.rectangle(sign, (edge, edge), (side * 4 - edge, side * 4 - edge), 255, line)
    ink = cv2.resize(sign, (side, side), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    drop = 0.68 if certificate.shape == "triangle" else 0.5
    y, x = round(side * drop - inside.shape[0] / 2), (side - inside.shape[1]) // 2
    ink[y : y + inside.shape[0], x : x + inside.shape[1]] = np.maximum(
        ink[y : y + inside.shape[0], x : x + inside.shape[1]], inside
    )
    if not certificate.word:
        return ink, certificate.cap_mm * 1.7
    word = set_line(certificate.word, cap, "grotesque-bold")
    gap = round(cap * 0.9)
    out = np.zeros((max(side, word.shape[0]), side + gap + word.shape[1]), np.float32)
    out[:side, :side] = ink
    y = (out.shape[0] - word.shape[0]) // 2
    out[y : y + word.shape[0], side + gap :] = word
    return out, certificate.cap_mm


def print_certificate(
    page: Page, certificate: Certificate, x_mm: float, y_mm: float, colour: Ink = BLACK, along: float = 0.0
) -> Mark:
    """Print the symbol with its middle at height ``y_mm``, ``along`` of its width left of ``x_mm``. Return its mark."""
    scale = page.px_per_mm
    ink, height_mm = draw_certificate(certificate, scale)
    box = press_ink(page.pixels, ink, x_mm * scale - along * ink.shape[1], y_mm * scale - ink.shape[0] / 2, colour)
    return Mark("certificate", certificate.text, certificate.value, box, round(height_mm, 2))
