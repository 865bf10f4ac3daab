"""Which families are of one campaign: what their parts match and what they bear, handed to the stage."""

from collections.abc import Iterable, Mapping, Sequence

from intake.config.load import Config
from intake.kin import Campaign, Decision, Family, Match
from intake.model import PartKey
from intake.services.dossiers import Dossier
from intake.services.lettering import body_lines, display_lettering
from intake.services.rulings import rulings
from intake.stages.campaign import Bearing, campaign
from intake.stages.group import family_code


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
    apart = rulings(decisions).apart
    matches = [m for m in matches if m.relation == "shared_element" or (m.a, m.b) not in apart]
    by_key: dict[PartKey, Dossier] = {}
    for dossier in known:
        by_key.setdefault(dossier.key, dossier)
    members = {f.code: [m.key for m in f.members] for f in families}
    groups = campaign([_bearing(f, by_key, config) for f in families], matches, config.campaign)
    made = [
        Campaign(family_code((key for code in codes for key in members[code]), "C"), codes, ties)
        for codes, ties in groups
    ]
    return sorted(made, key=lambda c: c.code)


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
