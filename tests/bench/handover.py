"""Measure what handing over a consignment of 5,000 scans costs.

    python -m tests.bench.handover --work FOLDER [--scans 5000] [--kb 2000]

The consignment is synthesised: rows of the ledger as the stages write them (with forty lines of text a scan, marks,
matches, families), files of random bytes, small pictures. Each step runs in a process of its own, whose time and peak
memory are told. The copying of the bag is set beside two plain copies of the same originals in the same run, on the
same disk: one that takes both digests as it copies, block by block, and one that takes none.
"""

import argparse
import hashlib
import os
import resource
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from intake.imaging.encode import jpeg_bytes
from intake.kin import Family, Member
from intake.model import Box, Listed, Parsed, PartKey, Received
from intake.services.handover.bag import export_bag
from intake.services.handover.papers import export_papers
from intake.services.handover.record import Wanted
from intake.services.handover.unbag import receive_bag
from intake.services.handover.writing import export_records
from intake.services.home import Home
from intake.store import decisions, families, ledger, pairs, runs, scans
from intake.store.codec import to_text
from tests.made import AT, SETTINGS, STAMPS, checked, classified, dossier, line, mark, match, reading

_A_BOX, _A_FAMILY, _AT_ONCE = 100, 5, 500
_BLOCK = 1 << 20
KINDS = ("artwork", "film_negative", "printers_proof", "finished_sheet", "photograph")


