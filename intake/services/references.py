"""A family's reference: the piece that the others are set beside, as people chose it, else as the matches tell."""

from collections.abc import Iterable, Sequence

from intake.kin import Family, Match, Member
from intake.model import PartKey
from intake.services.home import Home, now
from intake.services.review import RulingRefused, named, one_at_a_time
from intake.services.rulings import standing
from intake.store import decisions, families
from intake.store.database import Connection


def chosen_references(connection: Connection) -> list[PartKey]:
    """The parts that people chose as their family's reference, the newest first."""
    made = standing(decisions.decisions_of(connection, ("choose_reference",)))
    return [d.parts[0] for d in reversed(made) if d.parts]


def chosen_of(family: Family, chosen: Sequence[PartKey]) -> PartKey | None:
    """The newest choice that is a member."""
    inside = {m.key for m in family.members}
    return next((key for key in chosen if key in inside), None)


def choose_reference(home: Home, who: str, key: PartKey) -> int:
    """Let the family of this part be set beside it; reports follow with the next run. Returns the decision's number.
    Raises RulingRefused when the part is in no family."""
    who = named(who)
    with one_at_a_time, home.database.write() as connection:
        code = families.codes_of(connection, [key]).get(key)
        if code is None:
            raise RulingRefused("This piece is in no family (any more). Look again.")
        return decisions.add_decision(connection, now(), who, "choose_reference", [key], {"families": [code]})


def reference_of(members: Iterable[Member], matches: Iterable[Match]) -> PartKey | None:
    """The member that the others are set beside: the one that most, and most surely, match."""
    weight: dict[PartKey, float] = {}
    for m in matches:
        for key in (m.a, m.b):
            weight[key] = weight.get(key, 0.0) + m.probability
    return max((m.key for m in members if m.key in weight), key=lambda k: (weight[k], k), default=None)
