"""Look at one scan: the whole way of a file from its bytes to its marks, as one function.

Runs in a worker process. Knows no database: it is given what the ledger already holds and returns what it made.
"""

import errno
import os
import re
import resource
import shutil
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from intake.config.load import Config
from intake.errors import HomeError
from intake.imaging.encode import jpeg_bytes
from intake.imaging.original import Original, Unreadable, open_original
from intake.imaging.page import Page
from intake.model import (
    WHOLE,
    Barcoded,
    Checked,
    Classified,
    Condition,
    FeatureSummary,
    Finding,
    Folded,
    Measured,
    Parsed,
    PartFound,
    PartKey,
    Reading,
    Rendered,
    Rescan,
    Screened,
    Sniped,
    StageResult,
    Stamps,
    Worked,
)
from intake.ocr.protocol import Engines
from intake.services.home import write_whole
from intake.services.receive import digest_of
from intake.stages.barcode import barcode
from intake.stages.check import check, refused
from intake.stages.classify import classify
from intake.stages.condition import condition
from intake.stages.fingerprint import fingerprint
from intake.stages.fold import fold
from intake.stages.measure import measure
from intake.stages.parse import parse
from intake.stages.read import read
from intake.stages.render import positive, render
from intake.stages.rescan import rescan
from intake.stages.screen import screen
from intake.stages.snipe import snipe
from intake.store.codec import from_text, to_text

T = TypeVar("T")
_THUMB_PX = 360
_DISK_REFUSES = (errno.ENOSPC, errno.EDQUOT, errno.EROFS)
_NEARLY_FULL = 0.02  # of the reserve that a run keeps free
_ESCAPED = re.compile(r"\\x([89a-f][0-9a-f])")


@dataclass(frozen=True, slots=True)
class ScanJob:
    """One file to look at: where it lies, and what the ledger already holds of it under the stamps of now."""

    digest: str
    folder: str
    path: str
    stamps: Stamps
    have: Mapping[Worked, StageResult]


@dataclass(frozen=True, slots=True)
class Looked:
    """What was made. ``missing`` says why the file could not be had: nothing is kept, and the next run tries again."""

    digest: str
    results: tuple[StageResult, ...]
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Tools:
    """What a worker keeps from scan to scan. Paths are given by the home, so that this module needs no database."""

    config: Config
    engines: Engines
    scratch: Path
    picture: Callable[[PartKey, str, str], Path]
    features: Callable[[PartKey, str], Path]


def look_at(job: ScanJob, tools: Tools) -> Looked:
    """Every stage of every part that the ledger does not hold yet."""
    path = stored_path(Path(job.folder), job.path)
    try:
        digest = digest_of(path)
    except OSError as error:
        return Looked(job.digest, (), f"cannot be had ({error.strerror or error}); it is tried again with the next run")
    if digest != job.digest:
        return Looked(job.digest, (), "is no longer the file that was received; put the first one back and run again")

    with ExitStack() as stack:
        bench = _Bench(job, tools, path, stack)
        with suppress(_Failed):
            checked = bench.made("check", 0, Checked, bench.check)
            for found in checked.parts:
                bench.part(checked, found)
        bench.results.append(StageResult(PartKey(job.digest, 0), WHOLE, job.stamps.whole, "done", "", 0.0))
        return Looked(job.digest, tuple(bench.results))


class _Failed(Exception):
    """A stage could not do its work on this part; the stages that need it are left out."""


