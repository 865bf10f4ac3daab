"""What grouping costs as an archive grows: families of about six, each pair matched or missed as in the benches."""

import time

import numpy as np

from intake.kin import Match
from intake.model import Evidence, PartKey
from intake.stages.group import group
from tests.bench.figures import exponent
from tests.bench.rules import group_rules

_TIMES = 3
_IDENTITY = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)


def report(sizes: list[int]) -> None:
    """Print CPU seconds for each number of parts, and the exponent."""
    taken = []
    for size in sizes:
        spent = []
        for seed in range(_TIMES):
            keys, matches = drawn(size, seed)
            started = time.process_time()
            found = group(keys, matches, (), (), group_rules())
            spent.append(time.process_time() - started)
        taken.append(np.array(spent))
        print(
            f"grouping {size} parts, {len(matches)} matches, {len(found)} families found: median "
            f"{np.median(spent):.2f}, most {max(spent):.2f} CPU seconds of {_TIMES}",
            flush=True,
        )
    if len(sizes) > 2:
        print(f"grouping grows with parts to the power of {exponent(sizes, taken)}")


def drawn(size: int, seed: int) -> tuple[list[PartKey], list[Match]]:
    """Parts, and matches: nine true pairs in ten, one false pair to four parts, one shared element to two."""
    rng = np.random.default_rng([seed, size])
    keys = [PartKey(f"{n:06d}", 1) for n in rng.permutation(size)]
    matches: list[Match] = []
    start = 0
    while start < size:
        family = keys[start : start + 1 + int(rng.poisson(5))]
        start += len(family)
        for n, b in enumerate(family):
            matches += [
                _match(a, b, "same_design", float(rng.normal(4, 2.5))) for a in family[:n] if rng.random() < 0.9
            ]
    for _ in range(size // 4):
        a, b = (keys[n] for n in rng.choice(size, 2, replace=False))
        matches.append(_match(a, b, "same_design", float(rng.normal(-0.5, 1))))
    for _ in range(size // 2):
        a, b = (keys[n] for n in rng.choice(size, 2, replace=False))
        matches.append(_match(a, b, "shared_element", 1.0))
    return keys, matches


def _match(a: PartKey, b: PartKey, relation: str, weight: float) -> Match:
    weight = float(np.clip(weight, -1.4, 6.0))
    probability = 1 / (1 + np.exp(-weight))
    a, b = (a, b) if a < b else (b, a)
    evidence = (Evidence("prior", "drawn", weight),)
    return Match(a, b, relation, probability, 40, 0.9, 0.9, False, False, 0.0, 1.0, _IDENTITY, evidence)
