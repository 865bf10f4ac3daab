"""Measure matching on pictures and a seed never tuned on, beside what else one could use.

    python -m tests.bench.matching --work FOLDER [--seed 7] [--side report]

Downloads the picture packages with apt-get and pip into FOLDER, paints and makes an archive of about two thousand
scans (20 minutes the first time), and prints every figure with its interval. The hashing baselines need ``pip install
imagehash pdqhash``; without them they are left out and it says so.
"""

import argparse
import itertools
import random
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from intake.config.match import MatchRules
from intake.imaging.candidates import Candidate
from intake.imaging.permute import Variant
from intake.kin import Match
from intake.services.expansion import through_mates
from intake.stages.group import group
from tests.bench import asking, baselines
from tests.bench.archive import SIZES, View, made, shown, truth_of
from tests.bench.figures import wilson
from tests.bench.pairs import (
    Archive,
    Job,
    described,
    jobs_of,
    key_of,
    match_rules,
    number_of,
    proposed,
    shortlists,
    true_pairs,
    verified,
)
from tests.bench.rules import group_rules
from tests.scorer import b_cubed, pair_counts


def sure(match: Match | None, least: float = 0.5) -> bool:
    return match is not None and match.relation != "shared_element" and match.probability >= least


def main() -> None:
    """Make, measure, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--side", choices=SIZES, default="report")
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--no-baselines", action="store_true")
    told = ask.parse_args()
    views, folder = made(told.work, told.side, told.seed, *SIZES[told.side])
    archive = described(views, folder)
    held = archive.held
    print(f"{len(held)} scans held, {len(views) - len(held)} asked for:", shown(views))
    rules = match_rules()
    lists, query_s = shortlists(archive, rules)
    _candidates(archive, lists)
    hints = proposed(lists, held)
    matches, pair_s = verified(archive, jobs_of(hints), rules)
    more = through_mates([m for _, _, m in matches if m], set(_keys(hints)), rules.candidates.expanded)
    extra = [(number_of(a), number_of(b), (v,)) for (a, b), v in sorted(more.items(), key=lambda x: x[0])]
    added, _ = verified(archive, extra, rules)
    pairs = len(matches) + len(added)
    print(
        f"cost, CPU seconds a scan: fingerprint {archive.cpu_s:.3f}, query {query_s:.3f}, "
        f"{pairs / len(held):.1f} pairs {pair_s * pairs / len(held):.3f}; bytes {_bytes(archive):.0f} + 16 a keypoint"
    )
    _pairs(archive, matches + added)
    _beside_first_look(archive, matches + added, jobs_of(hints) + extra, rules)
    _families(archive, [m for _, _, m in matches + added if m])
    asking.report(archive, folder)
    if not told.no_baselines:
        baselines.report(archive, folder, random.Random(told.seed))


def _keys(hints: dict[tuple[int, int], set[Variant]]) -> list[tuple[object, object]]:
    return [(key_of(a), key_of(b)) for a, b in hints]


def _bytes(archive: Archive) -> float:
    return float(np.mean([len(f.to_bytes()) for f in archive.features[::10]]))


def _candidates(archive: Archive, lists: list[list[Candidate]]) -> None:
    named = [[number_of(c.key) for c in found] for found in lists]
    true = true_pairs(archive)
    for top in (10, 50):
        hits = sum((b in named[a][:top]) + (a in named[b][:top]) for a, b in true)
        print(f"true mates in the first {top}:", wilson(hits, 2 * len(true)))


def _pairs(archive: Archive, matches: list[tuple[int, int, Match | None]]) -> None:
    views = archive.views
    true = set(true_pairs(archive))
    ranked = sorted(
        ((m.probability if sure(m, 0) else -1.0, m.weight, (a, b) in true, a, b, m) for a, b, m in matches if m),
        key=lambda r: (-r[0], -r[1]),
    )
    sound = ranked[: _sound([r[2] for r in ranked])]
    print(f"pair recall at precision .995 (p >= {sound[-1][0]:.3f}):", wilson(sum(r[2] for r in sound), len(true)))
    for p in (0.5, 0.9, 0.95, 0.99):
        said = [r for r in ranked if r[0] >= p]
        good = sum(r[2] for r in said)
        print(f"  p >= {p}: recall {good / len(true):.4f}, precision {wilson(good, len(said))}")
    held = archive.held
    shared = sum(truth_of(views[a], views[b]) == "shared" for i, b in enumerate(held) for a in held[:i])
    joined = sum(truth_of(views[r[3]], views[r[4]]) == "shared" for r in ranked if r[0] >= 0.9)
    located = sum(
        truth_of(views[a], views[b]) == "shared" and m is not None and m.relation == "shared_element"
        for a, b, m in matches
    )
    print("different designs of one campaign joined at p >= .9:", wilson(joined, shared), "| told as shared:", located)
    errors = [(max(r[0], 0) - r[2]) ** 2 for r in ranked]
    unmatched = [float((a, b) in true) for a, b, m in matches if not m]
    print(
        f"Brier on all {len(matches)} compared pairs: {np.mean(errors + unmatched):.4f}; "
        f"on the {len(ranked)} with a match: {np.mean(errors):.4f}"
    )
    _reliability(ranked)
    flips = [r for r in ranked if r[2] and r[0] >= 0.9]
    told = [_variant_right(views[a], views[b], m) for *_, a, b, m in flips]
    known = [t for t in told if t is not None]
    print("mirror and polarity told right on verified matches:", wilson(sum(known), len(known)))
    _by_sort(views, true, {(a, b): m for a, b, m in matches})


def _reliability(ranked: list) -> None:
    lines = []
    for low, high in itertools.pairwise((0.0, 0.2, 0.5, 0.8, 0.9, 0.95, 0.99, 1.01)):
        inside = [r for r in ranked if low <= max(r[0], 0) < high]
        if inside:
            mean = float(np.mean([max(r[0], 0) for r in inside]))
            lines.append(f"{mean:.2f}: {np.mean([r[2] for r in inside]):.2f} ({len(inside)})")
    print("  said: right (pairs):", "  ".join(lines))


def _variant_right(a: View, b: View, match: Match) -> bool | None:
    """None where the views do not tell their own polarity."""
    if {a.sort, b.sort} & {"line film", "separation"}:
        return None
    return match.mirror == (a.mirrored != b.mirrored) and match.polarity_flip == (a.negative != b.negative)


def _by_sort(views: list[View], true: set[tuple[int, int]], matches: dict[tuple[int, int], Match | None]) -> None:
    counts: dict[tuple[str, str], list[int]] = {}
    missed = []
    for a, b in sorted(true):
        row = counts.setdefault(tuple(sorted((views[a].sort, views[b].sort))), [0, 0])
        row[0] += 1
        if sure(matches.get((a, b)), 0.9):
            row[1] += 1
        else:
            missed.append((a, b))
    print("kinds of pair that miss most at p >= .9 (true pairs, recall):")
    for sorts, (of, got) in sorted(counts.items(), key=lambda x: x[1][1] - x[1][0])[:12]:
        print(f"  {sorts[0]} / {sorts[1]}: {of}, {got / of:.2f}")
    for a, b in random.Random(1).sample(missed, min(10, len(missed))):
        match = matches.get((a, b))
        why = "not proposed" if (a, b) not in matches else "no geometry" if match is None else f"p {match.probability}"
        print(f"  missed: {views[a].name} {views[a].sort} / {views[b].name} {views[b].sort}: {why}")


def _beside_first_look(
    archive: Archive, matches: list[tuple[int, int, Match | None]], jobs: list[Job], rules: MatchRules
) -> None:
    """The same pairs by a first look alone: recall at precision .995, by kinds of pair."""
    alone = rules.model_copy(update={"second": rules.second.model_copy(update={"sure": rules.second.least})})
    first, pair_s = verified(archive, jobs, alone)
    print(f"a first look alone: {pair_s * len(jobs) / len(archive.held):.3f} CPU seconds a scan")
    true = set(true_pairs(archive))
    now, before = (_found_at(m, true) for m in (matches, first))
    print(f"  recall at precision .995: {wilson(len(before), len(true))}; now {wilson(len(now), len(true))}")
    _families(archive, [m for _, _, m in first if m])
    by_sort: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for a, b in sorted(true):
        by_sort.setdefault(tuple(sorted((archive.views[a].sort, archive.views[b].sort))), []).append((a, b))
    rows = {sorts: (sum(p in before for p in of), sum(p in now for p in of), len(of)) for sorts, of in by_sort.items()}
    for sorts, (had, has, of) in sorted(rows.items(), key=lambda x: x[1][0] - x[1][1]):
        if had != has:
            print(f"  {sorts[0]} / {sorts[1]}: {of} pairs, {had / of:.3f} to {has / of:.3f}")


def _found_at(matches: list[tuple[int, int, Match | None]], true: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """The true pairs found where precision is still .995, the surest first."""
    ranked = sorted(
        ((m.probability, m.weight, (a, b)) for a, b, m in matches if m and sure(m, 0)), key=lambda r: (-r[0], -r[1])
    )
    return {pair for *_, pair in ranked[: _sound([pair in true for *_, pair in ranked])] if pair in true}


def _sound(right: list[bool]) -> int:
    """How many of those ranked may be taken before precision falls below .995 for good."""
    shares = np.cumsum(right) / np.arange(1, len(right) + 1)
    return int(np.flatnonzero(shares >= 0.995)[-1]) + 1


def _families(archive: Archive, matches: list[Match]) -> None:
    keys = [key_of(n) for n in archive.held]
    design = {key_of(n): archive.views[n].design for n in archive.held}
    truth = [[k for k in keys if design[k] == name] for name in sorted(set(design.values()))]

    def scores(used: list[Match]) -> tuple[float, float, float]:
        found = group(keys, used, [], [], group_rules())
        alone = sorted(set(keys) - {k for family in found for k in family})
        answer = [*found, *([k] for k in alone)]
        right, joined, apart, _ = pair_counts(truth, answer)
        return *b_cubed(truth, answer), 2 * right / (2 * right + joined + apart)

    for family in group(keys, matches, [], [], group_rules()):
        views = [archive.views[number_of(k)] for k in family]
        if len({v.design for v in views}) > 1:
            print(
                "  joined:", ", ".join(f"{v.name} {v.sort} ({v.art.name[-22:] if v.art else ''})" for v in views)[:300]
            )
    precision, recall, f1 = scores(matches)
    print(f"families: B-cubed precision {precision:.4f}, recall {recall:.4f}; pair F1 {f1:.4f}")
    rng = random.Random(5)
    links = [m for m in matches if sure(m)]
    false: list[Match] = []
    while len(false) < len(links) // 20:
        a, b = sorted(rng.sample(keys, 2))
        if design[a] != design[b]:
            false.append(replace(rng.choice(links), a=a, b=b))
    print(f"the same with {len(false)} false links injected: pair F1 {scores([*matches, *false])[2]:.4f}")


if __name__ == "__main__":
    started = time.time()
    main()
    print(f"{time.time() - started:.0f} s")
