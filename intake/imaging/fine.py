"""Is the finest structure of one picture, brush edges and drips, that of another laid over it? Place by place."""

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.overlay import Floats, Overlay, grey

_FINE_PX, _COARSE_PX = 1.0, 4.0
_WINDOW_PX, _STEP_PX = 33, 16
_RIM_PX = 20


def fine_alike(over: Overlay, *, polarity_flip: bool) -> NDArray[np.float64]:
    """Correlations (-1 to 1) of what is drawn finely on both, one a place with more of it than the middle place has.

    ``over`` is drawn up (intake/imaging/untold.py). Empty where the two hardly meet.
    """
    a, b = _band(over.a), _band(over.b)
    var_a, var_b = _mean(a * a) - _mean(a) ** 2, _mean(b * b) - _mean(b) ** 2
    both = _mean(a * b) - _mean(a) * _mean(b)
    alike = both / np.sqrt(np.maximum(var_a * var_b, 1e-3))
    rim = 2 * _RIM_PX + 1
    seen = cv2.erode(over.seen.astype(np.uint8), np.ones((rim, rim), np.uint8)) > 0
    at = (slice(_RIM_PX, -_RIM_PX, _STEP_PX), slice(_RIM_PX, -_RIM_PX, _STEP_PX))
    inside = seen[at]
    if not inside.any():
        return np.empty(0)
    strength = np.maximum(*(v[at][inside] / max(1e-6, float(np.median(v[at][inside]))) for v in (var_a, var_b)))
    told = alike[at][inside][strength > 1]
    return np.asarray(-told if polarity_flip else told, np.float64)


def _band(picture: Floats) -> Floats:
    plane = grey(picture)
    return np.asarray(
        cv2.GaussianBlur(plane, (0, 0), _FINE_PX) - cv2.GaussianBlur(plane, (0, 0), _COARSE_PX), np.float32
    )


def _mean(plane: Floats) -> Floats:
    return np.asarray(cv2.blur(plane, (_WINDOW_PX, _WINDOW_PX)), np.float32)
