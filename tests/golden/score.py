"""Exported tables beside the truth of a painted consignment, as figures and as a difference that a person can read.

`python -m tests.golden.score CONSIGNMENT_FOLDER EXPORT_FOLDER` prints both; EXPORT_FOLDER holds the exports as CSV.
"""

import csv
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

Part = tuple[str, int]
SCORED_MARKS = ("printer", "certificate", "release_code")
# Kinds that belong to a piece but show no design: they go where their piece goes.
NO_DESIGN = ("reverse", "document", "target")
UNSEEN = ("truncated", "unreadable", "empty_file")


@dataclass
class Score:
    """Counts (right, of) by name, and lines that say what is wrong."""

    counts: dict[str, tuple[int, int]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def share(self, name: str) -> float:
        """Right divided by all; 1 where there was nothing to be right about."""
        right, of = self.counts.get(name, (0, 0))
        return right / of if of else 1.0

    def count(self, name: str, right: bool, words: str) -> None:
        """Count one case, and say what is wrong with it."""
        done, of = self.counts.get(name, (0, 0))
        self.counts[name] = (done + right, of + 1)
        if not right:
            self.wrong.append(f"{name}: {words}")

    def __str__(self) -> str:
        lines = [
            f"{name:<22} {right:>4} of {of:<4} {right / of if of else 1:.3f}"
            for name, (right, of) in self.counts.items()
        ]
        return "\n".join([*lines, "", *self.wrong])


def rows(path: Path) -> list[dict[str, str]]:
    """A CSV file as dictionaries; the apostrophe that made a cell harmless is taken off."""
    with path.open(encoding="utf-8", newline="") as file:
        return [{k: v[1:] if v[:1] == "'" else v for k, v in row.items()} for row in csv.DictReader(file)]


def part_of(row: dict[str, str]) -> Part:
    """The scan and part that a row is about."""
    return row["scan"], int(row["part"] or 1)


def score(truth: Path, made: Path) -> Score:
    """Compare the tables in ``made`` with those in ``truth`` (its folder ``expected``)."""
    result = Score()
    findings = rows(truth / "findings.csv")
    # A file that cannot be decoded shows no design: its kind and family are known to the painter alone.
    unseen = {part_of(r) for r in findings if r["code"] in UNSEEN and r["scan"]}
    _scans(result, [r for r in rows(truth / "scans.csv") if part_of(r) not in unseen], rows(made / "scans.csv"))
    families = [r for r in rows(truth / "families.csv") if part_of(r) not in unseen]
    _families(result, families, rows(made / "families.csv"))
    _campaigns(result, families, rows(made / "families.csv"))
    _marks(result, rows(truth / "marks.csv"), rows(made / "marks.csv"))
    _findings(result, findings, rows(made / "findings.csv"))
    _boxes(result, rows(truth / "boxes.csv"), rows(made / "boxes.csv"))
    return result


def _scans(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    found = {part_of(r): r for r in made}
    for want in truth:
        got = found.get(part_of(want))
        name = f"{want['scan']} part {want['part']}"
        if got is None:
            result.count("parts", False, f"{name} is not there")
            continue
        result.count("parts", True, "")
        if want["kind"]:
            words = f"{name} is {want['kind']}, was told {got['kind']} ({got['kind_confidence']})"
            result.count("kinds", want["kind"] == got["kind"], words)
        if want["polarity"] and want["polarity"] != "unknown":
            result.count(
                "polarity",
                want["polarity"] == got["polarity"],
                f"{name} is {want['polarity']}, was told {got['polarity']}",
            )
        if want["kind"] not in (*NO_DESIGN, "separation") and want["rotation"]:
            wish, have = (want["rotation"], want["mirrored"]), (got["rotation"], got["mirrored"])
            result.count("orientation", wish == have, f"{name} ({want['kind']}) is {wish}, was told {have}")
        if want["width_mm"] and got["width_mm"]:
            off = max(abs(float(got[s]) / float(want[s]) - 1) for s in ("width_mm", "height_mm"))
            result.count("sizes within 2 %", off <= 0.02, f"{name} ({want['kind']}) is off by {off:.1%}")
        if want["format"]:
            result.count(
                "formats",
                want["format"] in got["format"].split("; "),
                f"{name} is {want['format']}, was told {got['format'] or got['format_fit']}",
            )


def _families(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    want: dict[str, set[Part]] = defaultdict(set)
    for row in truth:
        if row["role"] not in NO_DESIGN:
            want[row["family"]].add(part_of(row))
    got: dict[str, set[Part]] = defaultdict(set)
    for row in made:
        if row["role"] not in NO_DESIGN:
            got[row["family"]].add(part_of(row))
    home = {part: name for name, parts in want.items() for part in parts}
    for name, parts in want.items():
        best = max(got.values(), key=lambda g: len(g & parts), default=set())
        lost = sorted(parts - best)
        result.count("families found", 2 * len(best & parts) > len(parts), f"{name}: torn: {lost}")
        for part in sorted(parts):
            result.count("members with their family", part not in lost, f"{name}: without {part[0]} part {part[1]}")
    for code, parts in got.items():
        names = Counter(home.get(part, f"no family ({part[0]} part {part[1]})") for part in parts)
        result.count("families not joined", len(names) == 1, f"{code} holds {dict(names)}")


def _campaigns(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    """Every two families of one film are told as of one campaign, and no two others; by what most of a family is."""
    home = {part_of(row): (row["family"], row["campaign"]) for row in truth if row["role"] not in NO_DESIGN}
    designs: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    told: dict[str, str] = {}
    for row in made:
        told[row["family"]] = row["campaign"]
        if part_of(row) in home:
            designs[row["family"]][home[part_of(row)]] += 1
    true = {code: found.most_common(1)[0][0] for code, found in designs.items()}
    for a, b in combinations(sorted(true), 2):
        (one, film), (other, its) = true[a], true[b]
        is_told = bool(told[a]) and told[a] == told[b]
        if one != other and film and film == its:
            result.count("campaigns found", is_told, f"{one} and {other} were not told of one campaign")
        if is_told:
            result.count("campaigns true", one == other or (bool(film) and film == its), f"{one} with {other}")


def _marks(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    found: dict[Part, list[dict[str, str]]] = defaultdict(list)
    for row in made:
        found[part_of(row)].append(row)
    for want in truth:
        if want["kind"] in SCORED_MARKS:
            same = [g for g in found[part_of(want)] if g["kind"] == want["kind"]]
            right = any(_plain(g["value"]) == _plain(want["value"]) for g in same)
            read = [g["value"] for g in same]
            result.count("marks", right, f"{want['scan']} {want['kind']} {want['value']!r}: read {read}")
    true = {(*part_of(w), w["kind"], _plain(w["value"])) for w in truth}
    for part, rows_ in found.items():
        for got in rows_:
            if got["accepted"] == "auto" and got["kind"] in SCORED_MARKS:
                known = (*part, got["kind"], _plain(got["value"])) in true
                result.count(
                    "accepted marks true", known, f"{part[0]} {got['kind']} {got['value']!r} from {got['text']!r}"
                )


def _findings(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    found = {(r["scan"] or f"{r['box']}/{r['piece']}", r["code"]) for r in made}
    for want in truth:
        place = want["scan"] or f"{want['box']}/{want['piece']}"
        result.count("findings", (place, want["code"]) in found, f"{place}: {want['code']} was not said")


def _boxes(result: Score, truth: Iterable[dict[str, str]], made: Iterable[dict[str, str]]) -> None:
    found = {r["box"]: r for r in made}
    for want in truth:
        got = found.get(want["box"], {})
        off = {k: (v, got.get(k)) for k, v in want.items() if v != "" and got.get(k) != v}
        result.count("boxes", not off, f"{want['box']}: (true, told) {off}")


def _plain(text: str) -> str:
    return "".join(text.upper().split())


if __name__ == "__main__":
    print(score(Path(sys.argv[1]) / "expected", Path(sys.argv[2])))
