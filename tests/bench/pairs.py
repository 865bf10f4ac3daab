"""Pairs of made or painted scans with what was measured of them and what is true of them."""

import csv
import itertools
import tomllib
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from intake.config.fingerprint import FingerprintRules
from intake.config.match import MatchRules
from intake.imaging.agreement import agree
from intake.imaging.candidates import CandidateIndex, SearchLimits
from intake.imaging.features import Features
from intake.imaging.pairing import pair
from intake.imaging.permute import VARIANTS, Variant
from intake.model import PartKey
from intake.stages.fingerprint import fingerprint
from intake.stages.match import Measures, measure_pair
from tests.bench.families import Picture, consignment

CONFIG = Path(__file__).parents[2] / "config"
UNCOMPARED = ("reverse", "document", "target")


class Known(NamedTuple):
    """One scan with its truth: its design (empty when it is alone), what else it shares, what sort of scan it is."""

    key: PartKey
    features: Features
    design: str
    layout: str
    sort: str


class Pair(NamedTuple):
    """Truth is ``same``, ``shared`` or ``other``; ``measures`` is None where no geometry was found."""

    a: Known
    b: Known
    truth: str
    shortlisted: bool
    measures: Measures | None
    variant: Variant | None


def fingerprint_rules() -> FingerprintRules:
    return FingerprintRules.model_validate(tomllib.loads((CONFIG / "fingerprint.toml").read_text("utf-8")))


def match_rules() -> MatchRules:
    return MatchRules.model_validate(tomllib.loads((CONFIG / "match.toml").read_text("utf-8")))


def limits_of(rules: MatchRules) -> SearchLimits:
    c = rules.candidates
    return SearchLimits(c.words, c.signs, c.postings, c.field_px)


def pictures_in(folder: Path) -> list[Picture]:
    """Every picture of a folder as RGB at 1100 px on its long edge."""
    read = [cv2.imread(str(path)) for path in sorted(folder.iterdir())]
    scaled = [(p, 1100 / max(p.shape[:2])) for p in read if p is not None]
    return [np.ascontiguousarray(cv2.resize(p, None, fx=s, fy=s)[..., ::-1]) for p, s in scaled]


def made(pictures: list[Picture], seed: int, families: int) -> list[Known]:
    """The scans of one generated consignment (families.py)."""
    rules = fingerprint_rules()
    views = consignment(pictures, seed, families)
    return [
        Known(
            PartKey(f"{seed}-{n:05d}", 1),
            fingerprint(np.ascontiguousarray(v.picture), 1.0, (), "unknown", rules)[1],
            v.design,
            v.layout,
            v.sort,
        )
        for n, v in enumerate(views)
    ]


def painted(folder: Path) -> list[Known]:
    """The scans of a consignment of sample_batch.paint, cut to each piece with a rim of scanner bed."""
    rules = fingerprint_rules()
    families = {(r["scan"], r["part"]): r["family"] for r in _rows(folder / "expected/families.csv")}
    found = []
    for row in _rows(folder / "expected/scans.csv"):
        whole = cv2.imread(str(folder / "scans" / row["scan"]), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
        if whole is None or row["kind"] in UNCOMPARED:
            continue
        box = [int(float(row[k] or 0)) for k in ("left", "top", "width", "height")]
        left, top, wide, high = box if box[2] else (0, 0, whole.shape[1], whole.shape[0])
        rim = max(wide, high) // 50
        x, y = max(0, left - rim), max(0, top - rim)
        cut = whole[y : top + high + rim, x : left + wide + rim, ::-1]
        scale = min(1.0, 2048 / max(cut.shape[:2]))
        working = np.ascontiguousarray(cv2.resize(cut, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
        _, features = fingerprint(working, 1 / scale, (), row["kind"] or "unknown", rules, origin=(x, y))
        key = PartKey(f"{folder.name}/{row['scan']}", int(row["part"]))
        found.append(Known(key, features, families.get((row["scan"], row["part"]), ""), "", row["kind"]))
    return found


def shared_in(folder: Path) -> set[frozenset[PartKey]]:
    """Pairs that the truth calls a shared element."""
    return {
        frozenset(PartKey(f"{folder.name}/{r[f'scan_{s}']}", int(r[f"part_{s}"])) for s in "ab")
        for r in _rows(folder / "expected/matches.csv")
        if r["relation"] == "shared_element"
    }


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def truth_of(a: Known, b: Known, shared: set[frozenset[PartKey]]) -> str:
    if a.design and a.design == b.design:
        return "same"
    return "shared" if (a.layout and a.layout == b.layout) or frozenset((a.key, b.key)) in shared else "other"


def compare(known: list[Known], rules: MatchRules, shared: set[frozenset[PartKey]]) -> list[Pair]:
    """Every shortlisted pair, and every true pair that the shortlist missed, measured."""
    index = CandidateIndex(((k.key, k.features) for k in known), limits_of(rules))
    at = {k.key: n for n, k in enumerate(known)}
    hints: dict[tuple[int, int], set[Variant]] = {}
    for n, one in enumerate(known):
        for candidate in index.query(one.features, rules.candidates.top, one.key):
            m = at[candidate.key]
            hints.setdefault((min(n, m), max(n, m)), set()).add(candidate.variant)
    listed = set(hints)
    for n, m in itertools.combinations(range(len(known)), 2):
        if truth_of(known[n], known[m], shared) == "same":
            hints.setdefault((n, m), set(VARIANTS))
    return [
        _measured(known[n], known[m], variants, (n, m) in listed, rules, shared)
        for (n, m), variants in sorted(hints.items())
    ]


def _measured(
    a: Known, b: Known, variants: set[Variant], listed: bool, rules: MatchRules, shared: set[frozenset[PartKey]]
) -> Pair:
    found = [pair(a.features, b.features, v, rules.pairing) for v in VARIANTS if v in variants]
    best = max((f for f in found if f), key=lambda f: (len(f.indices), -f.residual_px), default=None)
    truth = truth_of(a, b, shared)
    if best is None or len(best.indices) < rules.least_places:
        return Pair(a, b, truth, listed, None, None)
    seen = agree(a.features, b.features, best.transform, polarity_flip=best.variant.polarity_flip)
    return Pair(a, b, truth, listed, measure_pair(a.features, best, seen, rules), best.variant)
