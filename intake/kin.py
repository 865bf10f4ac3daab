"""What is made across scans, in the order in which it is made.

    Match (with evidence) -> Family -> Campaign, QueueEntry -> Decision

The conventions are those of ``intake/model.py``. Standard library and the model only.
"""

import math
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from intake.model import Box, Evidence, PartKey

Relation = Literal["same_design", "shared_element", "same_piece"]
FamilyStatus = Literal["suggested", "confirmed"]
Verb = Literal[
    "confirm", "part_off", "join", "accept_reading", "correct_reading", "reject_reading", "note_hazard",
    "propose_clearing", "confirm_clearing", "undo", "divide", "same_campaign", "name_design", "refer", "set_aside",
    "set_role", "set_format", "reproduction", "nothing_to_add", "date_catalogue",
    "confirm_place", "reject_place", "add_place", "grade", "note_measure", "materials",
    "mark_point", "adopt_learnt", "offer", "log_search", "choose_reference",
    "name_element",
]  # fmt: skip
ANEW = "anew"  # the evidence that a file is another one's scan, saved anew
PieceRelation = Literal["side_of", "overlay_of", "section_of", "overlap_of", "set", "duplicate", "re_scan", "unrelated"]


@dataclass(frozen=True, slots=True)
class Match:
    """Two parts that show the same design, element or piece, with the evidence. ``a`` sorts before ``b``.

    ``transform`` is the 3x3 homography, row by row, from stored pixels of ``a`` to stored pixels of ``b``.
    ``mirror`` and ``polarity_flip`` tell how b's stored picture differs from a's; ``rotation`` (degrees clockwise,
    to be applied after the mirror) and ``scale`` are read from the transform. ``points`` are matched points
    (x_a, y_a, x_b, y_b) in stored pixels; ``agreement`` tells of a few fields (x_a, y_a, agreeing) how far their edges
    run the same way, 0 to 1; ``weight`` is the sum of the evidence's weights, the log-odds.
    """

    a: PartKey
    b: PartKey
    relation: Relation
    probability: float
    inliers: int
    coverage_a: float
    coverage_b: float
    polarity_flip: bool
    mirror: bool
    rotation: float
    scale: float
    transform: tuple[float, ...]
    evidence: tuple[Evidence, ...]
    points: tuple[tuple[float, float, float, float], ...] = ()
    agreement: tuple[tuple[float, float, float], ...] = ()

    @property
    def weight(self) -> float:
        """Log-odds of the relation: the sum of what is shown as evidence."""
        return sum(e.weight for e in self.evidence)


@dataclass(frozen=True, slots=True)
class Learnt:
    """What people's rulings on ``pairs`` pairs taught, and a person adopted: log-odds w of one design become
    ``slope`` * w + ``offset``."""

    slope: float
    offset: float
    pairs: int

    def applied(self, match: Match) -> Match:
        """The match with one reason more, so that its evidence still adds up to its probability. What was judged by
        other measures (one piece, a shared element) stays."""
        if match.relation != "same_design":
            return match
        weight = match.weight
        more = self.slope * weight + self.offset - weight
        words = f"as people's rulings on {self.pairs:,} pairs showed"
        chance = 1 / (1 + math.exp(-max(-60.0, min(60.0, weight + more))))
        return replace(match, probability=chance, evidence=(*match.evidence, Evidence("rulings", words, more)))


@dataclass(frozen=True, slots=True)
class Member:
    """One part in a family: its role (its kind) and how likely it belongs there."""

    key: PartKey
    role: str
    probability: float


@dataclass(frozen=True, slots=True)
class Family:
    """Pieces of one design. ``code`` derives from the members, so the same members always bear the same name."""

    code: str
    status: FamilyStatus
    title: str
    members: tuple[Member, ...]
    weakest: str = ""


@dataclass(frozen=True, slots=True)
class Tie:
    """Why two families are held to be of one campaign. ``a`` and ``b`` are their codes, ``a`` sorts before ``b``.

    ``words`` are those that both bear (without case, accents and small words), ``link`` the surest match between them.
    """

    a: str
    b: str
    evidence: tuple[Evidence, ...]
    words: tuple[str, ...] = ()
    link: tuple[PartKey, PartKey] | None = None

    @property
    def weight(self) -> float:
        """Log-odds that the two are of one campaign: the sum of what is shown as evidence."""
        return sum(e.weight for e in self.evidence)


@dataclass(frozen=True, slots=True)
class Campaign:
    """Families of different designs made for one film, by what ties them; it never makes one family of them.

    ``code`` derives from the members of its families. Every family is tied to another one, not each to each.
    """

    code: str
    families: tuple[str, ...]
    ties: tuple[Tie, ...]


@dataclass(frozen=True, slots=True)
class NumberedSet:
    """Cards or stills of one size under one caption, each with its number: a set, not duplicates."""

    numbers: tuple[tuple[PartKey, int], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Two pictures of one sheet that share a strip at an edge of each; the shares are the strip's of each picture."""

    a: PartKey
    b: PartKey
    shared_a: float
    shared_b: float


@dataclass(frozen=True, slots=True)
class QueueEntry:
    """A family waiting for a person: its place comes from the sum of the reasons, shown in words."""

    family: str
    weight: float
    reasons: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decided: an added row, never changed. It names parts, never a family's code."""

    id: int
    made_at: str
    who: str
    verb: Verb
    parts: tuple[PartKey, ...]
    shown: dict[str, Any] = field(default_factory=dict)
    undoes: int | None = None


DifferenceKind = Literal[
    "covered", "added", "absent", "pasted", "scaled", "moved", "redrawn", "lettering", "cropped"
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Difference:
    """One region in which two pictures of a design differ. ``a`` and ``b`` are its places in stored pixels, None where
    it has none. ``factor`` is how much larger a scaled element is on b; ``certainty`` that the region differs at all;
    ``signed`` that one of the two shows there what looks hand-signed.
    """

    kind: DifferenceKind
    a: Box | None
    b: Box | None
    certainty: float
    words: str
    factor: float | None = None
    signed: bool = False


@dataclass(frozen=True, slots=True)
class Surface:
    """How far the brushwork of a painting lies on film of it: median correlations (-1 to 1) where it is drawn faintly,
    along contours, and faintly with the film moved aside; the most that a place of the film, or of the painting, is
    left untold, in times of its noise; the most of a patch that both draw on and that does not go together; places (on
    the painting, on the film; stored pixels) that are most telling, and that have what the other lacks.
    """

    faint: float
    plain: float
    aside: float
    untold_film: float
    untold_art: float
    strange: float
    alike: tuple[tuple[Box, Box], ...] = ()
    unlike: tuple[tuple[Box, Box], ...] = ()


@dataclass(frozen=True, slots=True)
class Differences:
    """What differs between parts ``a`` and ``b`` (``a`` sorts before ``b``), surest first; ``why_not`` is empty when
    the two could be compared. ``seen_a`` and ``seen_b`` are what both show, in stored pixels of each; ``surface`` is
    told of a painting and film.
    """

    a: PartKey
    b: PartKey
    regions: tuple[Difference, ...]
    why_not: str = ""
    seen_a: Box | None = None
    seen_b: Box | None = None
    surface: Surface | None = None
