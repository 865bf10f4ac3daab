"""Measure reading on lines and sheets never tuned on, beside tesseract on the whole page.

    python -m tests.bench.reading --work FOLDER [--seed 7] [--side report] [--lines N] [--sheets N]

Makes hard crops of single lines (ten fields under eleven conditions; where they stand is told, so that they measure the
readers) and whole sheets (which measure the finding as well), has the product's own stages read and parse them with the
configuration as it stands, in one other process, and prints every figure with its interval. Fonts of Debian's packages
are downloaded with apt-get into FOLDER. A full run (2,000 accepted readings) takes about half an hour of one core.

"Exact" leaves spaces, case and accents aside (and º is °); CER is all edits over all true characters, likewise. A mark
is "right" when its value is; it is a stray when no true line at its place bears one of its kind.
"""

import argparse
import itertools
import math
import multiprocessing
import os
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from intake.model import ReaderSaid
from tests.bench.figures import wilson
from tests.bench.reading_faces import Faces, faces
from tests.bench.reading_lines import art_of, line_crops
from tests.bench.reading_look import Looked, boards_of, look_at_board, look_at_sheet, whole_page
from tests.bench.reading_score import Outcome, Stray, Truth, bare, edits, error_rate, judge, readers_of
from tests.bench.reading_sheets import ENLARGED, SheetScan, sheet_scan, upright

CODES = ("printer", "release_code")
SPARSE = 11  # tesseract's mode for text in no order; its default and its mode for one block read no more on sheets
WORST = 10


