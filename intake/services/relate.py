"""Across scans: which parts are compared, what matches, which families that makes."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from pathlib import Path

from intake.config.load import Config
from intake.imaging.candidates import Candidate
from intake.imaging.permute import Variant
from intake.model import Listed, PartKey, Stamps
from intake.services.campaigns import make_campaigns
from intake.services.dossiers import Dossier, dossiers
from intake.services.expansion import through_mates
from intake.services.facts import facts_of, family_facts
from intake.services.grouping import is_compared, looked_of, make_families
from intake.services.home import Home
from intake.services.queued import with_differing
from intake.services.ruled import VERSION as RULED_VERSION
from intake.services.ruled import note_all_said, note_all_waiting
from intake.services.searching import refresh_index
from intake.services.several import numbered_sets, sections, weighed
from intake.stages.campaign import VERSION as CAMPAIGN_VERSION
from intake.stages.differ import VERSION as DIFFER_VERSION
from intake.stages.group import VERSION as GROUP_VERSION
from intake.stages.section import VERSION as SECTION_VERSION
from intake.stages.sets import VERSION as SETS_VERSION
from intake.store import campaigns, decisions, differences, facts, families, pairs, scans, several
from intake.store.pairs import Compared, Pair

# Pairs worth a closer look, with the variants in which the index, or mates in common, propose them.
Wanted = dict[Pair, frozenset[Variant]]


def compared_parts(known: Iterable[Dossier], config: Config) -> list[PartKey]:
    """The parts whose pictures can tell a design, in their one order."""
    return sorted({d.key for d in known if is_compared(d, config)})


def is_settled(home: Home, config: Config, stamps: Stamps) -> bool:
    """Are the families of now made from exactly these scans, settings and rulings, and what differs in them told?

    Asked before anything heavy.
    """
    with home.database.read() as connection:
        if not differences.are_told(connection):
            return False
        return families.related_key(connection) == _key(home, config, stamps)


def to_compare(home: Home, stamps: Stamps, config: Config) -> tuple[list[PartKey], Path]:
    """The parts to compare, and the folder of the index of them."""
    with home.database.read() as connection:
        known = dossiers(connection, stamps)
    keys = compared_parts(known, config)
    return keys, refresh_index(home, keys, {d.key.digest for d in known if d.checked is not None}, stamps)


def pairs_of(asked: Iterable[tuple[PartKey, Sequence[Candidate]]]) -> Wanted:
    """What the index proposes. Never all pairs.

    Each part asks for its likeliest mates; the answer depends on which scans are there, not on the order they came in.
    """
    found: Wanted = {}
    for key, candidates in asked:
        for candidate in candidates:
            pair = pairs.ordered(key, candidate.key)
            found[pair] = found.get(pair, frozenset()) | {candidate.variant}
    return found


def pairs_through_mates(home: Home, wanted: Wanted, stamps: Stamps, config: Config) -> Wanted:
    """More pairs worth a look: mates of mates, by the matches among the ``wanted`` pairs alone."""
    with home.database.read() as connection:
        told = pairs.all_matches(connection, stamps.match, as_measured=True)
        matches = [m for m in told if (m.a, m.b) in wanted]
    found = through_mates(matches, wanted.keys(), config.match.candidates.expanded)
    return {pair: frozenset({variant}) for pair, variant in found.items()}


def drop_others(home: Home, wanted: Iterable[Pair], stamps: Stamps) -> None:
    """Forget pairs that are wanted no longer, so that what is kept never depends on what came before."""
    with home.database.write() as connection:
        pairs.drop_pairs(connection, stamps.match, pairs.pairs_compared(connection, stamps.match).keys() - set(wanted))


def record_compared(home: Home, compared: Sequence[Compared], stamps: Stamps) -> None:
    """Write a chunk of compared pairs in one transaction."""
    with home.database.write() as connection:
        pairs.record_pairs(connection, stamps.match, compared)


def regroup(home: Home, config: Config, stamps: Stamps) -> int:
    """Make families, campaigns and queue anew from the matches and rulings of now; returns the number of families."""
    with home.database.write() as connection:
        note_all_said(connection, config)
    with home.database.read() as connection:
        known = dossiers(connection, stamps)
        matches = pairs.all_matches(connection, stamps.match)
        ruled = decisions.all_decisions(connection)
        listed: list[Listed] = [
            line for c in scans.consignments(connection) for line in scans.listed_pieces(connection, c.code)
        ]
    compared = set(compared_parts(known, config))
    matches = [m for m in matches if m.a in compared and m.b in compared]
    numbered = numbered_sets(known, config)
    divided = sections(known, matches, config)
    made, entries = make_families(known, weighed(matches, numbered, divided, config), ruled, listed, config)
    tied = make_campaigns(known, made, matches, ruled, config)
    key = _key(home, config, stamps)
    members = {f.code: [m.key for m in f.members] for f in made}
    with home.database.write() as connection:
        entries = [with_differing(connection, e, members[e.family], config) for e in entries]
        families.replace_families(connection, made, entries, key)
        campaigns.put_campaigns(connection, tied)
        several.replace_several(connection, numbered, divided)
        note_all_waiting(connection, known, config)
        about = facts_of(known)
        facts.put_facts(connection, about)
        facts.put_family_facts(connection, family_facts(made, {f.key: f for f in about}))
        facts.put_looked(connection, *looked_of(known))
    return len(made)


def _key(home: Home, config: Config, stamps: Stamps) -> str:
    """What families hang on: the scans, the settings, the rulings, the lists."""
    with home.database.read() as connection:
        received = [(s.consignment, s.path, s.digest) for s in scans.all_scans(connection)]
        ruled = [d.id for d in decisions.all_decisions(connection)]
        listed = [str(scans.listed_pieces(connection, c.code)) for c in scans.consignments(connection)]
    parts = (config.differ, config.group, config.sets, config.campaign, config.queue, config.kinds)
    # Sets stay sets until here and are sorted: the order in which Python walks them changes from process to process.
    settings = [json.dumps(part.model_dump(), sort_keys=True, default=sorted) for part in parts]
    versions = [RULED_VERSION, GROUP_VERSION, CAMPAIGN_VERSION, SETS_VERSION, SECTION_VERSION, DIFFER_VERSION]
    what = [received, ruled, listed, settings, stamps.whole, stamps.match, versions]
    return hashlib.sha256(json.dumps(what).encode()).hexdigest()
