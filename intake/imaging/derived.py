"""Read back a picture that a run derived and wrote (a working image, a positive), as it lies on disk."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray


def read_colour(path: Path) -> NDArray[np.uint8] | None:
    """(h, w, 3) RGB; None where it is not there or no picture."""
    return _read(path, cv2.IMREAD_COLOR_RGB)


def read_grey(path: Path) -> NDArray[np.uint8] | None:
    """(h, w); None where it is not there or no picture."""
    return _read(path, cv2.IMREAD_GRAYSCALE)


def _read(path: Path, how: int) -> NDArray[np.uint8] | None:
    picture = cv2.imread(str(path), how | cv2.IMREAD_IGNORE_ORIENTATION) if path.is_file() else None
    return None if picture is None else np.asarray(picture, np.uint8)
