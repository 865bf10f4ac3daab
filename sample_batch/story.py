"""The words in which an invented consignment is told: designs, pieces, how each was made, and how each was scanned."""

from dataclasses import dataclass, field
from functools import cached_property

from sample_batch.art.design import Edits
from sample_batch.certificate import Certificate
from sample_batch.files import Delivery
from sample_batch.film import Film
from sample_batch.page import Mark
from sample_batch.photoprint import Caption
from sample_batch.scanner import Setting
from sample_batch.sheet import SheetPlan, Title
from sample_batch.typeset import Ink
from sample_batch.verso import Back
from sample_batch.wear import Wear


@dataclass(frozen=True, slots=True)
class Design:
    """One picture of a campaign. ``aspect`` is width / height of the painting."""

    key: str
    campaign: str
    genre: str
    seed: int
    aspect: float
    title: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of paper pasted on at (x, y) mm; what it carries is a line of type or a certificate."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    colour: Ink = (0.95, 0.94, 0.9)
    text: str = ""
    angle_deg: float = 0.0
    certificate: Certificate | None = None


@dataclass(frozen=True, slots=True)
class Printed:
    """A finished sheet."""

    plan: SheetPlan
    wear: Wear = field(default_factory=Wear)
    gloss: float = 0.0
    lpi: float = 120.0
    strips: tuple[Strip, ...] = ()


@dataclass(frozen=True, slots=True)
class Proofed:
    """A printer's proof on untrimmed paper."""

    plan: SheetPlan
    job: str
    notes: tuple[str, ...] = ()
    imprint: str = ""
    wear: Wear = field(default_factory=Wear)


@dataclass(frozen=True, slots=True)
class Separated:
    """One ink of a sheet on film, reduced to ``width_mm`` of picture."""

    plan: SheetPlan
    ink: str
    job: str
    width_mm: float = 180.0


@dataclass(frozen=True, slots=True)
class Painted:
    """A painting on board."""

    width_mm: float
    height_mm: float
    margin_mm: float = 30.0
    notes: tuple[str, ...] = ()
    job: str = ""
    strips: tuple[Strip, ...] = ()


@dataclass(frozen=True, slots=True)
class Roughed:
    """A felt-pen rough."""

    width_mm: float
    height_mm: float
    title: Title


@dataclass(frozen=True, slots=True)
class Lettered:
    """A drawn title treatment."""

    width_mm: float
    height_mm: float
    title: Title
    job: str = ""


@dataclass(frozen=True, slots=True)
class PastedUp:
    """Photograph of the art, title and set type pasted on board under a tissue's register marks."""

    plan: SheetPlan
    width_mm: float
    job: str


@dataclass(frozen=True, slots=True)
class Copied:
    """Film exposed in a copy camera: ``of`` stands before ``ground``, framed with ``air_mm`` round it."""

    film: Film
    of: "Recipe"
    ground: Ink = (0.16, 0.16, 0.165)
    air_mm: tuple[float, float] = (40.0, 40.0)


@dataclass(frozen=True, slots=True)
class PhotoProof:
    """A black-and-white print of ``of``."""

    width_mm: float
    height_mm: float
    of: "Recipe"
    border_mm: float = 7.0


@dataclass(frozen=True, slots=True)
class StillOf:
    """One numbered still of a set."""

    caption: Caption
    number: int


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A studio or reference photograph, in colour or not."""

    width_mm: float
    height_mm: float
    colour: bool = False


@dataclass(frozen=True, slots=True)
class TypedPage:
    """A typed letter or a page set in columns; ``head`` is printed large."""

    width_mm: float
    height_mm: float
    head: str
    lines: tuple[str, ...]
    columns: int = 1
    pictures: bool = False


@dataclass(frozen=True, slots=True)
class TargetCard:
    """A colour and grey target with a ruler, as scanned at the start of a day."""

    width_mm: float = 210.0
    height_mm: float = 148.0


@dataclass(frozen=True, slots=True)
class EmptyBed:
    """Nothing on the bed."""

    width_mm: float = 420.0
    height_mm: float = 594.0


Recipe = (
    Printed
    | Proofed
    | Separated
    | Painted
    | Roughed
    | Lettered
    | PastedUp
    | Copied
    | PhotoProof
    | StillOf
    | Snapshot
    | TypedPage
    | TargetCard
    | EmptyBed
)


@dataclass(frozen=True, slots=True)
class Piece:
    """A physical thing. ``number`` is its number in its box (``0029.2`` is the second of several listed as one).

    ``recipe`` is None for what was never scanned.

    ``listed`` says whether the owner's list has it, ``scanned`` whether it came, ``held`` and ``why`` a known reason.
    An empty ``design`` belongs to nothing; what such a piece shows is ``loose``: genre, seed, aspect.
    """

    box: str
    number: str
    kind: str
    recipe: Recipe | None
    design: str = ""
    edits: Edits = field(default_factory=Edits)
    description: str = ""
    sides: int = 1
    back: Back | None = None
    listed: bool = True
    held: bool = False
    why: str = ""
    format: str = ""
    seed: int = 0
    loose: tuple[str, int, float] | None = None

    @property
    def code(self) -> str:
        """Box and number: unique in the story."""
        return f"{self.box}-{self.number}"

    @property
    def name(self) -> str:
        """The piece as the owner's list and the file names have it."""
        stem, _, rest = self.number.rpartition(".")
        return stem if stem and rest.isdigit() else self.number


@dataclass(frozen=True, slots=True)
class Shot:
    """One file: which pieces lie on the bed, which side is up, and how it was scanned and written.

    ``same_as`` makes an exact copy of another shot's file. ``findings`` are what a pipeline ought to say of it.
    ``note`` tells why the file is there.
    """

    path: str
    pieces: tuple[str, ...]
    side: str = "recto"
    ppi: float = 100.0
    setting: Setting = field(default_factory=Setting)
    delivery: Delivery = field(default_factory=Delivery)
    same_as: str = ""
    findings: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Consignment:
    """All of it. ``kin`` names pairs of pieces that share an element and no more."""

    code: str
    designs: tuple[Design, ...]
    pieces: tuple[Piece, ...]
    shots: tuple[Shot, ...]
    kin: tuple[tuple[str, str], ...] = ()

    @cached_property
    def _pieces(self) -> dict[str, Piece]:
        return {p.code: p for p in self.pieces}

    @cached_property
    def _designs(self) -> dict[str, Design]:
        return {d.key: d for d in self.designs}

    def piece(self, code: str) -> Piece:
        """Return the piece of that code."""
        return self._pieces[code]

    def design(self, key: str) -> Design:
        """Return the design of that key."""
        return self._designs[key]

    def only(self, shots: tuple[Shot, ...]) -> "Consignment":
        """Return what it takes to make ``shots``: their pieces and designs."""
        codes = {code for shot in shots for code in shot.pieces}
        pieces = tuple(self.piece(code) for code in sorted(codes))
        keys = {p.design for p in pieces if p.design}
        return Consignment(self.code, tuple(self.design(key) for key in sorted(keys)), pieces, shots)

    def loose(self, piece: Piece) -> Design | None:
        """Return a design of its own for a piece that belongs to no family but shows a picture."""
        return Design("", "", piece.loose[0], piece.loose[1], piece.loose[2]) if piece.loose else None


__all__ = ["Consignment", "Design", "Mark", "Piece", "Recipe", "Shot", "Strip"]
