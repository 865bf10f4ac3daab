"""What may be said of a piece and of a family, as values: every paper and format is made of these alone."""

from dataclasses import dataclass

from intake.model import Box, PartKey
from intake.services.clearing import PieceName
from intake.services.orient import Orientation

PROGRAM = "Kinfold (suggested)"
LISTED = "the consignor's list"


@dataclass(frozen=True, slots=True)
class Source:
    """Who states a thing, when (ISO 8601, or empty) and on what it rests."""

    who: str
    at: str = ""
    on: str = ""


@dataclass(frozen=True, slots=True)
class MarkRecord:
    """A mark as a person accepted it: what it says, and the crop where it stands (pixels of the stored file)."""

    kind: str
    text: str
    value: str
    country: str
    path: str
    key: PartKey
    box: Box
    ruling: int
    source: Source

    @property
    def crop(self) -> str:
        """The name of its crop among the pictures that `kinfold export iiif` writes."""
        return crop_name(self.key, self.box)


@dataclass(frozen=True, slots=True)
class Measurement:
    """One length in millimetres: of what, and how it is known."""

    what: str
    value_mm: float
    how: str
    source: Source


@dataclass(frozen=True, slots=True)
class Stated:
    """Something said of the piece in words: a title, a state. ``certainty``: confirmed, stated or suggested.

    ``at`` is the place that it is said of, where it is of one (pixels of the stored file).
    """

    words: str
    certainty: str
    source: Source
    at: tuple[PartKey, Box] | None = None

    @property
    def said(self) -> str:
        """The words, and how sure they are."""
        return f"{self.words} ({self.certainty})"


@dataclass(frozen=True, slots=True)
class RelationRecord:
    """What this piece is to another, in a controlled word; certainty: confirmed, likely, possible or rejected."""

    word: str
    other: PieceName
    certainty: str
    source: Source


@dataclass(frozen=True, slots=True)
class DateRecord:
    """When it may have been printed, by its accepted marks alone. ``rests_on`` names them, with their places."""

    words: str
    edtf: str
    rests_on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ImageRecord:
    """One picture of the piece: part of which file, where on it, how it is set upright, our working image's size."""

    key: PartKey
    path: str
    side: str
    size_px: tuple[int, int]
    box: Box
    ppi: float | None
    turn: Orientation
    working_px: tuple[int, int]


@dataclass(frozen=True, slots=True)
class PieceRecord:
    """All that is said of one piece."""

    name: PieceName
    kind: Stated
    kind_code: str
    title: Stated | None
    inscribed: Stated | None
    description: Stated | None
    materials: Stated | None
    marks: tuple[MarkRecord, ...]
    measurements: tuple[Measurement, ...]
    format: Stated | None
    condition: tuple[Stated, ...]
    remarks: tuple[Stated, ...]
    hazards: tuple[Stated, ...]
    date: DateRecord | None
    relations: tuple[RelationRecord, ...]
    images: tuple[ImageRecord, ...]
    family: str
    family_status: str
    location: str
    received: str
    is_private: bool

    @property
    def identifier(self) -> str:
        """Consignment, box and piece, as the house numbers them."""
        return "/".join(self.name)


@dataclass(frozen=True, slots=True)
class OtherDesign:
    """Another family of the same campaign; certainty: confirmed where a person said so, else possible."""

    code: str
    certainty: str
    source: Source


@dataclass(frozen=True, slots=True)
class FamilyRecord:
    """A family. ``confirmed``: by whom and when, where a person ruled on it; ``designs``: others of its campaign."""

    code: str
    status: str
    title: Stated | None
    pieces: tuple[PieceName, ...]
    campaign: str
    confirmed: Source | None
    others: int
    designs: tuple[OtherDesign, ...] = ()


@dataclass(frozen=True, slots=True)
class Records:
    """Every record asked for, pieces and families by name, and what was left out of them, counted."""

    pieces: tuple[PieceRecord, ...]
    families: tuple[FamilyRecord, ...]
    private_left_out: int = 0


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for: one consignment or family, or all; with papers found in boxes or without."""

    consignment: str = ""
    family: str = ""
    with_documents: bool = False


ALL = Wanted()


def crop_name(key: PartKey, box: Box) -> str:
    """What a crop is called: file, part and place (pixels of the stored file)."""
    return f"{key.digest}-{key.part}-{'-'.join(map(str, box))}.jpg"


def share(value: float) -> str:
    """A share of one in words: two digits, and never so rounded that it looks certain."""
    return "over 0.99" if 0.995 <= value < 1 else f"{value:.2f}"
