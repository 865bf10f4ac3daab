"""The index of all fingerprints: kept in the home, mapped from there, made anew from them when it is gone."""

import hashlib
import json
import shutil
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

from intake.config.match import CandidateRules
from intake.errors import HomeError
from intake.imaging.candidates import Candidate, CandidateIndex, Postings, SearchLimits, post, without
from intake.imaging.features import Features
from intake.model import PartKey, Stamps
from intake.services.home import Home, features_path

_FEATURES_KEPT = 1500


@lru_cache(maxsize=_FEATURES_KEPT)
def load_features(path: Path) -> Features:
    """The arrays of one fingerprint; kept for the next pair. Raises HomeError when the file is gone or damaged."""
    try:
        return Features.from_bytes(path.read_bytes())
    except (OSError, ValueError) as error:
        raise HomeError(f"{path}: {error}. The home folder was changed by others; restore it from a copy.") from error


def refresh_index(home: Home, keys: Collection[PartKey], seen: Collection[str], stamps: Stamps) -> Path:
    """The folder of the index of exactly ``keys``, made of the files ``seen`` (digests). Only what the last index lacks
    is read; older ones are removed.

    For the holder of the home alone.
    """
    stamp = stamps.stages["fingerprint"]
    digest = hashlib.sha256(json.dumps([sorted(keys), sorted(seen)]).encode()).hexdigest()[:16]
    folder = _folder(home) / f"{stamp}-{digest}"
    if not folder.exists():
        folder.parent.mkdir(exist_ok=True, mode=0o700)
        _postings(home, set(keys), stamp).save(folder, seen)
    for other in folder.parent.iterdir():
        if other != folder:
            shutil.rmtree(other, ignore_errors=True)
    return folder


def open_index(home: Home, stamps: Stamps, rules: CandidateRules) -> tuple[CandidateIndex, frozenset[str]] | None:
    """The index of the last run, and the digests of the files that it was made of; None before there is one."""
    for folder, postings in _kept(home, stamps.stages.get("fingerprint", "")):
        return index_over(postings, rules), frozenset(json.loads((folder / "seen.json").read_text("utf-8")))
    return None


def _folder(home: Home) -> Path:
    return home.folder / "index"


def _kept(home: Home, stamp: str) -> Iterator[tuple[Path, Postings]]:
    """Indexes under ``stamp`` that are whole; one that is not is made anew by the next run."""
    for folder in sorted(_folder(home).glob(f"{stamp}-{'[0-9a-f]' * 16}")):
        with suppress(OSError, ValueError):
            yield folder, Postings.load(folder)


def _postings(home: Home, wanted: set[PartKey], stamp: str) -> Postings:
    before = next((postings for _, postings in _kept(home, stamp)), None)
    known = set(before.keys) if before else set()
    if before and known - wanted:
        before = without(before, known - wanted)
    return post(((key, load_features(home.features(key, stamp))) for key in sorted(wanted - known)), before)


def index_over(postings: Postings, rules: CandidateRules) -> CandidateIndex:
    """The index as config/match.toml wants it asked."""
    return CandidateIndex(
        postings, SearchLimits(rules.words, rules.signs, rules.postings, rules.field_px, rules.sure, rules.rise)
    )


@lru_cache(maxsize=1)
def _mapped(folder: Path) -> Postings:
    return Postings.load(folder)


def ask_index(
    keys: Sequence[PartKey], folder: Path, home: Path, stamp: str, rules: CandidateRules
) -> list[tuple[PartKey, list[Candidate]]]:
    """The likeliest mates of each of ``keys``. Runs in a worker."""
    index = index_over(_mapped(folder), rules)
    asked = ((key, load_features(features_path(home, key, stamp))) for key in keys)
    return [(key, index.query(features, rules.top, leave_out=key)) for key, features in asked]
