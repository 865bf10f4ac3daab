"""How well an answer's clusters fit the true ones: B-cubed (Bagga & Baldwin 1998) and counts of pairs."""

from collections.abc import Hashable, Iterable
from itertools import combinations

Clusters = Iterable[Iterable[Hashable]]


def _homes(clusters: Clusters) -> dict[Hashable, frozenset[Hashable]]:
    return {item: frozenset(cluster) for cluster in map(frozenset, clusters) for item in cluster}


def b_cubed(truth: Clusters, answer: Clusters) -> tuple[float, float]:
    """Precision and recall, each item counting the same. Both must hold the same items."""
    true, said = _homes(truth), _homes(answer)
    if true.keys() != said.keys():
        raise ValueError("truth and answer must hold the same items")
    hits = {item: len(true[item] & said[item]) for item in true}
    precision = sum(hits[i] / len(said[i]) for i in true) / len(true)
    recall = sum(hits[i] / len(true[i]) for i in true) / len(true)
    return precision, recall


def pair_counts(truth: Clusters, answer: Clusters) -> tuple[int, int, int, int]:
    """Pairs rightly joined, wrongly joined, wrongly left apart, rightly left apart."""
    true, said = _homes(truth), _homes(answer)
    told = [(b in true[a], b in said[a]) for a, b in combinations(sorted(true, key=str), 2)]
    return told.count((True, True)), told.count((False, True)), told.count((True, False)), told.count((False, False))
