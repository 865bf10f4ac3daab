"""Where a family stands in the queue: a sum of reasons, each in words."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from intake.config.queue import QueueRules
from intake.kin import Difference, Family, QueueEntry
from intake.model import FILM_KINDS, Evidence, Finding, Mark, PartKey


@dataclass(frozen=True, slots=True)
class Standing:
    """What the queue needs to know of one part; ``signs`` names what speaks plainly against the year that it claims."""

    kind: str
    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...]
    piece: tuple[str, str, str]
    signs: tuple[str, ...] = ()


def queue(
    family: Family,
    parts: Mapping[PartKey, Standing],
    scans_seen: int,
    boxes_unread: int,
    news: str,
    rules: QueueRules,
    against: str = "",
    searched: Sequence[tuple[str, bool]] = (),
) -> QueueEntry:
    """The entry of one family; ``news`` says what joined it since a person confirmed it.

    ``against`` says in words what evidence speaks against a ruling on its parts; empty where none does. ``searched``
    are sources outside that a person searched for a finished sheet, and whether one was found there.
    """
    members = [parts[m.key] for m in family.members]
    kinds = Counter(m.kind for m in members)
    reasons: list[Evidence] = []

    def add(name: str, **words: object) -> None:
        reason = rules.reasons[name]
        reasons.append(Evidence(name, reason.words.format(**words), reason.weight))

    if hazards := _hazards(members):
        add("hazard", n=hazards)
    if kinds["artwork"] and any(kinds[k] for k in FILM_KINDS):
        add("art_and_film")
    if not kinds["finished_sheet"]:
        reasons.append(_no_sheet(scans_seen, boxes_unread, searched, rules))
    if min(m.probability for m in family.members) < rules.weak_probability:
        add("one_weak_link", words=family.weakest)
    if len({m.piece for m in members if m.kind == "finished_sheet"}) == 1:
        add("only_one")
    if differing := _differing(members):
        add("differs", words=differing)
    if signs := _signs(members):
        add("clash", words=signs)
    if news:
        add("news", words=news)
    if against:
        add("against", words=against)
    reasons.append(
        Evidence(
            "many_members",
            rules.reasons["many_members"].words.format(n=len(members)),
            rules.reasons["many_members"].weight * len(members),
        )
    )
    return QueueEntry(family.code, sum(r.weight for r in reasons), tuple(reasons))


def _no_sheet(scans: int, unread: int, searched: Sequence[tuple[str, bool]], rules: QueueRules) -> Evidence:
    """That no finished sheet was seen counts for more the more complete the search was, and for nothing once a source
    shows one. It is never said that a design was not published."""
    seen = [where for where, found in searched if found]
    if seen:
        reason = rules.reasons["sheet_elsewhere"]
        return Evidence("sheet_elsewhere", reason.words.format(where=", ".join(seen)), reason.weight)
    reason, s = rules.reasons["no_sheet"], rules.search
    share = max(s.least_share, 1 - s.unread_takes * unread) + s.source_adds * min(len(searched), s.most_sources)
    left = f", {unread} {'box' if unread == 1 else 'boxes'} unread" if unread else ""
    if searched:
        left += (
            f"; not found in {len(searched)} {'source' if len(searched) == 1 else 'sources'} searched outside either"
        )
    return Evidence("no_sheet", reason.words.format(scans=f"{scans:,}", unread=left), round(reason.weight * share, 3))


def remarked(entry: QueueEntry, members: Sequence[Standing], rules: QueueRules) -> QueueEntry:
    """The entry with what its members' marks and hazards say now, as after a ruling; its other reasons stay."""
    reasons = [r for r in entry.reasons if r.name not in ("differs", "hazard", "clash")]
    if hazards := _hazards(members):
        reason = rules.reasons["hazard"]
        reasons.insert(0, Evidence("hazard", reason.words.format(n=hazards), reason.weight))
    for name, words in (("differs", _differing(members)), ("clash", _signs(members))):
        if words:
            reason = rules.reasons[name]
            at = next((n for n, r in enumerate(reasons) if r.name in ("news", "against", "many_members")), len(reasons))
            reasons.insert(at, Evidence(name, reason.words.format(words=words), reason.weight))
    return QueueEntry(entry.family, sum(r.weight for r in reasons), tuple(reasons))


def differing(entry: QueueEntry, regions: Sequence[Difference], rules: QueueRules) -> QueueEntry:
    """The entry with the regions that differ between its pieces, in place of what it said of them before."""
    reasons = [r for r in entry.reasons if r.name not in ("regions_differ", "signature_differs")]
    kinds, signed = ", ".join(sorted({r.kind for r in regions})), sum(r.signed for r in regions)
    for name, n in (("regions_differ", len(regions)), ("signature_differs", signed)):
        if n:
            reason = rules.reasons[name]
            at = next((k for k, r in enumerate(reasons) if r.name in ("news", "many_members")), len(reasons))
            reasons.insert(at, Evidence(name, reason.words.format(n=n, kinds=kinds), reason.weight))
    return QueueEntry(entry.family, sum(r.weight for r in reasons), tuple(reasons))


def _hazards(members: Sequence[Standing]) -> int:
    return sum(any(f.severity == "hazard" for f in m.findings) for m in members)


def _signs(members: Sequence[Standing]) -> str:
    """What speaks against the years that pieces claim, as words; empty where nothing does."""
    pieces = len({m.piece for m in members if m.signs})
    names = ", ".join(sorted({s.replace("_", " ") for m in members for s in m.signs}))
    return f"{names} on {pieces} {'piece' if pieces == 1 else 'pieces'}" if pieces else ""


def _differing(members: Sequence[Standing]) -> str:
    """Kinds of mark of which two accepted values stand in one family, as words; empty when there are none."""
    values: dict[str, set[str]] = {}
    for member in members:
        for mark in member.marks:
            if mark.accepted != "no" and mark.kind in ("certificate", "printer", "release_code"):
                values.setdefault(mark.kind, set()).add(mark.value)
    return "; ".join(
        f"{kind.replace('_', ' ')} {' / '.join(sorted(found))}"
        for kind, found in sorted(values.items())
        if len(found) > 1
    )
