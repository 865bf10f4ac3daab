"""What the pages ask: the queue, one family, all pieces, what is wrong; each in one consistent view of the ledger."""

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from intake.config.load import Config
from intake.kin import Family, Match
from intake.model import Finding, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers, dossiers_of
from intake.services.home import Home
from intake.services.mates import campaign_view, several_words
from intake.services.orient import orientations
from intake.services.shown import (
    ElsewhereView,
    FamilyView,
    MemberView,
    QueueItem,
    Trouble,
    in_order,
    match_view,
    member_view,
    name_of,
    untitled,
    withhold,
)
from intake.services.whose import Whose
from intake.store import campaigns, desk, facts, families, moves, pairs, scans, several
from intake.store.database import Connection

_ELSEWHERE_SHOWN = 12


def queue_items(
    home: Home,
    config: Config,
    start: int = 0,
    count: int | None = None,
    settled: bool = False,
    whose: Whose | None = None,
) -> list[QueueItem]:
    """Families waiting for a person, the heaviest first; or those that a person has settled, by name."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        order = families.queue_order(connection)
        codes = sorted(families.titles(connection).keys() - set(order)) if settled else order
        codes = _shown(connection, codes, whose)
        return _items(connection, config, stamps, codes[start:][:count], whose) if stamps else []


def items_of(home: Home, config: Config, codes: Sequence[str], whose: Whose | None = None) -> list[QueueItem]:
    """These families (few), in this order."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        return _items(connection, config, stamps, codes, whose) if stamps else []


def _shown(connection: Connection, codes: list[str], whose: Whose | None) -> list[str]:
    """Those of these families that hold a piece which may be shown."""
    if whose is None or len(whose.codes) < 2:
        return codes
    shown = families.codes_with_pieces_of(connection, whose.shown_codes)
    return [code for code in codes if code in shown]


def _items(
    connection: Connection, config: Config, stamps: Stamps, codes: Sequence[str], whose: Whose | None
) -> list[QueueItem]:
    known = {f.code: f for f in families.families_by_code(connection, codes)}
    entries = {e.family: e for e in families.entries_of(connection, codes)}
    wanted = [known[c] for c in codes if c in known]
    keys = [m.key for f in wanted for m in f.members]
    have = dossiers_of(connection, stamps, keys)
    upright = orientations(have, pairs.matches_among(connection, stamps.match, keys))
    permitted = {c.code for c in scans.consignments(connection) if c.shown_to_others}
    made = []
    for f in wanted:
        views = [member_view(have[m.key], upright[m.key], m.probability, f.code) for m in in_order(f, have, config)]
        entry = entries.get(f.code)
        members = withhold(views, permitted, whose.laid_for if whose else "")
        kept = {m.key: have[m.key] for m in members if not m.withheld}
        made.append(
            QueueItem(
                f.code,
                name_of(f, kept),
                f.status,
                tuple(members),
                entry.weight if entry else None,
                entry.reasons if entry else (),
            )
        )
    return made


def queue_order(home: Home, whose: Whose | None = None) -> list[str]:
    """The codes of the families that wait, in their order; of those alone that may be shown, where ``whose`` says."""
    with home.database.read() as connection:
        return _shown(connection, families.queue_order(connection), whose)


def queue_counts(home: Home) -> tuple[int, int]:
    """(families waiting, families settled)."""
    with home.database.read() as connection:
        return families.count_families(connection)


