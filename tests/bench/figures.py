"""Shares and exponents with their uncertainty."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def wilson(hits: int, of: int) -> str:
    """A share with its 95 % interval (Wilson 1927)."""
    if not of:
        return "none"
    z, p = 1.96, hits / of
    middle = (p + z * z / (2 * of)) / (1 + z * z / of)
    half = z * math.sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return f"{p:.4f} [{max(0.0, middle - half):.4f}, {min(1.0, middle + half):.4f}] ({hits} of {of})"


def exponent(sizes: Sequence[int], costs: Sequence[NDArray[np.float64]]) -> str:
    """The slope of log mean cost over log size, with its 95 % bootstrap interval (Efron 1979) over what was sampled."""
    rng = np.random.default_rng(0)
    logs = np.log(sizes)

    def slope(means: list[float]) -> float:
        return float(np.polyfit(logs, np.log(means), 1)[0])

    again = [slope([float(rng.choice(c, len(c)).mean()) for c in costs]) for _ in range(2000)]
    low, high = np.percentile(again, (2.5, 97.5))
    return f"{slope([float(c.mean()) for c in costs]):.3f} [{low:.3f}, {high:.3f}]"
