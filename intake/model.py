"""What is made of one scan, in the order in which it is made.

Reading this file from top to bottom tells half of the job:

    Received -> Checked -> Rendered -> Classified -> Measured -> Features -> Reading -> Mark ...     (one scan)

and ``intake/kin.py`` goes on across scans.

Conventions, the same everywhere:

* A scan is a file, named by the SHA-256 of its bytes (``digest``). A part (1, 2, ...) is one piece's picture in it.
* Coordinates are pixels of the stored file, x right and y down, ignoring its EXIF orientation. ``Box`` is whole pixels.
* To set a part upright: mirror it first (left-right) if ``mirrored``, then turn it by ``rotation`` degrees clockwise.
* Confidence and probability run from 0 to 1. Lengths carry their unit in their name.

Standard library only.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

Kind = Literal[
    "film_negative", "film_transparency", "glass_negative", "separation", "photographic_proof", "printers_proof",
    "finished_sheet", "artwork", "rough", "paste_up", "lettering", "photograph", "still", "printed_matter",
    "reverse", "document", "target", "unknown",
]  # fmt: skip
FILM_KINDS: frozenset[str] = frozenset({"film_negative", "film_transparency", "glass_negative", "separation"})
Polarity = Literal["positive", "negative", "unknown"]
Side = Literal["recto", "verso", "detail", "unknown"]
Severity = Literal["note", "attention", "hazard", "failure"]
Accepted = Literal["auto", "person", "no"]
SizeSource = Literal["resolution tag", "ruler in the frame", "person", "size unknown"]
FormatFit = Literal["fits", "loosely", "off-size", "no format known", "size unknown", "as ruled"]
Tone = Literal["continuous", "screened", "rescreened", ""]
ConditionSort = Literal[
    "tear", "missing_corner", "missing_paper", "edge_wear", "fold_loss", "pinhole", "tape", "stain", "writing"
]


class Box(NamedTuple):
    """A rectangle in pixels of the stored file."""

    left: int
    top: int
    width: int
    height: int


class PartKey(NamedTuple):
    """The name of one piece's picture: the digest of its file, and which picture in it (0 = the file as a whole)."""

    digest: str
    part: int


@dataclass(frozen=True, slots=True)
class Finding:
    """Trouble with, or a flag on, one scan or piece: a value that reaches the desk, never an exception.

    ``code`` is snake_case and documented in config/findings.toml; ``message`` says what is wrong and what to do.
    """

    stage: str
    code: str
    severity: Severity
    message: str
    part: int = 0


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reason and its weight (log-odds, natural logarithm; 0 when it only informs). The sum is the verdict."""

    name: str
    words: str
    weight: float = 0.0
    box: Box | None = None


# ---- receiving ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Received:
    """One file as it lay in the received folder. ``path`` is below that folder, with ``/``.

    ``sequence`` tells apart several pictures that show one side between them (``p01``, ``p02``).
    """

    consignment: str
    box: str
    piece: str
    side: Side
    path: str
    digest: str
    size_bytes: int
    is_reference: bool = False
    sequence: str = ""


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of the box list: what the owner says is there, and what was not scanned, with the reason."""

    box: str
    piece: str
    description: str = ""
    sides: int = 1
    held: bool = False
    why: str = ""


# ---- one scan -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartFound:
    """Where one piece's picture lies: page of the file (from 0) and box on it."""

    part: int
    page: int
    box: Box


@dataclass(frozen=True, slots=True)
class Ruler:
    """A ruler in the frame: what its ticks are, stored pixels a millimetre, the share that this may be off by, on how
    many ticks it rests, and where they lie."""

    graduation: str
    px_per_mm: float
    off_share: float
    ticks: int
    box: Box


