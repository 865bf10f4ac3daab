"""What is still to be looked at, and how results get into the ledger. The parent of a run is the only writer."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from intake.model import WHOLE, Finding, PartKey, Received, StageResult, Stamps
from intake.services.home import Home, now
from intake.services.look import Looked, ScanJob
from intake.store import ledger, scans
from intake.store.codec import from_text, to_text


@dataclass(frozen=True, slots=True)
class Waiting:
    """One file that has work left: its first place among the received folders."""

    scan: Received
    folder: str


def waiting(home: Home, stamps: Stamps, code: str | None, box: str | None = None) -> list[Waiting]:
    """Files (each digest once) that were not worked to the end under these stamps, by consignment and path; of one box
    where it is named."""
    with home.database.read() as connection:
        done = ledger.digests_done(connection, WHOLE, stamps.whole)
        folders = {c.code: c.folder for c in scans.consignments(connection)}
        todo: dict[str, Waiting] = {}
        for scan in scans.all_scans(connection, code):
            if scan.digest not in done and box in (None, scan.box):
                todo.setdefault(scan.digest, Waiting(scan, folders[scan.consignment]))
    return list(todo.values())


def anything_received(home: Home) -> bool:
    """Is there any consignment in this home?"""
    with home.database.read() as connection:
        return bool(scans.consignments(connection))


def jobs_of(home: Home, chunk: Sequence[Waiting], stamps: Stamps) -> list[ScanJob]:
    """The chunk as jobs, with what the ledger already holds of each."""
    with home.database.read() as connection:
        have = ledger.results_of(connection, [w.scan.digest for w in chunk], stamps.stages)
    return [ScanJob(w.scan.digest, w.folder, w.scan.path, stamps, have[w.scan.digest]) for w in chunk]


def set_aside(job: ScanJob, why: str) -> Looked:
    """The ledger's entry for a scan that cannot be looked at without losing the worker."""
    finding = Finding(
        "check",
        "quarantined",
        "failure",
        f"{why} and was set aside. Look at the file by hand, or have it scanned again.",
    )
    # Not under a stage: those may hold a result already, which would stay, and what was found would be lost.
    entry = StageResult(PartKey(job.digest, 0), WHOLE, job.stamps.whole, "quarantined", to_text(finding), 0.0)
    return Looked(job.digest, (entry,))


def findings_of(looked: Looked) -> list[Finding]:
    """What the stages found on one file, in their order."""
    found: list[Finding] = []
    for result in looked.results:
        if result.state != "done":
            found.append(from_text(Finding, result.payload))
        elif '"findings"' in result.payload:
            found += [from_text(Finding, json.dumps(f)) for f in json.loads(result.payload).get("findings", ())]
    return found


def record(home: Home, looked: Iterable[Looked]) -> None:
    """Write a chunk's results in one transaction."""
    with home.database.write() as connection:
        ledger.record(connection, (r for one in looked for r in one.results), now())
