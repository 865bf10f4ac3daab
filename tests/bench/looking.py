"""Measure what is seen of a piece at first glance, on pieces of every kind drawn with seeds never tuned on.

    python -m tests.bench.looking --work FOLDER [--seed 7] [--scans 330] [--read]

Paints a consignment (tests/bench/looking_pieces.py; half an hour the first time), has the product's own stages look at
each scan with the configuration as it stands, and sets what they say beside the truth. With ``--read`` its text is read
as well, which tells how a piece lies; else sizes are compared long edge with long edge.
"""

import argparse
import csv
import time
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from intake.model import FILM_KINDS, Checked, Classified, Measured, PartFound, Reading, Stamps
from intake.ocr.engines import load_engines
from intake.ocr.null import null_engines
from intake.services.look import Looked, ScanJob, Tools, look_at
from intake.services.receive import digest_of
from intake.services.stamps import BEFORE
from intake.setup import load_engines as load_model_rows
from intake.store.codec import from_text
from sample_batch.paint import paint_consignment
from tests.bench.figures import wilson
from tests.bench.looking_pieces import mixed
from tests.made import CONFIG, SETTINGS

STAMPS = Stamps({stage: stage for stage in BEFORE}, "whole", "match")
# A piece whose picture shares this much with a true one's box is that one (intersection over union).
SAME = 0.56
SIZE_SHARE = 0.007


@dataclass(frozen=True, slots=True)
class Part:
    """What is true of one piece's picture, and what was said of it; None where nothing was told."""

    true: dict[str, str]
    classified: Classified | None
    measured: Measured | None
    reading: Reading | None

    @property
    def kind(self) -> str:
        return self.classified.kind if self.classified else "nothing"


