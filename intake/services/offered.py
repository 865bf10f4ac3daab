"""Pictures offered to the desk: searched with once, held for a while as a copy of our own making, then let go.

The file that was offered is opened by the one opener, within bounds of its own, and removed at once.
"""

import secrets
import shutil
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

from intake.config.load import Config
from intake.errors import KinfoldError
from intake.imaging.encode import jpeg_bytes
from intake.imaging.original import Unreadable
from intake.kin import Match
from intake.model import Box, PartKey
from intake.services.dossiers import dossiers_of
from intake.services.home import Home, write_whole
from intake.services.looks import may_see
from intake.services.orient import orientations
from intake.services.pictures import NoPicture, laid_over
from intake.services.shown import MemberView, member_view, name_of
from intake.services.upright import Upright, inverse
from intake.services.whose import Whose
from intake.store import desk, families, pairs

_SECONDS = 60


class OfferRefused(KinfoldError):
    """A picture that cannot be searched with; ``str(error)`` says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Search:
    """One search: the picture's size in stored pixels, what matched, how much was searched and how long it took."""

    token: str
    key: PartKey
    width: int
    height: int
    matches: tuple[tuple[PartKey, Match], ...]
    scans_searched: int
    boxes_unread: tuple[str, ...]
    seconds: float
    made_at: float


@dataclass(frozen=True, slots=True)
class HitView:
    """One part that matches. Of a withheld one, the page says no more than whose it is."""

    member: MemberView
    match: Match
    family_name: str

    @property
    def words(self) -> str:
        """How the offered picture differs from the scan."""
        m = self.match
        said = ["its tones are reversed" if m.polarity_flip else "", "it is mirrored" if m.mirror else ""]
        return ", ".join(w for w in said if w)


class Searches:
    """The searches of now, and the copies that they are shown with. Nothing of them outlives the desk."""

    def __init__(self, home: Home, config: Config) -> None:
        self._home, self._config = home, config
        self._folder = home.folder / "offered"
        self._held: OrderedDict[str, Search] = OrderedDict()
        self._guard, self._one_at_a_time = threading.Lock(), threading.Lock()
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir(mode=0o700, exist_ok=True)

    def place(self) -> Path:
        """Where an offered file may be put until it is searched with: a name of our own."""
        return self._folder / f"{secrets.token_hex(16)}.offered"

    def search(self, file: Path) -> Search:
        """Search all consignments with the picture in ``file``. Raises OfferRefused when it cannot be opened."""
        from intake.services.find import search_all, take_in  # heavy: the engines of matching

        rules = self._config.looking
        bounds = self._config.check.model_copy(
            update={"max_file_mb": rules.find_mb, "max_megapixels": rules.find_megapixels, "max_pages": 1}
        )
        started, token = time.monotonic(), secrets.token_hex(16)
        with self._one_at_a_time:
            try:
                offered = take_in(self._home, file, PartKey(secrets.token_hex(32), 1), bounds)
            except Unreadable as error:
                bound = f"up to {rules.find_mb} MB and {rules.find_megapixels} megapixels"
                words = f"That picture is more than is taken here: {bound}. Offer a smaller copy of it."
                is_large = error.finding.code == "too_large"
                raise OfferRefused(words if is_large else error.finding.message) from error
            found = search_all(self._home, self._config, offered)
        write_whole(self._copy(token), jpeg_bytes(offered.working))
        done = time.monotonic()
        size = (offered.width, offered.height)
        made = Search(
            token, offered.key, *size, found.matches, found.scans_searched, found.boxes_unread, done - started, done
        )
        with self._guard:
            self._held[token] = made
            self._let_go(done)
        return made

    def get(self, token: str) -> Search:
        """A search that is still held. Raises NoPicture when it is not."""
        with self._guard:
            self._let_go(time.monotonic())
            if token not in self._held:
                raise NoPicture
            return self._held[token]

    def picture(self, search: Search) -> Path:
        """The copy of the offered picture."""
        return self._copy(search.token)

    def hits(self, search: Search, whose: Whose) -> tuple[list[HitView], dict[str, int]]:
        """What matched and may be shown, the best first; and how many others by their consignment."""
        shown = search.matches[: self._config.looking.find_hits]
        with self._home.database.read() as connection:
            stamps = desk.shown_stamps(connection)
            keys = [key for key, _ in shown]
            have = dossiers_of(connection, stamps, keys, whose.laid_for) if stamps else {}
            code = families.codes_of(connection, keys)
            beside = families.members_with(connection, keys)
            near = dossiers_of(connection, stamps, beside) | have if stamps else {}
            upright = orientations(near, pairs.matches_among(connection, stamps.match, sorted(near)) if stamps else ())
            wanted = set(code.values())
            names = {f.code: name_of(f, near) for f in families.all_families(connection) if f.code in wanted}
        made: list[HitView] = []
        withheld: dict[str, int] = {}
        for key, match in shown:
            if key not in have:
                continue
            view = member_view(have[key], upright[key], match.probability, code.get(key, ""))
            if whose.may_show(view.consignment):
                made.append(HitView(view, match, names.get(view.family, "")))
            else:
                withheld[view.consignment] = withheld.get(view.consignment, 0) + 1
        return made, withheld

    def over(self, search: Search, key: PartKey, turn: int, mirrored: bool, whose: Whose) -> bytes:
        """The offered picture laid into a hit's upright frame, as JPEG. Raises NoPicture, Withheld."""
        match = next((m for k, m in search.matches if k == key), None)
        with self._home.database.read() as connection:
            may_see(connection, whose, [key.digest])
            stamps = desk.shown_stamps(connection)
            d = dossiers_of(connection, stamps, [key]).get(key) if stamps else None
        if match is None or d is None or d.rendered is None:
            raise NoPicture
        try:
            forward = match.transform if match.a == key else inverse(match.transform)
        except ZeroDivisionError as error:
            raise NoPicture from error
        own = Upright(Box(0, 0, search.width, search.height), 0, False)
        return laid_over(self._copy(search.token), Upright(d.rendered.box, turn, mirrored), own, forward)

    def _copy(self, token: str) -> Path:
        return self._folder / f"{token}.jpg"

    def _let_go(self, at: float) -> None:
        rules = self._config.looking
        while self._held:
            token, oldest = next(iter(self._held.items()))
            if len(self._held) <= rules.find_kept and at - oldest.made_at < rules.find_minutes * _SECONDS:
                return
            del self._held[token]
            self._copy(token).unlink(missing_ok=True)
