"""Shares with their uncertainty."""

import math


def wilson(hits: int, of: int) -> str:
    """A share with its 95 % interval (Wilson 1927)."""
    if not of:
        return "none"
    z, p = 1.96, hits / of
    middle = (p + z * z / (2 * of)) / (1 + z * z / of)
    half = z * math.sqrt(p * (1 - p) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return f"{p:.4f} [{max(0.0, middle - half):.4f}, {min(1.0, middle + half):.4f}] ({hits} of {of})"
