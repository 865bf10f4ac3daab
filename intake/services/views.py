"""What the desk shows of pieces, families and the queue: values only, with every reason beside its weight."""

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from intake.config.load import Config
from intake.model import Decision, Evidence, Family, Finding, Match, Member, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers, dossiers_of
from intake.services.home import Home
from intake.services.orient import Orientation, orientations
from intake.services.readings import RuledMark, ruled_marks
from intake.services.rulings import standing
from intake.services.upright import Upright
from intake.store import decisions, desk, families, moves, pairs, runs, scans

_ELSEWHERE_SHOWN = 24


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
    family: str = ""
    withheld: bool = False

    @property
    def is_negative(self) -> bool:
        """Is it shown as a positive made of it?"""
        return self.polarity == "negative"

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
    """A match from a member to a piece outside the family, and the family in which that stands, if any."""

    match: MatchView
    inside: PartKey
    outside: MemberView
    family: str
    title: str


@dataclass(frozen=True, slots=True)
class FamilyView:
    """A family with everything that a ruling on it rests on. ``seen`` changes whenever any of it does."""

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
    seen: str = ""

    def member(self, key: PartKey) -> MemberView | None:
        """The member of this key."""
        return next((m for m in self.members if m.key == key), None)

    def between(self, a: PartKey, b: PartKey) -> MatchView | None:
        """The match of these two, whichever comes first."""
        return next((m for m in self.matches if {m.match.a, m.match.b} == {a, b}), None)

    @property
    def hazards(self) -> tuple[tuple[str, Finding], ...]:
        """Everything in it that can hurt someone, with the place of the piece."""
        return tuple((m.place, f) for m in self.members for f in m.hazards)


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


def queue_items(
    home: Home, config: Config, start: int = 0, count: int | None = None, settled: bool = False
) -> list[QueueItem]:
    """Families waiting for a person, the heaviest first; or those that a person has settled, by name."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection)
        known = {f.code: f for f in families.all_families(connection)}
        entries = {e.family: e for e in families.queue(connection)}
        codes = [c for c in known if c not in entries] if settled else list(entries)
        wanted = [known[c] for c in codes[start:][:count]]
        if stamps is None or not wanted:
            return []
        keys = [m.key for f in wanted for m in f.members]
        have = dossiers_of(connection, stamps, keys)
        upright = orientations(have, pairs.matches_among(connection, stamps.match, keys))
        permitted = {c.code for c in scans.consignments(connection) if c.shown_to_others}
    made = []
    for f in wanted:
        views = [_member(have[m.key], upright[m.key], m.probability, f.code) for m in _in_order(f, have, config)]
        entry = entries.get(f.code)
        made.append(
            QueueItem(
                f.code,
                name_of(f, have),
                f.status,
                tuple(_withhold(views, permitted)),
                entry.weight if entry else None,
                entry.reasons if entry else (),
            )
        )
    return made


def queue_order(home: Home) -> list[str]:
    """The codes of the families that wait, in their order."""
    with home.database.read() as connection:
        return [e.family for e in families.queue(connection)]


def queue_counts(home: Home) -> tuple[int, int]:
    """(families waiting, families settled)."""
    with home.database.read() as connection:
        waiting = len(families.queue(connection))
        return waiting, len(families.all_families(connection)) - waiting


def family_view(home: Home, config: Config, code: str) -> FamilyView | None:
    """The family of this code; None when there is none (any more)."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection)
        everyone = families.all_families(connection)
        family = next((f for f in everyone if f.code == code), None)
        if stamps is None or family is None:
            return None
        inside = [m.key for m in family.members]
        found = desk.matches_touching(connection, stamps.match, inside)
        have = dossiers_of(connection, stamps, {*inside, *(k for m in found for k in (m.a, m.b))})
        found = [m for m in found if m.a in have and m.b in have]
        made = decisions.all_decisions(connection)
        entry = next((e for e in families.queue(connection) if e.family == code), None)
        permitted = {c.code for c in scans.consignments(connection) if c.shown_to_others}
        now_at = {k: _now_at(moves.place_of(connection, *_piece(d)), d) for k, d in have.items()}
    upright = orientations(have, found)
    belongs = {m.key: f for f in everyone for m in f.members if m.key in have}

    def view(key: PartKey, probability: float) -> MemberView:
        shown = _member(have[key], upright[key], probability, belongs[key].code if key in belongs else "")
        marks = have[key].parsed.marks if have[key].parsed else ()  # type: ignore[union-attr]
        return replace(shown, marks=tuple(ruled_marks(key, marks, made)), now_at=now_at[key])

    members = _withhold([view(m.key, m.probability) for m in _in_order(family, have, config)], permitted)
    among = sorted((m for m in found if _both(m, inside)), key=_surest)
    outward = sorted((m for m in found if not _both(m, inside)), key=_surest)[:_ELSEWHERE_SHOWN]
    elsewhere = []
    for m in outward:
        here, there = (m.a, m.b) if m.a in set(inside) else (m.b, m.a)
        outside = _withhold([*members, view(there, m.probability)], permitted)[-1]
        other = belongs.get(there)
        elsewhere.append(
            ElsewhereView(
                _match(m, have), here, outside, other.code if other else "", name_of(other, have) if other else ""
            )
        )
    made_view = FamilyView(
        family.code,
        name_of(family, have),
        family.title,
        family.status,
        family.weakest,
        tuple(members),
        tuple(_match(m, have) for m in among),
        tuple(elsewhere),
        entry.weight if entry else None,
        entry.reasons if entry else (),
    )
    return replace(made_view, seen=hashlib.sha256(repr(made_view).encode("utf-8", "backslashreplace")).hexdigest()[:16])


