"""Pairs of parts compared: by their fingerprints, closer where that leaves them undecided, by their pictures where they
may be one piece."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from intake.config.fingerprint import FingerprintRules
from intake.config.match import MatchRules, SamePieceRules, SecondRules
from intake.imaging.derived import read_colour
from intake.imaging.features import Features
from intake.imaging.geometry import Matrix
from intake.imaging.grain import compare_grain
from intake.imaging.permute import Variant, bits_of
from intake.kin import Match
from intake.model import Checked, PartKey, Rendered, Stamps
from intake.services.home import Home
from intake.services.searching import load_features
from intake.stages.fingerprint import Corners, fingerprint
from intake.stages.match import verify
from intake.stages.twice import twice, worth_asking
from intake.store import ledger
from intake.store.codec import from_text
from intake.store.pairs import Compared, Pair


@dataclass(frozen=True, slots=True)
class Pictured:
    """Where a part's working image lies, what leads from its pixels to stored ones, the piece's corners, and the size
    of the file (None where it has several pages)."""

    path: Path
    stored_per_working: float
    left: int
    top: int
    outline: Corners
    size_px: tuple[int, int] | None

    @property
    def to_stored(self) -> Matrix:
        """From pixels of the working image to stored ones."""
        scale = self.stored_per_working
        return np.array([[scale, 0, self.left], [0, scale, self.top], [0, 0, 1.0]])


@dataclass(frozen=True, slots=True)
class Task:
    """One pair with the files of its fingerprints, the variants to try, and its pictures where they are known."""

    pair: Pair
    features: tuple[Path, Path]
    variants: frozenset[Variant]
    pictured: tuple[Pictured | None, Pictured | None]


def tasks_of(
    home: Home, chunk: Sequence[Pair], proposed: Mapping[Pair, frozenset[Variant]], stamps: Stamps
) -> list[Task]:
    """The pairs with all that ``compare`` needs to know of them."""
    digests = sorted({key.digest for pair in chunk for key in pair})
    with home.database.read() as connection:
        rendered = dict(ledger.payloads_of(connection, digests, "render", stamps.stages["render"]))
        checked = dict(ledger.payloads_of(connection, digests, "check", stamps.stages["check"]))
    files = {key.digest: from_text(Checked, text) for key, text in checked.items()}

    def pictured(key: PartKey) -> Pictured | None:
        file = files.get(key.digest)
        if key not in rendered or file is None:
            return None
        r = from_text(Rendered, rendered[key])
        path = home.picture(key, "working", stamps.stages["render"])
        size_px = (file.width_px, file.height_px) if file.pages == 1 else None
        return Pictured(path, r.stored_per_working, r.box.left, r.box.top, r.outline, size_px)

    stamp = stamps.stages["fingerprint"]
    return [
        Task((a, b), (home.features(a, stamp), home.features(b, stamp)), proposed[a, b], (pictured(a), pictured(b)))
        for a, b in chunk
    ]


def compare(tasks: Sequence[Task], rules: MatchRules, fingerprints: FingerprintRules) -> list[Compared]:
    """Compare pairs by the files of their fingerprints, closer where that leaves them undecided, and by their pictures
    where they may be one piece.

    Runs in a worker.
    """
    made, seen = [], Closer(fingerprints, rules.second)
    for task in tasks:
        started = time.process_time()
        (a, b), (one, other) = task.pair, (load_features(path) for path in task.features)
        kinds = (one.kind, other.kind)
        match = verify(a, one, b, other, task.variants, rules, partial(seen.both, task, kinds))
        alike = one.kind == other.kind or "unknown" in kinds
        if match is not None and alike and worth_asking(match, rules.same_piece):
            match = _asked_twice(match, *task.pictured, rules.same_piece)
        made.append(Compared(task.pair, bits_of(task.variants), match, time.process_time() - started))
    return made


class Closer:
    """Features of a larger picture, taken when they are asked for and once for a chunk of pairs."""

    def __init__(self, rules: FingerprintRules, second: SecondRules) -> None:
        self._rules = second.applied(rules)
        self._made: dict[PartKey, Features | None] = {}

    def both(self, task: Task, kinds: tuple[str, str]) -> tuple[Features, Features] | None:
        """Those of both parts of a pair; None where a picture is not there."""
        one, other = (self._of(*each) for each in zip(task.pair, task.pictured, kinds, strict=True))
        return None if one is None or other is None else (one, other)

    def _of(self, key: PartKey, at: Pictured | None, kind: str) -> Features | None:
        if key not in self._made:
            picture = None if at is None else read_colour(at.path)
            if at is None or picture is None:
                self._made[key] = None
            else:
                origin = (at.left, at.top)
                found = fingerprint(picture, at.stored_per_working, at.outline, kind, self._rules, origin=origin)
                self._made[key] = found[1]
        return self._made[key]


def _asked_twice(match: Match, a: Pictured | None, b: Pictured | None, rules: SamePieceRules) -> Match:
    """The match, as one of the same piece where its pictures say so; as it is where they are not there."""
    one, other = (None if p is None else read_colour(p.path) for p in (a, b))
    if a is None or b is None or one is None or other is None or a.size_px is None or b.size_px is None:
        return match
    stored = np.array(match.transform, np.float64).reshape(3, 3)
    grain = compare_grain(
        one,
        other,
        np.asarray(np.linalg.inv(b.to_stored) @ stored @ a.to_stored, np.float64),
    )
    onto_b = stored if grain is None else b.to_stored @ grain.onto_b @ np.linalg.inv(a.to_stored)
    return twice(match, grain, onto_b, a.size_px, b.size_px, rules)
