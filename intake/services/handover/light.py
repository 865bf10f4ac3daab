"""The dossiers as handing over needs them: of the lines of text the largest alone, as those of 5,000 scans take most of
the memory."""

from collections.abc import Iterator
from dataclasses import replace

from intake.config.load import Config
from intake.model import Stamps
from intake.services.dossiers import Dossier, dossiers_of_scans
from intake.services.home import Home
from intake.services.known import Known, view
from intake.services.lettering import display_lines
from intake.store import scans
from intake.store.database import Connection

_AT_ONCE = 500


def light_view(home: Home, config: Config) -> Known:
    """One consistent view of the ledger; its dossiers have the lines of the display lettering alone."""
    return view(home, config, _light)


def whole(connection: Connection, stamps: Stamps) -> Iterator[Dossier]:
    """Every part of every received file with its text, by consignment and path, a few files in memory at a time."""
    received = scans.all_scans(connection)
    for start in range(0, len(received), _AT_ONCE):
        yield from dossiers_of_scans(connection, stamps, received[start : start + _AT_ONCE])


def _light(connection: Connection, stamps: Stamps) -> list[Dossier]:
    made = []
    for d in whole(connection, stamps):
        reading = replace(d.reading, lines=tuple(display_lines(d))) if d.reading else None
        made.append(replace(d, reading=reading, features=None, screened=None))
    return made
