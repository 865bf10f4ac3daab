"""How well differences between two pictures are told: ``python -m tests.bench.differences --work DIR --first N --pairs
N``.

Makes pairs with known edits (tests/bench/different_pairs.py), a third of them truly equal, and prints what was found,
how well scaling was measured, how many regions are false, and CPU time. ``--fit`` prints the weights of certainty for
config/differ.toml instead. Seeds from 300000 on were tuned on, seeds from 400000 on are reported.
"""

import argparse
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.differ import DifferRules
from intake.config.load import load_config
from intake.kin import Difference, Differences
from intake.model import Box, PartKey
from intake.stages import differ as stage
from intake.stages.differ import Lettering, Side, differ
from tests.bench.different_pairs import Corners, MadePair, Planted, Shot, make_pair
from tests.made import CONFIG

KINDS = ("covered", "pasted", "scaled", "moved", "redrawn", "lettering")
_FACTOR = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One pair: what was planted, what was told of it, the regions that nothing was planted under, and CPU seconds."""

    made: MadePair
    told: Differences
    false: tuple[Difference, ...]
    cpu_s: float

    def found(self, planted: Planted) -> Difference | None:
        """The region told at that place; one of its own kind before others."""
        hits = [d for d in self.told.regions if d.kind != "cropped" and _meets(d, planted)]
        return max(hits, key=lambda d: (d.kind == planted.kind, d.certainty), default=None)


def judge(made: MadePair, rules: DifferRules) -> Judged:
    """Look at a pair as the night does."""
    a, b = _side(made.a, made.lines_a, "a"), _side(made.b, made.lines_b, "b")
    started = time.process_time()
    told = differ(a, b, made.a_to_b, rules, polarity_flip=made.a.negative != made.b.negative)
    spent = time.process_time() - started
    there = (*made.planted, *made.partly)
    false = tuple(d for d in told.regions if d.kind != "cropped" and not any(_lies_in(d, p) for p in there))
    return Judged(made, told, false, spent)


def _side(shot: Shot, lines: Iterable[tuple[str, Corners]], name: str) -> Side:
    said = tuple(Lettering(text, ((x0, y0), (x1, y0), (x1, y1), (x0, y1))) for text, (x0, y0, x1, y1) in lines)
    return Side(PartKey(name, 1), shot.pixels, said)


def _meets(told: Difference, planted: Planted) -> bool:
    return any(
        box is not None
        and _share(_corners(box), there, least=True) > 0.5
        and _share(_corners(box), there, least=False) > 0.08
        for box, there in ((told.a, planted.box_a), (told.b, planted.box_b))
    )


def _lies_in(told: Difference, planted: Planted) -> bool:
    return any(
        box is not None and _share(_corners(box), there, least=True) > 0.3
        for box, there in ((told.a, planted.box_a), (told.b, planted.box_b))
    )


def _share(one: Corners, other: Corners, *, least: bool) -> float:
    """What both cover, as a share of the smaller one, or of what either covers."""
    wide, high = min(one[2], other[2]) - max(one[0], other[0]), min(one[3], other[3]) - max(one[1], other[1])
    both = max(0.0, wide) * max(0.0, high)
    areas = [(c[2] - c[0]) * (c[3] - c[1]) for c in (one, other)]
    return both / max(1e-6, min(areas) if least else sum(areas) - both)


def _corners(box: Box) -> Corners:
    return box.left, box.top, box.left + box.width, box.top + box.height


def table(judged: Sequence[Judged]) -> str:
    """The figures of the issue, one a line."""
    lines = []
    for kind in KINDS:
        of_kind = [(j, p) for j in judged for p in j.made.planted if p.kind == kind]
        if kind == "scaled":
            of_kind = [(j, p) for j, p in of_kind if abs(p.factor - 1) >= 0.075]
        found = [(p, j.found(p)) for j, p in of_kind]
        there = [(p, d) for p, d in found if d is not None]
        named = sum(d.kind == p.kind for p, d in there)
        lines.append(
            f"{kind:10} planted {len(of_kind):3}  found {_of(len(there), len(of_kind))}"
            f"  named so {_of(named, len(of_kind))}"
        )
        if kind == "scaled":
            near = sum(d.factor is not None and abs(d.factor / p.factor - 1) <= _FACTOR for p, d in there)
            lines.append(f"{'':10} factor within 2 % {_of(near, len(of_kind))}")
    for words, some in (
        ("equal", [j for j in judged if j.made.equal]),
        ("edited", [j for j in judged if not j.made.equal]),
    ):
        false = sum(len(j.false) for j in some)
        none = sum(bool(j.told.why_not) for j in some)
        lines.append(
            f"false regions per {words} pair {false / max(1, len(some)):.2f} ({false} of {len(some)} pairs)"
            f"; not compared {none}"
        )
    spent = [j.cpu_s for j in judged]
    lines.append(f"CPU-s a pair: median {np.median(spent):.2f}, most {max(spent):.2f}")
    return "\n".join(lines)


def _of(some: int, all_: int) -> str:
    return f"{some / max(1, all_):.3f} ({some}/{all_})"


def fit(samples: NDArray[np.float64], true: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Logistic regression by Newton's steps, a little ridge: (start, peak, mean, area, agreeing)."""
    design = np.column_stack([np.ones(len(samples)), samples])
    weights = np.zeros(design.shape[1])
    ridge = 0.05 * np.eye(len(weights))
    for _ in range(30):
        p = 1 / (1 + np.exp(-np.clip(design @ weights, -30, 30)))
        step = np.linalg.solve((design.T * (p * (1 - p))) @ design + ridge, design.T @ (true - p) - ridge @ weights)
        weights += step
    return weights


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--first", type=int, default=400_000)
    parser.add_argument("--pairs", type=int, default=60)
    parser.add_argument("--fit", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    rules = load_config(CONFIG).differ
    judged: list[Judged] = []
    measured: list[tuple[Difference, tuple[float, ...]]] = []
    if asked.fit:  # every region is told, whatever its certainty
        rules = rules.model_copy(update={"certainty": rules.certainty.model_copy(update={"shown": 0.0})})
        _keep_measures(measured)
    samples: list[tuple[float, ...]] = []
    true: list[bool] = []
    for seed in range(asked.first, asked.first + asked.pairs):
        measured.clear()
        one = judge(make_pair(seed, asked.work, equal=seed % 3 == 0), rules)
        judged.append(one)
        samples += [values for _, values in measured]
        true += [region not in one.false for region, _ in measured]
        if asked.verbose:
            _say(seed, one)
    if asked.fit:
        weights = fit(np.array(samples), np.array(true))
        print("start", weights[0].round(2), dict(zip(stage.MEASURES, weights[1:].round(2).tolist(), strict=True)))
    print(table(judged))


def _keep_measures(measured: list[tuple[Difference, tuple[float, ...]]]) -> None:
    told, certainty = stage._told, stage._certainty
    last: list[tuple[float, ...]] = []

    def weigh(ground: Any, region: Any, many: int, rules: Any) -> float:
        last[:] = [stage.measures(ground, region, many)]
        return certainty(ground, region, many, rules)

    def keep(ground: Any, region: Any, *rest: Any) -> Difference:
        made = told(ground, region, *rest)
        measured.append((made, last[0]))
        return made

    stage._told, stage._certainty = keep, weigh


def _say(seed: int, one: Judged) -> None:
    print(
        seed,
        one.made.a.view,
        one.made.b.view,
        "equal" if one.made.equal else "",
        one.told.why_not,
        f"{one.cpu_s:.2f} s",
    )
    for p in one.made.planted:
        d = one.found(p)
        print(
            "   planted",
            p.kind,
            p.name,
            f"{p.factor:.2f}",
            "->",
            f"{d.kind} {d.certainty:.2f} {d.factor}" if d else "NOT FOUND",
        )
    for d in one.false:
        print("   false", d.kind, f"{d.certainty:.2f}", d.words, d.a)


if __name__ == "__main__":
    main()
