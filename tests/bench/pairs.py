"""Fingerprints of a made archive, its shortlists, and shortlisted pairs measured, in two processes."""

import functools
import math
import pickle
import time
import tomllib
import zlib
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.fingerprint import FingerprintRules
from intake.config.match import MatchRules
from intake.imaging.candidates import Candidate, CandidateIndex, SearchLimits, post
from intake.imaging.features import Features
from intake.imaging.permute import Variant
from intake.kin import Match
from intake.model import PartKey
from intake.stages.fingerprint import VERSION, fingerprint
from intake.stages.match import Measures, log_odds, measure, verify
from tests.bench.archive import View, truth_of

CONFIG = Path(__file__).parents[2] / "config"


@dataclass(frozen=True, slots=True, eq=False)
class Archive:
    """Views with their fingerprints, and the folder of their pictures; the key of view n sorts as n does. ``held`` are
    those not asked for."""

    views: list[View]
    folder: Path
    features: list[Features]
    cpu_s: float

    @property
    def held(self) -> list[int]:
        return [n for n, view in enumerate(self.views) if not view.asked]


def key_of(number: int) -> PartKey:
    return PartKey(f"{number:06d}", 1)


def number_of(key: PartKey) -> int:
    return int(key.digest)


def fingerprint_rules() -> FingerprintRules:
    return FingerprintRules.model_validate(tomllib.loads((CONFIG / "fingerprint.toml").read_text("utf-8")))


def match_rules() -> MatchRules:
    return MatchRules.model_validate(tomllib.loads((CONFIG / "match.toml").read_text("utf-8")))


def limits_of(rules: MatchRules) -> SearchLimits:
    c = rules.candidates
    return SearchLimits(c.words, c.signs, c.postings, c.field_px, c.sure, c.rise)


def described(views: list[View], folder: Path) -> Archive:
    """Take the fingerprints, once for each version and setting."""
    kept = folder / f"features-{VERSION}-{len(views)}-{zlib.crc32(fingerprint_rules().model_dump_json().encode()):08x}"
    if kept.exists():
        return Archive(views, folder, *pickle.loads(kept.read_bytes()))
    with ProcessPoolExecutor(2) as workers:
        made = list(workers.map(_describe, [folder / f"{v.name}.png" for v in views], chunksize=16))
    features, cost = [f for f, _ in made], float(np.mean([t for _, t in made]))
    kept.write_bytes(pickle.dumps((features, cost)))
    return Archive(views, folder, features, cost)


def _picture(path: Path) -> NDArray[np.uint8]:
    return np.asarray(cv2.imread(str(path), cv2.IMREAD_COLOR_RGB), np.uint8)


def _describe(path: Path) -> tuple[Features, float]:
    picture = _picture(path)
    started = time.process_time()
    _, features = fingerprint(picture, 1.0, (), "unknown", fingerprint_rules())
    return features, time.process_time() - started


# What the workers share: set before they are forked.
_shared: dict[str, object] = {}


def _fork() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(2, mp_context=get_context("fork"))


def shortlists(archive: Archive, rules: MatchRules) -> tuple[list[list[Candidate]], float]:
    """What the index proposes for every view, and the CPU seconds of a query."""
    index = CandidateIndex(post((key_of(n), archive.features[n]) for n in archive.held), limits_of(rules))
    index.query(archive.features[archive.held[0]], 1)
    _shared.update(index=index, archive=archive, top=rules.candidates.top)
    with _fork() as workers:
        made = list(workers.map(_ask, range(len(archive.views)), chunksize=16))
    return [found for found, _ in made], float(np.mean([t for _, t in made]))


def _ask(number: int) -> tuple[list[Candidate], float]:
    index, archive, top = _shared["index"], _shared["archive"], _shared["top"]
    assert isinstance(index, CandidateIndex) and isinstance(archive, Archive) and isinstance(top, int)
    started = time.process_time()
    found = index.query(archive.features[number], top, key_of(number))
    return found, time.process_time() - started


