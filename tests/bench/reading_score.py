"""Compare what was read with what is true, line by line and mark by mark."""

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.model import Line, Mark, Parsed, Reading
from intake.ocr.frame import FRAME

_NEAR = 0.6


@dataclass(frozen=True, slots=True)
class Truth:
    """A true line: its corners on the page, its text, and the mark that it bears (empty ``kind``: none)."""

    corners: NDArray[np.float32]
    text: str
    kind: str
    value: str
    field: str
    condition: str
    roman: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a true line; ``said`` is the value of the mark of its kind found on it, None without one."""

    true: Truth
    line: Line | None
    said: str | None
    accepted: bool

    @property
    def text(self) -> str:
        """What was read."""
        return self.line.text if self.line else ""

    @property
    def exact(self) -> bool:
        """Whether the text is right, spaces, case and accents aside."""
        return bare(self.text) == bare(self.true.text)

    @property
    def right(self) -> bool:
        """Whether the mark's value is right."""
        return self.said is not None and bare(self.said) == bare(self.true.value)

    def said_by(self, reader: str) -> str | None:
        """What the reader of that name said, None where it was not asked."""
        said = [r.text for r in self.line.readers if r.reader == reader] if self.line else []
        return said[0] if said else None


@dataclass(frozen=True, slots=True)
class Stray:
    """A mark that was accepted where no true line bears one of its kind."""

    mark: Mark
    condition: str


def bare(text: str, accents: bool = False) -> str:
    """Without spaces, case and, unless ``accents``, accents; º is °, as they look the same."""
    squeezed = "".join(unicodedata.normalize("NFC" if accents else "NFD", text).casefold().replace("º", "°").split())
    return squeezed if accents else "".join(c for c in squeezed if not unicodedata.combining(c))


def edits(said: str, true: str) -> int:
    """Levenshtein's distance: the fewest insertions, deletions and replacements of one character."""
    row = list(range(len(true) + 1))
    for i, a in enumerate(said, start=1):
        before, row[0] = row[0], i
        for j, b in enumerate(true, start=1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (a != b))
    return row[-1]


def error_rate(pairs: Iterable[tuple[str, str]]) -> float:
    """CER of (said, true) pairs: all edits over all true characters, spaces, case and accents aside."""
    lines = [(bare(said), bare(true)) for said, true in pairs]
    return sum(edits(s, t) for s, t in lines) / max(1, sum(len(t) for _, t in lines))


def judge(truths: Sequence[Truth], reading: Reading, parsed: Parsed) -> tuple[list[Outcome], list[Stray]]:
    """Give each true line the line and the mark that stand where it does; marks that are given to none are strays."""
    taken: set[int] = set()
    outcomes = []
    for true in truths:
        lines = [x for x in reading.lines if _stands(_middle(x.corners), true)]
        best = max(lines, key=lambda x: (bare(x.text) == bare(true.text), _long(x), x.confidence), default=None)
        here = [i for i, m in enumerate(parsed.marks) if m.kind == true.kind and _stands(_box_middle(m), true)]
        taken.update(here)
        marks = sorted((parsed.marks[i] for i in here), key=lambda m: m.accepted != "auto")
        first = marks[0] if marks else None
        accepted = first is not None and first.accepted == "auto"
        outcomes.append(Outcome(true, best, first.value if first else None, accepted))
    condition = truths[0].condition if truths else ""
    accepted = [m for i, m in enumerate(parsed.marks) if m.accepted == "auto" and i not in taken]
    return outcomes, [Stray(m, _condition_at(m, truths, condition)) for m in accepted]


def readers_of(outcomes: Sequence[Outcome]) -> list[str]:
    """The names of all readers that were asked, in order."""
    named = {r.reader: None for o in outcomes if o.line for r in o.line.readers if r.reader != FRAME}
    return list(named)


def _stands(point: tuple[float, float], true: Truth) -> bool:
    """Whether the point is on the true line, or nearer to it than a share of its height."""
    (_, sides, _) = cv2.minAreaRect(true.corners)
    return cv2.pointPolygonTest(true.corners.reshape(-1, 1, 2), point, True) >= -_NEAR * min(sides)


def _middle(corners: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return sum(x for x, _ in corners) / 4, sum(y for _, y in corners) / 4


def _box_middle(mark: Mark) -> tuple[float, float]:
    return mark.box.left + mark.box.width / 2, mark.box.top + mark.box.height / 2


def _long(line: Line) -> float:
    return float(np.ptp([x for x, _ in line.corners]) + np.ptp([y for _, y in line.corners]))


def _condition_at(mark: Mark, truths: Sequence[Truth], otherwise: str) -> str:
    here = [t.condition for t in truths if _stands(_box_middle(mark), t)]
    return here[0] if here else otherwise
