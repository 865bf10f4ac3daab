"""Model values and small ledgers made by hand, for tests that need some without running a stage."""

import hashlib
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from intake.config.load import load_config
from intake.config.section import Section
from intake.kin import Match
from intake.model import (
    Barcoded,
    Box,
    Checked,
    Classified,
    Condition,
    Evidence,
    FeatureSummary,
    Finding,
    Folded,
    InkScreen,
    Line,
    Mark,
    Measured,
    Parsed,
    PartFound,
    PartKey,
    ReaderSaid,
    Reading,
    Received,
    Rendered,
    Rescan,
    Screened,
    Sniped,
    StageResult,
    Stamps,
)
from intake.services.book import BookSieve, book_page
from intake.services.dossiers import Dossier
from intake.services.home import Home
from intake.services.ledger import LedgerRow
from intake.store import ledger, pairs, runs, scans
from intake.store.codec import to_text

ROOT = Path(__file__).resolve().parent.parent
CONFIG = ROOT / "config"
SETTINGS = load_config(CONFIG)
AT = "2026-11-02T20:00:00+00:00"
FRAME = Box(0, 0, 1000, 1500)
STAMPS = Stamps(
    {
        s: f"stamp-of-{s}"
        for s in (
            "check",
            "render",
            "classify",
            "fold",
            "read",
            "measure",
            "screen",
            "snipe",
            "fingerprint",
            "barcode",
            "parse",
            "condition",
            "rescan",
        )
    },
    "stamp-of-whole",
    "stamp-of-match",
)

SectionT = TypeVar("SectionT", bound=Section)


def section(kind: type[SectionT], path: Path) -> SectionT:
    """One file of config/, alone."""
    return kind.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))


def digest(name: str) -> str:
    """A digest that belongs to this name alone."""
    return hashlib.sha256(name.encode("utf-8", "surrogateescape")).hexdigest()


def key(name: str, part: int = 1) -> PartKey:
    """A part of the file that ``digest(name)`` names."""
    return PartKey(digest(name), part)


def received(path: str, **given: Any) -> Received:
    """A file of consignment C at BOX/PIECE.tif, unless told otherwise. Its digest is that of its path."""
    box, _, stem = path.rpartition(".")[0].rpartition("/")
    values = {"consignment": "C", "box": box or "unboxed", "piece": stem, "side": "recto", "size_bytes": 10}
    return Received(path=path, **{**values, "digest": digest(path), **given})


def checked(parts: int = 1, findings: Sequence[Finding] = ()) -> Checked:
    """A sound picture with so many parts."""
    found = tuple(PartFound(n, 0, FRAME) for n in range(1, parts + 1))
    return Checked(
        1000, 1500, 1, 8, "sRGB", "TIFF", 300.0, "300 ppi", 1, None, "", "", 8.0, found, tuple(findings)
    )  # fmt: skip


def classified(kind: Any = "finished_sheet", **given: Any) -> Classified:
    """A part of one kind, told with 0.9."""
    return Classified(
        **{"kind": kind, "kind_confidence": 0.9, "polarity": "positive", "polarity_confidence": 0.9, **given}
    )


def reading(rotation: int = 0, mirrored: bool = False, confidence: float = 0.0, lines: Sequence[Line] = ()) -> Reading:
    """What was read, and the orientation it tells."""
    return Reading(tuple(lines), rotation, mirrored, confidence)


def line(text: str, box: Box, confidence: float = 0.95) -> Line:
    """One line that fills a box."""
    right, bottom = box.left + box.width, box.top + box.height
    corners = ((box.left, box.top), (right, box.top), (right, bottom), (box.left, bottom))
    said = (ReaderSaid("one", text, confidence),)
    return Line(tuple((float(x), float(y)) for x, y in corners), text, confidence, True, said)


