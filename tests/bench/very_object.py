"""May fine structure support that this very painting was photographed? ``python -m tests.bench.very_object --pairs 6``.

A painting and film: of itself; of itself before it was repainted (a signature painted out, an element redrawn or
painted out); of the version that was used, where this one was not; of the original, where this is a replica or a copy
after the poster by another hand. The rule that is tried: nine places in ten (or all but one in a hundred) of what is
drawn finely correlate. It is judged by what must be 0: those that are not the object as it was photographed and pass.
"""

import argparse
from collections import defaultdict

import numpy as np

from intake.imaging.fine import fine_alike
from intake.imaging.overlay import lay
from intake.imaging.untold import set_side_by_side
from sample_batch.art.design import GENRES, Edits, elements, paint
from tests.bench.different_pairs import _GROUND, _as_matched, _shot
from tests.made import SETTINGS

KINDS = ("itself", "signature painted out", "element painted out", "element redrawn", "unused version", "replica",
         "copy after the poster")  # fmt: skip
RULES = {"nine in ten above .75": (0.1, 0.75), "99 in a hundred above .5": (0.01, 0.5)}


def look(seed: int, kind: str) -> np.ndarray | None:  # type: ignore[type-arg]
    """The correlations of one pair; None where the two cannot be laid over one another."""
    rng = np.random.default_rng(seed)
    genre = GENRES[seed % len(GENRES)]
    names = [str(n) for n in rng.permutation([n for n in elements(seed, genre, 0.7) if n not in _GROUND])]
    edits = {
        "itself": Edits(),
        "signature painted out": Edits(covered=("signature",)),
        "element painted out": Edits(covered=(names[0],)),
        "element redrawn": Edits(redraw=(names[0],)),
        "unused version": Edits(scale=((names[0], 1.12),), move=((names[1], 0.03, 0.02),)),
        "replica": Edits(brush=1),
        "copy after the poster": Edits(brush=2, palette=1),
    }[kind]
    filmed = paint(seed, genre, 1050, 1500).pixels
    now = paint(seed, genre, 1050, 1500, edits).pixels
    a = _shot(now, "plain", rng)
    b = _shot(filmed, str(rng.choice(["negative", "mono negative", "transparency"])), rng)
    over = lay(a.pixels, b.pixels, _as_matched(a, b, rng), SETTINGS.differ.frame_px)
    ground = set_side_by_side(over, SETTINGS.differ, polarity_flip=b.negative) if over else None
    return fine_alike(ground.over, polarity_flip=b.negative) if ground else None


def main() -> None:
    """Make, look, count."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--first", type=int, default=400_000)
    ask.add_argument("--pairs", type=int, default=6, help="of each kind")
    options = ask.parse_args()
    passed: dict[tuple[str, str], int] = defaultdict(int)
    for kind in KINDS:
        for seed in range(options.first, options.first + options.pairs):
            told = look(seed, kind)
            for name, (share, least) in RULES.items():
                passed[kind, name] += told is not None and len(told) > 20 and float(np.quantile(told, share)) >= least
        print(f"{kind:22}", {name: f"{passed[kind, name]} of {options.pairs}" for name in RULES}, flush=True)


if __name__ == "__main__":
    main()
