"""Does looking at a glance, and closer, win over keypoints alone? Both on one archive never tuned on, in one run.

    python -m tests.bench.beyond --work FOLDER [--side report] [--seed 11]

Prints, for each kind of pair, recall at the probability at which all pairs are .995 right, candidates, pairs of a
common layout joined, ``find``, and what the two cost.
"""

import argparse
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from intake.config.match import MatchRules
from intake.imaging.candidates import Candidate, CandidateIndex, post
from intake.imaging.learned.glance import likest
from intake.kin import Match
from intake.model import PartKey
from intake.services.find import looks_at, search
from tests.bench.archive import SIZES, View, made, shown, truth_of
from tests.bench.figures import wilson
from tests.bench.pairs import (
    Archive,
    Job,
    described,
    fingerprint_rules,
    jobs_of,
    key_of,
    limits_of,
    match_rules,
    number_of,
    proposed,
    shortlists,
    verified,
)

Pairs = dict[tuple[int, int], Match | None]
_shared: dict[str, object] = {}


def keypoints_alone(rules: MatchRules) -> MatchRules:
    """The same without a glance and without a closer look."""
    return rules.model_copy(
        update={
            "candidates": rules.candidates.model_copy(update={"glanced": 0}),
            "closer": rules.closer.model_copy(update={"below": 0.0}),
        }
    )


def sure(match: Match | None) -> float:
    return match.probability if match is not None and match.relation != "shared_element" else 0.0


def kind_of(a: View, b: View) -> str:
    return " / ".join(sorted((a.sort, b.sort)))


def least_for(views: list[View], pairs: Pairs, precision: float) -> float:
    """The lowest probability at which so many of all pairs said are of one design."""
    ranked = sorted(((sure(m), truth_of(views[a], views[b]) == "same") for (a, b), m in pairs.items()), reverse=True)
    ranked = [r for r in ranked if r[0] > 0]
    right = np.cumsum([t for _, t in ranked])
    at = np.flatnonzero(right / np.arange(1, len(right) + 1) >= precision)
    return ranked[at[-1]][0] if len(at) else 1.0


