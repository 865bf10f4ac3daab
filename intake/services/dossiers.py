"""Everything that is known of each part: the ledger's results brought back together with the files they are of."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from intake.model import (
    Barcoded,
    Checked,
    Classified,
    FeatureSummary,
    Finding,
    Measured,
    Parsed,
    PartFound,
    PartKey,
    Reading,
    Received,
    Rendered,
    StageResult,
    Stamps,
    Worked,
)
from intake.store import ledger, scans
from intake.store.codec import from_text
from intake.store.database import Connection

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Dossier:
    """One part of one received file. A stage that has not been done, or failed, is None.

    ``piece`` is the physical thing's name within its box; where a scan shows several, each part is a piece of its own.
    ``copies`` are other received files with the same bytes.
    """

    key: PartKey
    scan: Received
    piece: str
    copies: tuple[Received, ...]
    found: PartFound | None
    checked: Checked | None
    rendered: Rendered | None
    classified: Classified | None
    measured: Measured | None
    features: FeatureSummary | None
    reading: Reading | None
    parsed: Parsed | None
    findings: tuple[Finding, ...]

    @property
    def kind(self) -> str:
        """The kind that was told, or ``unknown``."""
        return self.classified.kind if self.classified else "unknown"

    @property
    def title(self) -> str:
        """How the desk names the part: box and piece."""
        return f"{self.scan.box} / {self.piece}"


def dossiers(connection: Connection, stamps: Stamps, code: str | None = None) -> list[Dossier]:
    """Every part of every received file, by consignment, path and part; files not looked at yet as their part 1."""
    return dossiers_of_scans(connection, stamps, scans.all_scans(connection, code))


def dossiers_of_scans(connection: Connection, stamps: Stamps, received: Sequence[Received]) -> list[Dossier]:
    """Every part of these files, in their order; files not looked at yet as their part 1."""
    by_digest: dict[str, list[Received]] = {}
    for scan in received:
        by_digest.setdefault(scan.digest, []).append(scan)
    have = ledger.results_of(connection, list(by_digest), stamps.entries)
    return [d for scan in received for d in _of_scan(scan, by_digest[scan.digest], have[scan.digest])]


def dossiers_of(connection: Connection, stamps: Stamps, keys: Iterable[PartKey]) -> dict[PartKey, Dossier]:
    """The dossier of each of these parts, under the first file (by consignment and path) that holds it."""
    wanted = set(keys)
    digests = sorted({k.digest for k in wanted})
    have = ledger.results_of(connection, digests, stamps.entries)
    by_digest: dict[str, list[Received]] = {}
    for scan in scans.scans_of(connection, digests):
        by_digest.setdefault(scan.digest, []).append(scan)
    made = {d.key: d for group in by_digest.values() for d in _of_scan(group[0], group, have[group[0].digest])}
    return {key: made[key] for key in wanted if key in made}


def _of_scan(scan: Received, same: Sequence[Received], have: dict[Worked, StageResult]) -> list[Dossier]:
    def result(kind: type[T], stage: str, part: int) -> T | None:
        entry = have.get(Worked(PartKey(scan.digest, part), stage))
        return from_text(kind, entry.payload) if entry is not None and entry.state == "done" else None

    broken = [from_text(Finding, r.payload) for r in have.values() if r.state != "done" and r.payload]
    copies = tuple(s for s in same if s.path != scan.path or s.consignment != scan.consignment)
    checked = result(Checked, "check", 0)
    parts: Sequence[PartFound | None] = checked.parts if checked and checked.parts else (None,)
    made = []
    for found in parts:
        number = found.part if found else 1
        rendered = result(Rendered, "render", number)
        classified = result(Classified, "classify", number)
        measured = result(Measured, "measure", number)
        features = result(FeatureSummary, "fingerprint", number)
        reading = result(Reading, "read", number)
        parsed = result(Parsed, "parse", number)
        codes = result(Barcoded, "barcode", number)
        stages = (rendered, classified, measured, features, reading, codes, parsed)
        findings = [f for stage in stages if stage for f in stage.findings]
        findings += [f for f in (*(checked.findings if checked else ()), *broken) if f.part in (0, number)]
        made.append(
            Dossier(
                PartKey(scan.digest, number),
                scan,
                scan.piece if len(parts) == 1 else f"{scan.piece}.{number}",
                copies,
                found,
                checked,
                rendered,
                classified,
                measured,
                features,
                reading,
                parsed,
                tuple(findings),
            )
        )
    return made
