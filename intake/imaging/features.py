"""What a fingerprint keeps of one picture, and how it is written to disk: about 29 KB."""

import struct
import zlib
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Box

_MAGIC = b"KFF3"
_HEAD = struct.Struct("<4sdiiiiiHHi24s")
_POINT_BYTES = 2 + 2 + 1 + 1 + 64
_PLACES_PER_PX, _SIZES_PER_OCTAVE, _TURN_DEG = 64, 20, 360 / 256
_FRAME_QUALITY = 60
_MOST_POINTS, _MOST_FRAME_PX = 5000, 1024


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """Keypoints, descriptors and a small grey picture of one part, border cut away.

    ``points`` (n, 4) float32: x, y in frame pixels, size in frame pixels, angle in degrees. ``descriptors`` (n, 128)
    uint8, 0 to 15 (see permute.STEP). ``frame`` (h, w) uint8: the picture at no more than 256 px, for dense agreement,
    as ``frame_webp`` holds it. ``frame_box`` is what of the scan they cover, a frame pixel is ``stored_per_frame``
    stored pixels, and ``kind`` is what the piece was taken for.
    """

    points: NDArray[np.float32]
    descriptors: NDArray[np.uint8]
    frame: NDArray[np.uint8]
    frame_webp: bytes
    stored_per_frame: float
    frame_box: Box
    kind: str

    @property
    def width(self) -> float:
        """Width of the picture in frame pixels."""
        return self.frame_box.width / self.stored_per_frame

    @property
    def height(self) -> float:
        """Height of the picture in frame pixels."""
        return self.frame_box.height / self.stored_per_frame

    @property
    def frame_scale(self) -> float:
        """Pixels of ``frame`` per frame pixel."""
        return self.frame.shape[1] / self.width

    def to_bytes(self) -> bytes:
        """The same features give the same bytes. Places to 1/64 px, sizes to 3.5 %, angles to 1.4 degrees:
        ``from_bytes`` gives back nearly, and from then on exactly, what was put in."""
        height, width = self.frame.shape
        kind = self.kind.encode("ascii")
        head = (self.stored_per_frame, len(self.points), *self.frame_box, width, height, len(self.frame_webp), kind)
        places = np.clip(np.rint(self.points[:, :2] * _PLACES_PER_PX), 0, 65535).astype("<u2")
        sizes = np.clip(np.rint(np.log2(np.maximum(self.points[:, 2], 1)) * _SIZES_PER_OCTAVE), 0, 255).astype(np.uint8)
        turns = np.rint(self.points[:, 3] / _TURN_DEG).astype(np.int64).astype(np.uint8)
        nibbles = self.descriptors[:, ::2] << 4 | self.descriptors[:, 1::2]
        body = places.tobytes() + sizes.tobytes() + turns.tobytes() + nibbles.tobytes()
        return _HEAD.pack(_MAGIC, *head) + self.frame_webp + zlib.compress(body, 6)

    @classmethod
    def from_bytes(cls, data: bytes) -> "Features":
        """Read what ``to_bytes`` wrote; ValueError when it is something else, another version or damaged."""
        if len(data) < _HEAD.size or data[:4] != _MAGIC:
            raise ValueError("not a fingerprint of this version")
        _, stored_per_frame, n, left, top, wide, high, width, height, length, kind = _HEAD.unpack_from(data)
        if not (0 <= n <= _MOST_POINTS and max(width, height) <= _MOST_FRAME_PX and 0 < length < len(data)):
            raise ValueError("damaged fingerprint")
        picture = np.frombuffer(data, np.uint8, min(length, len(data) - _HEAD.size), _HEAD.size)
        unpack = zlib.decompressobj()
        try:
            body = unpack.decompress(data[_HEAD.size + length :], n * _POINT_BYTES + 1)
            frame = cv2.imdecode(picture, cv2.IMREAD_GRAYSCALE)
        except (zlib.error, cv2.error) as error:
            raise ValueError("damaged fingerprint") from error
        if len(body) != n * _POINT_BYTES or frame is None or frame.shape != (height, width):
            raise ValueError("damaged fingerprint")
        points = np.empty((n, 4), np.float32)
        points[:, :2] = np.frombuffer(body, "<u2", n * 2).reshape(n, 2) / np.float32(_PLACES_PER_PX)
        points[:, 2] = np.exp2(np.frombuffer(body, np.uint8, n, n * 4) / np.float64(_SIZES_PER_OCTAVE))
        points[:, 3] = np.frombuffer(body, np.uint8, n, n * 5) * np.float32(_TURN_DEG)
        nibbles = np.frombuffer(body, np.uint8, n * 64, n * 6).reshape(n, 64)
        descriptors = np.empty((n, 128), np.uint8)
        descriptors[:, ::2], descriptors[:, 1::2] = nibbles >> 4, nibbles & 15
        box, name = Box(left, top, wide, high), kind.rstrip(b"\0").decode("ascii")
        return cls(points, descriptors, np.asarray(frame, np.uint8), picture.tobytes(), stored_per_frame, box, name)


def pack_frame(picture: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], bytes]:
    """A small grey picture as it comes back from its WebP, and the WebP."""
    packed = cv2.imencode(".webp", picture, [cv2.IMWRITE_WEBP_QUALITY, _FRAME_QUALITY])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), np.uint8), packed.tobytes()
