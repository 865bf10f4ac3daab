"""What differs within a family, as its page shows it: report by report, and beside the family's reference."""

from collections.abc import Sequence
from dataclasses import dataclass

from intake.kin import Difference, Member
from intake.services.home import Home
from intake.services.references import chosen_references, reference_of
from intake.services.shown import MemberView
from intake.store import desk, differences, pairs


@dataclass(frozen=True, slots=True)
class RegionView:
    """One region that differs, between two members: where it lies on each as shares of the upright picture, and how
    long its sides are on a in mm ("" where the size is not known)."""

    a: MemberView
    b: MemberView
    region: Difference
    jump: tuple[float, float, float, float] | None
    size: str


@dataclass(frozen=True, slots=True)
class BesideView:
    """A family set beside its reference: which that is and why, and of each other member its report; None where the two
    have not been compared (yet)."""

    reference: MemberView
    why: str
    rows: tuple[tuple[MemberView, "ReportView | None"], ...]


def beside_reference(home: Home, members: Sequence[MemberView], reports: Sequence["ReportView"]) -> BesideView | None:
    """The reports against the reference; None where no two members that may be shown match."""
    shown = [m for m in members if not m.withheld and m.side != "verso"]
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        chosen = next((key for key in chosen_references(connection) if any(m.key == key for m in shown)), None)
        matches = pairs.matches_among(connection, stamps.match, [m.key for m in shown]) if stamps else []
    told = [Member(m.key, m.kind, m.probability) for m in shown]
    key = chosen or reference_of(told, [m for m in matches if m.relation != "shared_element"])
    reference = next((m for m in shown if m.key == key), None)
    if reference is None:
        return None
    of = {frozenset((r.a.key, r.b.key)): r for r in reports}
    others = [m for m in shown if (m.consignment, m.box, m.piece) != _piece(reference)]
    why = "chosen by a person" if chosen else "it matches the others most and surest; nobody chose another"
    return BesideView(reference, why, tuple((m, of.get(frozenset((m.key, reference.key)))) for m in others))


def _piece(m: MemberView) -> tuple[str, str, str]:
    return m.consignment, m.box, m.piece


@dataclass(frozen=True, slots=True)
class ReportView:
    """What differs between two members; ``why_not`` where the two could not be compared."""

    a: MemberView
    b: MemberView
    regions: tuple[RegionView, ...]
    why_not: str


def family_reports(home: Home, members: Sequence[MemberView]) -> list[ReportView]:
    """The reports on members that may be shown, those with the most regions first."""
    by_key = {m.key: m for m in members if not m.withheld}
    with home.database.read() as connection:
        found = differences.differences_among(connection, by_key.keys())
    made = [
        ReportView(
            by_key[d.a],
            by_key[d.b],
            tuple(_region_view(by_key[d.a], by_key[d.b], r) for r in d.regions),
            d.why_not,
        )
        for d in found
    ]
    return sorted(made, key=lambda r: (-len(r.regions), r.a.key, r.b.key))


def _region_view(a: MemberView, b: MemberView, region: Difference) -> RegionView:
    jump = a.upright.place(region.a) if a.upright and region.a else None
    size = ""
    if region.a and a.upright and a.size_mm:
        per_px = max(a.size_mm) / max(a.upright.size)
        size = f"about {region.a.width * per_px:,.0f} × {region.a.height * per_px:,.0f} mm"
    return RegionView(a, b, region, jump, size)