@dataclass(frozen=True, slots=True)
class Checked:
    """What the arrival check saw of one file. ``parts`` is empty when nothing in it can be looked at.

    ``ppi`` is the resolution that can be believed: the file's own, else that of a ``ruler`` in the frame.
    """

    width_px: int
    height_px: int
    pages: int
    bits: int
    colour: str
    file_format: str
    ppi: float | None
    ppi_words: str
    exif_orientation: int
    file_source: int | None
    scanner: str
    scanned_at: str
    sharpness: float
    parts: tuple[PartFound, ...]
    findings: tuple[Finding, ...] = ()
    ruler: Ruler | None = None


@dataclass(frozen=True, slots=True)
class Rendered:
    """The working image of one part: sRGB, at most 2048 px on its long edge, not turned and not mirrored.

    ``stored_per_working`` is stored pixels per working pixel. ``outline`` is the piece's own corners in stored pixels
    (top left, top right, bottom right, bottom left as stored), where they were found.
    """

    box: Box
    width_px: int
    height_px: int
    stored_per_working: float
    outline: tuple[tuple[float, float], ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Classified:
    """What one part is. ``evidence`` holds the rules that fired, the strongest first."""

    kind: Kind
    kind_confidence: float
    polarity: Polarity
    polarity_confidence: float
    evidence: tuple[Evidence, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class InkScreen:
    """The screen of one ink ("" where colour does not tell which): rows of dots an inch, their angle as scanned.

    ``lpi`` is None without a trusted resolution; ``strength`` says how far it stands out of the picture's structure.
    """

    ink: str
    lpi: float | None
    period_px: float
    angle_deg: float
    strength: float


@dataclass(frozen=True, slots=True)
class InkShift:
    """How far an ink was printed to the right of black and below it, as scanned; None where that is not told."""

    ink: str
    right_mm: float | None
    down_mm: float | None
    off_mm: float


@dataclass(frozen=True, slots=True)
class Screened:
    """How a part was printed, as far as its scan shows. ``limit_lpi``: screens up to this ruling would have shown.

    ``shifts`` are of the inks of a proof's colour bar; ``shifts_words`` says where they come from, or why none is told.
    """

    tone: Tone
    lpi: float | None
    limit_lpi: float | None
    screens: tuple[InkScreen, ...]
    findings: tuple[Finding, ...] = ()
    shifts: tuple[InkShift, ...] = ()
    shifts_words: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """A place of a sheet that may be a strip pasted on; ``alone``: sure enough that marks on it date it alone."""

    box: Box
    certainty: float
    alone: bool
    words: str


@dataclass(frozen=True, slots=True)
class Sniped:
    """Strips that may be pasted on a part, the surest first."""

    strips: tuple[Strip, ...]
    findings: tuple[Finding, ...] = ()

    def bears(self, box: Box) -> bool:
        """Does a mark at ``box`` stand on a strip that is dated alone?"""
        x, y = box.left + box.width / 2, box.top + box.height / 2
        on = (s.box for s in self.strips if s.alone)
        return any(b.left <= x <= b.left + b.width and b.top <= y <= b.top + b.height for b in on)


@dataclass(frozen=True, slots=True)
class FoldLine:
    """One straight line across a piece, from ``start`` to ``end`` in stored pixels.

    It crosses the stored width (``axis`` x: it runs up and down) or height (y) at the share ``at``. ``probability`` is
    that of its pattern; ``printed`` tells a fold of a sheet that was copied from one of this sheet. ``words`` say why.
    """

    axis: Literal["x", "y"]
    at: float
    start: tuple[float, float]
    end: tuple[float, float]
    probability: float
    printed: bool
    words: str


@dataclass(frozen=True, slots=True)
class Folded:
    """How the piece lies (``skew_deg``: clockwise, None when not told) and its folds, if ``looked`` at for any."""

    skew_deg: float | None
    looked: bool = False
    lines: tuple[FoldLine, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Place:
    """A place on a piece that looks worn or damaged. ``certainty``: the share of such places on the bench that were."""

    sort: ConditionSort
    box: Box
    certainty: float
    words: str


@dataclass(frozen=True, slots=True)
class Condition:
    """Places that look worn, and the sorts that could be looked for on this scan; none where it was not looked at."""

    looked: tuple[ConditionSort, ...] = ()
    places: tuple[Place, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Rescan:
    """What of a scan is below the house rule for its kind, and what the scanner added, None where it could not be told:
    ``noise`` and ``banding`` (standard deviations in CIE L*), ``specks`` on a million pixels of even ground."""

    findings: tuple[Finding, ...] = ()
    noise: float | None = None
    banding: float | None = None
    specks: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """Size of the piece as it lies in the scan turned upright, and the formats that it may be.

    ``width_off_mm`` and ``height_off_mm``: how far the size may be off, by its edges and the resolution's rounding.
    """

    width_mm: float | None
    height_mm: float | None
    size_source: SizeSource
    format: str
    format_fit: FormatFit
    candidates: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    width_off_mm: float | None = None
    height_off_mm: float | None = None


@dataclass(frozen=True, slots=True)
class FeatureSummary:
    """What the ledger keeps of a fingerprint; its arrays lie in a file beside the database."""

    keypoints: int
    width_px: int
    height_px: int
    stored_per_frame: float
    frame: Box
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class ReaderSaid:
    """What one reader made of a line; ``least`` is how sure it is of the letter that it is least sure of."""

    reader: str
    text: str
    confidence: float
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text. ``corners``: four points in stored pixels, clockwise from where its reading begins.

    ``agreed`` is true when the acceptance rule for plain text held; what was not agreed keeps all competing readings.
    """

    corners: tuple[tuple[float, float], ...]
    text: str
    confidence: float
    agreed: bool
    readers: tuple[ReaderSaid, ...]

    @property
    def box(self) -> Box:
        """The upright rectangle of stored pixels that holds the line."""
        xs, ys = [x for x, _ in self.corners], [y for _, y in self.corners]
        left, top = int(min(xs)), int(min(ys))
        return Box(left, top, max(1, int(max(xs) + 0.999) - left), max(1, int(max(ys) + 0.999) - top))


@dataclass(frozen=True, slots=True)
class Reading:
    """All lines of one part, and the orientation that its text tells (confidence 0 when it tells none)."""

    lines: tuple[Line, ...]
    rotation: int
    mirrored: bool
    orientation_confidence: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """A print code, parsed. ``text`` is the whole line, ``value`` what it says, ``rule`` the row of config/ that fired.

    ``year_from`` is "not before", ``year_to`` "usual until"; either may be unknown. ``dates`` says what they date.
    ``year`` is the year that stands in the mark itself, ``periods`` the separate stretches of years in which such marks
    were in use (first, last; None where not known), ``doubtful`` those of its years that sources do not agree on.
    ``town`` is a printer's.
    """

    kind: str
    text: str
    value: str
    year_from: int | None
    year_to: int | None
    accepted: Accepted
    confidence: float
    box: Box
    readers: tuple[ReaderSaid, ...]
    rule: str
    country: str = ""
    dates: str = ""
    year: int | None = None
    periods: tuple[tuple[int | None, int | None], ...] = ()
    doubtful: tuple[int, ...] = ()
    town: str = ""


@dataclass(frozen=True, slots=True)
class Parsed:
    """The marks of one part."""

    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Barcoded:
    """The barcodes of one part, as marks."""

    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class StageResult:
    """One line of the ledger: what a stage made of one part, under one settings stamp."""

    key: PartKey
    stage: str
    stamp: str
    state: Literal["done", "failed", "quarantined"]
    payload: str
    cpu_s: float


class Worked(NamedTuple):
    """One stage of one part: a place in the ledger."""

    key: PartKey
    stage: str


# The ledger's entry for a file as such: looked at to the end, or set aside.
WHOLE = "whole"


@dataclass(frozen=True, slots=True)
class Stamps:
    """The settings stamp of every per-scan stage (name -> stamp), of the whole of them, and of matching."""

    stages: dict[str, str]
    whole: str
    match: str

    @property
    def entries(self) -> dict[str, str]:
        """The stamps of all that the ledger holds of a file: every stage, and the file as such."""
        return {**self.stages, WHOLE: self.whole}
