"""Elements seen again elsewhere or at another size, though few keypoints tell: small windows of what differs vote.

Each window is looked for at every size; what hangs together under one growth and shift gathers votes in one place
(generalised Hough transform; Ballard 1981). Windows that are as well seen where they were do not vote.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import Search
from intake.imaging.elements import Moved
from intake.imaging.geometry import Points, similarity

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
_SHRUNK = 3
_STILL_PX, _AROUND = 1, np.ones((3, 3), np.uint8)
_LEAST_VOTE, _LEAST_MORE = 0.35, 0.1
_LEAST_CONTRAST, _LEAST_OF_WINDOW = 12.0, 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Ballot:
    """``middles`` (n, 2) of windows, small pixels; ``alike`` (sizes, n, d, d) at each shift; ``still`` (n,) where they
    were."""

    middles: Points
    alike: Floats
    still: Floats
    sizes: tuple[float, ...]
    reach: int


def seen_again(one: NDArray[np.uint8], other: NDArray[np.uint8], differs: Mask, rules: Search) -> list[Moved]:
    """Groups of windows of the one that are seen again on the other under one growth and shift each, most votes first.

    ``one`` and ``other`` are (h, w), alike in tone, of one frame; ``differs`` are its cells that differ. The points of
    a group are the middles of its windows.
    """
    size = (round(one.shape[1] / _SHRUNK), round(one.shape[0] / _SHRUNK))
    a, b = (cv2.resize(cv2.GaussianBlur(p, (0, 0), 1.0), size, interpolation=cv2.INTER_AREA) for p in (one, other))
    side = round(rules.window_px / _SHRUNK)
    share = cv2.resize(differs.astype(np.float32), size)
    middles = _middles(np.asarray(a, np.float32), np.asarray(share, np.float32), side, rules.most_windows)
    if len(middles) < rules.least_windows:
        return []
    ballot = _ballot(a, b, middles, side, rules)
    per_px = np.array([one.shape[1], one.shape[0]]) / size
    centre = np.array(size) / 2
    alive = np.ones(len(middles), bool)
    made: list[Moved] = []
    for _ in range(rules.most_peaks):
        at, shift = _most_votes(ballot, alive, centre)
        held = _voters(ballot, alive, at, shift, centre, rules)
        if len(held) < rules.least_windows:
            break
        alive[held] = False
        factor = ballot.sizes[at]
        moved = (shift + (1 - factor) * centre) * per_px + (1 - factor) * (per_px / 2 - 0.5)
        transform = similarity(complex(factor), complex(*moved))
        for group in _together(middles[held], 1.3 * side):
            if len(group) >= rules.least_windows:
                made.append(Moved(transform, (middles[held][group] + 0.5) * per_px - 0.5))
    return made


def _middles(plane: Floats, differs: Floats, side: int, most: int) -> Points:
    """Middles of windows that show something and differ, at most so many."""
    share = cv2.blur(differs, (side, side))
    mean = cv2.blur(plane, (side, side))
    shows = cv2.blur(plane * plane, (side, side)) - mean * mean > _LEAST_CONTRAST**2
    step = side // 2
    while True:
        y, x = np.mgrid[side // 2 : plane.shape[0] - side // 2 : step, side // 2 : plane.shape[1] - side // 2 : step]
        held = (share[y, x] >= _LEAST_OF_WINDOW) & shows[y, x]
        if held.sum() <= most:
            return np.column_stack([x[held], y[held]]).astype(np.float64)
        step += 1


def _ballot(a: NDArray[np.uint8], b: NDArray[np.uint8], middles: Points, side: int, rules: Search) -> _Ballot:
    least, most = rules.sizes
    sizes = tuple(float(f) for f in np.geomspace(least, most, rules.size_steps))
    reach = round(rules.reach * max(a.shape))
    wide = 2 * reach + 1
    pad = reach + side
    framed = cv2.copyMakeBorder(b, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=128)
    alike = np.zeros((len(sizes), len(middles), wide, wide), np.float32)
    still = np.zeros(len(middles), np.float32)
    at = (middles - side // 2).astype(np.intp)
    for n, (x, y) in enumerate(at):
        was = cv2.matchTemplate(
            framed[y + pad - _STILL_PX : y + pad + side + _STILL_PX, x + pad - _STILL_PX : x + pad + side + _STILL_PX],
            a[y : y + side, x : x + side],
            cv2.TM_CCOEFF_NORMED,
        )
        still[n] = was.max()
    for k, factor in enumerate(sizes):
        size = max(1, round(a.shape[1] * factor)), max(1, round(a.shape[0] * factor))
        grown = cv2.resize(a, size, interpolation=cv2.INTER_AREA if factor < 1 else cv2.INTER_LINEAR)
        there = np.rint((middles + 0.5) * np.array(size) / a.shape[::-1] - 0.5).astype(np.intp) - side // 2
        for n, ((x, y), (u, v)) in enumerate(zip(at, there, strict=True)):
            if u < 0 or v < 0 or u + side > size[0] or v + side > size[1]:
                continue
            window = framed[y + side : y + 2 * side + 2 * reach, x + side : x + 2 * side + 2 * reach]
            alike[k, n] = cv2.matchTemplate(window, grown[v : v + side, u : u + side], cv2.TM_CCOEFF_NORMED)
    return _Ballot(middles, alike, still, sizes, reach)


def _most_votes(ballot: _Ballot, alive: Mask, centre: Points) -> tuple[int, Points]:
    """The size and the shift (of ``centre``, small pixels) that most votes tell."""
    reach = ballot.reach
    away = ballot.middles - centre
    out = reach + int(np.ceil(np.abs(away).max() * max(abs(f - 1) for f in ballot.sizes))) + 1
    least = np.maximum(_LEAST_VOTE, ballot.still + _LEAST_MORE)
    best, at, shift = -1.0, 0, np.zeros(2)
    for k, factor in enumerate(ballot.sizes):
        votes = np.zeros((2 * out + 1, 2 * out + 1), np.float32)
        corner = np.rint((1 - factor) * away).astype(np.intp) + out - reach
        for n in np.flatnonzero(alive):
            x, y = corner[n]
            vote = cv2.dilate(np.maximum(ballot.alike[k, n] - least[n], 0), _AROUND)
            votes[y : y + 2 * reach + 1, x : x + 2 * reach + 1] += vote
        row, column = np.unravel_index(int(votes.argmax()), votes.shape)
        if votes[row, column] > best:
            best, at, shift = float(votes[row, column]), k, np.array([column - out, row - out], np.float64)
    return at, shift


def _voters(ballot: _Ballot, alive: Mask, at: int, shift: Points, centre: Points, rules: Search) -> NDArray[np.intp]:
    """The windows that are seen there, and better than where they were."""
    there = np.rint((ballot.sizes[at] - 1) * (ballot.middles - centre) + shift).astype(np.intp) + ballot.reach
    held = []
    for n in np.flatnonzero(alive):
        x, y = there[n]
        if 0 <= x <= 2 * ballot.reach and 0 <= y <= 2 * ballot.reach:
            seen = float(ballot.alike[at, n, max(0, y - 1) : y + 2, max(0, x - 1) : x + 2].max())
            if seen >= max(rules.alike, float(ballot.still[n]) + rules.more_alike):
                held.append(n)
    return np.array(held, np.intp)


def _together(middles: Points, reach: float) -> list[NDArray[np.intp]]:
    """Windows that hang together, none further than ``reach`` from its next."""
    near = (np.hypot(*(middles[:, None] - middles[None]).T) <= reach).astype(np.uint8)
    left = set(range(len(middles)))
    made = []
    while left:
        group, ahead = set(), {left.pop()}
        while ahead:
            n = ahead.pop()
            group.add(n)
            ahead |= {int(m) for m in np.flatnonzero(near[n])} & left
            left -= ahead
        made.append(np.array(sorted(group), np.intp))
    return made