def family_view(home: Home, config: Config, code: str, ours: str = "") -> FamilyView | None:
    """The family of this code; None when there is none (any more).

    ``ours`` is the consignment that the desk is laid for: what of another's may not be shown beside it is withheld.
    """
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        family = next(iter(families.families_by_code(connection, [code])), None)
        if stamps is None or family is None:
            return None
        inside = [m.key for m in family.members]
        found = desk.matches_touching(connection, stamps.match, inside)
        of = campaigns.campaign_of(connection, code)
        mates = families.families_by_code(connection, [c for c in of.families if c != code] if of else [])
        others = {m.key for f in mates for m in f.members}
        near = {*inside, *(k for m in found for k in (m.a, m.b))}
        all_of_them = dossiers_of(connection, stamps, near | others)
        have = {k: d for k, d in all_of_them.items() if k in near}
        found = [m for m in found if m.a in have and m.b in have]
        entry = next(iter(families.entries_of(connection, [code])), None)
        belongs = families.codes_of(connection, near)
        permitted = {c.code for c in scans.consignments(connection) if c.shown_to_others}
        sets, sections = several.all_sets(connection), several.all_sections(connection)
        now_at = {k: _now_at(moves.place_of(connection, *_piece(d)), d) for k, d in have.items()}
    upright = orientations(have, found)

    def view(key: PartKey, probability: float) -> MemberView:
        shown = member_view(have[key], upright[key], probability, belongs.get(key, ""))
        return replace(shown, now_at=now_at[key])

    every = [view(m.key, m.probability) for m in in_order(family, have, config)]
    members = withhold(every, permitted, ours)
    kept = {m.key for m in members if not m.withheld}
    among = sorted((m for m in found if _both(m, inside)), key=_surest)
    outward: dict[str | PartKey, list[Match]] = {}
    for m in sorted((m for m in found if not _both(m, inside)), key=_surest):
        there = _outside(m, inside)
        outward.setdefault(belongs.get(there, there), []).append(m)
    elsewhere = []
    for links in list(outward.values())[:_ELSEWHERE_SHOWN]:
        there = _outside(links[0], inside)
        here = links[0].a if there == links[0].b else links[0].b
        outside = withhold([*every, view(there, links[0].probability)], permitted, ours)[-1]
        if here in kept:
            link = match_view(links[0], have, kept if outside.withheld else None)
            elsewhere.append(ElsewhereView(link, here, outside, outside.family, len(links)))
    made_view = FamilyView(
        family.code,
        name_of(family, {key: d for key, d in have.items() if key in kept}),
        family.title,
        family.status,
        family.weakest,
        tuple(members),
        tuple(match_view(m, have, kept) for m in among),
        tuple(elsewhere),
        entry.weight if entry else None,
        entry.reasons if entry else (),
        several_words(members, sets, sections),
    )
    facts = replace(
        made_view,
        name=name_of(family, have),
        members=tuple(every),
        matches=tuple(match_view(m, have) for m in among),
        elsewhere=(),
        several=several_words(every, sets, sections),
    )
    seen = hashlib.sha256(repr((facts, outward)).encode("utf-8", "backslashreplace")).hexdigest()[:16]
    owner = ours or (members[0].consignment if members else "")
    company = campaign_view(of, family, mates, all_of_them, owner, permitted) if of else None
    return replace(made_view, seen=seen, campaign=company)


def has_facts(home: Home) -> bool:
    """Were the families made with what lists are sieved by?"""
    with home.database.read() as connection:
        return facts.is_filled(connection)


def family_holding(home: Home, keys: Iterable[PartKey]) -> str:
    """The family that holds most of these parts now; empty when none holds any."""
    with home.database.read() as connection:
        held = Counter(families.codes_of(connection, keys).values())
    return max(held, key=lambda code: (held[code], code), default="")


def family_names(home: Home, codes: Iterable[str] | None = None, whose: Whose | None = None) -> dict[str, str]:
    """Code -> what it is called, of all families or of these few; of those alone that may be shown, where asked.

    The places of pieces that may not be shown are in no name.
    """
    with home.database.read() as connection:
        found = facts.names(connection, codes)
        if whose is None:
            return {f.code: f.name for f in found}
        of = {f.code: json.loads(f.sets).get("consignments", []) for f in found}
        mixed = [code for code, owners in of.items() if not all(map(whose.may_show, owners))]
        titles = families.titles(connection)
        untold = families.members_of(connection, [c for c in mixed if whose.may_show_any(of[c]) and not titles[c]])
        known = facts.facts_of(connection, [k for keys in untold.values() for k in keys])
    made = {f.code: f.name for f in found if whose.may_show_any(of[f.code])}
    for code, keys in untold.items():
        made[code] = untitled(
            [f"{known[k].box} / {known[k].piece}" for k in keys if whose.may_show(known[k].consignment)]
        )
    return made


def pieces_of(home: Home, code: str | None = None) -> list[Dossier]:
    """Every part of every file, each once per file, for the list of pieces."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection) or Stamps({}, "", "")
        return dossiers(connection, stamps, code)


def piece_views(home: Home, rows: Sequence[Dossier]) -> list[MemberView]:
    """These rows as the desk shows them, set upright as their families show them."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection) or Stamps({}, "", "")
        belongs: dict[PartKey, Family] = {m.key: f for f in families.all_families(connection) for m in f.members}
        mates = {m.key for d in rows if d.key in belongs for m in belongs[d.key].members}
        have = dossiers_of(connection, stamps, mates) | {d.key: d for d in rows}
        upright = orientations(have, pairs.matches_among(connection, stamps.match, sorted(have)))
    return [member_view(d, upright[d.key], 0.0, belongs[d.key].code if d.key in belongs else "") for d in rows]


def troubles(home: Home) -> list[Trouble]:
    """Every failure, and every finding that asks for a look, by consignment, box and path. Hazards: see cautions."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        found = desk.flagged(connection, stamps.entries, ("failure", "attention")) if stamps else []
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


def _both(match: Match, inside: Sequence[PartKey]) -> bool:
    return {match.a, match.b} <= set(inside)


def _outside(match: Match, inside: Sequence[PartKey]) -> PartKey:
    return match.b if match.a in inside else match.a


def _surest(match: Match) -> tuple[float, PartKey, PartKey]:
    return (-match.probability, match.a, match.b)


def _piece(d: Dossier) -> tuple[str, str, str]:
    return d.scan.consignment, d.scan.box, d.piece


def _now_at(place: str, d: Dossier) -> str:
    return "" if place == f"box {d.scan.box}" else place
