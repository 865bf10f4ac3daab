"""A home full of invented families, written straight into the ledger: for measuring the desk, not the pictures.

    made = desk_store(folder, config, families=5_000, seed=1)

Each family has two to four pieces in boxes of forty; every fifth is tied to another one by a shared element, and
a third of all pieces stands alone. Families are grouped from the matches as a run groups them.
"""

import itertools
import random
from dataclasses import dataclass
from pathlib import Path

from intake.config.load import Config
from intake.kin import Match
from intake.model import Evidence, FeatureSummary, Measured, Parsed, PartKey, Received, Rendered, StageResult
from intake.services.home import Home
from intake.services.relate import regroup
from intake.store import ledger, pairs, runs, scans
from intake.store.codec import to_text
from tests.made import AT, FRAME, STAMPS, checked, classified, digest, mark, match, reading

KINDS = ("artwork", "film_negative", "printers_proof", "finished_sheet")
FORMATS = ("us_1sh_old", "us_half", "us_insert", "")
_PIECES_A_BOX = 40


@dataclass(frozen=True, slots=True)
class Filled:
    """The home, and the parts of every family as they were written."""

    home: Home
    families: list[list[PartKey]]
    singles: list[PartKey]


def desk_store(folder: Path, config: Config, families: int, seed: int) -> Filled:
    """Write the home and group it."""
    home, chance = Home(folder), random.Random(seed)
    received: list[Received] = []
    groups: list[list[PartKey]] = []
    singles: list[PartKey] = []
    rows: list[StageResult] = []
    texts: dict[object, str] = {}

    def text(value: object) -> str:
        name = repr(value)
        if name not in texts:
            texts[name] = to_text(value)
        return texts[name]

    def piece(kind: str) -> PartKey:
        number = len(received)
        path = f"B{number // _PIECES_A_BOX:04d}/{number:06d}.tif"
        box, _, name = path.partition("/")
        scan = Received("C", box, name[:-4], "recto", path, digest(path), 10, False, "")
        received.append(scan)
        marks = (mark(f"PRINTER {chance.randrange(60)}", year_from=chance.randrange(1930, 1990), country="US"),)
        made = {
            "render": Rendered(FRAME, 1000, 1500, 1.0),
            "classify": classified(kind),
            "read": reading(),
            "measure": Measured(685.8, 1016.0, "resolution tag", chance.choice(FORMATS), "fits"),
            "fingerprint": FeatureSummary(400, 640, 960, 1.5, FRAME),
            "parse": Parsed(marks if chance.random() < 0.3 else ()),
        }
        whole = PartKey(scan.digest, 0)
        rows.append(StageResult(whole, "check", STAMPS.stages["check"], "done", text(checked()), 0.1))
        rows.append(StageResult(whole, "whole", STAMPS.whole, "done", "", 0.0))
        key = PartKey(scan.digest, 1)
        rows.extend(StageResult(key, s, STAMPS.stages[s], "done", text(v), 0.1) for s, v in made.items())
        return key

    found: list[Match] = []
    evidence = (Evidence("points", "80 points agree", 3.0), Evidence("dense", "0.81 of the surface agrees", 2.0))
    for n in range(families):
        keys = [piece(chance.choice(KINDS)) for _ in range(chance.choice((2, 2, 3, 4)))]
        groups.append(keys)
        found += [match(a, b, evidence=evidence) for a, b in itertools.pairwise(keys)]
        if n and n % 5 == 0:
            found.append(match(keys[0], groups[n - 1][0], relation="shared_element", probability=0.7))
        if chance.random() < 0.9:
            singles.append(piece(chance.choice(KINDS)))
    with home.database.write() as connection:
        scans.put_consignment(connection, "C", "/received", AT, False)
        scans.add_scans(connection, [(r, 1) for r in received], AT)
        runs.start_run(connection, AT, {}, STAMPS)
        for start in range(0, len(rows), 20_000):
            ledger.record(connection, rows[start : start + 20_000], AT)
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
        runs.end_run(connection, 1, AT, "done", "")
    regroup(home, config, STAMPS)
    return Filled(home, groups, singles)
