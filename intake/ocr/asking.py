"""Ask a reader, whatever it does: a reader that fails costs its own readings, never the scan."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from intake.model import Finding, ReaderSaid
from intake.ocr.protocol import Engines, Picture, Quad, Reader, ReaderTimeout
from intake.ocr.text import clean

_MOST_QUADS = 1000  # of one look: more is noise, and costs time


def _tidy(said: ReaderSaid) -> ReaderSaid:
    sure, least = (min(1.0, max(0.0, share)) for share in (said.confidence, said.least))
    return replace(said, text=clean(said.text), confidence=sure, least=least)


@dataclass(slots=True)
class Asking:
    """Asks engines on behalf of one part; one that broke once is not asked again for it."""

    part: int
    engines: Engines
    findings: list[Finding] = field(default_factory=list)
    _broken: set[str] = field(default_factory=set)

    def find(self, picture: Picture) -> list[Quad]:
        """Return the detector's lines, or none with a finding."""
        detector = self.engines.detector
        if f"find {detector.name}" in self._broken:
            return []
        try:
            return list(detector.find(picture))[:_MOST_QUADS]
        except MemoryError:
            raise
        except Exception as error:
            self._report(f"find {detector.name}", "reader_failed", f"{type(error).__name__}: {str(error)[:120]}")
            return []

    def read(self, reader: Reader, crops: Sequence[Picture]) -> list[ReaderSaid]:
        """Return one cleaned reading for each crop; empty ones with a finding where the reader broke."""
        nothing = [ReaderSaid(reader.name, "", 0.0)] * len(crops)
        if not crops or reader.name in self._broken:
            return nothing
        try:
            said = [_tidy(s) for s in reader.read(crops)]
        except ReaderTimeout as error:
            self._report(reader.name, "reader_timeout", str(error))
            return nothing
        except MemoryError:
            raise
        except Exception as error:
            self._report(reader.name, "reader_failed", f"{type(error).__name__}: {str(error)[:120]}")
            return nothing
        if len(said) != len(crops):
            self._report(reader.name, "reader_failed", f"it gave {len(said)} readings of {len(crops)} lines")
            return nothing
        return said

    def _report(self, name: str, code: str, what: str) -> None:
        self._broken.add(name)
        message = (
            f"{name} could not read this part ({clean(what)}); it was read without. Run it again, or read it by eye."
        )
        self.findings.append(Finding("read", code, "attention", message, self.part))