def main() -> None:
    """Make, measure, print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--side", choices=("report", "tune"), default="report")
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--lines", type=int, default=3300)
    ask.add_argument("--sheets", type=int, default=96)
    told = ask.parse_args()
    os.environ["OMP_NUM_THREADS"] = os.environ["OMP_THREAD_LIMIT"] = "1"
    shown = faces(told.work / "packages", told.side)
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as reader:
        outcomes, strays = _lines(told, shown, reader) if told.lines else ([], [])
        if told.lines:
            _say_lines(outcomes)
            _say_accepted("line crops", outcomes, strays)
        seen, loose = _sheets(told, shown, reader) if told.sheets else ([], [])
        if told.sheets:
            _say_accepted("sheets", seen, loose)
    rows = _failures([*outcomes, *seen], [*strays, *loose])
    _say_worst(rows)
    kept = told.work / f"reading-{told.side}-{told.seed}-failures.txt"
    kept.write_text("".join(f"{why}: {row}\n" for why in rows for _, row in rows[why]), encoding="utf-8")
    print("all failures:", kept)


def _lines(told: argparse.Namespace, shown: Faces, reader: ProcessPoolExecutor) -> tuple[list[Outcome], list[Stray]]:
    crops = line_crops(told.lines, told.side, told.seed, shown, art_of(told.side, seed=told.seed))
    outcomes: list[Outcome] = []
    strays: list[Stray] = []
    cpu_s, wrong_way = 0.0, 0
    boards = boards_of(crops)
    for board, looked in zip(boards, reader.map(look_at_board, boards), strict=True):
        truths = [
            Truth(q, c.told.text, c.told.kind, c.told.value, c.told.field, c.condition, c.told.is_roman)
            for q, c in zip(board.quads, board.crops, strict=True)
        ]
        more, loose = judge(truths, looked.reading, looked.parsed)
        outcomes += more
        strays += loose
        cpu_s += looked.cpu_s
        wrong_way += (looked.reading.rotation, looked.reading.mirrored) != (0, False)
    print(f"{len(outcomes)} line crops of side {told.side}, seed {told.seed}, on {len(boards)} boards;", end=" ")
    print(f"boards taken the wrong way: {wrong_way}; CPU seconds a line: {cpu_s / len(outcomes):.3f}")
    return outcomes, strays


def _share(outcomes: Sequence[Outcome], test: Callable[[Outcome], bool]) -> str:
    return wilson(sum(map(test, outcomes)), len(outcomes))


def _say_lines(outcomes: list[Outcome]) -> None:
    print("exact:", _share(outcomes, lambda o: o.exact), f"| CER {_cer(outcomes):.4f}")
    with_accents = sum(bare(o.text, accents=True) == bare(o.true.text, accents=True) for o in outcomes)
    print("exact with accents:", wilson(with_accents, len(outcomes)))
    for name in readers_of(outcomes):
        asked = [o for o in outcomes if o.said_by(name) is not None]
        print(f"  {name} alone, on the {len(asked)} lines that it was asked:", end=" ")
        print(_share(asked, lambda o, n=name: bare(o.said_by(n) or "") == bare(o.true.text)))
    print("  any reader right:", _share(outcomes, _any_right))
    for what, key in (("field", lambda o: o.true.field), ("condition", lambda o: o.true.condition)):
        print(f"by {what}: exact, CER; mark's value right, accepted (right of accepted)")
        for name in sorted({key(o) for o in outcomes}):
            _say_row(name, [o for o in outcomes if key(o) == name])
    print("release codes by value:", _share(_of(outcomes, "release_code"), lambda o: o.right))
    print("certificates by value:", _share(_of(outcomes, "certificate"), lambda o: o.right))
    _say_roman(outcomes)
    cells = Counter((o.true.field, o.true.condition) for o in outcomes if not o.exact)
    print("most lines not exact:", "; ".join(f"{f} {c} {n}" for (f, c), n in cells.most_common(12)))


def _say_row(name: str, rows: list[Outcome]) -> None:
    marks = [o for o in rows if o.true.kind]
    accepted = [o for o in marks if o.accepted]
    print(f"  {name:14s} {_share(rows, lambda o: o.exact)} CER {_cer(rows):.3f}", end="")
    if marks:
        right = sum(o.right for o in accepted)
        print(f"; right {sum(o.right for o in marks)}, accepted {len(accepted)} ({right}) of {len(marks)}", end="")
    print()


def _say_roman(outcomes: Sequence[Outcome]) -> None:
    roman = [o for o in outcomes if o.true.roman]
    accepted = [o for o in roman if o.accepted]
    print("Roman years by value:", _share(roman, lambda o: o.right))
    print("  wrong among accepted:", _share(accepted, lambda o: not o.right))


def _cer(outcomes: Sequence[Outcome]) -> float:
    return error_rate((o.text, o.true.text) for o in outcomes)


def _of(outcomes: Sequence[Outcome], *kinds: str) -> list[Outcome]:
    return [o for o in outcomes if o.true.kind in kinds]


def _any_right(outcome: Outcome) -> bool:
    readers = outcome.line.readers if outcome.line else ()
    return any(bare(r.text) == bare(outcome.true.text) for r in readers)


def _say_accepted(where: str, outcomes: Sequence[Outcome], strays: Sequence[Stray]) -> None:
    marks = [o for o in outcomes if o.true.kind]
    accepted = [o for o in marks if o.accepted]
    made = len(accepted) + len(strays)
    print(f"{where}: share of true marks auto-accepted:", wilson(len(accepted), len(marks)))
    print("  right among auto-accepted:", wilson(sum(o.right for o in accepted), made))
    print("  auto-accepted that no true line holds:", wilson(len(strays), made))
    wrong = Counter(o.true.field for o in accepted if not o.right)
    loose = Counter(s.mark.kind for s in strays)
    print("  wrong values by field:", dict(wrong) or "none", "| strays by kind:", dict(loose) or "none")
    agreed = [o for o in outcomes if o.line and o.line.agreed]
    print("  lines on which two engines agree:", wilson(len(agreed), len(outcomes)), "| exact of them:", end=" ")
    print(_share(agreed, lambda o: o.exact))
    left = Counter(_why_not(o) for o in marks if not o.accepted)
    print("  true marks not accepted, why:", ", ".join(f"{why} {n}" for why, n in left.most_common()))


def _why_not(outcome: Outcome) -> str:
    if outcome.line is None:
        return "line not found"
    readers = [r for r in outcome.line.readers if r.reader != "frame"]
    right = {r.reader.split(" ")[0] for r in readers if bare(r.text) == bare(outcome.true.text)}
    if len(right) > 1:
        return "both engines exact, but no mark accepted"
    if right:
        return f"{right.pop()} alone exact" if len(readers) > 1 else "second engine not asked"
    return "no reader exact"


def _sheets(told: argparse.Namespace, shown: Faces, reader: ProcessPoolExecutor) -> tuple[list[Outcome], list[Stray]]:
    outcomes: list[Outcome] = []
    strays: list[Stray] = []
    costs: dict[str, list[tuple[float, float, float, int]]] = {}
    ways: list[tuple[str, bool, float]] = []
    page_lines: dict[str, list[bool]] = {}
    page_s = 0.0
    with tempfile.TemporaryDirectory(dir=told.work) as folder:
        # The largest come last, so that the peak of the others is theirs.
        numbers = sorted(range(told.sheets), key=lambda n: n % 8 == 7)
        for number in numbers:
            scan = sheet_scan(number, told.side, told.seed, shown, Path(folder))
            looked: Looked = reader.submit(look_at_sheet, scan, Path(folder)).result()
            more, loose = judge(_truths(scan), looked.reading, looked.parsed)
            outcomes += more
            strays += loose
            pixels = cv2.imread(str(scan.path))
            megapixels = pixels.shape[0] * pixels.shape[1] / 1e6
            costs.setdefault(scan.condition, []).append((looked.cpu_s, looked.opened_s, megapixels, looked.peak))
            right_way = (looked.reading.rotation, looked.reading.mirrored) == (scan.rotation, scan.mirrored)
            ways.append((scan.condition, right_way, looked.reading.orientation_confidence))
            said, spent = whole_page(_for_page(scan, pixels), SPARSE)
            page_s += spent
            heard = {bare(s) for s in said}
            page_lines.setdefault(scan.condition, []).extend(bare(o.true.text) in heard for o in more if _is_line(o))
            scan.path.unlink()
    _say_sheets(outcomes, costs, ways, page_lines, page_s)
    return outcomes, strays


def _for_page(scan: SheetScan, pixels: np.ndarray) -> np.ndarray:
    if scan.condition == "large":
        pixels = cv2.resize(pixels, None, fx=1 / ENLARGED, fy=1 / ENLARGED, interpolation=cv2.INTER_AREA)
    return upright(scan, pixels[..., ::-1])


def _truths(scan: SheetScan) -> list[Truth]:
    truths = []
    for mark in scan.marks:
        left, top, right, bottom = mark.box
        corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], np.float32)
        kind = "" if mark.kind == "text" else mark.kind
        roman = kind == "copyright" and mark.value not in mark.text
        truths.append(Truth(corners, mark.text, kind, mark.value, kind or "union", scan.condition, roman))
    return truths


def _is_line(outcome: Outcome) -> bool:
    """A certificate may be a symbol with a word beside it: on sheets it is judged by its value alone."""
    return outcome.true.kind != "certificate"


def _say_sheets(
    outcomes: list[Outcome],
    costs: dict[str, list[tuple[float, float, float, int]]],
    ways: list[tuple[str, bool, float]],
    page_lines: dict[str, list[bool]],
    page_s: float,
) -> None:
    lines = [o for o in outcomes if _is_line(o)]
    print(f"{len(ways)} sheets, {len(lines)} small lines, {len(outcomes) - len(lines)} certificates")
    for name, some in (("clean", ("clean", "large")), ("degraded", ("degraded",)), ("negative", ("negative",))):
        rows = [o for o in lines if o.true.condition in some]
        codes = _of(rows, *CODES)
        print(f"  {name}: printer and code lines found", _share(codes, lambda o: o.line is not None))
        print(f"  {name}: printer and code lines exact", _share(codes, lambda o: o.exact))
        print(f"  {name}: all small lines found", _share(rows, lambda o: o.line is not None))
        print(f"  {name}: all small lines exact", _share(rows, lambda o: o.exact))
    for field in sorted({o.true.field for o in lines}):
        _say_row(field, [o for o in lines if o.true.field == field])
    print("certificates by value:", _share(_of(outcomes, "certificate"), lambda o: o.right))
    _say_roman(outcomes)
    print("8-way orientation:", wilson(sum(right for _, right, _ in ways), len(ways)), end=" ")
    wrong = [f"{condition} (sure {sure:.2f})" for condition, right, sure in ways if not right]
    print("| wrong:", ", ".join(wrong) or "none")
    for condition, rows in costs.items():
        cpu, opened, megapixels, peak = (np.array(v, float) for v in zip(*rows, strict=True))
        print(f"cost, {condition}: CPU seconds a sheet {cpu.mean():.2f} (most {cpu.max():.2f}),", end=" ")
        print(f"a megapixel {cpu.sum() / megapixels.sum():.3f}; opening {opened.mean():.2f};", end=" ")
        print(f"{megapixels.mean():.1f} megapixels; peak so far {peak.max() / 1e6:.0f} MB")
    right = [hit for hits in page_lines.values() for hit in hits]
    print("tesseract on the whole page, upright and positive: lines exact", wilson(sum(right), len(right)), end="; ")
    print(f"{page_s / len(ways):.2f} CPU seconds a sheet; by condition", end=" ")
    print({c: f"{sum(hits)} of {len(hits)}" for c, hits in page_lines.items()})
    exact = sum(o.exact for o in lines)
    print(f"exact lines against it: {exact} to {sum(right)} = {exact / max(1, sum(right)):.1f} times")


def _failures(outcomes: Sequence[Outcome], strays: Sequence[Stray]) -> dict[str, list[tuple[float, str]]]:
    """By kind of failure how bad each is and what was read, the worst first."""
    kinds: dict[str, list[tuple[float, str]]] = {}
    for stray in strays:
        row = f"{stray.mark.kind}, {stray.condition}: {stray.mark.value!r} of {_said(stray.mark.readers)}"
        kinds.setdefault("accepted, no such line", []).append((math.inf, row))
    for o in outcomes:
        why = "accepted and wrong" if o.accepted and not o.right else "not found" if o.line is None else ""
        why = why or (
            "misread"
            if not o.exact and not _is_told_certificate(o)
            else "exact, no right mark"
            if o.true.kind and not o.right
            else ""
        )
        if why:
            away = edits(bare(o.text), bare(o.true.text)) / len(bare(o.true.text))
            row = f"{o.true.field}, {o.true.condition}: {o.true.text!r}, value {o.true.value!r} said {o.said!r}"
            kinds.setdefault(why, []).append((away, f"{row}; {_said(o.line.readers if o.line else ())}"))
    return {why: sorted(rows, reverse=True) for why, rows in kinds.items()}


def _is_told_certificate(outcome: Outcome) -> bool:
    return outcome.true.kind == "certificate" and outcome.right


def _said(readers: Sequence[ReaderSaid]) -> str:
    return " / ".join(f"{r.reader} {r.confidence:.3f}: {r.text}" for r in readers)


def _say_worst(failures: Mapping[str, Sequence[tuple[float, str]]]) -> None:
    """The worst of each kind of failure in turn, until there are ten."""
    print("failures:", ", ".join(f"{why} {len(rows)}" for why, rows in failures.items()) or "none")
    in_turn = itertools.chain(*itertools.zip_longest(*([(why, row) for _, row in failures[why]] for why in failures)))
    for why, row in itertools.islice((one for one in in_turn if one is not None), WORST):
        print(f"  {why}: {row}")


if __name__ == "__main__":
    started = time.time()
    main()
    print(f"{time.time() - started:.0f} s")
