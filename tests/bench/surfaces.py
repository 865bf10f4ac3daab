"""What a painting's board carries besides the design, and what film of it adds, for the bench of the very object.

All of it is drawn by chance. The edge of the paint, pinholes, spatter and drips belong to the board; scuffs and specks
come with the years after the photograph; dust and hairs lie on the film.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
_MARGIN = 0.035  # of the height: bare board round the paint
_BOARD = (232.0, 226.0, 210.0)


def on_board(painted: Picture, board: int) -> Picture:
    """The painting on its board: a bare margin, the ragged edge of the paint, pinholes, spatter and drips."""
    rng = np.random.default_rng([board, 1])
    rim = int(_MARGIN * painted.shape[0])
    h, w = painted.shape[0] + 2 * rim, painted.shape[1] + 2 * rim
    bare = np.empty((h, w, 3), np.float32)
    bare[:] = np.array(_BOARD, np.float32) + rng.normal(0, 3, 3)
    bare += cv2.GaussianBlur(rng.normal(0, 1, (h, w)).astype(np.float32), (0, 0), 1.2)[..., None] * 9
    laid = cv2.copyMakeBorder(painted, rim, rim, rim, rim, cv2.BORDER_REFLECT).astype(np.float32)
    y, x = np.ogrid[0:h, 0:w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y)).astype(np.float32)
    bite = cv2.GaussianBlur(rng.normal(0, 1, (h, w)).astype(np.float32), (0, 0), 4)
    cover = np.clip(edge - rim - 2.5 * bite / bite.std() + 0.5, 0, 1)[..., None]
    made = bare * (1 - cover) + laid * cover
    _specks(made, rng, int(rng.integers(25, 90)), (0.7, 2.6))
    _drips(made, rng, int(rng.integers(0, 4)))
    for at_x in (0.4 * rim, w - 0.4 * rim):
        for at_y in (0.5 * rim, h - 0.5 * rim):
            for _ in range(int(rng.integers(1, 4))):
                away = rng.normal(0, 0.25 * rim, 2)
                _dot(made, (at_x + away[0], at_y + away[1]), float(rng.uniform(0.8, 1.5)), (60.0, 52.0, 44.0), 0.9)
    return np.clip(made, 0, 255).astype(np.uint8)


def repainted(before: Picture, first: Picture, now: Picture) -> Picture:
    """``before`` (``first`` on its board) with what ``now`` shows otherwise painted over it: marks there are hidden."""
    rim = (before.shape[0] - first.shape[0]) // 2
    differs = (np.abs(now.astype(np.int16) - first).max(axis=2) > 0).astype(np.uint8)
    differs = cv2.morphologyEx(
        cv2.morphologyEx(differs, cv2.MORPH_OPEN, np.ones((2, 2))), cv2.MORPH_CLOSE, np.ones((5, 5))
    )
    made = before.copy()
    inner = made[rim : rim + first.shape[0], rim : rim + first.shape[1]]
    inner[differs > 0] = now[differs > 0]
    return made


def aged(art: Picture, rng: np.random.Generator) -> Picture:
    """The years since: specks and scuffs of handling, another pinhole, yellowing that is not the same everywhere."""
    made = art.astype(np.float32)
    h, w = made.shape[:2]
    _specks(made, rng, int(rng.integers(3, 25)), (0.6, 1.8))
    _hairs(made, rng, int(rng.integers(0, 4)), (0.02, 0.08), 0.35)
    slow = cv2.resize(rng.uniform(0, 1, (4, 3)).astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)[..., None]
    made *= 1 - slow * np.array([0.03, 0.06, 0.14], np.float32) * float(rng.uniform(0, 1))
    return np.clip(made, 0, 255).astype(np.uint8)


def dusty(film: Picture, rng: np.random.Generator) -> Picture:
    """Film as it comes from its sleeve: dust and a few hairs and scratches."""
    made = film.astype(np.float32)
    _specks(made, rng, int(rng.integers(3, 30)), (0.5, 1.4))
    _hairs(made, rng, int(rng.integers(0, 4)), (0.01, 0.1), 0.6)
    return np.clip(made, 0, 255).astype(np.uint8)


def _specks(made: NDArray[np.float32], rng: np.random.Generator, many: int, radii: tuple[float, float]) -> None:
    h, w = made.shape[:2]
    for _ in range(many):
        at = (float(rng.uniform(4, w - 4)), float(rng.uniform(4, h - 4)))
        tone = float(rng.choice([30, 60, 200, 235]))
        _dot(made, at, float(rng.uniform(*radii)), (tone, tone * 0.95, tone * 0.9), float(rng.uniform(0.4, 0.95)))


def _dot(
    made: NDArray[np.float32], at: tuple[float, float], radius: float, colour: tuple[float, ...], share: float
) -> None:
    reach = int(radius + 3)
    left, top = int(at[0]) - reach, int(at[1]) - reach
    cut = made[max(0, top) : top + 2 * reach + 1, max(0, left) : left + 2 * reach + 1]
    y, x = np.mgrid[: cut.shape[0], : cut.shape[1]].astype(np.float32)
    far = np.hypot(x + max(0, left) - at[0], y + max(0, top) - at[1])
    cover = np.clip(radius - far + 0.5, 0, 1)[..., None] * np.float32(share)
    cut[:] = cut * (1 - cover) + np.array(colour, np.float32) * cover


def _drips(made: NDArray[np.float32], rng: np.random.Generator, many: int) -> None:
    h, w = made.shape[:2]
    for _ in range(many):
        x, y, long = float(rng.uniform(0, w)), float(rng.uniform(0, 0.8 * h)), float(rng.uniform(0.02, 0.07) * h)
        tone = float(rng.uniform(20, 220))
        for step in np.arange(0, long, 0.7):
            x += float(rng.normal(0, 0.12))
            _dot(made, (x, y + step), 0.7 + 0.9 * step / long, (tone, tone, tone), 0.5)


def _hairs(
    made: NDArray[np.float32], rng: np.random.Generator, many: int, share: tuple[float, float], strength: float
) -> None:
    h, w = made.shape[:2]
    for _ in range(many):
        layer = np.zeros((h, w), np.float32)
        at, turn = rng.uniform(0, 1, 2) * (w, h), float(rng.uniform(0, 6.28))
        bends, long = rng.normal(0, 0.25, 12), float(rng.uniform(*share)) * h / 12
        points = [at]
        for bend in bends:
            turn += float(bend)
            points.append(points[-1] + long * np.array([np.cos(turn), np.sin(turn)]))
        cv2.polylines(layer, [np.round(np.array(points) * 16).astype(np.int32)], False, strength, 1, cv2.LINE_AA, 4)
        made += (float(rng.choice([25, 235])) - made) * layer[..., None]
