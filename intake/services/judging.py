"""What the pieces of a family tell of the order in which they were made, and what speaks against their own dates."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from intake.config.load import Config
from intake.kin import Differences
from intake.model import PartKey, Screened
from intake.services.clashing import looks_of
from intake.services.dates import PieceDates, piece_dates
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.shown import MemberView
from intake.stages.clash import Clash, clashes
from intake.stages.order import Before, Made, order
from intake.stages.very_object import VeryObject, another_hand, is_printed, same_brushwork, very_object
from intake.store import desk, differences, relations


@dataclass(frozen=True, slots=True)
class Judged:
    """Of a family: pairs of which something tells the order, signs on single pieces, and what may be said of artwork
    and film of it. Members stand for their keys."""

    orders: tuple[tuple[MemberView, MemberView, Before], ...]
    signs: tuple[tuple[MemberView, tuple[Clash, ...]], ...]
    objects: tuple[tuple[MemberView, MemberView, VeryObject], ...]


def judged(home: Home, config: Config, members: Sequence[MemberView]) -> Judged:
    """Everything that may be shown of these members."""
    shown = {m.key: m for m in members if not m.withheld}
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            return Judged((), (), ())
        have = dossiers_of(connection, stamps, shown)
        reports = differences.differences_among(connection, shown.keys())
        dated = piece_dates(have.values(), relations.overlays(connection), config)
    dates = {d.key: one for one in dated for d in one.scans}
    made = {key: _made(shown[key], d, dates.get(key)) for key, d in have.items() if d.scan.side != "verso"}
    photographed = [
        (r.a, r.b) if shown[r.a].kind == "artwork" else (r.b, r.a)
        for r in reports
        if r.surface and not is_printed(_screened(r, have)) and same_brushwork(r.surface, config.very_object)
    ]
    # what differs between a painting and a picture of another one says nothing of which was made first
    one_object = [r for r in reports if not (r.surface and another_hand(r.surface, config.very_object))]
    orders = order(made, one_object, config.order, photographed)
    signs = [(shown[key], tuple(clashes(looks_of(d, config), config.clash))) for key, d in have.items()]
    objects = [
        (shown[r.a], shown[r.b], said)
        for r in reports
        if not r.why_not and (said := _said(shown[r.a], shown[r.b], r, have, config)) is not None
    ]
    return Judged(
        tuple((shown[b.earlier], shown[b.later], b) for b in orders),
        tuple((m, found) for m, found in signs if found),
        tuple(objects),
    )


def by_making(members: Sequence[MemberView], told: Judged) -> list[MemberView]:
    """The members, each after all that were surely made before it; else in the order that they had."""
    before: dict[PartKey, set[PartKey]] = {}
    for earlier, later, b in told.orders:
        if b.sure:
            before.setdefault(later.key, set()).add(earlier.key)
    left, made = list(members), []
    while left:
        waiting = {m.key for m in left}
        first = next((m for m in left if not before.get(m.key, set()) & waiting), left[0])
        left.remove(first)
        made.append(first)
    return made


def _said(
    a: MemberView, b: MemberView, report: Differences, have: Mapping[PartKey, Dossier], config: Config
) -> VeryObject | None:
    return very_object(a.kind, b.kind, report, config.very_object, _screened(report, have))


def _screened(report: Differences, have: Mapping[PartKey, Dossier]) -> Screened | None:
    """How the painting of the two was looked at for a printing screen."""
    both = (have.get(key) for key in (report.a, report.b))
    return next((d.screened for d in both if d is not None and d.kind == "artwork"), None)


def _made(member: MemberView, d: Dossier, one: PieceDates | None) -> Made:
    lower = one.dated.not_before if one else None
    upper = one.dated.until if one else None
    return Made(
        member.place,
        d.kind,
        d.screened.tone if d.screened else "",
        lower.year if lower else None,
        bool(lower and lower.firm and not lower.doubtful),
        upper.year if upper else None,
        d.screened.screens if d.screened else (),
    )
