"""What a person does at the desk: rule, and take a ruling back. Every ruling is an added row; families follow."""

import secrets
import threading
from collections.abc import Iterable, Sequence
from typing import Any

from intake.config.load import Config
from intake.errors import KinfoldError
from intake.kin import Decision, Verb
from intake.model import PartKey, Stamps
from intake.ocr.text import clean
from intake.services.against import weights_of
from intake.services.clearing import CLEARING
from intake.services.clearing import VERBS as HAZARD_VERBS
from intake.services.home import Home, now
from intake.services.ledger import made_with
from intake.services.pieces_ruled import VERBS as PIECE_VERBS
from intake.services.readings import VERBS as READING_VERBS
from intake.services.regrouping import Neighbourhood, follow_grouping, neighbourhood
from intake.services.ruled import follow
from intake.services.rulings import FAMILY_VERBS, GROUPING, standing
from intake.services.said import PAST, ago
from intake.services.sizes import VERBS as SIZE_VERBS
from intake.services.webhooks import tell
from intake.store import decisions, desk, families
from intake.store.database import Connection

_LONGEST_NAME = 60
LONGEST_WORDS = 300
LONGEST_TITLE = 120
one_at_a_time = threading.Lock()

ON_FAMILIES: tuple[Verb, ...] = (*FAMILY_VERBS, "refer", "set_aside")
MAKES_FAMILIES: tuple[Verb, ...] = (*FAMILY_VERBS, *PIECE_VERBS)


class RulingRefused(KinfoldError):
    """A ruling that cannot be made as asked. Nothing was written; ``str(error)`` says why, and what to do."""


class FamilyChanged(RulingRefused):
    """The family is no longer what the page showed. Says who changed it and when, or that a run did."""


def decide(home: Home, config: Config, who: str, verb: Verb, parts: Sequence[PartKey], shown: dict[str, Any]) -> int:
    """Add a ruling on a family, then make anew the families that follow from it; returns the decision's number.

    ``confirm``, ``name_design``, ``refer`` and ``set_aside``: all parts of the family. ``part_off`` and ``divide``: the
    parts taken out, then the others; ``join``: all of both families; ``same_campaign``: those of the one, then those of
    the other. ``shown["first"]`` says how many are named first (one, if unsaid), ``shown["families"]`` are the codes of
    the families on the page, ``shown["text"]`` and ``shown["to"]`` what the person wrote.
    Raises FamilyChanged when one of the families is gone, RulingRefused when the ruling makes no sense. Rulings on
    readings: see ``correcting``; on single pieces: ``piecework``.
    """
    who, parts = named(who), tuple(dict.fromkeys(parts))
    shown = _checked(verb, parts, shown)
    with one_at_a_time:
        with home.database.write() as connection:
            codes = set(shown.get("families", ()))
            if len(families.families_by_code(connection, codes)) < len(codes):
                raise _changed(decisions.later_on(connection, 0, set(parts)))
            if verb not in FAMILY_VERBS:
                return decisions.add_decision(connection, now(), who, verb, parts, shown)
            _, near = _near(connection, config, parts)
            if near is not None:
                named_here = set(parts)
                among = [m for m in near.matches if m.a in named_here and m.b in named_here]
                shown = shown | {"weights": weights_of(among, config)}
            number = decisions.add_decision(connection, now(), who, verb, parts, shown)
            if near is not None:
                follow_grouping(connection, near, config)
            if verb == "confirm":
                tell(connection, "family.confirmed", number, parts)
        if near is None:
            regroup_all(home, config)
    return number


def _near(connection: Connection, config: Config, parts: Iterable[PartKey]) -> tuple[Stamps, Neighbourhood | None]:
    """What has to be made anew with these parts, and under which stamps; None where it is all, or there was no run."""
    stamps = desk.shown_stamps(connection)
    if stamps is None:
        return Stamps({}, "", ""), None
    return stamps, neighbourhood(connection, stamps, parts, config)


def follow_near(connection: Connection, config: Config, parts: Iterable[PartKey]) -> bool:
    """Bring families up with rulings on these parts; False, and nothing is done, where all have to be made anew."""
    stamps, near = _near(connection, config, parts)
    if near is None:
        return not stamps.stages
    follow_grouping(connection, near, config)
    return True


def _checked(verb: Verb, parts: Sequence[PartKey], shown: dict[str, Any]) -> dict[str, Any]:
    """What is kept of the ruling, its words tidied. Raises RulingRefused when it makes no sense."""
    first = shown.get("first", 1)
    if verb not in ON_FAMILIES or len(parts) < 2:
        raise RulingRefused("This ruling is about two parts or more.")
    if verb in ("part_off", "divide", "same_campaign") and not 0 < first < len(parts):
        raise RulingRefused("Some pieces have to stay: choose fewer.")
    if verb == "divide" and first < 2:
        raise RulingRefused("A family of their own takes two pieces or more: choose them.")
    text = tidy(shown.get("text", ""), LONGEST_WORDS if verb != "name_design" else LONGEST_TITLE)
    if verb == "name_design" and not text:
        raise RulingRefused("Type the name of the design.")
    if verb == "log_search":
        source = tidy(str(shown.get("where", "")), LONGEST_TITLE)
        if not source or shown.get("found") not in ("found", "not found"):
            raise RulingRefused("Say which source was searched, and whether a finished sheet was found in it.")
        return shown | {"where": source, "text": text}
    if verb == "refer":
        return shown | {"text": text, "to": named(str(shown.get("to", "")))}
    return shown | {"text": text} if "text" in shown else shown


