"""Which sources outside were searched for a finished sheet of a design: where, when, by whom, found or not."""

from collections.abc import Collection, Sequence

from intake.config.load import Config
from intake.model import PartKey
from intake.services.home import Home
from intake.services.review import decide
from intake.services.rulings import Search, rulings
from intake.store import decisions


def searches_of(home: Home, keys: Collection[PartKey]) -> list[Search]:
    """The searches for what is mostly this family, the oldest first."""
    with home.database.read() as connection:
        made = decisions.decisions_of(connection, ("log_search",))
    return [s for s in rulings(made).searches if s.is_of(keys)]


def log_search(
    home: Home, config: Config, who: str, keys: Sequence[PartKey], code: str, where: str, found: str, words: str = ""
) -> int:
    """Write down one search for the family ``code`` of these parts; ``found`` is "found" or "not found". Its place in
    the queue follows. Returns the decision's number. Raises RulingRefused (see ``review.decide``)."""
    shown = {"where": where, "found": found, "text": words, "families": [code]}
    return decide(home, config, who, "log_search", keys, shown)