def main() -> None:
    """Make, measure both, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--side", choices=SIZES, default="report")
    ask.add_argument("--seed", type=int, default=11)
    told = ask.parse_args()
    views, folder = made(told.work, told.side, told.seed, *SIZES[told.side])
    archive = described(views, folder)
    print(f"{len(archive.held)} scans held, {len(views) - len(archive.held)} asked for:", shown(views))
    print(f"fingerprint, with the glance: {archive.cpu_s:.3f} CPU-s a scan", flush=True)
    both = {"keypoints alone": keypoints_alone(match_rules()), "with glance and closer look": match_rules()}
    found: dict[str, Pairs] = {}
    compared: set[Job] = set()
    for name, rules in both.items():
        lists, query_s = shortlists(archive, rules)
        _candidates(name, views, lists)
        jobs = jobs_of(proposed(lists, range(len(views))))
        before = found.get("keypoints alone", {})
        # What keypoints decide, and what looks unlike at a glance, is compared alike by both: it is not done twice.
        anew = [j for j in jobs if j not in compared or _is_open(archive, j, before.get(j[:2]), rules)]
        matches, cost = verified(archive, anew, rules)
        found[name] = {j[:2]: before[j[:2]] for j in jobs if j in compared} | {(a, b): m for a, b, m in matches}
        compared = set(jobs)
        print(
            f"{name}: {len(jobs)} pairs, {len(anew)} of them compared here at {cost:.4f} CPU-s; query {query_s:.3f}",
            flush=True,
        )
    _by_kind(views, found)
    _find(archive, folder, both)


def _is_open(archive: Archive, job: Job, match: Match | None, rules: MatchRules) -> bool:
    """Would a pair that keypoints compared be looked at closer?"""
    alike = likest(archive.features[job[0]].glances, archive.features[job[1]].glances)
    return sure(match) < rules.closer.below and alike is not None and alike[0] >= rules.closer.glance


def _candidates(name: str, views: list[View], lists: list[list[Candidate]]) -> None:
    held = [n for n in range(len(views)) if not views[n].asked]
    hits = of = 0
    for a in held:
        named = {number_of(c.key) for c in lists[a]}
        mates = [b for b in held if b != a and truth_of(views[a], views[b]) == "same"]
        hits, of = hits + len(named & set(mates)), of + len(mates)
    print(f"{name}: true mates named", wilson(hits, of))


def _by_kind(views: list[View], found: dict[str, Pairs]) -> None:
    least = {name: least_for(views, pairs, 0.995) for name, pairs in found.items()}
    true: Counter[str] = Counter()
    got = {name: Counter[str]() for name in found}
    held = range(len(views))
    for b in held:
        for a in range(b):
            if truth_of(views[a], views[b]) == "same" and not (views[a].asked and views[b].asked):
                kind = kind_of(views[a], views[b])
                true[kind] += 1
                for name, pairs in found.items():
                    got[name][kind] += sure(pairs.get((a, b))) >= least[name]
    of = sum(true.values())
    for name, pairs in found.items():
        joined = sum(sure(m) >= 0.9 and truth_of(views[a], views[b]) == "shared" for (a, b), m in pairs.items())
        wrong = sum(sure(m) >= 0.9 and truth_of(views[a], views[b]) == "other" for (a, b), m in pairs.items())
        hits = sum(got[name].values())
        print(f"{name}: recall at precision .995 (p >= {least[name]:.3f})", wilson(hits, of), end=" ")
        print(f"joined at p >= .9: {joined} of a common layout, {wrong} strangers")
        said = [(sure(m), truth_of(views[a], views[b]) == "same") for (a, b), m in pairs.items() if m]
        print("  Brier of pairs with a match:", round(float(np.mean([(p - t) ** 2 for p, t in said])), 4), end="; ")
        for low, high in ((0.5, 0.8), (0.8, 0.9), (0.9, 0.95), (0.95, 0.99), (0.99, 1.01)):
            inside = [(p, t) for p, t in said if low <= p < high]
            if inside:
                print(
                    f"{np.mean([p for p, _ in inside]):.2f}: {np.mean([t for _, t in inside]):.2f} ({len(inside)})",
                    end="  ",
                )
        print()
    print("kind of pair (true pairs): recall with keypoints alone, with both; lost or won")
    before, after = got.values()
    for kind, count in sorted(true.items(), key=lambda k: before[k[0]] - k[1]):
        change = (after[kind] - before[kind]) / count
        print(f"  {kind} ({count}): {before[kind] / count:.3f} {after[kind] / count:.3f} {change:+.3f}")


def _find(archive: Archive, folder: Path, both: dict[str, MatchRules]) -> None:
    views = archive.views
    asked = [n for n, view in enumerate(views) if view.asked]
    postings = post((key_of(n), archive.features[n]) for n in archive.held)
    designs = {views[n].design for n in archive.held}
    for name, rules in both.items():
        _shared.update(archive=archive, folder=folder, rules=rules, index=CandidateIndex(postings, limits_of(rules)))
        with ProcessPoolExecutor(2, mp_context=get_context("fork")) as workers:
            made = dict(zip(asked, workers.map(_seek, asked, chunksize=4), strict=True))
        spent = [s for *_, s in made.values()]
        print(f"{name}: find {np.median(spent):.2f} CPU-s (median), {np.quantile(spent, 0.95):.2f} (95 %)")
        for sort in ("photo", "variant", "photo of a variant"):
            queries = [n for n in asked if views[n].sort == sort and views[n].design in designs]
            print(
                f"  {sort}, first answer right",
                wilson(sum(made[n][0] == views[n].design for n in queries), len(queries)),
            )
        strangers = [n for n in asked if views[n].design not in designs]
        print(
            "  belong to nothing, answered with p >= .9",
            wilson(sum(made[n][1] >= 0.9 for n in strangers), len(strangers)),
        )


def _seek(number: int) -> tuple[str, float, float]:
    archive, folder, rules, index = (_shared[k] for k in ("archive", "folder", "rules", "index"))
    assert isinstance(archive, Archive) and isinstance(folder, Path)
    assert isinstance(rules, MatchRules) and isinstance(index, CandidateIndex)
    picture = np.ascontiguousarray(cv2.imread(str(folder / f"{archive.views[number].name}.png"))[..., ::-1])
    started = time.process_time()
    looks = looks_at(picture, 1.0, fingerprint_rules(), rules.asked)
    answers = search(PartKey("query", 1), looks, index, lambda key: archive.features[number_of(key)], rules)
    spent = time.process_time() - started
    best = max(((sure(m), m.weight, number_of(key)) for key, m in answers if sure(m)), default=(0.0, 0.0, -1))
    return (archive.views[best[2]].design if best[2] >= 0 else ""), best[0], spent


if __name__ == "__main__":
    main()
