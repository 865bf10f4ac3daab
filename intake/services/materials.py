"""Materials and technique of a piece, as a person states them: no stage tells them, and nothing is worked out."""

from collections.abc import Iterable

from intake.kin import Decision, Verb
from intake.model import PartKey
from intake.services.home import Home, now
from intake.services.review import LONGEST_WORDS, RulingRefused, named, tidy
from intake.services.rulings import standing
from intake.services.whose import Whose
from intake.store import decisions

VERB: Verb = "materials"
# How sure the person is; records bear the word.
CERTAINTIES = ("certain", "probable", "possible")


def state_materials(home: Home, who: str, key: PartKey, whose: Whose, text: str, certainty: str) -> int:
    """Write down what the piece of this part is made of, and how; returns the decision's number.

    The newest word on any scan of the piece holds. Raises RulingRefused when it makes no sense, NoPicture or Withheld
    when there is no such piece or it may not be seen.
    """
    from intake.services.piece import seen_by  # heavy: pictures; tables and records need the words alone

    who, text = named(who), tidy(text, LONGEST_WORDS)
    if not text:
        raise RulingRefused("Type what it is made of, and how: offset lithograph on paper, gouache on board.")
    if certainty not in CERTAINTIES:
        raise RulingRefused("Say how sure that is: choose from the list.")
    with home.database.write() as connection:
        code, box, piece = seen_by(connection, key, whose)
        shown = {"text": text, "as": certainty, "of": f"{box} / {piece}", "consignment": code}
        return decisions.add_decision(connection, now(), who, VERB, [key], shown)


def stated(made: Iterable[Decision]) -> dict[PartKey, Decision]:
    """The newest word that stands on each part, of decisions the oldest first."""
    return {d.parts[0]: d for d in standing(made) if d.verb == VERB}


def newest(words: dict[PartKey, Decision], parts: Iterable[PartKey]) -> Decision | None:
    """The newest of the words on the parts of one piece."""
    return max((words[p] for p in parts if p in words), key=lambda d: d.id, default=None)