def proposed(lists: Sequence[Sequence[Candidate]], asking: Iterable[int]) -> dict[tuple[int, int], set[Variant]]:
    """The pairs that the lists of the views ``asking`` name."""
    hints: dict[tuple[int, int], set[Variant]] = {}
    for n in asking:
        for candidate in lists[n]:
            m = number_of(candidate.key)
            hints.setdefault((min(n, m), max(n, m)), set()).add(candidate.variant)
    return hints


Job = tuple[int, int, tuple[Variant, ...]]


def jobs_of(hints: dict[tuple[int, int], set[Variant]]) -> list[Job]:
    order = {v: (v.polarity_flip, v.mirror) for found in hints.values() for v in found}
    return [(a, b, tuple(sorted(found, key=order.__getitem__))) for (a, b), found in sorted(hints.items())]


def measured(archive: Archive, jobs: Sequence[Job], rules: MatchRules) -> list[tuple[int, int, Measures | None]]:
    """The measures of pairs, None where no geometry joins them."""
    _shared.update(archive=archive, rules=rules)
    with _fork() as workers:
        return list(workers.map(_measure, jobs, chunksize=64))


def _measure(job: Job) -> tuple[int, int, Measures | None]:
    archive, rules = _shared["archive"], _shared["rules"]
    assert isinstance(archive, Archive) and isinstance(rules, MatchRules)
    a, b, variants = job
    found = measure(archive.features[a], archive.features[b], variants, rules)
    return a, b, None if found is None else found[2]


def verified(
    archive: Archive, jobs: Sequence[Job], rules: MatchRules
) -> tuple[list[tuple[int, int, Match | None]], float]:
    """The matches of pairs, and the CPU seconds of one."""
    _shared.update(archive=archive, rules=rules)
    with _fork() as workers:
        made = list(workers.map(_verify, jobs, chunksize=64))
    return [(a, b, match) for a, b, match, _ in made], float(np.mean([t for *_, t in made])) if made else 0.0


def _verify(job: Job) -> tuple[int, int, Match | None, float]:
    archive, rules = _shared["archive"], _shared["rules"]
    assert isinstance(archive, Archive) and isinstance(rules, MatchRules)
    a, b, variants = job
    started = time.process_time()
    one, other = archive.features[a], archive.features[b]
    match = verify(key_of(a), one, key_of(b), other, variants, rules, lambda: (_closer(a), _closer(b)))
    return a, b, match, time.process_time() - started


@functools.lru_cache(maxsize=400)
def _closer(number: int) -> Features:
    archive, rules = _shared["archive"], _shared["rules"]
    assert isinstance(archive, Archive) and isinstance(rules, MatchRules)
    picture = _picture(archive.folder / f"{archive.views[number].name}.png")
    return fingerprint(picture, 1.0, (), "unknown", rules.second.applied(fingerprint_rules()))[1]


def looked_twice(archive: Archive, jobs: Sequence[Job], rules: MatchRules) -> list[tuple[int, int, float, float]]:
    """Of the pairs that a first look leaves undecided: what its tables say, and what they say of a closer one."""
    _shared.update(archive=archive, rules=rules)
    with _fork() as workers:
        return [row for row in workers.map(_look_twice, jobs, chunksize=64) if row]


def _look_twice(job: Job) -> tuple[int, int, float, float] | None:
    archive, rules = _shared["archive"], _shared["rules"]
    assert isinstance(archive, Archive) and isinstance(rules, MatchRules)
    a, b, variants = job
    found = measure(archive.features[a], archive.features[b], variants, rules)
    if found is None:
        return None
    first = log_odds(found[2], rules)
    if not rules.second.is_asked(1 / (1 + math.exp(-first))):
        return None
    near = measure(_closer(a), _closer(b), [found[0].variant], rules)
    return a, b, first, log_odds(near and near[2], rules)


def true_pairs(archive: Archive) -> list[tuple[int, int]]:
    """All held pairs of one design."""
    held = archive.held
    return [
        (a, b) for i, b in enumerate(held) for a in held[:i] if truth_of(archive.views[a], archive.views[b]) == "same"
    ]
