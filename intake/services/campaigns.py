"""Which families are of one campaign: what their parts match and what they bear, handed to the stage."""

from collections.abc import Iterable, Mapping, Sequence

from intake.config.load import Config
from intake.kin import Campaign, Decision, Family, Match, Tie
from intake.model import Evidence, PartKey
from intake.services.dossiers import Dossier
from intake.services.lettering import body_lines, display_lettering
from intake.services.rulings import Rulings, rulings
from intake.stages.campaign import Bearing, campaign
from intake.stages.group import family_code

SAID = 10.0  # the log-odds shown for a person's word; it is not weighed, it holds


def make_campaigns(
    known: Iterable[Dossier],
    families: Sequence[Family],
    matches: Iterable[Match],
    decisions: Iterable[Decision],
    config: Config,
) -> list[Campaign]:
    """Campaigns of two families or more, by code. Pieces that stand in no family are left out.

    Where a person parted two pieces, that they were thought to be of one design says nothing.
    """
    ruled = rulings(decisions)
    matches = [m for m in matches if m.relation == "shared_element" or (m.a, m.b) not in ruled.apart]
    by_key: dict[PartKey, Dossier] = {}
    for dossier in known:
        by_key.setdefault(dossier.key, dossier)
    members = {f.code: [m.key for m in f.members] for f in families}
    groups = campaign([_bearing(f, by_key, config) for f in families], matches, config.campaign)
    made = [
        Campaign(family_code((key for code in codes for key in members[code]), "C"), codes, ties)
        for codes, ties in groups
    ]
    return with_stated(made, families, ruled)


def with_stated(made: Sequence[Campaign], families: Sequence[Family], ruled: Rulings) -> list[Campaign]:
    """The campaigns, with those put together that a person said are one; a person's word ties whatever else says."""
    members = {f.code: {m.key for m in f.members} for f in families}
    kept = {c.code: c for c in made}
    for first, rest, who in ruled.campaigns:
        a, b = _holding(first, members), _holding(rest, members)
        if not a or not b or a == b:
            continue
        tie = Tie(min(a, b), max(a, b), (Evidence("person", f"{who} said that they are of one campaign", SAID),))
        of = [c for c in kept.values() if a in c.families or b in c.families]
        codes = tuple(sorted({a, b, *(code for c in of for code in c.families)}))
        ties = (*(t for c in of for t in c.ties), tie)
        for c in of:
            del kept[c.code]
        code = family_code((key for one in (a, b) for key in members[one]), "C") if not of else of[0].code
        if of and all(c in members for c in codes):
            code = family_code((key for one in codes for key in members[one]), "C")
        kept[code] = Campaign(code, codes, ties)
    return sorted(kept.values(), key=lambda c: c.code)


def _holding(parts: frozenset[PartKey], members: Mapping[str, set[PartKey]]) -> str:
    """The family that holds most of these parts; empty when none holds any."""
    most = max(((len(parts & inside), code) for code, inside in members.items()), default=(0, ""))
    return most[1] if most[0] else ""


def _bearing(family: Family, by_key: Mapping[PartKey, Dossier], config: Config) -> Bearing:
    """A family with the text of those members whose text is that of the printed design."""
    rules = config.campaign
    worded = [by_key[m.key] for m in family.members if m.role in rules.worded_kinds and m.key in by_key]
    worded = [d for d in worded if d.scan.side != "verso"]
    return Bearing(
        family.code,
        tuple(m.key for m in family.members),
        tuple(text for d in worded if (text := display_lettering(d))),
        tuple(line for d in worded for line in body_lines(d, rules.least_confidence)),
    )
