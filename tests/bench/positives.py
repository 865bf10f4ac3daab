"""Measure positives of negatives against the known art, beside plain inversion and auto-levels inversion.

    python -m tests.bench.positives [--seeds 500 100] [--pictures FOLDER]

``--seeds`` is the first one and how many. Each positive is carried back to the art by the known geometry. CIEDE2000 and
SSIM are scikit-image's. Auto-levels stretches each inverted channel between its 0.5th and 99.5th percentile within the
true frame of the exposure, which it is told and our positive is not.
"""

import argparse
import time
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab
from skimage.metrics import structural_similarity

from intake.config.render import RenderRules
from intake.imaging.page import Page
from intake.model import Box, PartKey
from intake.stages.render import positive
from tests.bench.positive_films import Negative, negative
from tests.made import CONFIG, section

RULES = section(RenderRules, CONFIG / "render.toml")
Picture = NDArray[np.uint8]
RIM_PX = 6


def main() -> None:
    """Paint, turn into positives in three ways, compare."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seeds", type=int, nargs=2, default=(500, 100))
    ask.add_argument("--pictures", type=Path)
    told = ask.parse_args()
    away: dict[tuple[str, str], list[float]] = defaultdict(list)
    alike: dict[tuple[str, str], list[float]] = defaultdict(list)
    spent = 0.0
    for seed in range(told.seeds[0], told.seeds[0] + told.seeds[1]):
        film = negative(seed)
        shown = []
        for name, way in WAYS.items():
            started = time.process_time()
            made = way(film)
            spent += time.process_time() - started if way is ours else 0
            seen = to_art(made, film)
            shown.append(seen)
            differs, same = compare(seen, film.art)
            for sort in ("all", film.sort):
                away[sort, name].append(differs)
                alike[sort, name].append(same)
        if told.pictures:
            told.pictures.mkdir(parents=True, exist_ok=True)
            row = np.hstack([np.uint8(film.art * 255), *shown])
            cv2.imwrite(str(told.pictures / f"{seed}-{film.sort}.png"), row[..., ::-1])
    for sort in ("all", "colour", "mono", "line"):
        for name in WAYS:
            values = away[sort, name]
            if values:
                quarter, middle, most = np.percentile(values, (25, 50, 90))
                print(
                    f"{sort:7s} {name:12s} CIEDE2000 median {middle:5.2f} (quarter {quarter:5.2f}, nine tenths "
                    f"{most:5.2f}), SSIM median {np.median(alike[sort, name]):.3f}, {len(values)} negatives"
                )
        if away[sort, "ours"]:
            share = np.median(away[sort, "ours"]) / np.median(away[sort, "auto-levels"])
            print(f"{sort:7s} ours / auto-levels: {share:.2f}")
    print(f"CPU seconds a positive: {spent / told.seeds[1]:.3f}")


def page_of(film: Negative) -> Page:
    """The scan as a stage has it."""
    eight = film.scan if film.scan.dtype == np.uint8 else np.uint8((film.scan.astype(np.uint32) + 128) // 257)
    whole = Box(0, 0, *eight.shape[1::-1])

    def read(box: Box, longest_px: int | None) -> Picture:
        crop = eight[box.top : box.top + box.height, box.left : box.left + box.width]
        return crop if longest_px is None else cv2.resize(crop, (longest_px, longest_px))

    deep = film.scan if film.scan.dtype == np.uint16 else None
    return Page(PartKey("0" * 64, 1), whole, np.asarray(eight, np.uint8), deep, 1.0, whole, read)


def ours(film: Negative) -> Picture:
    """The product's positive."""
    return positive(page_of(film), RULES)


def plain(film: Negative) -> Picture:
    """Every code value turned over."""
    return np.asarray(255 - page_of(film).working, np.uint8)


def auto_levels(film: Negative) -> Picture:
    """Turned over, and each channel stretched over the frame."""
    turned = plain(film).astype(np.float32)
    left, top, right, bottom = film.frame
    low, high = np.percentile(turned[top:bottom, left:right], (0.5, 99.5), axis=(0, 1))
    return np.asarray(np.clip((turned - low) / np.maximum(high - low, 1) * 255, 0, 255), np.uint8)


WAYS: dict[str, Callable[[Negative], Picture]] = {"ours": ours, "auto-levels": auto_levels, "plain": plain}


def to_art(made: Picture, film: Negative) -> Picture:
    """``made`` in the place of the art."""
    high, wide = film.art.shape[:2]
    back = np.linalg.inv(film.into)[:2]
    return np.asarray(cv2.warpAffine(made, back, (wide, high), flags=cv2.INTER_LINEAR), np.uint8)


def compare(seen: Picture, art: NDArray[np.float32]) -> tuple[float, float]:
    """Return median CIEDE2000 over the pixels (Sharma, Wu, Dalal 2005; D65), and mean SSIM (Wang et al. 2004)."""
    inside = np.s_[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX]
    a, b = seen[inside] / np.float32(255), art[inside]
    away = deltaE_ciede2000(rgb2lab(a), rgb2lab(b))
    return float(np.median(away)), float(structural_similarity(a, b, channel_axis=2, data_range=1.0))


if __name__ == "__main__":
    main()
