"""What a family's page says of its company: families of its campaign, and what is several without being doubled."""

from collections.abc import Mapping, Sequence

from intake.kin import Campaign, Family, NumberedSet, Section, Tie
from intake.model import PartKey
from intake.services.dossiers import Dossier
from intake.services.several import number_words, section_words
from intake.services.shown import CampaignView, MateView, MemberView, name_of


def campaign_view(
    campaign: Campaign,
    family: Family,
    others: Sequence[Family],
    have: Mapping[PartKey, Dossier],
    owner: str,
    permitted: set[str],
) -> CampaignView:
    """The campaign as ``family``'s page shows it, the surest ties first. ``owner`` is whose pieces the page shows.

    Of a family that holds a piece of another owner, nothing is named unless both owners have permitted it.
    """
    ties = {t.b if t.a == family.code else t.a: t for t in campaign.ties if family.code in (t.a, t.b)}
    mates = []
    for other in others:
        owners = {have[m.key].scan.consignment for m in other.members if m.key in have}
        withheld = bool(owners - {owner}) and not owners | {owner} <= permitted
        tie = ties.get(other.code)
        shown = tie is not None and not withheld
        mates.append(
            MateView(
                "" if withheld else other.code,
                "" if withheld else name_of(other, have),
                tie.evidence if tie and shown else (),
                tie.words if tie and shown else (),
                _link(tie, have) if tie and shown else "",
                tie.weight if tie else None,
                withheld,
            )
        )
    mates.sort(key=lambda m: (m.weight is None, -(m.weight or 0.0), m.family))
    return CampaignView(campaign.code, tuple(mates))


def several_words(
    members: Sequence[MemberView], sets: Sequence[NumberedSet], sections: Sequence[Section]
) -> tuple[tuple[str, str], ...]:
    """(place, what is said of it) of members that are of a numbered set, or a section of one sheet with another one."""
    shown = {m.key: m for m in members if not m.withheld}
    said = [
        (shown[s.b].place, section_words(s.shared_b, shown[s.a].path)) for s in sections if {s.a, s.b} <= set(shown)
    ]
    said += [(shown[key].place, number_words(s, n)) for s in sets for key, n in s.numbers if key in shown]
    return tuple(said)


def _link(tie: Tie, have: Mapping[PartKey, Dossier]) -> str:
    if tie.link is None or not set(tie.link) <= set(have):
        return ""
    a, b = (have[key].title for key in tie.link)
    return f"{a} with {b}"
