"""A home's database moved to a server: copied, compared row by row, then used from there."""

from dataclasses import dataclass

from intake.errors import HomeError, UsageError
from intake.services.home import Home
from intake.store.copying import copy_all, differing, rows_in_all
from intake.store.database import open_database


@dataclass(frozen=True, slots=True)
class Moved:
    """How many rows were copied and found the same, and where they are now (without a password)."""

    rows: int
    to: str


def move_home(home: Home, address: str) -> Moved:
    """Copy every row to the empty database at ``address`` and let the home use that from now on.

    The file kinfold.db stays as it is. For the holder of the home alone. Raises UsageError when the home has moved
    already, the address is no server's, or there are rows at it; HomeError when the rows are not the same afterwards:
    then the home goes on with its own file.
    """
    if home.database.is_shared:
        raise UsageError(f"{home.folder}: its database is at {home.database} already.")
    if not address.startswith(("postgresql://", "postgresql+psycopg://")):
        raise UsageError("--to: name a server, such as postgresql://kinfold@server/kinfold")
    address = "postgresql+psycopg" + address[address.index("://") :]
    target = open_database(address)
    try:
        if rows_in_all(target):
            raise UsageError(f"{target}: there are rows already. Name an empty database.")
        copy_all(home.database, target)
        if unlike := differing(home.database, target):
            said = "; ".join(f"{t}: {n} rows and {m}, first at {first}" for t, (n, m, first) in unlike.items())
            raise HomeError(f"{target}: the rows are not the same there ({said}). The home goes on as it was.")
        home.move_to(address)
        return Moved(rows_in_all(target), str(target))
    finally:
        target.close()
