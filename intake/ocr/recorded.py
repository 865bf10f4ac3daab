"""Engines that replay what real ones said, found by the digest of the pixels, and record what they do not know yet.

The file is JSON: for each engine its name, and for each picture's digest what was found or read. To record anew, wrap
the engines of ``load_engines`` in ``RecordedEngines(file, real)``, run, and call ``save``.
"""

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from intake.model import ReaderSaid
from intake.ocr.protocol import Detector, Engines, Picture, Quad, Reader

Said = dict[str, dict[str, Any]]


class RecordedEngines:
    """Replays ``file``; with ``real`` engines it asks those for what is not in it, and remembers."""

    def __init__(self, file: Path, real: Engines | None = None) -> None:
        self._file = file
        self._said: Said = json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}
        names = list(self._said)
        if real is not None:
            names = [f"find {real.detector.name}", real.first.name, *(r.name for r in real.others)]
        for name in names:
            self._said.setdefault(name, {})
        readers = {r.name: r for r in (real.first, *real.others)} if real else {}
        find, first, *others = names
        self.engines = Engines(
            _Detector(find.removeprefix("find "), self._said[find], real.detector if real else None),
            _Reader(first, self._said[first], readers.get(first)),
            tuple(_Reader(name, self._said[name], readers.get(name)) for name in others),
        )

    def save(self) -> None:
        """Write what is known, each engine's pictures in order of digest."""
        tidy = {name: dict(sorted(said.items())) for name, said in self._said.items()}
        self._file.write_text(json.dumps(tidy, ensure_ascii=False, separators=(",", ":"), indent=0), encoding="utf-8")


class _Detector:
    def __init__(self, name: str, said: dict[str, Any], real: Detector | None) -> None:
        self.name = name
        self._said = said
        self._real = real

    def find(self, picture: Picture) -> list[Quad]:
        key = digest_of(picture)
        if key not in self._said:
            if self._real is None:
                raise KeyError(f"no recording of {self.name} for the picture {key}")
            self._said[key] = [np.round(q, 1).ravel().tolist() for q in self._real.find(picture)]
        return [np.array(q, np.float32).reshape(4, 2) for q in self._said[key]]


class _Reader:
    def __init__(self, name: str, said: dict[str, Any], real: Reader | None) -> None:
        self.name = name
        self._said = said
        self._real = real

    def read(self, crops: Sequence[Picture]) -> list[ReaderSaid]:
        keys = [digest_of(crop) for crop in crops]
        new = [i for i, key in enumerate(keys) if key not in self._said]
        if new:
            if self._real is None:
                raise KeyError(f"no recording of {self.name} for {len(new)} crops")
            for i, said in zip(new, self._real.read([crops[i] for i in new]), strict=True):
                self._said[keys[i]] = [said.text, said.confidence, said.least]
        return [ReaderSaid(self.name, *self._said[key]) for key in keys]


def digest_of(picture: Picture) -> str:
    """Return the first 16 hex digits of the SHA-256 of shape and pixels."""
    shape = np.array(picture.shape, np.int32).tobytes()
    return hashlib.sha256(shape + np.ascontiguousarray(picture).tobytes()).hexdigest()[:16]
