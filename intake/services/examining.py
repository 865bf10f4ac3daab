"""What a person says of a piece's condition with it in hand: a place is so, is not, is there too; and a grade."""

from typing import Any

from intake.config.load import Config
from intake.kin import Verb
from intake.model import Box, PartKey
from intake.ocr.text import clean
from intake.services.condition import PLACE_VERBS, Examined, place_in
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named, one_at_a_time
from intake.store import decisions, desk
from intake.store.database import Connection

LONGEST_WORDS = 300


def rule_on_place(
    home: Home,
    config: Config,
    who: str,
    verb: Verb,
    key: PartKey,
    sort: str,
    box: Box,
    examined: Examined,
    words: str = "",
) -> int:
    """Confirm or reject a place that is shown, or put one; returns the decision's number.

    ``box`` is in stored pixels. Raises RulingRefused when it makes no sense or there is no such place (any more).
    """
    who, words = named(who), _words(words)
    row = next((r for name, r in config.condition.sorts.items() if name == sort), None)
    if verb not in PLACE_VERBS or row is None:
        raise RulingRefused("Say what it is: choose a sort of damage from the list.")
    with one_at_a_time, home.database.write() as connection:
        d = _dossier(connection, key)
        there = place_in(d.worn.places, sort, box)
        if verb != "add_place" and there is None:
            raise RulingRefused("This place has changed since the page was shown. Look again, then rule.")
        if verb == "add_place" and (d.found is None or not _holds(d.found.box, box)):
            raise RulingRefused("The place has to lie on the picture of this piece.")
        place = there.box if there and verb != "add_place" else box
        suggested = there.certainty if there else None
        shown = {"sort": sort, "called": row.called, "box": list(place), "words": words, "certainty": suggested}
        return _add(connection, config, who, verb, d, shown, examined)


def grade(
    home: Home, config: Config, who: str, key: PartKey, scale: str, grade: str, examined: Examined, words: str = ""
) -> int:
    """Grade a piece on a named scale; returns the decision's number.

    Raises RulingRefused when there is no such grade.
    """
    who, words = named(who), _words(words)
    if grade not in config.grades.scales.get(scale, ()):
        raise RulingRefused("Choose a scale and one of its grades.")
    with one_at_a_time, home.database.write() as connection:
        d = _dossier(connection, key)
        # how many places stood when it was graded: a grade given before damage was confirmed can be told
        shown = {"scale": scale, "grade": grade, "words": words, "places": len(d.worn.standing)}
        return _add(connection, config, who, "grade", d, shown, examined)


def _dossier(connection: Connection, key: PartKey) -> Dossier:
    stamps = desk.shown_stamps(connection)
    d = dossiers_of(connection, stamps, [key]).get(key) if stamps else None
    if d is None:
        raise RulingRefused("There is no such picture.")
    return d


def _add(
    connection: Connection,
    config: Config,
    who: str,
    verb: Verb,
    d: Dossier,
    shown: dict[str, Any],
    examined: Examined,
) -> int:
    if examined.light not in config.grades.lights:
        raise RulingRefused("Say in what light the piece was examined: choose one from the list.")
    if d.hazard.codes and "possible_nitrate" in d.hazard.codes:
        raise RulingRefused("This piece is under hold as possible nitrate: it is not handled to be examined.")
    how = {"unframed": examined.unframed, "both_sides": examined.both_sides, "light": examined.light}
    return decisions.add_decision(connection, now(), who, verb, [d.key], shown | how)


def _holds(part: Box, place: Box) -> bool:
    across = part.left <= place.left and place.left + place.width <= part.left + part.width
    return across and part.top <= place.top and place.top + place.height <= part.top + part.height


def _words(text: str) -> str:
    if len(text) > LONGEST_WORDS:
        raise RulingRefused(f"At most {LONGEST_WORDS} characters.")
    return clean(text)