class _Bench:
    """The work on one file: pixels are decoded once, and only when a stage that needs them has no result yet."""

    def __init__(self, job: ScanJob, tools: Tools, path: Path, stack: ExitStack) -> None:
        self.job, self.tools, self.path, self._stack = job, tools, path, stack
        self.results: list[StageResult] = []
        self._original: Original | None = None
        self._print: tuple[PartKey, NDArray[np.uint8]] | None = None

    def original(self) -> Original:
        if self._original is None:
            self._original = self._stack.enter_context(
                open_original(self.path, self.tools.config.check, self.tools.scratch)
            )
        return self._original

    def check(self) -> Checked:
        try:
            return check(self.path, self.original(), self.tools.config.check)
        except Unreadable as error:
            return refused(self.path, error)

    def part(self, checked: Checked, found: PartFound) -> None:
        """One piece's picture, from its working image to its marks."""
        config, number = self.tools.config, found.part
        pages: list[Page] = []

        def page() -> Page:
            if not pages:
                pages.append(self.original().page(PartKey(self.job.digest, number), found))
            return pages[0]

        try:
            rendered = self.made("render", number, Rendered, lambda: self._render(page()))
            classified = self.made("classify", number, Classified, lambda: self._classify(page(), rendered, checked))
            folded = self.made("fold", number, Folded, lambda: fold(page(), rendered, classified, checked, config.fold))
            reading = self.made("read", number, Reading, lambda: self._read(page(), classified, checked))
            self.made(
                "measure",
                number,
                Measured,
                lambda: measure(
                    found,
                    rendered.outline,
                    checked,
                    classified.kind,
                    reading.rotation if reading.orientation_confidence else None,
                    config.formats,
                    config.measure,
                ),
            )
            self.made("rescan", number, Rescan, lambda: rescan(page(), checked, classified, config.rescan))
            self.made(
                "condition",
                number,
                Condition,
                lambda: condition(page(), rendered, classified, folded, checked, config.condition),
            )
            self.made("screen", number, Screened, lambda: self._screen(page(), rendered, classified, checked))
            self.made("snipe", number, Sniped, lambda: snipe(page(), classified.kind, config.snipe))
            self.made("fingerprint", number, FeatureSummary, lambda: self._fingerprint(page(), rendered, classified))
            codes = self.made("barcode", number, Barcoded, lambda: barcode(page(), classified.kind, config.barcode))
            self.made("parse", number, Parsed, lambda: self._parse(reading, codes, found, classified))
        except _Failed:
            return

    def _render(self, page: Page) -> Rendered:
        rendered = render(page, self.tools.config.render)
        self._write_picture(page.key, "working", "render", page.working)
        self._write_picture(page.key, "thumb", "render", page.working, _THUMB_PX)
        return rendered

    def _classify(self, page: Page, rendered: Rendered, checked: Checked) -> Classified:
        classified = classify(page, rendered, checked, self.tools.config.classify)
        if classified.polarity == "negative":
            self._write_picture(page.key, "positive", "classify", self._positive(page))
        return classified

    def _positive(self, page: Page) -> NDArray[np.uint8]:
        """The print of a negative, made once for all stages of its part."""
        if self._print is None or self._print[0] != page.key:
            self._print = page.key, positive(page, self.tools.config.render)
        return self._print[1]

    def _read(self, page: Page, classified: Classified, checked: Checked) -> Reading:
        negative = classified.polarity == "negative"
        picture = self._positive(page) if negative else page.working
        return read(
            page, picture, classified.kind, classified.polarity, self.tools.engines, self.tools.config.read, checked.ppi
        )

    def _screen(self, page: Page, rendered: Rendered, classified: Classified, checked: Checked) -> Screened:
        return screen(page, rendered, classified.kind, checked.ppi, self.tools.config.screen)

    def _parse(self, reading: Reading, codes: Barcoded, found: PartFound, classified: Classified) -> Parsed:
        config = self.tools.config
        parsed = parse(reading, found.box, classified.kind, config.patterns, config.certificates, config.parse)
        return replace(parsed, marks=parsed.marks + codes.marks)

    def _fingerprint(self, page: Page, rendered: Rendered, classified: Classified) -> FeatureSummary:
        summary, features = fingerprint(
            page.working,
            page.stored_per_working,
            rendered.outline,
            classified.kind,
            self.tools.config.fingerprint,
            origin=(page.box.left, page.box.top),
        )
        write_whole(self.tools.features(page.key, self.job.stamps.stages["fingerprint"]), features.to_bytes())
        return summary

    def _write_picture(
        self, key: PartKey, name: str, stage: str, pixels: np.ndarray[Any, Any], longest_px: int | None = None
    ) -> None:
        write_whole(self.tools.picture(key, name, self.job.stamps.stages[stage]), jpeg_bytes(pixels, longest_px))

    def made(self, stage: str, part: int, kind: type[T], make: Callable[[], T]) -> T:
        """The result that the ledger holds, or a new one; a stage that breaks becomes a finding, never a lost run."""
        key, stamp = PartKey(self.job.digest, part), self.job.stamps.stages[stage]
        before = self.job.have.get(Worked(key, stage))
        if before is not None:
            if before.state != "done":
                raise _Failed
            return from_text(kind, before.payload)
        started = _cpu_s()
        try:
            value = make()
            text = to_text(value)
        except (MemoryError, KeyboardInterrupt):
            raise
        except Exception as error:
            self._refuse_full_disk(error)
            message = f"{stage} broke off ({type(error).__name__}: {str(error)[:200]}); the scan is kept for a person."
            finding = Finding(stage, "stage_failed", "failure", message, part)
            self.results.append(StageResult(key, stage, stamp, "failed", to_text(finding), _cpu_s() - started))
            raise _Failed from error
        self.results.append(StageResult(key, stage, stamp, "done", text, _cpu_s() - started))
        return value

    def _refuse_full_disk(self, error: Exception) -> None:
        """A disk that is full, or may not be written, is trouble of the run: it must not stand as the scan's own.

        Libraries tell it in words of their own, so that the disk is asked as well.
        """
        rules, scratch = self.tools.config.run, self.tools.scratch
        free_mb = shutil.disk_usage(scratch).free / 1e6
        if getattr(error, "errno", None) in _DISK_REFUSES or free_mb < rules.reserve_mb * _NEARLY_FULL:
            raise HomeError(
                f"{scratch.parent}: the disk refuses ({error}; {free_mb:,.0f} MB are free). Free some, then run again."
            ) from error


def stored_path(folder: Path, shown: str) -> Path:
    """The file that was received under the name ``shown``, below ``folder`` whatever the name holds.

    Names that are no UTF-8 were written down with \\xNN; they are turned back into bytes when no file bears the
    written name itself. The digest is compared afterwards, so a wrong guess is never worked on.
    """
    path = folder / shown
    if _ESCAPED.search(shown) and not _is_there(path):
        raw = re.sub(
            rb"\\x([89a-f][0-9a-f])", lambda m: bytes([int(m.group(1), 16)]), shown.encode("utf-8", "surrogateescape")
        )
        path = folder / os.fsdecode(raw)
    return path


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # a written name may be longer than a name can be
        return False


def _cpu_s() -> float:
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime
