"""What is to be looked at, found in the ledger: a part as it lies, or laid over another by their matches."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from intake.model import PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.pictures import NoPicture
from intake.services.pyramids import Source
from intake.services.tiles import Look
from intake.services.upright import Matrix, Upright, registration
from intake.services.whose import Whose
from intake.store import desk as asks
from intake.store import families, scans
from intake.store.database import Connection


class Withheld(Exception):
    """A piece of an owner who has not permitted that it be shown here; ``str(error)`` is whose."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a client asks to look at. ``film``: a negative as it is. ``on``: laid over that part, upright as told.

    ``like``: with its tones brought to those of the part that it is laid over.
    """

    key: PartKey
    turn: int = 0
    mirrored: bool = False
    film: bool = False
    on: PartKey | None = None
    like: bool = False


class Looks:
    """Finds what is looked at, for each tile anew; what was found is held for as long as the ledger is the same."""

    def __init__(self, home: Home) -> None:
        self._home = home
        self._found = lru_cache(512)(self._find)

    def look(self, wanted: Wanted, whose: Whose) -> Look:
        """Raises NoPicture when there is no such picture, Withheld when it may not be shown."""
        keys = [wanted.key] if wanted.on is None else [wanted.key, wanted.on]
        with self._home.database.read() as connection:
            may_see(connection, whose, (k.digest for k in keys))
            stamps = asks.shown_stamps(connection)
            related = families.related_key(connection) if wanted.on else ""
        if stamps is None:
            raise NoPicture
        return self._found(wanted, stamps.match, stamps.whole, tuple(sorted(stamps.stages.items())), related)

    def _find(self, wanted: Wanted, match: str, whole: str, stages: tuple[tuple[str, str], ...], _related: str) -> Look:
        stamps = Stamps(dict(stages), whole, match)
        with self._home.database.read() as connection:
            keys = [wanted.key] if wanted.on is None else [wanted.key, wanted.on]
            have = dossiers_of(connection, stamps, keys)
            d = have.get(wanted.key)
            if d is None or d.found is None or d.rendered is None:
                raise NoPicture
            folders = {c.code: c.folder for c in scans.consignments(connection)}
            files = tuple((folders[s.consignment], s.path) for s in (d.scan, *d.copies))
            laid, under = None, d
            if wanted.on is not None:
                if wanted.on not in have:
                    raise NoPicture
                under = have[wanted.on]
                laid = laid_on(connection, stamps, wanted.on, wanted.key)
        if under.rendered is None:
            raise NoPicture
        working = self._home.picture(d.key, "working", stamps.stages["render"])
        positive = self._home.picture(d.key, "positive", stamps.stages["classify"])
        shown = None if wanted.film or not _is_negative(d) or not positive.is_file() else positive
        frame = Upright(under.rendered.box, wanted.turn, wanted.mirrored)
        like = None
        if wanted.on is not None and wanted.like:
            beneath = Wanted(wanted.on, wanted.turn, wanted.mirrored)
            like = self._find(beneath, match, whole, stages, _related)
        return Look(Source(d.key, replace(d.found, box=d.rendered.box), files), frame, working, shown, laid, like)


def may_see(connection: Connection, whose: Whose, digests: Iterable[str]) -> None:
    """Raises Withheld when one of these files may not be shown, NoPicture when there is none of that digest."""
    for digest in digests:
        codes = [s.consignment for s in scans.scans_of(connection, [digest])]
        if not codes:
            raise NoPicture
        if not whose.may_show_any(codes):
            raise Withheld(codes[0])


def laid_on(connection: Connection, stamps: Stamps, under: PartKey, over: PartKey) -> Matrix:
    """Stored pixels of ``under`` -> stored pixels of ``over``, by matches within their families. Raises NoPicture."""
    beside = families.members_with(connection, [under, over])
    found = registration(under, over, asks.matches_touching(connection, stamps.match, sorted({under, over, *beside})))
    if found is None:
        raise NoPicture
    return found[0]


def _is_negative(d: Dossier) -> bool:
    return d.classified is not None and d.classified.polarity == "negative"
