"""Rulings on single pieces, many in one go: what they are, their format, reproductions, nothing to add. A row each."""

import secrets
from collections.abc import Sequence
from typing import Any

from intake.config.load import Config
from intake.kin import Verb
from intake.model import PartKey
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home, now
from intake.services.ledger import names_of, piece_names
from intake.services.pieces_ruled import VERBS
from intake.services.readings import seen_of
from intake.services.review import (
    LONGEST_WORDS,
    FamilyChanged,
    RulingRefused,
    follow_near,
    named,
    one_at_a_time,
    regroup_all,
    tidy,
)
from intake.services.said import ago
from intake.store import decisions, desk, families

MOST_AT_ONCE = 60


def piece_seen(d: Dossier) -> str:
    """Changes whenever what a ruling on the piece rests on does: what it was told to be, and what people said of it."""
    told = d.classified.kind if d.classified else "unknown"
    return seen_of(
        (told, d.measured, [x.id for x in (d.ruled.role, d.ruled.format, d.ruled.done, d.ruled.reproduction) if x])
    )


def rule_on_pieces(
    home: Home, config: Config, who: str, verb: Verb, asked: Sequence[tuple[PartKey, str]], value: str = ""
) -> tuple[int, ...]:
    """Rule on these parts, each with the digest of what was shown of it (or none, where the page vouches for all).

    ``value`` is a kind, a format, or the reason why it is a reproduction. All are ruled on, or none. Returns the
    numbers of the decisions. Raises FamilyChanged when a part is not as it was shown, RulingRefused when it makes no
    sense.
    """
    who, asked = named(who), list(dict.fromkeys(asked))
    value = _checked(config, verb, asked, value)
    with one_at_a_time:
        with home.database.write() as connection:
            stamps = desk.shown_stamps(connection)
            have = dossiers_of(connection, stamps, [k for k, _ in asked]) if stamps else {}
            changed = [k for k, seen in asked if k not in have or (seen and piece_seen(have[k]) != seen)]
            if changed:
                names = ", ".join(piece_names(names_of(connection, {k.digest for k in changed}), changed[:6]))
                last = decisions.later_on(connection, 0, frozenset(changed))
                by = f" by {last[-1].who}, {ago(last[-1].made_at)}" if last else ""
                raise FamilyChanged(f"Nothing was written. Changed since the page was shown{by}: {names}. Look again.")
            codes = families.codes_of(connection, [k for k, _ in asked])
            batch = {"batch": secrets.token_hex(8)} if len(asked) > 1 else {}
            numbers = [
                decisions.add_decision(
                    connection, now(), who, verb, [key], _shown(have[key], codes.get(key, ""), verb, value) | batch
                )
                for key, _ in asked
            ]
            is_whole = not follow_near(connection, config, [k for k, _ in asked])
        if is_whole:
            regroup_all(home, config)
    return tuple(numbers)


def _checked(config: Config, verb: Verb, asked: Sequence[object], value: str) -> str:
    if verb not in VERBS:
        raise RulingRefused("No such ruling on a piece.")
    if not asked:
        raise RulingRefused("Tick at least one piece, then rule.")
    if len(asked) > MOST_AT_ONCE:
        raise RulingRefused(f"At most {MOST_AT_ONCE} pieces are ruled on in one go.")
    if verb == "set_role" and value not in config.kinds.kinds:
        raise RulingRefused("Say what it is: choose from the list.")
    if verb == "set_format" and value not in {f.id for f in config.formats}:
        raise RulingRefused("Say which format: choose from the list.")
    if verb == "reproduction" and not (value := tidy(value, LONGEST_WORDS)):
        raise RulingRefused("Say why it is a reproduction.")
    return value


def _shown(d: Dossier, family: str, verb: Verb, value: str) -> dict[str, Any]:
    """What lay before the person: what the piece was told to be and why, its size and format."""
    c, m = d.classified, d.measured
    said = {"text": value} if verb == "reproduction" else {"as": value} if value else {}
    return said | {
        "of": d.title,
        "consignment": d.scan.consignment,
        "families": [family] if family else [],
        "told": d.kind,
        "confidence": c.kind_confidence if c else 0.0,
        "evidence": [[e.name, e.words[:300], e.weight] for e in c.evidence] if c else [],
        "size": [m.width_mm, m.height_mm] if m else [],
        "format": m.format if m else "",
    }
