"""Paint an invented consignment: ``python -m sample_batch.paint [--scans N --seed S --full-size K] --to DIR``."""

import argparse
import csv
import multiprocessing
import os
import shutil
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from sample_batch.files import write_scan
from sample_batch.make import back_of, front_of
from sample_batch.scanner import enlarged, scan
from sample_batch.story import Consignment, Shot
from sample_batch.truth import Seen, remember, write_table, write_tables

PROCESSES = 2
LIST_COLUMNS = ("box", "piece", "description", "sides", "held", "why")


def paint_consignment(story: Consignment, to: Path, processes: int = PROCESSES) -> None:
    """Write ``scans/``, ``box-list.csv`` and ``expected/`` of ``story`` into ``to``."""
    originals = [s for s in story.shots if not s.same_as]
    groups: dict[str, list[Shot]] = {}
    for shot in originals:
        groups.setdefault(story.piece(shot.pieces[0]).design or shot.path, []).append(shot)
    work = [(story.only(tuple(group)), tuple(group), to / "scans") for group in groups.values()]
    seen: list[Seen] = []
    if processes == 1:
        for task in work:
            seen += _paint_group(task)
    else:
        with ProcessPoolExecutor(processes, multiprocessing.get_context("spawn")) as pool:
            for some in pool.map(_paint_group, work):
                seen += some
    for shot in story.shots:
        if shot.same_as:
            seen += _copy(shot, to / "scans", seen)
    write_box_list(to / "box-list.csv", story)
    write_tables(to / "expected", story, seen)


def _paint_group(task: tuple[Consignment, tuple[Shot, ...], Path]) -> list[Seen]:
    story, shots, to = task
    seen: list[Seen] = []
    for shot in shots:
        seen += paint_shot(story, shot, to)
    return seen


def paint_shot(story: Consignment, shot: Shot, to: Path) -> list[Seen]:
    """Write one scan below ``to`` and return its truth."""
    pages = []
    for code in shot.pieces:
        piece = story.piece(code)
        design = story.design(piece.design) if piece.design else story.loose(piece)
        pages.append((back_of if shot.side == "verso" else front_of)(piece, design, shot.ppi))
    scanned = scan(pages, shot.setting)
    write_scan(to / shot.path, scanned.pixels, shot.ppi, shot.delivery)
    return remember(shot, enlarged(scanned, shot.delivery.enlarge) if shot.delivery.enlarge > 1 else scanned)


def _copy(shot: Shot, to: Path, seen: Sequence[Seen]) -> list[Seen]:
    (to / shot.path).parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(to / shot.same_as, to / shot.path)
    twins = [s for s in seen if s.path == shot.same_as]
    return [Seen(shot.path, s.part, code, s.page, s.box, s.shape) for s, code in zip(twins, shot.pieces, strict=True)]


def write_box_list(path: Path, story: Consignment) -> None:
    """Write the owner's list of what is in the boxes."""
    rows = [
        (p.box, p.name, p.description, p.sides, "yes" if p.held else "", p.why)
        for p in sorted(story.pieces, key=lambda p: (p.box, p.name))
        if p.listed
    ]
    write_table(path, LIST_COLUMNS, rows)


def small_batch(to: Path) -> Path:
    """Copy a subset of the committed sample (see ``SMALL``) with its box list into ``to``; return the scans' folder."""
    from sample_batch.scenario import SMALL

    here = Path(__file__).parent
    chosen = set()
    for name in SMALL:
        target = to / "scans" / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(here / "scans" / name, target)
        chosen.add(name)
    with (here / "expected" / "scans.csv").open(encoding="utf-8", newline="") as file:
        kept = {(row["box"], row["piece"]) for row in csv.DictReader(file) if row["scan"] in chosen}
    with (here / "box-list.csv").open(encoding="utf-8", newline="") as file:
        lines = [row for row in csv.DictReader(file) if (row["box"], row["piece"]) in kept]
    write_table(to / "box-list.csv", LIST_COLUMNS, [tuple(line[c] for c in LIST_COLUMNS) for line in lines])
    return to / "scans"


def main(words: Sequence[str] | None = None) -> int:
    """Read the command line and paint."""
    parser = argparse.ArgumentParser(prog="python -m sample_batch.paint", description=__doc__)
    parser.add_argument("--to", type=Path, required=True, help="folder to write into")
    parser.add_argument("--scans", type=int, help="paint about so many scans instead of the sample")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--full-size", type=int, default=0, help="how many scans to write at full size (115 MP, 16 bits)"
    )
    asked = parser.parse_args(words)
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    if asked.scans is None:
        from sample_batch.scenario import sample

        story = sample()
    else:
        from sample_batch.crowd import crowd

        story = crowd(asked.scans, asked.seed, asked.full_size)
    paint_consignment(story, asked.to)
    print(f"{len(story.shots)} scans of {len(story.pieces)} pieces in {asked.to}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
