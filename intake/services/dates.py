"""When each piece may have been printed, by the marks on all its scans as people ruled on them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.model import Mark, PartKey
from intake.services.dossiers import Dossier, dossiers_of_scans
from intake.services.home import Home
from intake.services.orient import orientations
from intake.services.shown import FamilyView, MemberView, member_view
from intake.stages.dating import Dated, MarkAt, date
from intake.store import desk, pairs, relations, scans

PieceName = tuple[str, str, str]  # consignment, box, piece


@dataclass(frozen=True, slots=True)
class PieceDates:
    """One piece, its scans, the marks on them as people ruled, and what they suggest.

    ``strip``: what the marks on strips that are pasted on it suggest, which is nothing of the piece itself.
    """

    piece: PieceName
    scans: tuple[Dossier, ...]
    marks: tuple[Mark, ...]
    dated: Dated
    strip: Dated | None = None


@dataclass(frozen=True, slots=True)
class DatesView:
    """A piece's date as the desk shows it; ``scans`` are the pictures on which its marks stand."""

    place: str
    dated: Dated
    scans: dict[PartKey, MemberView]
    strip: Dated | None = None


def piece_dates(parts: Iterable[Dossier], overlays: Collection[PieceName], config: Config) -> list[PieceDates]:
    """Date every piece, in the order of their names. ``overlays`` are those stated to be pasted on another."""
    pieces: dict[PieceName, list[Dossier]] = {}
    for d in parts:
        pieces.setdefault((d.scan.consignment, d.scan.box, d.piece), []).append(d)
    made = []
    for name, of in sorted(pieces.items()):
        marks = _marks(of)
        pasted = {d.key: d.sniped for d in of if d.sniped}
        on_strip = [at for at in marks if at.key in pasted and pasted[at.key].bears(at.mark.box)]
        dated = date([at for at in marks if at not in on_strip], config.dating, name in overlays)
        strip = date(on_strip, config.dating, is_overlay=True) if on_strip else None
        made.append(PieceDates(name, tuple(of), tuple(at.mark for at in marks), dated, strip))
    return made


def family_dates(home: Home, config: Config, view: FamilyView) -> list[DatesView]:
    """The dates of the pieces whose members are shown, by all their scans, in the order of the members."""
    shown = {m.key: m for m in view.members if not m.withheld}
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            return []
        here = scans.scans_of(connection, sorted({k.digest for k in shown}))
        names = {(s.consignment, s.box, s.piece) for s in here}
        beside = scans.scans_of(connection, sorted(scans.digests_of_pieces(connection, names)))
        of_them = [s for s in beside if (s.consignment, s.box, s.piece) in names]
        of_them.sort(key=lambda s: (s.consignment, s.path))
        known = dossiers_of_scans(connection, stamps, of_them)
        have = {d.key: d for d in known}
        upright = orientations(have, pairs.matches_among(connection, stamps.match, sorted(have)))
        dated = piece_dates(known, relations.overlays(connection), config)
    views = []
    for one in dated:
        keys = [d.key for d in one.scans]
        if any(k in shown for k in keys):
            pictures = {d.key: shown.get(d.key) or member_view(d, upright[d.key], 0.0, "") for d in one.scans}
            first = min(list(shown).index(k) for k in keys if k in shown)
            views.append((first, DatesView(one.scans[0].title, one.dated, pictures, one.strip)))
    return [v for _, v in sorted(views, key=lambda v: (v[0], v[1].place))]


def _marks(of: Sequence[Dossier]) -> list[MarkAt]:
    return [MarkAt(d.key, mark) for d in of if d.parsed for mark in d.parsed.marks]
