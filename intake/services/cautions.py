"""The cautions that stand before any picture of a box: each said once, with the boxes and pieces that it is about."""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from intake.config.load import Config
from intake.services.clearing import BoxName
from intake.services.hazards import BoxHazards, PieceHazard, box_hazards, notes_of
from intake.services.home import Home
from intake.store import desk


@dataclass(frozen=True, slots=True)
class Place:
    """A box, and the pieces in it that a caution is about, by number; none: it is about the box as a whole."""

    consignment: str
    box: str
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """What may be wrong, in a few words; where; and what to do."""

    title: str
    message: str
    places: tuple[Place, ...]

    @property
    def pieces(self) -> int:
        """How many pieces it is about."""
        return sum(len(p.pieces) for p in self.places)


def cautions(home: Home, config: Config, boxes: Collection[BoxName] | None = None) -> list[Caution]:
    """What has to be said of these boxes, or of all, before any picture of theirs is shown; the gravest first."""
    with home.database.read() as connection:
        return cautions_of(box_hazards(connection, desk.shown_stamps(connection), boxes), config)


def cautions_of(found: Iterable[BoxHazards], config: Config) -> list[Caution]:
    """The cautions on these boxes."""
    found = list(found)
    made = [
        _on(*_divided(config.classify.hazard_words), found, lambda p: p.on_hold),
        _on(
            "NITRATE is read on it",
            "Take it for cellulose nitrate, whatever else is printed on it.",
            found,
            lambda p: p.nitrate_read and p.on_hold,
        ),
        _on(
            "Ruled safety, and spoken against since",
            "NITRATE was read on it after two people had ruled on its base, or film was noted anew. "
            "The hold is back until two people have looked again.",
            found,
            lambda p: p.opposed,
        ),
    ]
    for code, row in config.hazards.noted.items():
        if code != "possible_nitrate":
            places = [
                Place(*b.name, ()) if any(n.code == code for n in b.notes) else _place(b, pieces)
                for b in found
                if (pieces := [p for p in b.pieces if any(n.code == code for n in notes_of(p))])
                or any(n.code == code for n in b.notes)
            ]
            made.append(Caution(f"Noted: {row.words}", row.caution, tuple(places)))
    made.append(_on(*_divided(config.classify.glass_words), found, lambda p: p.glass))
    return [c for c in made if c.places]


def _divided(words: str) -> tuple[str, str]:
    """What stands before the first colon, and what comes after it as a sentence."""
    title, _, message = words.partition(": ")
    return title, message[:1].upper() + message[1:]


def _on(title: str, message: str, found: Iterable[BoxHazards], is_so: Callable[[PieceHazard], bool]) -> Caution:
    of = [(b, [p for p in b.pieces if is_so(p)]) for b in found]
    return Caution(title, message, tuple(_place(b, pieces) for b, pieces in of if pieces))


def _place(box: BoxHazards, pieces: Iterable[PieceHazard]) -> Place:
    return Place(*box.name, tuple(p.name[2] for p in pieces))