def tidy(text: str, longest: int) -> str:
    """What a person wrote, in one line. Raises RulingRefused when it is too long."""
    if len(text) > longest:
        raise RulingRefused(f"At most {longest} characters.")
    return clean(text)


def undo(home: Home, config: Config, who: str, decision_id: int, all_of_it: bool = False) -> int:
    """Take back one of one's own rulings (or one's own taking back); returns the number of the row that does so.

    ``all_of_it``: everything that was ruled with it in one go and was not taken back yet, a row each; the first is
    returned. Raises RulingRefused when there is none of this number, it is another's, it is taken back already, or a
    later ruling stands on it.
    """
    who = named(who)
    with one_at_a_time:
        with home.database.write() as connection:
            decision = next(iter(decisions.decisions_by_number(connection, [decision_id])), None)
            if decision is None:
                raise RulingRefused(f"There is no ruling {decision_id}.")
            if decision.who != who:
                raise RulingRefused(f"Ruling {decision_id} is {decision.who}'s: only {decision.who} can take it back.")
            root = _root(connection, decision).verb
            if decision.verb == "undo" and root in CLEARING:
                raise RulingRefused("A clearing that was taken back does not come back: it is proposed and ruled anew.")
            if by := decisions.undoing(connection, decision_id):
                raise RulingRefused(f"Ruling {decision_id} was taken back already, by {by.who} with ruling {by.id}.")
            together = made_with(connection, decision) if all_of_it else [decision]
            rows = [d for d in together if decisions.undoing(connection, d.id) is None]
            if later := _stands_on(connection, rows, root):
                raise RulingRefused(
                    f"Ruling {later.id} stands on it: {later.who} {PAST[later.verb]} ({ago(later.made_at)}). "
                    "That has to be taken back first."
                )
            keys = sorted({key for d in rows for key in d.parts})
            batch = {"batch": secrets.token_hex(8)} if len(rows) > 1 else {}
            numbers = [
                decisions.add_decision(
                    connection, now(), who, "undo", d.parts, {"verb": d.verb, "made_at": d.made_at} | batch, d.id
                )
                for d in rows
            ]
            is_whole = False
            if root in READING_VERBS or root in HAZARD_VERBS:
                follow(connection, config, keys)
            elif root == "adopt_learnt":
                is_whole = True
            elif root in MAKES_FAMILIES or root in SIZE_VERBS:
                is_whole = not follow_near(connection, config, keys)
            if root == "confirm":
                tell(
                    connection,
                    "family.confirmed" if decision.verb == "undo" else "family.unconfirmed",
                    numbers[0],
                    keys,
                )
        if is_whole:
            regroup_all(home, config)
    return numbers[0]


def _stands_on(connection: Connection, rows: Sequence[Decision], root: Verb) -> Decision | None:
    """A later ruling of the same sort, on some of the same pieces, that stands."""
    sort = GROUPING if root in GROUPING else (root,) if root in (*PIECE_VERBS, "name_design") else ()
    if not sort:
        return None
    own = {d.id for d in rows}
    for d in rows:
        later = standing(decisions.later_on(connection, d.id, frozenset(d.parts)))
        found = next((x for x in later if x.verb in sort and x.id not in own), None)
        if found:
            return found
    return None


def named(who: str) -> str:
    """The name, tidied. Raises RulingRefused when it is none."""
    name = " ".join(who.split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise RulingRefused(f"Say who you are: a name of 1 to {_LONGEST_NAME} characters.")
    return name


def _changed(later: Sequence[Decision]) -> FamilyChanged:
    """``later`` are decisions on the parts, the oldest first."""
    if not later:
        return FamilyChanged("A run has grouped these pieces anew since the page was shown. Look again, then rule.")
    last = later[-1]
    return FamilyChanged(
        f"Since the page was shown, {last.who} {PAST[last.verb]} ({ago(last.made_at)}). Look again, then rule."
    )


def changed_message(home: Home, parts: Sequence[PartKey]) -> str:
    """Who last changed what these parts belong to, and when."""
    with home.database.read() as connection:
        return str(_changed(decisions.later_on(connection, 0, frozenset(parts))))


def _root(connection: Connection, decision: Decision) -> Decision:
    """The ruling that a chain of takings back is about."""
    while decision.undoes is not None:
        decision = decisions.decisions_by_number(connection, [decision.undoes])[0]
    return decision


def regroup_all(home: Home, config: Config) -> None:
    """Make all families anew."""
    from intake.services.relate import regroup  # heavy: the index and its libraries

    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
    if stamps is not None:
        regroup(home, config, stamps)
