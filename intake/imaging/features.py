"""What a fingerprint keeps of one picture, and how it is written to disk."""

import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from intake.model import Box

_MAGIC = b"KFF2"
_HEAD = struct.Struct("<4sdiiiiiHH24s")
_POINT_BYTES = 4 * 4 + 2 + 8 + 128


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """Keypoints, descriptors and a small grey picture of one part, border cut away.

    ``points`` (n, 4) float32: x, y in frame pixels, size in frame pixels, angle in degrees. ``descriptors`` (n, 128)
    uint8 in units of 1/512 of a unit vector. ``words`` and ``signatures`` (n,) are what the index files them under.
    ``frame`` (h, w) uint8: the picture at no more than 320 px, for dense agreement. ``frame_box`` is what of the scan
    they cover, a frame pixel is ``stored_per_frame`` stored pixels, and ``kind`` is what the piece was taken for.
    """

    points: NDArray[np.float32]
    descriptors: NDArray[np.uint8]
    frame: NDArray[np.uint8]
    stored_per_frame: float
    frame_box: Box
    words: NDArray[np.uint16]
    signatures: NDArray[np.uint64]
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
        """The same features give the same bytes, on any machine."""
        height, width = self.frame.shape
        kind = self.kind.encode("ascii")
        head = _HEAD.pack(_MAGIC, self.stored_per_frame, len(self.points), *self.frame_box, width, height, kind)
        filed = self.words.astype("<u2").tobytes() + self.signatures.astype("<u8").tobytes()
        body = self.points.astype("<f4").tobytes() + filed + self.descriptors.tobytes() + self.frame.tobytes()
        return head + zlib.compress(body, 6)

    @classmethod
    def from_bytes(cls, data: bytes) -> "Features":
        """Read what ``to_bytes`` wrote; ValueError when it is something else, another version or damaged."""
        if len(data) < _HEAD.size or data[:4] != _MAGIC:
            raise ValueError("not a fingerprint of this version")
        _, stored_per_frame, count, left, top, wide, high, width, height, kind = _HEAD.unpack_from(data)
        size = count * _POINT_BYTES + width * height
        unpack = zlib.decompressobj()
        try:
            body = unpack.decompress(data[_HEAD.size :], size + 1)
        except zlib.error as error:
            raise ValueError("damaged fingerprint") from error
        if count < 0 or len(body) != size:
            raise ValueError("damaged fingerprint")
        points = np.frombuffer(body, "<f4", count * 4).astype(np.float32).reshape(count, 4)
        words = np.frombuffer(body, "<u2", count, count * 16).astype(np.uint16)
        signatures = np.frombuffer(body, "<u8", count, count * 18).astype(np.uint64)
        descriptors = np.frombuffer(body, np.uint8, count * 128, count * 26).reshape(count, 128)
        frame = np.frombuffer(body, np.uint8, width * height, count * _POINT_BYTES).reshape(height, width)
        box, name = Box(left, top, wide, high), kind.rstrip(b"\0").decode("ascii")
        return cls(points, descriptors, frame, stored_per_frame, box, words, signatures, name)
