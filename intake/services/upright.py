"""Where stored pixels lie on a picture set upright, and how one part's picture is laid over another's.

Matrices are 3 x 3 homographies on (x, y, 1). Standard library only: nine numbers need no more.
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from intake.kin import Match
from intake.model import Box, PartKey

Matrix = tuple[float, ...]
IDENTITY: Matrix = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Upright:
    """A part's box set upright: mirrored first (left-right), then turned clockwise by ``turn`` (0, 90, 180, 270)."""

    box: Box
    turn: int
    mirrored: bool

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in stored pixels, upright."""
        return (self.box.height, self.box.width) if self.turn in (90, 270) else (self.box.width, self.box.height)

    def from_stored(self, scale: float = 1.0) -> Matrix:
        """Stored pixels -> pixels of the upright picture at ``scale`` (picture pixels per stored pixel)."""
        width, height = self.box.width, self.box.height
        moved: Matrix = (1, 0, -self.box.left, 0, 1, -self.box.top, 0, 0, 1)
        if self.mirrored:
            moved = times((-1, 0, width, 0, 1, 0, 0, 0, 1), moved)
        turns: dict[int, Matrix] = {
            0: IDENTITY,
            90: (0, -1, height, 1, 0, 0, 0, 0, 1),
            180: (-1, 0, width, 0, -1, height, 0, 0, 1),
            270: (0, 1, 0, -1, 0, width, 0, 0, 1),
        }
        return times((scale, 0, 0, 0, scale, 0, 0, 0, 1), times(turns[self.turn], moved))

    def shares(self) -> Matrix:
        """Stored pixels -> shares (0 to 1) of the upright picture's width and height."""
        return _shares(self)

    def place(self, box: Box) -> tuple[float, float, float, float]:
        """Left, top, width and height of a stored box as shares of the upright picture."""
        corners = [(box.left, box.top), (box.left + box.width, box.top + box.height)]
        (x0, y0), (x1, y1) = (at(self.shares(), x, y) for x, y in corners)
        return min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0)


@lru_cache(4096)  # asked for once a point
def _shares(upright: Upright) -> Matrix:
    width, height = upright.size
    return times((1 / width, 0, 0, 0, 1 / height, 0, 0, 0, 1), upright.from_stored())


def times(p: Matrix, q: Matrix) -> Matrix:
    """The product p q: first q, then p."""
    return tuple(sum(p[3 * r + k] * q[3 * k + c] for k in range(3)) for r in range(3) for c in range(3))


def inverse(m: Matrix) -> Matrix:
    """The inverse, scaled so that its last entry is 1. Raises ZeroDivisionError when there is none."""
    a, b, c, d, e, f, g, h, i = m
    rows = (e * i - f * h, c * h - b * i, b * f - c * e, f * g - d * i, a * i - c * g, c * d - a * f,
            d * h - e * g, b * g - a * h, a * e - b * d)  # fmt: skip
    determinant = a * rows[0] + b * rows[3] + c * rows[6]
    inverted = tuple(v / determinant for v in rows)
    return tuple(v / inverted[8] for v in inverted) if inverted[8] else inverted


def at(m: Matrix, x: float, y: float) -> tuple[float, float]:
    """Where a point goes. Raises ZeroDivisionError for a point on the horizon."""
    w = m[6] * x + m[7] * y + m[8]
    return (m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w


def registration(a: PartKey, b: PartKey, matches: Iterable[Match]) -> tuple[Matrix, tuple[PartKey, ...]] | None:
    """The transform from stored pixels of ``a`` to those of ``b``, and the parts by whose way it goes.

    The fewest steps are taken, the surest match first; None when no chain of matches joins the two.
    """
    steps: dict[PartKey, list[tuple[PartKey, Matrix]]] = {}
    for match in sorted(matches, key=lambda m: (-m.probability, m.a, m.b)):
        try:
            back = inverse(match.transform)
        except ZeroDivisionError:
            continue
        steps.setdefault(match.a, []).append((match.b, match.transform))
        steps.setdefault(match.b, []).append((match.a, back))
    reached: dict[PartKey, tuple[Matrix, tuple[PartKey, ...]]] = {a: (IDENTITY, ())}
    todo = deque([a])
    while todo and b not in reached:
        here = todo.popleft()
        so_far, by = reached[here]
        for goal, step in steps.get(here, ()):
            if goal not in reached:
                reached[goal] = times(step, so_far), by if here == a else (*by, here)
                todo.append(goal)
    return reached.get(b)
