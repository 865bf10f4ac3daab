"""Pictures of our own making as JPEG bytes."""

from typing import Any

import cv2
from numpy.typing import NDArray

_QUALITY = 86


def jpeg_bytes(picture: NDArray[Any], longest_px: int | None = None) -> bytes:
    """JPEG of an sRGB picture, (height, width, 3) uint8, shrunk so that its long edge is at most ``longest_px``."""
    height, width = picture.shape[:2]
    if longest_px and max(height, width) > longest_px:
        factor = longest_px / max(height, width)
        size = (max(1, round(width * factor)), max(1, round(height * factor)))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".jpg", picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    if not done:
        raise ValueError(f"a picture of {width} x {height} cannot be written as JPEG")
    return bytes(data.tobytes())
