"""What people asked of each other, and what they set aside: open until somebody rules on it."""

from collections.abc import Iterable

from intake.kin import Decision
from intake.model import PartKey
from intake.services.home import Home
from intake.services.rulings import GROUPING, standing
from intake.store import decisions
from intake.store.database import Connection


def open_asks(connection: Connection) -> dict[PartKey, list[Decision]]:
    """Part -> the referrals and settings aside on it that are open, the oldest first."""
    asks = standing(decisions.decisions_of(connection, ("refer", "set_aside")))
    if not asks:
        return {}
    answered: dict[PartKey, int] = {}
    for ruling in standing(decisions.slim(connection, GROUPING)):
        answered.update(dict.fromkeys(ruling.parts, ruling.id))
    made: dict[PartKey, list[Decision]] = {}
    for ask in asks:
        if all(answered.get(key, 0) < ask.id for key in ask.parts):
            for key in ask.parts:
                made.setdefault(key, []).append(ask)
    return made


def asks_on(of: dict[PartKey, list[Decision]], keys: Iterable[PartKey]) -> list[Decision]:
    """What is open on any of these parts, the oldest first, each once."""
    return sorted({d.id: d for key in keys for d in of.get(key, ())}.values(), key=lambda d: d.id)


def open_on(home: Home, keys: Iterable[PartKey]) -> list[Decision]:
    """What is open on any of these parts, the oldest first."""
    with home.database.read() as connection:
        return asks_on(open_asks(connection), keys)
