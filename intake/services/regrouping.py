"""After a ruling, the families that it can have changed are made anew, and no others.

Parts that no chain of matches, rulings or scans of one piece ties to those ruled on have no say in their families: what
comes out is what making all anew would give (tests/services/test_regrouping.py). So a ruling costs what hangs together,
not what the archive holds. Campaigns are carried over to the families that hold most of their pieces, and are told anew
by the next run; what a person said of campaigns holds at once.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from intake.config.load import Config
from intake.kin import Campaign, Family, Match, Tie
from intake.model import PartKey, Stamps
from intake.services.campaigns import with_stated
from intake.services.dossiers import Dossier, dossiers_of_scans
from intake.services.facts import facts_of, family_facts
from intake.services.grouping import Looked, is_compared, make_families
from intake.services.queued import with_differing
from intake.services.rulings import FAMILY_VERBS, Rulings, rulings
from intake.services.several import weighed
from intake.store import campaigns, decisions, facts, families, pairs, scans, several
from intake.store.database import Connection

MOST_FILES = 1_500  # of more, making all anew is no dearer


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """All parts that may share a family with some others, and the matches among them as grouping weighs them."""

    digests: tuple[str, ...]
    known: tuple[Dossier, ...]
    matches: tuple[Match, ...]


def neighbourhood(
    connection: Connection, stamps: Stamps, keys: Iterable[PartKey], config: Config
) -> Neighbourhood | None:
    """Everything that chains of matches, rulings and pieces tie to these parts; None when that is most of it all."""
    found: set[str] = set()
    new = {key.digest for key in keys}
    tied = _tied(connection)
    while new:
        found |= new
        if len(found) > MOST_FILES:
            return None
        beside = pairs.linked(connection, stamps.match, new)
        names = {(s.consignment, s.box, s.piece) for s in scans.scans_of(connection, sorted(new))}
        beside |= scans.digests_of_pieces(connection, names)
        beside.update(d for digest in new for d in tied.get(digest, ()))
        new = beside - found
    digests = tuple(sorted(found))
    received = sorted(scans.scans_of(connection, digests), key=lambda s: (s.consignment, s.path))
    known = dossiers_of_scans(connection, stamps, received)
    compared = {d.key for d in known if is_compared(d, config)}
    matches = pairs.matches_among(connection, stamps.match, sorted(compared))
    sets, sections = several.all_sets(connection), several.all_sections(connection)
    return Neighbourhood(digests, tuple(known), tuple(weighed(matches, sets, sections, config)))


def _tied(connection: Connection) -> Mapping[str, set[str]]:
    """File -> those that any ruling ever named together with it, be it taken back or not: too many do no harm."""
    tied: dict[str, set[str]] = {}
    for parts in decisions.parts_named(connection, FAMILY_VERBS):
        digests = {k.digest for k in parts}
        for digest in digests:
            tied.setdefault(digest, set()).update(digests)
    return tied


def follow_grouping(connection: Connection, near: Neighbourhood, config: Config) -> None:
    """Make the families of these parts anew, in the transaction that added the ruling."""
    keys = {d.key for d in near.known}
    made = decisions.on_families(connection, FAMILY_VERBS, keys)
    codes = {d.scan.consignment for d in near.known}
    listed = [line for code in sorted(codes) for line in scans.listed_pieces(connection, code)]
    found, entries = make_families(near.known, near.matches, made, listed, config, Looked(*facts.looked(connection)))
    members = {f.code: [m.key for m in f.members] for f in found}
    entries = [with_differing(connection, e, members[e.family], config) for e in entries]
    before = families.families_by_code(connection, families.codes_of(connection, keys).values())
    waited = {e.family: e for e in families.entries_of(connection, [f.code for f in before])}
    queued = {e.family: e for e in entries}
    same = {f.code for f in found if f in before and waited.get(f.code) == queued.get(f.code)}
    gone, new = [f for f in before if f.code not in same], [f for f in found if f.code not in same]
    carried = _carried(connection, gone, new)
    families.drop_families(connection, [f.code for f in gone])
    families.put_families(connection, new, [queued[f.code] for f in new if f.code in queued])
    _put_campaigns(connection, carried, found, rulings(made))
    about = facts_of(near.known)
    facts.put_facts(connection, about, near.digests)
    facts.put_family_facts(
        connection, family_facts(found, {f.key: f for f in about}), [f.code for f in (*before, *found)]
    )


def _carried(connection: Connection, gone: Sequence[Family], new: Sequence[Family]) -> list[Campaign]:
    """The campaigns of families that go, naming those that come in their place; taken away meanwhile."""
    of = campaigns.campaigns_by_family(connection)
    heirs = {f.code: _heir(f, new) for f in gone}
    made = []
    for code in sorted({of[f.code] for f in gone if f.code in of}):
        old = campaigns.campaign_by_code(connection, code)
        campaigns.drop_campaign(connection, code)
        named = {c: heirs.get(c, c) for c in old.families}
        codes = tuple(sorted({c for c in named.values() if c}))
        ties = []
        for tie in old.ties:
            a, b = sorted((named.get(tie.a, tie.a), named.get(tie.b, tie.b)))
            if a and a != b:
                ties.append(replace(tie, a=a, b=b))
        made.append(Campaign(code, codes, tuple(ties)))
    return made


def _heir(family: Family, new: Iterable[Family]) -> str:
    """The family that holds most of the pieces now; empty when none holds any."""
    members = {m.key for m in family.members}
    most = max(((sum(m.key in members for m in f.members), f.code) for f in new), default=(0, ""))
    return most[1] if most[0] else ""


def _put_campaigns(
    connection: Connection, carried: Sequence[Campaign], found: Sequence[Family], ruled: Rulings
) -> None:
    taken: set[str] = set()
    kept = []
    for one in carried:
        codes = tuple(c for c in one.families if c not in taken)
        taken.update(codes)
        kept.append(Campaign(one.code, codes, one.ties))
    of = campaigns.campaigns_by_family(connection)
    for code in sorted({of[f.code] for f in found if f.code in of}):
        kept.append(campaigns.campaign_by_code(connection, code))
        campaigns.drop_campaign(connection, code)
    here = {f.code for f in found}
    told = [replace(c, ties=_told(c, here)) for c in kept]
    campaigns.put_campaigns(connection, with_stated([c for c in told if c.ties and len(c.families) > 1], found, ruled))


def _told(one: Campaign, here: set[str]) -> tuple[Tie, ...]:
    """Its ties without those that were a person's word on these families: they are put again where they still stand."""
    ties = (t for t in one.ties if t.a in one.families and t.b in one.families)
    return tuple(t for t in ties if t.evidence[0].name != "person" or not {t.a, t.b} & here)
