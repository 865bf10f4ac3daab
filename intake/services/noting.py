"""What people say of hazards: a note on a piece or box, and the two words that end a hold. Each is an added row."""

from collections.abc import Iterable
from typing import Any

from intake.config.hazards import POSSIBLE_NITRATE
from intake.config.load import Config
from intake.kin import Decision, Verb
from intake.model import PartKey
from intake.ocr.text import clean
from intake.services.clearing import is_same_person
from intake.services.held import BoxView, ProposalView, box_of, boxes_with_proposals
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named, one_at_a_time
from intake.services.ruled import follow
from intake.services.said import ago
from intake.store import decisions, users
from intake.store.database import Connection

LONGEST_WORDS = 300
_CHANGED = "This box has changed since the page was shown: pieces, notes or readings were added. Look again, then rule."


def note_hazard(home: Home, config: Config, who: str, box: str, piece: str, code: str, words: str) -> int:
    """Note a hazard on a piece, or on a whole box where ``piece`` is empty; returns the decision's number.

    ``box`` and ``piece`` are tokens, as ``held.token`` makes them. Raises RulingRefused when it makes no sense.
    """
    who, words = named(who), _words(words)
    row = config.hazards.noted.get(code)
    if row is None:
        raise RulingRefused("Say which hazard it is.")
    if code == "other" and not words:
        raise RulingRefused("Say in words what the hazard is.")
    with one_at_a_time, home.database.write() as connection:
        view = _box(connection, config, box)
        name = view.named.get(piece) if piece else ""
        if name is None:
            raise RulingRefused("There is no such piece in this box.")
        if code == POSSIBLE_NITRATE and not name:
            raise RulingRefused("Say which piece is film: a hold is on pieces, so that it can end for pieces.")
        says = {"code": code, "called": row.words[0].upper() + row.words[1:], "words": words, "caution": row.caution}
        where = f"{view.box} / {name}" if name else f"box {view.box}"
        shown = _at(view) | says | {"piece": name, "of": where}
        return _add(connection, config, who, "note_hazard", sorted(view.parts.get(name, {})) if name else (), shown)


def propose_clearing(
    home: Home, config: Config, who: str, box: str, which: str, basis: str, words: str, seen: str
) -> int:
    """One person's word that film is on safety base, as far as pieces under hold now; returns the decision's number.

    ``which``: the token of a piece, of a group, or of the box itself for all of it. ``seen`` is the digest of what the
    page showed of the box. Raises RulingRefused when it makes no sense or the box is not as it was shown.
    """
    who, words = named(who), _words(words)
    if basis not in config.hazards.bases:
        raise RulingRefused("Say on what basis: it is chosen from the list, and no word on the film is one.")
    if not words:
        raise RulingRefused("Say in words where the basis can be looked up: which report or paper, by whom, of when.")
    if not any(c.isalnum() for c in who):
        raise RulingRefused("Two named people clear a hold: a name has letters.")
    with one_at_a_time, home.database.write() as connection:
        view = _box(connection, config, box)
        if view.seen != seen:
            raise RulingRefused(_CHANGED)
        pieces, of = _chosen(view, which)
        places = {key: (piece, *place) for piece in pieces for key, place in view.parts.get(piece, {}).items()}
        shown = _at(view) | {
            "of": of,
            "pieces": sorted(pieces),
            "places": [list(places[key]) for key in sorted(places)],
            "basis": config.hazards.bases[basis],
            "words": words,
            "seen": sorted({key for piece in pieces for key in view.nitrate.get(piece, ())}),
        }
        return _add(connection, config, who, "propose_clearing", sorted(places), shown)


def confirm_clearing(home: Home, config: Config, who: str, proposal: int, seen: str) -> int:
    """A second, other person's word on a proposal: with it the hold ends. Returns the decision's number.

    ``seen`` is the digest of what the page showed of the proposal. Raises RulingRefused when the proposal does not wait
    (any more), it is the same person's, or something spoke against it since.
    """
    who = named(who)
    with one_at_a_time, home.database.write() as connection:
        view, found = _proposal(connection, config, proposal)
        if is_same_person(who, found.proposal.decision.who):
            raise RulingRefused(
                f"{found.proposal.decision.who} proposed this: a second, other named person has to confirm it."
            )
        if not _is_a_users(connection, found.proposal.decision):
            raise RulingRefused(
                f"{found.proposal.decision.who} proposed this before the desk had named users, or is none: "
                "a clearing takes two people who sat down under their own names. Propose it anew."
            )
        if found.against:
            raise RulingRefused(f"{found.against} Take the proposal back and propose anew.")
        if found.seen != seen:
            raise RulingRefused(_CHANGED)
        p = found.proposal
        shown = _at(view) | {"proposal": proposal, "of": p.of, "by": p.decision.who, "basis": p.basis, "words": p.words}
        return _add(connection, config, who, "confirm_clearing", p.decision.parts, shown)


def _is_a_users(connection: Connection, made: Decision) -> bool:
    """Was this decided by somebody who had sat down under a name of their own? True where the desk has no users."""
    known = users.users(connection)
    return not known or (made.who in known and known[made.who][1] <= made.made_at)


def _chosen(view: BoxView, which: str) -> tuple[set[str], str]:
    """The pieces under hold that were chosen, and which they are in words."""
    held = {name for group in view.groups for name in group.pieces}
    if which == view.token:
        pieces, of = held, f"all {len(held)} pieces of box {view.box} that were under hold"
    elif group := next((g for g in view.groups if g.token == which), None):
        pieces, of = set(group.pieces), f"{len(group.pieces)} pieces of box {view.box}: {group.words}"
    else:
        name = view.named.get(which, "")
        pieces, of = {name} & held, f"piece {view.box} / {name}"
    if not pieces:
        raise RulingRefused("Choose a piece, a group or the box; what is chosen has to be under hold now.")
    return pieces, of


def _proposal(connection: Connection, config: Config, number: int) -> tuple[BoxView, ProposalView]:
    for view in boxes_with_proposals(connection, config):
        for found in view.proposals:
            if found.proposal.decision.id == number:
                return view, found
    made = {d.id: d for d in decisions.all_decisions(connection)}
    by = next((d for d in made.values() if d.shown.get("proposal") == number), None)
    done = f" {by.who} has confirmed it already ({ago(by.made_at)})." if by else ""
    raise RulingRefused(f"No such proposal waits.{done} Look again.")


def _box(connection: Connection, config: Config, token: str) -> BoxView:
    view = box_of(connection, config, token)
    if view is None:
        raise RulingRefused("There is no such box.")
    return view


def _at(view: BoxView) -> dict[str, Any]:
    return {"consignment": view.consignment, "box": view.box}


def _words(text: str) -> str:
    if len(text) > LONGEST_WORDS:
        raise RulingRefused(f"At most {LONGEST_WORDS} characters.")
    return clean(text)


def _add(
    connection: Connection, config: Config, who: str, verb: Verb, parts: Iterable[PartKey], shown: dict[str, Any]
) -> int:
    keys = tuple(parts)
    number = decisions.add_decision(connection, now(), who, verb, keys, shown)
    if verb != "propose_clearing":
        follow(connection, config, keys)
    return number