def family_holding(home: Home, keys: Iterable[PartKey]) -> str:
    """The family that holds most of these parts now; empty when none holds any."""
    wanted = set(keys)
    with home.database.read() as connection:
        held = [(sum(m.key in wanted for m in f.members), f.code) for f in families.all_families(connection)]
    most = max(held, default=(0, ""))
    return most[1] if most[0] else ""


def family_names(home: Home) -> dict[str, str]:
    """Code -> what it is called, for choosing one by name."""
    with home.database.read() as connection:
        names = scan_names(home)
        return {
            f.code: f.title or _untitled([names[m.key.digest] for m in f.members if m.key.digest in names])
            for f in families.all_families(connection)
        }


def scan_names(home: Home) -> dict[str, str]:
    """Digest -> box and piece of its first file."""
    with home.database.read() as connection:
        names: dict[str, str] = {}
        for scan in scans.all_scans(connection):
            names.setdefault(scan.digest, f"{scan.box} / {scan.piece}")
        return names


def pieces_of(home: Home, code: str | None = None) -> list[Dossier]:
    """Every part of every file, each once per file, for the list of pieces."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        return dossiers(connection, stamps, code)


def piece_views(home: Home, rows: Sequence[Dossier]) -> list[MemberView]:
    """These rows as the desk shows them, set upright as their families show them."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        belongs: dict[PartKey, Family] = {m.key: f for f in families.all_families(connection) for m in f.members}
        mates = {m.key for d in rows if d.key in belongs for m in belongs[d.key].members}
        have = dossiers_of(connection, stamps, mates) | {d.key: d for d in rows}
        upright = orientations(have, pairs.matches_among(connection, stamps.match, sorted(have)))
    return [_member(d, upright[d.key], 0.0, belongs[d.key].code if d.key in belongs else "") for d in rows]


