"""What a person does at the desk: rule, and take a ruling back. Every ruling is an added row; families follow."""

import secrets
import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from intake.config.load import Config
from intake.errors import KinfoldError
from intake.kin import Decision, Verb
from intake.model import PartKey
from intake.services.clearing import CLEARING
from intake.services.clearing import VERBS as HAZARD_VERBS
from intake.services.home import Home, now
from intake.services.readings import VERBS as READING_VERBS
from intake.services.ruled import follow
from intake.services.rulings import standing
from intake.services.views import scan_names
from intake.store import decisions, desk, families

_LONGEST_NAME = 60
one_at_a_time = threading.Lock()

PAST = {
    "confirm": "said that these belong together",
    "part_off": "took a piece out",
    "join": "joined families",
    "accept_reading": "accepted a reading",
    "correct_reading": "corrected a reading",
    "reject_reading": "rejected a reading",
    "note_hazard": "noted a hazard",
    "propose_clearing": "proposed to rule a film base safety",
    "confirm_clearing": "ruled a film base safety, as the second person",
    "undo": "took a ruling back",
    "note_measure": "measured a piece",
}


class RulingRefused(KinfoldError):
    """A ruling that cannot be made as asked. Nothing was written; ``str(error)`` says why, and what to do."""


class FamilyChanged(RulingRefused):
    """The family is no longer what the page showed. Says who changed it and when, or that a run did."""


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """One decision as the ledger shows it. ``undone_by`` is the decision that took it back, if any."""

    decision: Decision
    pieces: tuple[str, ...]
    stands: bool
    undone_by: int | None


def decide(home: Home, config: Config, who: str, verb: Verb, parts: Sequence[PartKey], shown: dict[str, Any]) -> int:
    """Add a ruling, then make the families anew; returns the decision's number.

    ``confirm``: all parts of the family. ``part_off``: the part taken out, then the others. ``join``: all of both.
    ``shown["families"]`` are the codes of the families on the page. Raises FamilyChanged when one of them is gone,
    RulingRefused when it makes no sense. Rulings on readings: see ``correcting``.
    """
    who, parts = named(who), tuple(dict.fromkeys(parts))
    if verb not in ("confirm", "part_off", "join") or len(parts) < 2:
        raise RulingRefused("This ruling is about two parts or more.")
    with one_at_a_time:
        with home.database.write() as connection:
            there = {f.code for f in families.all_families(connection)}
            if not set(shown.get("families", ())) <= there:
                raise _changed(decisions.all_decisions(connection), parts)
            number = decisions.add_decision(connection, now(), who, verb, parts, shown)
        group_anew(home, config)
    return number


def undo(home: Home, config: Config, who: str, decision_id: int, all_of_it: bool = False) -> int:
    """Take back one of one's own rulings (or one's own taking back); returns the number of the row that does so.

    ``all_of_it``: everything that was ruled with it in one go and was not taken back yet, a row each; the first is
    returned. Raises RulingRefused when there is none of this number, it is another's, or it is taken back already.
    """
    who = named(who)
    with one_at_a_time:
        with home.database.write() as connection:
            made = {d.id: d for d in decisions.all_decisions(connection)}
            decision = made.get(decision_id)
            if decision is None:
                raise RulingRefused(f"There is no ruling {decision_id}.")
            if decision.who != who:
                raise RulingRefused(f"Ruling {decision_id} is {decision.who}'s: only {decision.who} can take it back.")
            root = _root(made, decision).verb
            if decision.verb == "undo" and root in CLEARING:
                raise RulingRefused("A clearing that was taken back does not come back: it is proposed and ruled anew.")
            back = {d.undoes: d for d in made.values() if d.undoes is not None}
            if by := back.get(decision_id):
                raise RulingRefused(f"Ruling {decision_id} was taken back already, by {by.who} with ruling {by.id}.")
            rows = [d for d in in_one_go(made.values(), decision) if d.id not in back] if all_of_it else [decision]
            batch = {"batch": secrets.token_hex(8)} if len(rows) > 1 else {}
            numbers = [
                decisions.add_decision(
                    connection, now(), who, "undo", d.parts, {"verb": d.verb, "made_at": d.made_at} | batch, d.id
                )
                for d in rows
            ]
            is_followed = root in READING_VERBS or root in HAZARD_VERBS
            if is_followed:
                follow(connection, config, sorted({key for d in rows for key in d.parts}))
        if not is_followed:
            group_anew(home, config)
    return numbers[0]


def in_one_go(made: Iterable[Decision], decision: Decision) -> list[Decision]:
    """The decisions that were made in one go with this one, itself among them."""
    batch = decision.shown.get("batch")
    return [d for d in made if d.shown.get("batch") == batch and d.who == decision.who] if batch else [decision]


def decisions_view(home: Home) -> list[LedgerRow]:
    """Every decision, the newest first."""
    names = scan_names(home)
    with home.database.read() as connection:
        made = decisions.all_decisions(connection)
    stand = {d.id for d in standing(made)}
    undone = {d.undoes: d.id for d in made if d.undoes is not None}
    return [LedgerRow(d, piece_names(names, d.parts), d.id in stand, undone.get(d.id)) for d in reversed(made)]


def piece_names(names: dict[str, str], parts: Iterable[PartKey]) -> tuple[str, ...]:
    """What the parts are called: box and piece, and which picture of it where there are several."""
    return tuple(
        names.get(key.digest, key.digest[:12]) + (f", picture {key.part}" if key.part > 1 else "") for key in parts
    )


def named(who: str) -> str:
    """The name, tidied. Raises RulingRefused when it is none."""
    name = " ".join(who.split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise RulingRefused(f"Say who you are: a name of 1 to {_LONGEST_NAME} characters.")
    return name


def _changed(made: Sequence[Decision], parts: Sequence[PartKey]) -> FamilyChanged:
    wanted = set(parts)
    last = next((d for d in reversed(made) if wanted & set(d.parts)), None)
    if last is None:
        return FamilyChanged("A run has grouped these pieces anew since the page was shown. Look again, then rule.")
    return FamilyChanged(
        f"Since the page was shown, {last.who} {PAST[last.verb]} ({last.made_at}). Look again, then rule."
    )


def changed_message(home: Home, parts: Sequence[PartKey]) -> str:
    """Who last changed what these parts belong to, and when."""
    with home.database.read() as connection:
        return str(_changed(decisions.all_decisions(connection), parts))


def _root(made: dict[int, Decision], decision: Decision) -> Decision:
    """The ruling that a chain of takings back is about."""
    while decision.undoes is not None:
        decision = made[decision.undoes]
    return decision


def group_anew(home: Home, config: Config) -> None:
    """Make the families anew, under the stamps that the desk shows."""
    from intake.services.relate import regroup  # heavy: the index and its libraries

    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
    if stamps is not None:
        regroup(home, config, stamps)