def main() -> None:
    """Make the consignment where it lacks, then measure each step."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--work", type=Path, required=True)
    ask.add_argument("--scans", type=int, default=5000)
    ask.add_argument("--kb", type=int, default=2000, help="size of a scan")
    ask.add_argument("--step")
    asked = ask.parse_args()
    if asked.step:
        _measured(asked.work, asked.step)
        return
    if not (asked.work / "home").exists():
        make(asked.work, asked.scans, asked.kb)
    for step in STEPS:
        shutil.rmtree(asked.work / step, ignore_errors=True)
        os.sync()
        here = ["--work", str(asked.work), "--step", step]
        subprocess.run([sys.executable, "-m", "tests.bench.handover", *here], check=True)
        if step in ("plain", "digesting", "originals"):
            shutil.rmtree(asked.work / step)


def _measured(work: Path, step: str) -> None:
    started = time.perf_counter()
    said = STEPS[step](work)
    took, cpu = time.perf_counter() - started, sum(os.times()[:4])  # with those of the processes that set papers
    own, apart = (resource.getrusage(w).ru_maxrss / 1024 for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(
        f"{step:<12} {took:7.1f} s  {cpu:7.1f} CPU-s  {own:6.0f} MB at most, {apart:4.0f} MB beside it  {said}",
        flush=True,
    )


def _records(work: Path) -> str:
    return f"{export_records(Home(work / 'home'), SETTINGS, work / 'records', made_at=AT)} pieces"


def _papers(work: Path) -> str:
    return f"{export_papers(Home(work / 'home'), SETTINGS, work / 'papers', Wanted('C'), made_at=AT)} papers"


def _bag(work: Path) -> str:
    octets = int(export_bag(Home(work / "home"), SETTINGS, work / "bag", made_at=AT).oxum.partition(".")[0])
    return f"{octets / 1e9:.2f} GB in all"


def _originals(work: Path) -> str:
    """The originals alone, as the bag copies them: what the plain copies are to be set beside."""
    from intake.services.handover.copying import Copier

    with Copier() as copier:
        size = sum(copier.copy(p, work / "originals" / p.name).size for p in sorted((work / "in").rglob("*.tif")))
    return _rate(size)


def _digesting(work: Path) -> str:
    """A plain copy that takes both digests: read a block, digest it twice, write it."""
    (work / "digesting").mkdir()
    size = 0
    for path in sorted((work / "in").rglob("*.tif")):
        short, long = hashlib.sha256(), hashlib.sha512()
        with path.open("rb") as file, (work / "digesting" / path.name).open("wb") as out:
            while block := file.read(_BLOCK):
                short.update(block)
                long.update(block)
                out.write(block)
                size += len(block)
    return _rate(size)


def _plain(work: Path) -> str:
    """A plain copy without digests, by the standard library."""
    (work / "plain").mkdir()
    paths = sorted((work / "in").rglob("*.tif"))
    for path in paths:
        shutil.copyfile(path, work / "plain" / path.name)
    return _rate(sum(p.stat().st_size for p in paths))


def _receive(work: Path) -> str:
    got = receive_bag(Home(work / "receive"), work / "bag")
    return f"{got.files} files proved, {got.rows} rows"


def _rate(size: int) -> str:
    return f"{size / 1e9:.2f} GB of originals"


STEPS = {
    "records": _records,
    "papers": _papers,
    "plain": _plain,
    "digesting": _digesting,
    "originals": _originals,
    "bag": _bag,
    "receive": _receive,
}


def make(work: Path, count: int, kb: int) -> None:
    """A home as a run leaves it, its originals below ``in``."""
    chance = np.random.default_rng(9)
    home = Home(work / "home")
    thumb = jpeg_bytes(chance.integers(0, 255, (300, 220, 3), np.uint8))
    received, results, matches = [], [], []
    for n in range(count):
        box, piece = f"B{n // _A_BOX:03}", f"{n:05}"
        path = work / "in" / box / f"{piece}.tif"
        path.parent.mkdir(parents=True, exist_ok=True)
        data = chance.bytes(kb * 1000)
        path.write_bytes(data)
        digest = hashlib.sha256(data).hexdigest()
        scan = Received("C", box, piece, "recto", f"{box}/{piece}.tif", digest, len(data))
        received.append(scan)
        results += _looked(scan, KINDS[n % _A_FAMILY], n)
        key = PartKey(digest, 1)
        picture = home.picture(key, "thumb", STAMPS.stages["render"])
        picture.parent.mkdir(parents=True, exist_ok=True)
        picture.write_bytes(thumb)
    keys = [PartKey(r.digest, 1) for r in received]
    made = []
    for start in range(0, count - _A_FAMILY + 1, _A_FAMILY):
        of = keys[start : start + _A_FAMILY]
        matches += [match(a, b) for n, a in enumerate(of) for b in of[:n]]
        members = tuple(Member(k, kind, 0.95) for k, kind in zip(of, KINDS, strict=True))
        made.append(Family(f"F-{start:08}", "suggested", f"THE FILM OF {start}", members))
    with home.database.write() as connection:
        scans.put_consignment(connection, "C", str((work / "in").resolve()), AT, True)
        scans.add_scans(connection, [(r, 1) for r in received], AT)
        scans.replace_list(connection, "C", [Listed(r.box, r.piece, f"piece {r.piece} of the list") for r in received])
        runs.end_run(connection, runs.start_run(connection, AT, {}, STAMPS), AT, "done", "")
        for start in range(0, len(results), _AT_ONCE):
            ledger.record(connection, results[start : start + _AT_ONCE], AT)
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in matches])
        families.replace_families(connection, made, [], "made")
        for n, r in enumerate(received):
            shown = {"kind": "printer", "place": [10, 20, 30, 40], "text": f"HOUSE {n % 40}", "read": f"HOUSE {n % 40}"}
            decisions.add_decision(connection, AT, "Ida", "accept_reading", [PartKey(r.digest, 1)], shown)
    home.database.close()


def _looked(scan: Received, kind: str, n: int) -> list:
    from intake.model import StageResult

    d = dossier(scan)
    lines = [line(f"line {i} of what is read on piece {n}", Box(10, 30 * i, 400, 24)) for i in range(40)]
    marks = (mark(f"HOUSE {n % 40}"), mark("61/204", "release_code", box=Box(500, 20, 30, 40), year_from=1961))
    values = {
        "render": d.rendered, "classify": classified(kind), "read": reading(lines=lines), "measure": d.measured,
        "screen": d.screened, "fingerprint": d.features, "parse": Parsed(marks),
    }  # fmt: skip
    rows = [(PartKey(scan.digest, 0), "check", to_text(checked()))]
    rows += [(PartKey(scan.digest, 1), stage, to_text(v)) for stage, v in values.items()]
    made = [StageResult(key, stage, STAMPS.stages[stage], "done", text, 0.1) for key, stage, text in rows]
    return [*made, StageResult(PartKey(scan.digest, 0), "whole", STAMPS.whole, "done", "", 0.0)]


if __name__ == "__main__":
    main()
