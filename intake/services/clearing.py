"""What people noted of hazards, and which bases two of them ruled safety: read from the decisions, the oldest first.

A proposal names its pieces one by one; whatever comes into the box later is not among them. It holds once a second,
other named person has confirmed it, for as long as neither takes it back; what was taken back never comes back.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from intake.config.hazards import POSSIBLE_NITRATE
from intake.kin import Decision, Verb
from intake.model import Box, PartKey
from intake.services.rulings import standing

PieceName = tuple[str, str, str]  # consignment, box, piece
BoxName = tuple[str, str]  # consignment, box
VERBS: tuple[Verb, ...] = ("note_hazard", "propose_clearing", "confirm_clearing")
CLEARING: tuple[Verb, ...] = ("propose_clearing", "confirm_clearing")


@dataclass(frozen=True, slots=True)
class Note:
    """A hazard that a person noted, on a piece or (``piece`` is empty) on a whole box, with the caution for it."""

    decision: Decision
    consignment: str
    box: str
    piece: str
    code: str
    called: str
    words: str
    caution: str

    @property
    def name(self) -> PieceName:
        """Consignment, box and piece."""
        return self.consignment, self.box, self.piece

    @property
    def says(self) -> str:
        """What was noted, by whom and when, and what to do."""
        own = f": {self.words}" if self.words else ""
        at = self.decision.made_at[:10]
        return f"{self.called}, noted by {self.decision.who} ({at}){own}. {self.caution}"


@dataclass(frozen=True, slots=True)
class Proposal:
    """One person's word that the base of these pieces is safety film.

    ``of`` says in words which they are, ``places`` of which piece each part was and where its picture stood. ``seen``
    are the parts on which NITRATE had been read by then.
    """

    decision: Decision
    consignment: str
    box: str
    of: str
    pieces: frozenset[PieceName]
    places: dict[PartKey, tuple[PieceName, Box]]
    basis: str
    words: str
    seen: frozenset[PartKey]


@dataclass(frozen=True, slots=True)
class Clearing:
    """A proposal that a second person confirmed."""

    proposal: Proposal
    confirmed: Decision

    @property
    def by(self) -> str:
        """By whom the base was ruled."""
        return f"ruled safety by {self.proposal.decision.who} and {self.confirmed.who}"

    @property
    def says(self) -> str:
        """By whom the base was ruled, and on what basis."""
        return f"{self.by}, {self.proposal.basis}: {self.proposal.words}"


@dataclass(frozen=True, slots=True)
class HazardRulings:
    """The notes that stand, the proposals that wait for a second person, and the clearings, the oldest first."""

    notes: tuple[Note, ...]
    open: tuple[Proposal, ...]
    clearings: tuple[Clearing, ...]


def hazard_rulings(decisions: Iterable[Decision]) -> HazardRulings:
    """Bring decisions together. ``decisions`` are those of VERBS and all undoings, the oldest first."""
    made = list(decisions)
    taken_back = {d.undoes for d in made}  # be that undone itself or not: a clearing needs both words anew
    proposals = {d.id: _proposal(d) for d in made if d.verb == "propose_clearing" and d.id not in taken_back}
    clearings: dict[int, Clearing] = {}
    for d in made:
        number = d.shown.get("proposal")
        if d.verb == "confirm_clearing" and d.id not in taken_back and number in proposals:
            proposal = proposals[number]
            if number < d.id and number not in clearings and not is_same_person(d.who, proposal.decision.who):
                clearings[number] = Clearing(proposal, d)
    return HazardRulings(
        tuple(_note(d) for d in standing(made) if d.verb == "note_hazard"),
        tuple(p for number, p in proposals.items() if number not in clearings),
        tuple(clearings.values()),
    )


def is_same_person(one: str, other: str) -> bool:
    """Are two names one person's? Case, spaces, signs, accents, Unicode forms and the order of names make no other.

    So does a name that holds no letter at all: it names nobody.
    """
    a, b = _folded(one), _folded(other)
    return not a or not b or "".join(a) == "".join(b) or sorted(a) == sorted(b)


def _folded(name: str) -> list[str]:
    bare = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", name).casefold())
    words = "".join(c if c.isalnum() else "" if unicodedata.category(c) in ("Mn", "Me", "Cf") else " " for c in bare)
    return words.split()


def puts_on_hold(note: Note) -> bool:
    """Does the note say that the piece is flexible film, or decays as nitrate does?"""
    return note.code in (POSSIBLE_NITRATE, "decay")


def _note(d: Decision) -> Note:
    names = ("consignment", "box", "piece", "code", "called", "words", "caution")
    return Note(d, *(str(d.shown.get(name, "")) for name in names))


def _proposal(d: Decision) -> Proposal:
    shown = d.shown
    consignment, box = str(shown.get("consignment", "")), str(shown.get("box", ""))
    places = {
        key: ((consignment, box, str(piece)), Box(*place))
        for key, (piece, *place) in zip(d.parts, shown.get("places", ()), strict=False)
    }
    return Proposal(
        d,
        consignment,
        box,
        str(shown.get("of", "")),
        frozenset((consignment, box, str(piece)) for piece in shown.get("pieces", ())),
        places,
        str(shown.get("basis", "")),
        str(shown.get("words", "")),
        frozenset(PartKey(*key) for key in shown.get("seen", ())),
    )
