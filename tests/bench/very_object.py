"""Is it ever said that this very painting was photographed, where it was not?

``python -m tests.bench.very_object --pairs 100``.

A painting and film: of itself; of itself before it was repainted (its signature painted out, an element painted out,
redrawn, or gone over with the same colours, in turn); of the version that was used, where this one was not (painted
anew, or by turns with the very strokes of the other, as if its figures were cut out and mounted); of the original,
where this is a replica or a copy after the poster by another hand; and, beyond what can be told, a print of the film,
mounted as a painting. Each lies on a board of its own (tests/bench/surfaces.py), only the repainted one on the first's.
Printed are the verdicts of the stage. Seeds below 400000 were tuned on, those from 410000 on are reported.
"""

import argparse
import time
from collections import Counter
from dataclasses import astuple, replace
from functools import lru_cache

import cv2
import numpy as np

from intake.kin import Differences, Surface
from intake.model import PartKey, Screened
from intake.services.surfaces import surface_of
from intake.stages.differ import Side, differ
from intake.stages.very_object import VeryObject, very_object
from sample_batch.art.design import GENRES, Edits, Painting, elements, paint
from tests.bench.different_pairs import _GROUND, Floats, Picture, Shot, _as_matched, _shot
from tests.bench.surfaces import aged, dusty, on_board, repainted
from tests.made import SETTINGS

KINDS = ("itself", "repainted since", "unused version", "replica", "copy after the poster", "print of the film")
REPAINTED = ("signature painted out", "element painted out", "element redrawn", "element gone over")
_SIZE = (1050, 1500)
_SEEN = 0.0003  # of the picture: an edit that changes less is hidden by what stands before it: another is made
_FILMS = ("negative", "mono negative", "transparency")
_BOARDS = 7_000_000
_NO_SCREEN = Screened("continuous", None, 200.0, ())


def _painted(seed: int, edits: Edits) -> Painting:
    return paint(seed, GENRES[seed % len(GENRES)], *_SIZE, edits)


@lru_cache(maxsize=2)
def _first(seed: int) -> Painting:
    return _painted(seed, Edits())


@lru_cache(maxsize=2)
def _then(seed: int) -> Picture:
    """The painting on its board, as it was photographed."""
    return on_board(_first(seed).pixels, seed)


def _edits(seed: int, what: str, rng: np.random.Generator) -> Edits:
    drawn = [n for n in elements(seed, GENRES[seed % len(GENRES)], _SIZE[0] / _SIZE[1]) if n not in _GROUND]
    names = [str(n) for n in rng.permutation(drawn)]
    another = Edits(scale=((names[0], 1.12),), move=((names[1], 0.03, 0.02),), board=3)
    return {
        "signature painted out": Edits(covered=("signature",)),
        "element painted out": Edits(covered=(names[0],)),
        "element redrawn": Edits(redraw=(names[0],)),
        "element gone over": Edits(brush=5),
        "unused version, its strokes": another,
        "unused version, painted anew": replace(another, brush=3),
        "replica": Edits(brush=1, board=1),
        "copy after the poster": Edits(brush=2, palette=1, board=2),
    }[what]


def _changed(seed: int, what: str, rng: np.random.Generator) -> Picture:
    """The design as painted now, edited so that it is seen."""
    first = _first(seed).pixels
    made = first
    for _ in range(6):
        made = _painted(seed, _edits(seed, what, rng)).pixels
        if what == "element gone over":
            boxes = _first(seed).boxes
            name = str(rng.choice(sorted(n for n in boxes if n not in _GROUND)))
            left, top, right, bottom = (int(v * s) for v, s in zip(boxes[name], _SIZE * 2, strict=True))
            over = made[top:bottom, left:right]
            made = first.copy()
            made[top:bottom, left:right] = over
        if (np.abs(made.astype(np.int16) - first).max(axis=2) > 30).mean() > _SEEN:
            break
    return made


def _now(seed: int, kind: str, rng: np.random.Generator) -> Picture:
    """The painting as it is now, before it is scanned."""
    then = _then(seed)
    if kind == "itself":
        return then
    if kind == "repainted since":
        return repainted(then, _first(seed).pixels, _changed(seed, REPAINTED[seed % len(REPAINTED)], rng))
    if kind == "print of the film":
        film = _shot(then, "transparency", rng)
        size = (then.shape[1], then.shape[0])
        flat = cv2.warpPerspective(dusty(film.pixels, rng), np.linalg.inv(film.matrix), size, flags=cv2.INTER_CUBIC)
        return np.asarray(np.clip(255 * (flat / 255.0) ** 0.65, 0, 255), np.uint8)
    what = {"unused version": f"unused version, {('its strokes', 'painted anew')[seed % 2]}"}.get(kind, kind)
    return on_board(_changed(seed, what, rng), seed + _BOARDS + KINDS.index(kind))


def make_pair(seed: int, kind: str) -> tuple[Shot, Shot, Floats]:
    """The scans of a painting and of film, and the homography as matching finds it."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    art = _shot(aged(_now(seed, kind, rng), rng), "plain", rng)
    film = _shot(_then(seed), str(rng.choice(_FILMS)), rng)
    return art, replace(film, pixels=dusty(film.pixels, rng)), _as_matched(art, film, rng)


def look(seed: int, kind: str) -> tuple[Surface | None, VeryObject | None, int, float]:
    """The brushwork of one pair, what is said, the regions of its report and the CPU seconds of the brushwork.

    Regions only ever speak against it: the report is told where the brushwork would say "supported", or of itself.
    """
    art, film, onto = make_pair(seed, kind)
    a, b = Side(PartKey("a", 1), art.pixels), Side(PartKey("b", 1), film.pixels)
    started = time.process_time()
    surface = surface_of(a, b, onto, SETTINGS.differ, SETTINGS.very_object, polarity_flip=film.negative)
    spent = time.process_time() - started
    report = Differences(a.key, b.key, (), surface=surface)
    said = very_object("artwork", "film_negative", report, SETTINGS.very_object, _NO_SCREEN)
    if kind == "itself" or (said and said.verdict == "supported"):
        told = differ(a, b, onto, SETTINGS.differ, polarity_flip=film.negative)
        report = replace(told, surface=None if told.why_not else surface)
        said = very_object("artwork", "film_negative", report, SETTINGS.very_object, _NO_SCREEN)
    return surface, said, sum(r.kind != "cropped" for r in report.regions), spent


def main() -> None:
    """Make, look, count."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--first", type=int, default=410_000)
    ask.add_argument("--pairs", type=int, default=6, help="of each kind")
    ask.add_argument("--kinds", nargs="+", default=KINDS)
    options = ask.parse_args()
    cv2.setNumThreads(1)
    counts = {kind: Counter[str]() for kind in options.kinds}
    cpu = []
    for seed in range(options.first, options.first + options.pairs):
        for kind in options.kinds:
            surface, said, regions, spent = look(seed, kind)
            verdict = said.verdict if said else "nothing"
            counts[kind][verdict] += 1
            cpu.append(spent)
            figures = [round(float(v), 2) for v in astuple(surface)[:6]] if surface else []
            print(seed, kind, verdict, *figures, f"{regions} regions", sep=", ", flush=True)
    for kind, count in counts.items():
        print(f"{kind:22} of {options.pairs}: {dict(count)}")
    print(f"CPU seconds of the brushwork: {np.mean(cpu):.2f} a pair")


if __name__ == "__main__":
    main()