def main() -> None:
    """Paint, look, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--scans", type=int, default=330)
    ask.add_argument("--read", action="store_true")
    told = ask.parse_args()
    folder = told.work / f"looking-{told.seed}-{told.scans}"
    if not (folder / "expected" / "scans.csv").exists():
        paint_consignment(mixed(told.scans, told.seed), folder)
    truth: dict[str, list[dict[str, str]]] = defaultdict(list)
    with (folder / "expected" / "scans.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            truth[row["scan"]].append(row)
    tools = _tools(folder, told.read)
    parts: list[Part] = []
    split: list[tuple[int, bool]] = []
    costs: dict[str, float] = Counter()
    for path, rows in sorted(truth.items()):
        looked = _look(folder / "scans", path, tools)
        for result in looked.results:
            costs[result.stage] += result.cpu_s
        found, right = _paired(rows, looked)
        parts += found
        split.append((len(rows), right))
    _say(parts, split)
    for stage, spent in costs.items():
        print(f"CPU seconds a scan, {stage}: {spent / len(truth):.3f}")


def _tools(folder: Path, reads: bool) -> Tools:
    kept = folder / "kept"
    kept.mkdir(exist_ok=True)
    engines = null_engines()
    if reads:
        engines = load_engines(SETTINGS.read, {row.file: row for row in load_model_rows(CONFIG)[0]})
    return Tools(
        SETTINGS, engines, kept, lambda key, name, _: kept / f"{key.digest}-{key.part}-{name}.jpg",
        lambda key, _: kept / f"{key.digest}-{key.part}",
    )  # fmt: skip


def _look(scans: Path, path: str, tools: Tools) -> Looked:
    return look_at(ScanJob(digest_of(scans / path), str(scans), path, STAMPS, {}), tools)


def _paired(rows: list[dict[str, str]], looked: Looked) -> tuple[list[Part], bool]:
    """Each true piece with the part that shows it; and whether the parts are the pieces, no more and no fewer."""
    have = {(r.key.part, r.stage): r.payload for r in looked.results if r.state == "done"}
    checked = from_text(Checked, have[0, "check"])
    left: list[PartFound] = list(checked.parts)
    made = []
    for row in rows:
        box = tuple(int(row[n]) for n in ("left", "top", "width", "height"))
        # One piece on a scan is the whole of it, bed and all.
        best = max(left, key=lambda p: _shared(p.box, box), default=None)
        if best is None or (len(rows) > 1 and _shared(best.box, box) < SAME):
            made.append(Part(row, None, None, None))
            continue
        left.remove(best)

        def said(kind, stage, part=best.part):  # type: ignore[no-untyped-def]
            return from_text(kind, have[part, stage]) if (part, stage) in have else None

        made.append(Part(row, said(Classified, "classify"), said(Measured, "measure"), said(Reading, "read")))
    return made, not left and all(p.classified for p in made)


def _shared(a: Sequence[int], b: Sequence[int]) -> float:
    wide = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
    high = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
    both = max(0, wide) * max(0, high)
    return both / max(1, a[2] * a[3] + b[2] * b[3] - both)


def _say(parts: Sequence[Part], split: Sequence[tuple[int, bool]]) -> None:
    seen = [p for p in parts if p.classified]
    print(f"{len(split)} scans, {len(parts)} pieces")
    several = [right for count, right in split if count > 1]
    print("scans of several pieces split rightly:", wilson(sum(several), len(several)))
    print("scans of one piece left whole:", wilson(sum(r for c, r in split if c == 1), sum(c == 1 for c, _ in split)))
    print("kind right:", _right(parts, lambda p: p.kind == p.true["kind"]))
    print("  of those not called unknown:", _right([p for p in seen if p.kind != "unknown"], _kind_right))
    for kind in sorted({p.true["kind"] for p in parts}):
        rows = [p for p in parts if p.true["kind"] == kind]
        taken = Counter(p.kind for p in rows if p.kind != kind)
        print(f"  {kind:20s} {_right(rows, _kind_right)} {dict(taken.most_common(4)) or ''}")
    _calibration(seen)
    told = [p for p in parts if p.true["polarity"] in ("positive", "negative")]
    print("polarity right:", _right(told, lambda p: bool(p.classified and p.classified.polarity == p.true["polarity"])))
    flexible = [p for p in parts if p.true["kind"] in FILM_KINDS - {"glass_negative"}]
    print("flexible film (undated) flagged as possible nitrate:", _right(flexible, _flagged))
    print("  other pieces flagged:", _right([p for p in parts if p.true["kind"] not in FILM_KINDS], _flagged))
    scaled = [p for p in parts if p.measured and p.measured.width_mm]
    off = [(_size_off(p), p) for p in scaled]
    print(f"size within {SIZE_SHARE:.1%}:", wilson(sum(o <= SIZE_SHARE for o, _ in off), len(off)))
    worst = sorted(off, key=lambda o: -o[0])[:8]
    print("  worst:", ", ".join(f"{p.true['scan']} {o:.1%}" for o, p in worst))
    formatted = [p for p in scaled if p.true["format"] and p.true["kind"] == "finished_sheet"]
    print("format among the candidates:", _right(formatted, _format_right))
    read = [p for p in parts if p.reading and p.reading.orientation_confidence >= 0.5]
    print("mirrored right where text tells:", _right(read, lambda p: _way(p)[1] == (p.true["mirrored"] == "true")))
    print("turn right where text tells:", _right(read, lambda p: _way(p)[0] == int(p.true["rotation"])))
    for p in [p for p in parts if not _kind_right(p)]:
        print(f"  not right: {p.true['scan']} part {p.true['part']}: {p.kind}", _sure(p))


def _kind_right(part: Part) -> bool:
    return part.kind == part.true["kind"]


def _flagged(part: Part) -> bool:
    return part.classified is not None and any(f.code == "possible_nitrate" for f in part.classified.findings)


def _sure(part: Part) -> str:
    if part.classified is None:
        return ""
    return f"({part.classified.kind_confidence:.2f}) " + "; ".join(e.name for e in part.classified.evidence[:4])


def _right(parts: Iterable[Part], test) -> str:  # type: ignore[no-untyped-def]
    rows = list(parts)
    return wilson(sum(map(test, rows)), len(rows))


def _calibration(seen: Sequence[Part]) -> None:
    print("kind: how sure it said it was, how often it was right (count)")
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 0.995), (0.995, 1.01)):
        inside = [p for p in seen if p.kind != "unknown" and low <= p.classified.kind_confidence < high]  # type: ignore[union-attr]
        if inside:
            mean = float(np.mean([p.classified.kind_confidence for p in inside]))  # type: ignore[union-attr]
            print(f"  {mean:.3f}: {np.mean([_kind_right(p) for p in inside]):.3f} ({len(inside)})")


def _size_off(part: Part) -> float:
    got = sorted((part.measured.width_mm or 0.0, part.measured.height_mm or 0.0))  # type: ignore[union-attr]
    want = sorted((float(part.true["width_mm"]), float(part.true["height_mm"])))
    return max(abs(g / w - 1) for g, w in zip(got, want, strict=True))


def _format_right(part: Part) -> bool:
    return part.measured is not None and part.true["format"] in (part.measured.candidates or (part.measured.format,))


def _way(part: Part) -> tuple[int, bool]:
    return (part.reading.rotation, part.reading.mirrored) if part.reading else (0, False)


if __name__ == "__main__":
    started = time.time()
    main()
    print(f"{time.time() - started:.0f} s")
