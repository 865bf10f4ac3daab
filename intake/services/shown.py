"""What the desk shows of pieces, matches and families: values only, with every reason beside its weight."""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from intake.config.load import Config
from intake.kin import Family, Match, Member
from intake.model import Evidence, Finding, FoldLine, PartKey
from intake.services.condition import UNWORN, RuledPlace, Worn
from intake.services.dossiers import Dossier
from intake.services.folds import FoldView, fold_view
from intake.services.hazards import NO_HAZARD, Hazard
from intake.services.orient import Orientation
from intake.services.printing import Plot, plots, printing_words, shifts_words
from intake.services.readings import RuledMark
from intake.services.upright import Upright, at


@dataclass(frozen=True, slots=True)
class MemberView:
    """One part as the desk shows it. ``withheld``: its owner has not permitted it to be shown beside the others'."""

    key: PartKey
    consignment: str
    place: str
    box: str
    piece: str
    side: str
    path: str
    kind: str
    kind_confidence: float
    why_kind: tuple[Evidence, ...]
    probability: float
    size: str
    format: str
    format_fit: str
    polarity: str
    upright: Upright | None
    upright_why: str
    marks: tuple[RuledMark, ...]
    findings: tuple[Finding, ...]
    now_at: str
    printing: str = ""
    family: str = ""
    withheld: bool = False
    hazard: Hazard = NO_HAZARD
    folds: FoldView | None = None
    size_mm: tuple[float, float] | None = None
    ruled: tuple[str, ...] = ()
    inks_meet: str = ""
    plots: tuple[Plot, ...] = ()
    worn: Worn = UNWORN

    @property
    def worn_places(self) -> list[tuple[RuledPlace, tuple[float, float, float, float]]]:
        """Each worn place that was not rejected: left, top, width, height as shares of the upright picture."""
        upright = self.upright
        return [] if upright is None else [(p, upright.place(p.box)) for p in self.worn.standing]

    @property
    def is_negative(self) -> bool:
        """Is it shown as a positive made of it?"""
        return self.polarity == "negative"

    @property
    def fold_places(self) -> list[tuple[FoldLine, tuple[float, float], tuple[float, float]]]:
        """Each fold line and its ends as shares of the upright picture."""
        if self.folds is None or self.upright is None:
            return []
        shares = self.upright.shares()
        return [(line, at(shares, *line.start), at(shares, *line.end)) for line in self.folds.lines]

    @property
    def hazards(self) -> tuple[Finding, ...]:
        """Findings that can hurt someone."""
        return tuple(f for f in self.findings if f.severity == "hazard")


@dataclass(frozen=True, slots=True)
class MatchView:
    """One match, and what both sides are called."""

    match: Match
    name_a: str
    name_b: str

    @property
    def words(self) -> str:
        """How the second picture lies to the first."""
        m = self.match
        turn = round(m.rotation) % 360
        said = [
            "tones reversed" if m.polarity_flip else "",
            "mirrored" if m.mirror else "",
            f"turned {turn}°" if 1 < turn < 359 else "",
            f"{m.scale:.2f} times its scale",
        ]
        return ", ".join(w for w in said if w)


@dataclass(frozen=True, slots=True)
class ElsewhereView:
    """The surest match from a member to another family, or to a piece in none; ``links`` counts all to that place."""

    match: MatchView
    inside: PartKey
    outside: MemberView
    family: str
    links: int


@dataclass(frozen=True, slots=True)
class MateView:
    """Another family of the campaign and what ties it to this one: reasons with their sum, words on both, a match.

    ``weight`` is None where nothing ties the two directly. ``withheld``: its owner has not permitted that it be named.
    """

    family: str
    name: str
    reasons: tuple[Evidence, ...]
    words: tuple[str, ...]
    link: str
    weight: float | None
    withheld: bool


@dataclass(frozen=True, slots=True)
class CampaignView:
    """The campaign that a family is of, with the other families."""

    code: str
    mates: tuple[MateView, ...]


@dataclass(frozen=True, slots=True)
class FamilyView:
    """A family with everything that a ruling on it rests on. ``seen`` changes whenever any of it does.

    ``several`` says (place, words) of pieces that are sections of one sheet or of a numbered set. The campaign is shown
    beside all this; no ruling rests on it.
    """

    code: str
    name: str
    title: str
    status: str
    weakest: str
    members: tuple[MemberView, ...]
    matches: tuple[MatchView, ...]
    elsewhere: tuple[ElsewhereView, ...]
    weight: float | None
    reasons: tuple[Evidence, ...]
    several: tuple[tuple[str, str], ...]
    seen: str = ""
    campaign: CampaignView | None = None

    def member(self, key: PartKey) -> MemberView | None:
        """The member of this key."""
        return next((m for m in self.members if m.key == key), None)

    def between(self, a: PartKey, b: PartKey) -> MatchView | None:
        """The match of these two, whichever comes first."""
        return next((m for m in self.matches if {m.match.a, m.match.b} == {a, b}), None)