def troubles(home: Home) -> list[Trouble]:
    """Every finding on a scan that is more than a note, by consignment, box and path; the gravest first in each."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection)
        found = desk.flagged(connection, stamps.entries, ("hazard", "failure", "attention")) if stamps else []
        by_digest: dict[str, list[Finding]] = {}
        for key, finding in found:
            by_digest.setdefault(key.digest, []).append(finding)
        made = [
            Trouble(s.consignment, s.box, s.piece, s.path, finding)
            for s in scans.all_scans(connection)
            for finding in by_digest.get(s.digest, ())
        ]
        for c in scans.consignments(connection):
            received = scans.receipt_findings(connection, c.code)
            made += [Trouble(c.code, "", "", path, f) for path, f in received if f.severity != "note"]
    return made


def grouped(found: Iterable[tuple[str, Finding]]) -> list[tuple[str, list[str]]]:
    """Each message once, with the places of the pieces that it is about."""
    made: dict[str, dict[str, None]] = {}
    for place, finding in found:
        made.setdefault(finding.message, {})[place] = None
    return [(message, list(places)) for message, places in made.items()]


def rulings_on(home: Home, keys: Iterable[PartKey]) -> list[Decision]:
    """The standing decisions that name any of these parts, the newest first."""
    wanted = set(keys)
    with home.database.read() as connection:
        return [d for d in reversed(standing(decisions.all_decisions(connection))) if wanted & set(d.parts)]


def chance(weight: float) -> float:
    """The probability that a sum of log-odds comes to."""
    return 1 / (1 + math.exp(-max(-60.0, min(60.0, weight))))


def name_of(family: Family, have: Mapping[PartKey, Dossier]) -> str:
    """Its title, or the place of its first piece and how many more there are."""
    return family.title or _untitled([have[m.key].title for m in family.members if m.key in have])


def _untitled(places: Sequence[str]) -> str:
    several = sorted(set(places))
    if not several:
        return "no title read"
    return f"{several[0]} and {len(several) - 1} more" if len(several) > 1 else several[0]


def _member(d: Dossier, turned: Orientation, probability: float, family: str) -> MemberView:
    measured, classified = d.measured, d.classified
    size = "size unknown"
    if measured and measured.width_mm and measured.height_mm:
        size = f"{measured.width_mm:,.0f} × {measured.height_mm:,.0f} mm"
    return MemberView(
        d.key,
        d.scan.consignment,
        d.title,
        d.scan.box,
        d.piece,
        d.scan.side,
        d.scan.path,
        d.kind,
        classified.kind_confidence if classified else 0.0,
        classified.evidence if classified else (),
        probability,
        size,
        measured.format if measured else "",
        measured.format_fit if measured else "",
        classified.polarity if classified else "unknown",
        Upright(d.rendered.box, turned.rotation, turned.mirrored) if d.rendered else None,
        turned.why,
        (),
        d.findings,
        "",
        family,
    )


def _in_order(family: Family, have: Mapping[PartKey, Dossier], config: Config) -> list[Member]:
    """Members in the order of making."""
    kinds = config.kinds.kinds
    rows = [m for m in family.members if m.key in have]
    return sorted(rows, key=lambda m: (kinds[m.role].order if m.role in kinds else 99, have[m.key].scan.path, m.key))


def _withhold(views: Sequence[MemberView], permitted: set[str]) -> list[MemberView]:
    """Of several owners' pieces, keep the first owner's, and the others' only where both have permitted it."""
    first = views[0].consignment if views else ""
    return [replace(v, withheld=v.consignment != first and not {v.consignment, first} <= permitted) for v in views]


def _both(match: Match, inside: Sequence[PartKey]) -> bool:
    return {match.a, match.b} <= set(inside)


def _surest(match: Match) -> tuple[float, PartKey, PartKey]:
    return (-match.probability, match.a, match.b)


def _match(match: Match, have: Mapping[PartKey, Dossier]) -> MatchView:
    return MatchView(match, have[match.a].title, have[match.b].title)


def _piece(d: Dossier) -> tuple[str, str, str]:
    return d.scan.consignment, d.scan.box, d.piece


def _now_at(place: str, d: Dossier) -> str:
    return "" if place == f"box {d.scan.box}" else place
