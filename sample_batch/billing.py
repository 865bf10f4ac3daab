"""The billing block: lines of tall narrow capitals in which words marked with ``~`` are set small."""

import numpy as np

from sample_batch.page import Pixels
from sample_batch.typeset import set_line

SMALL = 0.52


def set_billing(lines: tuple[str, ...], width_px: float, cap_px: float, face: str = "billing") -> Pixels:
    """Return the ink of a billing block, (h, w) float32, each line centred and no wider than ``width_px``.

    ``cap_px`` is the largest cap height: a block that would be wider is set smaller as a whole.
    """
    longest = max(_set_row(line, cap_px, face).shape[1] for line in lines)
    cap_px = min(cap_px, cap_px * width_px / longest)
    rows = [_fit_row(line, width_px, cap_px, face) for line in lines]
    width = max(row.shape[1] for row in rows)
    leading = cap_px * 0.42
    height = int(sum(row.shape[0] + leading for row in rows))
    block = np.zeros((height + 2, width), np.float32)
    y = 0.0
    for row in rows:
        x = (width - row.shape[1]) // 2
        block[int(y) : int(y) + row.shape[0], x : x + row.shape[1]] = row
        y += row.shape[0] + leading
    return block


def _fit_row(line: str, width_px: float, cap_px: float, face: str) -> Pixels:
    row = _set_row(line, cap_px, face)
    if row.shape[1] > width_px:
        row = _set_row(line, cap_px * width_px / row.shape[1], face)
    return row


def _set_row(line: str, cap_px: float, face: str) -> Pixels:
    """Set words side by side; the small ones stand on two lines when two of them follow each other."""
    words = [(w[1:], True) if w.startswith("~") else (w, False) for w in line.split()]
    gap = round(cap_px * 0.34)
    pieces: list[Pixels] = []
    while words:
        text, small = words.pop(0)
        if not small:
            pieces.append(_stand(set_line(text, cap_px, face, 0.05), cap_px, 1.0))
        elif words and words[0][1]:
            above, below = (set_line(t, cap_px * 0.42, face, 0.08) for t in (text, words.pop(0)[0]))
            stack = np.zeros((round(cap_px * 1.16), max(above.shape[1], below.shape[1])), np.float32)
            for ink, y in ((above, 0.08), (below, 0.66)):
                x, top = (stack.shape[1] - ink.shape[1]) // 2, round(cap_px * y)
                ink = ink[: stack.shape[0] - top]
                stack[top : top + ink.shape[0], x : x + ink.shape[1]] = ink
            pieces.append(stack)
        else:
            pieces.append(_stand(set_line(text, cap_px * SMALL, face, 0.08), cap_px, 1.0))
    height = max(p.shape[0] for p in pieces)
    row = np.zeros((height, sum(p.shape[1] for p in pieces) + gap * (len(pieces) - 1)), np.float32)
    x = 0
    for ink in pieces:
        row[: ink.shape[0], x : x + ink.shape[1]] = ink
        x += ink.shape[1] + gap
    return row


def _stand(ink: Pixels, cap_px: float, base: float) -> Pixels:
    """Return ``ink`` in a row of full height, standing on the base line."""
    row = np.zeros((max(round(cap_px * 1.16), ink.shape[0]), ink.shape[1]), np.float32)
    top = max(0, round(cap_px * (0.08 + base)) - ink.shape[0])
    ink = ink[: row.shape[0] - top]
    row[top : top + ink.shape[0]] = ink
    return row