@dataclass(frozen=True, slots=True)
class QueueItem:
    """One family in the queue (``weight`` is the sum of its reasons), or one that is settled (no weight)."""

    code: str
    name: str
    status: str
    members: tuple[MemberView, ...]
    weight: float | None
    reasons: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Trouble:
    """A finding and the scan that it is of."""

    consignment: str
    box: str
    piece: str
    path: str
    finding: Finding


def member_view(d: Dossier, turned: Orientation, probability: float, family: str) -> MemberView:
    """One part as the desk shows it; its place is added where it is asked for."""
    measured, classified = d.measured, d.classified
    size = "size unknown"
    if measured and measured.width_mm and measured.height_mm:
        off = max(measured.width_off_mm or 0, measured.height_off_mm or 0)
        size = f"{measured.width_mm:,.0f} × {measured.height_mm:,.0f} mm{f' ± {off:.1f}' if off else ''}"
        size += {"person": ", by a person's measure", "ruler in the frame": ", by the ruler in the frame"}.get(
            measured.size_source, ""
        )
    return MemberView(
        d.key,
        d.scan.consignment,
        d.title,
        d.scan.box,
        d.piece,
        d.scan.side,
        d.scan.path,
        d.kind,
        classified.kind_confidence if classified and not d.ruled.kind else 0.0,
        _why_kind(d),
        probability,
        size,
        measured.format if measured else "",
        measured.format_fit if measured else "",
        classified.polarity if classified else "unknown",
        Upright(d.rendered.box, turned.rotation, turned.mirrored) if d.rendered else None,
        turned.why,
        d.readings,
        d.findings,
        "",
        printing_words(d.screened),
        family,
        hazard=d.hazard,
        folds=fold_view(d.folded, turned.rotation) if d.folded else None,
        ruled=d.ruled.words,
        inks_meet=shifts_words(d.screened),
        plots=plots(d.screened),
        worn=d.worn,
        size_mm=(m.width_mm, m.height_mm) if (m := measured) and m.width_mm and m.height_mm else None,
    )


def _why_kind(d: Dossier) -> tuple[Evidence, ...]:
    """Why it is taken for what it is: a person's word, or what was told from the picture."""
    told = d.classified
    if d.ruled.role:
        before = f"; from the picture it was told to be: {told.kind.replace('_', ' ')}" if told else ""
        return (Evidence("person", f"ruled by {d.ruled.role.who}{before}", 0.0),)
    return told.evidence if told else ()


def match_view(match: Match, have: Mapping[PartKey, Dossier], kept: Collection[PartKey] | None = None) -> MatchView:
    """The match with the names of both sides; of a side that is not among ``kept``, no more than whose it is."""

    def name(key: PartKey) -> str:
        is_kept = kept is None or key in kept
        return _side_name(have[key]) if is_kept else f"a piece of consignment {have[key].scan.consignment}"

    return MatchView(match, name(match.a), name(match.b))


def _side_name(d: Dossier) -> str:
    return f"{d.title}, {d.scan.side}" if d.scan.side in ("verso", "detail") else d.title


def withhold(views: Sequence[MemberView], permitted: Collection[str], ours: str = "") -> list[MemberView]:
    """Of several owners' pieces, keep those of ``ours`` (or of the first); the others' only where both permit it."""
    first = ours or (views[0].consignment if views else "")
    return [replace(v, withheld=v.consignment != first and not {v.consignment, first} <= set(permitted)) for v in views]


def in_order(family: Family, have: Mapping[PartKey, Dossier], config: Config) -> list[Member]:
    """Members in the order of making."""
    kinds = config.kinds.kinds
    rows = [m for m in family.members if m.key in have]
    return sorted(rows, key=lambda m: (kinds[m.role].order if m.role in kinds else 99, have[m.key].scan.path, m.key))


def opens_with(kinds: Mapping[PartKey, str], matches: Iterable[Match]) -> tuple[PartKey, PartKey] | None:
    """The two that a family is opened with, of its members in their order: those of the surest match between different
    kinds, else of the surest; None where no two match."""
    order = {key: n for n, key in enumerate(kinds)}
    usable = [m for m in matches if m.a in order and m.b in order and m.relation != "shared_element"]

    def rank(m: Match) -> tuple[bool, float, list[int]]:
        return kinds[m.a] == kinds[m.b], -round(m.probability, 2), sorted((order[m.a], order[m.b]))

    if not usable:
        return None
    best = min(usable, key=rank)
    return (best.a, best.b) if order[best.a] < order[best.b] else (best.b, best.a)


def name_of(family: Family, have: Mapping[PartKey, Dossier]) -> str:
    """Its title, or the place of its first piece and how many more there are."""
    return family.title or untitled([have[m.key].title for m in family.members if m.key in have])


def untitled(places: Sequence[str]) -> str:
    """What a family without a title is called: by the places of its pieces."""
    several = sorted(set(places))
    if not several:
        return "no title read"
    return f"{several[0]} and {len(several) - 1} more" if len(several) > 1 else several[0]


def chance(weight: float) -> float:
    """The probability that a sum of log-odds comes to."""
    return 1 / (1 + math.exp(-max(-60.0, min(60.0, weight))))
