"""Sizes by one measurement that a person took: laid over what the resolution tag said, for as long as it stands."""

from collections.abc import Sequence
from typing import Any

from intake.kin import Verb
from intake.model import Finding, Measured, PartKey
from intake.services.rulings import standing
from intake.store import decisions
from intake.store.codec import from_text
from intake.store.database import Connection

VERBS: tuple[Verb, ...] = ("note_measure",)


def measured_by_hand(connection: Connection) -> dict[PartKey, Measured]:
    """Every part that a standing measurement gives a size; a later one goes before an earlier one."""
    found: dict[PartKey, Measured] = {}
    for decision in standing(decisions.decisions_of(connection, VERBS)):
        sizes: dict[str, Any] = decision.shown.get("sizes", {})
        for key in decision.parts:
            if (text := sizes.get(f"{key.digest}-{key.part}")) is not None:
                found[key] = from_text(Measured, text)
    return found


def without_size_asked(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings without the one that asks for a known length."""
    return tuple(f for f in findings if f.code != "no_resolution")