def mark(text: str, kind: str = "printer", **given: Any) -> Mark:
    """A mark that says its whole line."""
    values: dict[str, Any] = {
        "kind": kind, "text": text, "value": text, "year_from": None, "year_to": 1962, "accepted": "auto",
        "confidence": 0.87654321, "box": Box(10, 20, 30, 40), "readers": (ReaderSaid("one", text, 0.9),), "rule": "r",
    }  # fmt: skip
    return Mark(**{**values, **given})


def match(a: PartKey, b: PartKey, **given: Any) -> Match:
    """``a`` and ``b`` show the same design, with 0.95."""
    values: dict[str, Any] = {
        "relation": "same_design", "probability": 0.95, "inliers": 80, "coverage_a": 0.9, "coverage_b": 0.8,
        "polarity_flip": False, "mirror": False, "rotation": 0.0, "scale": 1.0,
        "transform": (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0), "evidence": (Evidence("points", "80 points", 3.0),),
    }  # fmt: skip
    a, b = pairs.ordered(a, b)
    return Match(a, b, **{**values, **given})


def dossier(scan: Received, part: int = 1, kind: str = "finished_sheet", **given: Any) -> Dossier:
    """All that the stages make of a sound part of this kind."""
    values: dict[str, Any] = {
        "piece": scan.piece, "copies": (), "found": PartFound(part, 0, FRAME), "checked": checked(),
        "rendered": Rendered(FRAME, 1000, 1500, 1.0), "classified": classified(kind),
        "measured": Measured(685.8, 1016.0, "resolution tag", "one-sheet", "fits"),
        "screened": Screened("screened", 120.0, 160.0, (InkScreen("cyan", 120.0, 3.3, 75.0, 800.0),)),
        "features": FeatureSummary(400, 640, 960, 1.5, FRAME), "reading": reading(), "parsed": Parsed(()),
        "findings": (),
    }  # fmt: skip
    return Dossier(key=PartKey(scan.digest, part), scan=scan, **{**values, **given})


@dataclass
class Written:
    """A ledger being written by hand into a home, under STAMPS."""

    home: Home
    stamps: Stamps = field(default_factory=lambda: STAMPS)

    def consignment(self, *received_scans: Received, has_list: bool = False, code: str = "C") -> None:
        """Receive these."""
        with self.home.database.write() as connection:
            scans.put_consignment(connection, code, "/received", AT, has_list)
            scans.add_scans(connection, [(r, 1) for r in received_scans], AT)

    def run(self) -> None:
        """Let a run have begun under the stamps."""
        with self.home.database.write() as connection:
            runs.start_run(connection, AT, {}, self.stamps)

    def looked(self, scan: Received, *parts: Sequence[Any], whole: bool = True, check: Checked | None = None) -> None:
        """Write down what the stages made: the values of part 1, of part 2, ..."""
        names = {
            Rendered: "render", Classified: "classify", Folded: "fold", Reading: "read", Measured: "measure",
            Screened: "screen", Sniped: "snipe", FeatureSummary: "fingerprint", Barcoded: "barcode", Parsed: "parse",
            Condition: "condition", Rescan: "rescan",
        }  # fmt: skip
        rows = [(PartKey(scan.digest, 0), "check", to_text(check or checked(max(1, len(parts)))))]
        for number, values in enumerate(parts, start=1):
            rows += [(PartKey(scan.digest, number), names[type(v)], to_text(v)) for v in values]
        results = [StageResult(k, stage, self.stamps.stages[stage], "done", text, 0.25) for k, stage, text in rows]
        if whole:
            results.append(StageResult(PartKey(scan.digest, 0), "whole", self.stamps.whole, "done", "", 0.0))
        with self.home.database.write() as connection:
            ledger.record(connection, results, AT)


def in_ledger(home: Home) -> list[LedgerRow]:
    """Every decision, the newest first, as the ledger's page shows them."""
    return book_page(home, BookSieve(), 0, 10_000)[0]
