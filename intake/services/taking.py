"""Who has which family before them: shown to the others, so that no two do the same work. It binds nobody."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from intake.services.home import Home, now
from intake.store import families, taken

_LASTS = timedelta(minutes=30)  # who has gone to lunch has nothing before them


@dataclass(frozen=True, slots=True)
class Taken:
    """A person has a family before them, since when."""

    who: str
    at: str


def take(home: Home, who: str, code: str) -> bool:
    """Put a family before a person; False when there is none of this code."""
    with home.database.write() as connection:
        if not families.families_by_code(connection, [code]):
            return False
        taken.take(connection, who, code, now())
    return True


def put_back(home: Home, who: str) -> None:
    """The person has nothing before them any more."""
    with home.database.write() as connection:
        taken.put_back(connection, who)


def taken_by(home: Home) -> dict[str, list[Taken]]:
    """Family's code -> who has it before them, for what was taken within half an hour."""
    since = (datetime.now(UTC) - _LASTS).isoformat(timespec="seconds")
    made: dict[str, list[Taken]] = {}
    with home.database.read() as connection:
        for who, family, at in taken.taken_since(connection, since):
            made.setdefault(family, []).append(Taken(who, at))
    return made
