"""What else a competent user could do, on the same archive: perceptual hashes, and plain ORB or SIFT with RANSAC.

Hashes by ``imagehash`` and ``pdqhash`` themselves, over 16 variants (four quarter turns, mirrored or not, inverted or
not), a pair called at the customary distances (10 of 64; 31 of 256, pdqhash's own advice). ORB and SIFT with OpenCV's
matchers, ratio .8 and USAC_MAGSAC, over four variants extracted anew, a pair called from 12 inliers. They are too slow
for all pairs: true pairs and strange pairs are drawn, the same for both.
"""

import random
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from tests.bench.archive import truth_of
from tests.bench.figures import wilson
from tests.bench.pairs import Archive, true_pairs

DRAWN = 150
LEAST_INLIERS = 12
LONG_PX = 640


def report(archive: Archive, folder: Path, rng: random.Random) -> None:
    """Print recall and precision of each."""
    paths = [folder / f"{view.name}.png" for view in archive.views]
    _hashes(archive, paths)
    true = rng.sample(true_pairs(archive), DRAWN)
    strange: list[tuple[int, int]] = []
    while len(strange) < DRAWN:
        a, b = sorted(rng.sample(archive.held, 2))
        if truth_of(archive.views[a], archive.views[b]) == "other":
            strange.append((a, b))
    for name in ("ORB", "SIFT"):
        with ProcessPoolExecutor(2) as workers:
            found = list(workers.map(_inliers, [(name, paths[a], paths[b]) for a, b in true + strange], chunksize=4))
        said = [n >= LEAST_INLIERS for n in found]
        print(
            f"{name} + OpenCV RANSAC, four variants: recall {wilson(sum(said[:DRAWN]), DRAWN)}, "
            f"strangers joined {wilson(sum(said[DRAWN:]), DRAWN)}"
        )


def variants16(picture: np.ndarray) -> list[np.ndarray]:
    """A picture turned by quarters, mirrored and inverted: (h, w, 3) each."""
    turned = [np.ascontiguousarray(np.rot90(picture, k)) for k in range(4)]
    both = [one for picture in turned for one in (picture, np.ascontiguousarray(picture[:, ::-1]))]
    return [one for picture in both for one in (picture, 255 - picture)]


def _hashes(archive: Archive, paths: list[Path]) -> None:
    try:
        import imagehash  # noqa: F401
        import pdqhash  # noqa: F401
    except ImportError:
        print("imagehash and pdqhash are not installed: the hashing baselines are left out")
        return
    held, true = archive.held, set(true_pairs(archive))
    for name, hashed, bits, least in (("pHash (imagehash)", _phash, 64, 10), ("PDQ (pdqhash)", _pdq, 256, 31)):
        with ProcessPoolExecutor(2) as workers:
            made = np.array(list(workers.map(hashed, [paths[n] for n in held], chunksize=16)))
        own = made[:, 0].astype(np.float32) * 2 - 1
        near = np.zeros((len(held), len(held)), bool)
        for variant in range(16):
            near |= (bits - (made[:, variant].astype(np.float32) * 2 - 1) @ own.T) / 2 <= least
        near |= near.T
        said = {(held[i], held[j]) for i, j in zip(*np.nonzero(np.triu(near, 1)), strict=True)}
        right = len(said & true)
        print(
            f"{name}, 16 variants, distance <= {least}: "
            f"recall {wilson(right, len(true))}, precision {wilson(right, len(said))}"
        )


def _small(path: Path) -> np.ndarray:
    picture = cv2.imread(str(path))[..., ::-1]
    scale = LONG_PX / max(picture.shape[:2])
    return np.ascontiguousarray(cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))


def _phash(path: Path) -> list[np.ndarray]:
    import imagehash
    from PIL import Image

    return [imagehash.phash(Image.fromarray(one)).hash.ravel() for one in variants16(_small(path))]


def _pdq(path: Path) -> list[np.ndarray]:
    import pdqhash

    return [pdqhash.compute(one)[0] for one in variants16(_small(path))]


def _inliers(job: tuple[str, Path, Path]) -> int:
    name, a, b = job
    detector, norm = (cv2.ORB.create(1000), cv2.NORM_HAMMING) if name == "ORB" else (cv2.SIFT.create(600), cv2.NORM_L2)
    grey = [cv2.cvtColor(_small(path), cv2.COLOR_RGB2GRAY) for path in (a, b)]
    described = _described(detector.detectAndCompute, grey[1])
    best = 0
    for seen in (grey[0], 255 - grey[0], grey[0][:, ::-1].copy(), 255 - grey[0][:, ::-1]):
        best = max(best, _agreed(_described(detector.detectAndCompute, seen), described, norm))
    return best


def _described(detect: Callable[..., tuple], grey: np.ndarray) -> tuple[np.ndarray, np.ndarray | None]:
    points, found = detect(grey, None)
    return np.array([p.pt for p in points], np.float32).reshape(-1, 2), found


def _agreed(one: tuple[np.ndarray, np.ndarray | None], other: tuple[np.ndarray, np.ndarray | None], norm: int) -> int:
    if one[1] is None or other[1] is None or min(len(one[0]), len(other[0])) < 4:
        return 0
    pairs = cv2.BFMatcher(norm).knnMatch(one[1], other[1], 2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < 0.8 * p[1].distance]
    if len(good) < 4:
        return 0
    source, target = one[0][[m.queryIdx for m in good]], other[0][[m.trainIdx for m in good]]
    _, mask = cv2.findHomography(source, target, cv2.USAC_MAGSAC, 5.0)
    return 0 if mask is None else int(mask.sum())
