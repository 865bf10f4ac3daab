"""Make intake/imaging/vocabulary.npy: ``python -m tests.bench.make_vocabulary`` (about two minutes; the seed is fixed).

The pictures are falling leaves: shapes of all sizes laid over each other, shaded and grained. Such pictures have the
edge statistics of photographs and paintings, so typical descriptor halves can be learned from them without any picture
of ours.
"""

import tomllib
from pathlib import Path

import cv2
import numpy as np

from intake.config.fingerprint import FingerprintRules
from intake.imaging.keypoints import describe
from intake.imaging.permute import VARIANTS, permute_descriptors
from intake.imaging.words import VOCABULARY

PICTURES = 120
SEED = 5


def falling_leaves(rng: np.random.Generator) -> np.ndarray:
    """One picture, (640, 480, 3) uint8."""
    picture = np.full((640, 480, 3), 128, np.uint8)
    for radius in np.sort(np.minimum(8 * rng.pareto(1.6, 900) + 3, 200))[::-1]:
        centre = rng.uniform(0, 1, 2) * (480, 640)
        corners = int(rng.integers(3, 12))
        angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
        reach = radius * rng.uniform(0.4, 1, corners)
        outline = centre + np.column_stack([np.cos(angles), np.sin(angles)]) * reach[:, None]
        colour = tuple(int(v) for v in rng.integers(0, 256, 3))
        if rng.random() < 0.3:
            end = outline[0]
            cv2.line(picture, tuple(centre.astype(int)), tuple(end.astype(int)), colour, int(rng.integers(1, 5)))
        else:
            cv2.fillPoly(picture, [outline.astype(np.int32)], colour, cv2.LINE_AA)
    shade = cv2.resize(rng.normal(0, 30, (8, 6, 1)).astype(np.float32), (480, 640), interpolation=cv2.INTER_CUBIC)
    grain = cv2.GaussianBlur(rng.normal(0, 18, (640, 480)).astype(np.float32), (0, 0), 1.0)
    soft = cv2.GaussianBlur(picture, (0, 0), float(rng.uniform(0.6, 2.0)))
    return np.clip(soft + (shade + grain)[..., None], 0, 255).astype(np.uint8)


def main() -> None:
    """Describe the pictures in all four variants and find 256 typical first and second halves."""
    rules = FingerprintRules.model_validate(tomllib.loads(Path("config/fingerprint.toml").read_text("utf-8")))
    rng = np.random.default_rng(SEED)
    found = []
    for number in range(PICTURES):
        grey = cv2.cvtColor(falling_leaves(rng), cv2.COLOR_RGB2GRAY)
        found.append(permute_descriptors(describe(grey, rules)[1], VARIANTS[number % 4]))
    descriptors = np.concatenate(found).astype(np.float32)
    cv2.setRNGSeed(SEED)
    stop = (cv2.TERM_CRITERIA_MAX_ITER, 40, 0)
    halves = [
        cv2.kmeans(np.ascontiguousarray(h), 256, None, stop, 1, cv2.KMEANS_PP_CENTERS)[2]
        for h in (descriptors[:, :64], descriptors[:, 64:])
    ]
    np.save(VOCABULARY, np.rint(halves).astype(np.uint8))
    print(f"{len(descriptors)} descriptors -> {VOCABULARY}")


if __name__ == "__main__":
    main()
