"""Is anything that the networks learnt on among what they are judged by? By digest, by hash, and by verified match.

    python -m tests.bench.train.leak --work FOLDER --art DIR [--designs 700]

Compares every picture taught with the whole reporting side of the matching bench; prints what is nearest.
"""

import argparse
import hashlib
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.imaging.candidates import CandidateIndex, post
from intake.imaging.features import Features
from intake.stages.fingerprint import fingerprint
from intake.stages.match import verify
from tests.bench.archive import SIZES
from tests.bench.pairs import fingerprint_rules, key_of, limits_of, match_rules, number_of
from tests.bench.pictures import gather
from tests.bench.train.art import Pool, is_taught, load

Picture = NDArray[np.uint8]


def near_hashes(taught: list[Picture], judged: list[Picture]) -> tuple[int, int, int]:
    """The pair of pictures whose difference hashes (64 bits) differ least: by how many bits, and which two."""
    one, other = (np.stack([_hash(p) for p in pictures]) for pictures in (taught, judged))
    apart = (one[:, None] != other[None]).sum(axis=2)
    a, b = np.unravel_index(apart.argmin(), apart.shape)
    return int(apart[a, b]), int(a), int(b)


def _hash(picture: Picture) -> NDArray[np.bool_]:
    grey = cv2.resize(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), (9, 8), interpolation=cv2.INTER_AREA)
    told: NDArray[np.bool_] = (grey[:, 1:] > grey[:, :-1]).ravel()
    return told


def taught_pictures(pool: Pool) -> list[Picture]:
    """The first version of every design, at its own aspect."""
    made = []
    for pixels, aspect in zip(pool.pixels, pool.aspect, strict=True):
        size = (round(384 * float(aspect)), 384) if aspect <= 1 else (384, round(384 / float(aspect)))
        made.append(np.asarray(cv2.resize(pixels[0], size, interpolation=cv2.INTER_AREA), np.uint8))
    return made


def verified_matches(taught: list[Picture], judged: list[Picture], least: float) -> list[tuple[float, int, int]]:
    """(probability, taught, judged) of pairs that matching itself takes for one design."""
    rules = match_rules()
    held = [_seen(p) for p in judged]
    index = CandidateIndex(post((key_of(n), f) for n, f in enumerate(held)), limits_of(rules))
    found = []
    for n, picture in enumerate(taught):
        features, key = _seen(picture), key_of(900_000 + n)
        for candidate in index.query(features, 10):
            m = number_of(candidate.key)
            match = verify(key, features, candidate.key, held[m], [candidate.variant], rules)
            if match and match.relation != "shared_element" and match.probability >= least:
                found.append((match.probability, n, m))
    return sorted(found, reverse=True)


def _seen(picture: Picture) -> Features:
    return fingerprint(picture, 1.0, (), "unknown", fingerprint_rules())[1]


def main() -> None:
    """Compare as the command line says."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--art", type=Path, required=True)
    ask.add_argument("--designs", type=int, default=700)
    told = ask.parse_args()
    arts = gather(told.work, "report", SIZES["report"][3])
    tiles = [p for p in sorted((told.work / "pool").glob("tune-*")) if is_taught(p.name)]
    digests = {hashlib.sha256(a.path.read_bytes()).hexdigest() for a in arts}
    same = [p for p in tiles if hashlib.sha256(p.read_bytes()).hexdigest() in digests]
    print(len(arts), "pictures judged by;", len(same), "of", len(tiles), "tiles taught have the digest of one")
    taught = taught_pictures(load(told.art, told.designs, tiles, 2))
    judged = [np.ascontiguousarray(cv2.imread(str(a.path))[..., ::-1]) for a in arts]
    bits, a, b = near_hashes(taught, judged)
    print(f"nearest difference hashes: {bits} of 64 bits apart (taught {a}, {arts[b].name})")
    matches = verified_matches(taught, judged, 0.9)
    print("verified matches at p >= .9:", [(p, n, arts[m].name) for p, n, m in matches] or "none")


if __name__ == "__main__":
    main()
