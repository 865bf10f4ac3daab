"""From matches and rulings to families and the queue: derived whatever the order in which scans came in."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from itertools import combinations
from typing import NamedTuple

from intake.config.load import Config
from intake.kin import Decision, Family, Match, Member, QueueEntry
from intake.model import FILM_KINDS, Listed, PartKey
from intake.services.against import against
from intake.services.clashing import looks_of
from intake.services.dossiers import Dossier
from intake.services.holding import Holding, weakest_link
from intake.services.lettering import TITLED_KINDS, display_lettering
from intake.services.rulings import Rulings, rulings
from intake.stages.clash import clashes
from intake.stages.group import family_code, group
from intake.stages.queue import Standing, queue

_BOXES_NAMED = 4
_AN = dict.fromkeys("aeiou", "an")

PieceName = tuple[str, str, str]


class Looked(NamedTuple):
    """How many scans there are, and in how many boxes some were not looked at yet."""

    scans: int
    unread: int


def looked_of(known: Sequence[Dossier]) -> Looked:
    """Count all scans, and the boxes in which some were not looked at yet."""
    boxes = {(d.scan.consignment, d.scan.box) for d in known if d.checked is None}
    return Looked(len({d.scan.digest for d in known}), len(boxes))


def piece_name(dossier: Dossier) -> PieceName:
    """The physical thing: consignment, box, piece."""
    return dossier.scan.consignment, dossier.scan.box, dossier.piece


def is_compared(dossier: Dossier, config: Config) -> bool:
    """Can this part's picture tell a design? Backs, documents, targets and pictures of nothing cannot."""
    if dossier.features is None or dossier.classified is None or dossier.scan.side == "verso":
        return False
    blank = any(f.code == "blank" for f in dossier.findings)
    return config.kinds.kinds[dossier.kind].matched and dossier.features.keypoints > 0 and not blank


def standing_of(dossier: Dossier, config: Config) -> Standing:
    """What the queue needs to know of a part."""
    signs = clashes(looks_of(dossier, config), config.clash)
    plain = tuple(dict.fromkeys(c.rule for c in signs if c.strength == "plain"))
    marks = dossier.parsed.marks if dossier.parsed else ()
    return Standing(dossier.kind, marks, dossier.findings, piece_name(dossier), plain)


def make_families(
    known: Sequence[Dossier],
    matches: Sequence[Match],
    decisions: Iterable[Decision],
    listed: Sequence[Listed],
    config: Config,
    looked: Looked | None = None,
) -> tuple[list[Family], list[QueueEntry]]:
    """Families of at least two pieces, and the queue. ``known`` holds every part; the same part once per file.

    Where ``known`` are some parts alone (with all that matches or rulings tie to them), ``looked`` tells of all.
    """
    by_key: dict[PartKey, Dossier] = {}
    for dossier in known:
        by_key.setdefault(dossier.key, dossier)
    compared = [k for k, d in by_key.items() if is_compared(d, config)]
    made = list(decisions)
    ruled = rulings(made)
    same_piece = _pairs_of_pieces(by_key, compared)
    groups = group(
        compared, matches, sorted(ruled.together | (same_piece - ruled.apart)), sorted(ruled.apart), config.group
    )
    backs = _backs(by_key, compared)
    families = []
    for members in groups:
        pieces = {piece_name(by_key[k]) for k in members}
        if len(pieces) > 1:
            attached = [k for name in sorted(pieces) for k in backs.get(name, ()) if k not in members]
            families.append(_family(members, attached, matches, by_key, ruled, listed, config))
    families.sort(key=lambda f: f.code)

    looked = looked or looked_of(known)
    opposed = against(made, matches, config)
    entries = []
    for f in families:
        speaks = "; ".join(a.words for a in opposed if a.parts & {m.key for m in f.members})
        if f.status != "confirmed" or speaks:
            inside = {m.key for m in f.members}
            searched = [(s.where, s.found) for s in ruled.searches if s.is_of(inside)]
            parts = {k: standing_of(by_key[k], config) for k in inside}
            entries.append(queue(f, parts, *looked, _news(f, ruled, by_key, config), config.queue, speaks, searched))
    return families, sorted(entries, key=lambda e: (-e.weight, e.family))


def _pairs_of_pieces(by_key: Mapping[PartKey, Dossier], compared: Iterable[PartKey]) -> set[tuple[PartKey, PartKey]]:
    """Several scans of one piece belong together, whatever they look like: that is how they were named."""
    pieces: dict[PieceName, list[PartKey]] = {}
    for key in compared:
        pieces.setdefault(piece_name(by_key[key]), []).append(key)
    return {(min(p), max(p)) for keys in pieces.values() for p in combinations(keys, 2)}


def _backs(by_key: Mapping[PartKey, Dossier], compared: Iterable[PartKey]) -> dict[PieceName, list[PartKey]]:
    """Scans that are not compared themselves but go wherever their piece goes."""
    left = set(by_key) - set(compared)
    backs: dict[PieceName, list[PartKey]] = {}
    for key in sorted(left):
        backs.setdefault(piece_name(by_key[key]), []).append(key)
    return backs


def _family(
    members: Sequence[PartKey],
    attached: Sequence[PartKey],
    matches: Iterable[Match],
    by_key: Mapping[PartKey, Dossier],
    ruled: Rulings,
    listed: Sequence[Listed],
    config: Config,
) -> Family:
    inside = set(members)
    best: dict[PartKey, float] = {}
    for match in matches:
        if match.a in inside and match.b in inside and match.relation != "shared_element":
            for key in (match.a, match.b):
                best[key] = max(best.get(key, 0.0), match.probability)
    together = {k for pair in ruled.together if set(pair) <= inside for k in pair}
    rows = [
        Member(key, by_key[key].kind, 1.0 if key in together or key in attached else best.get(key, 0.5))
        for key in (*members, *attached)
    ]
    rows.sort(key=lambda m: (config.kinds.kinds[m.role].order, by_key[m.key].scan.path, m.key))
    held = weakest_link(members, matches, {k: piece_name(by_key[k]) for k in members})
    confirmed = any(inside <= parts for parts in ruled.confirmed)
    return Family(
        family_code(members),
        "confirmed" if confirmed else "suggested",
        ruled.name_of(members) or _title([by_key[k] for k in members], listed),
        tuple(rows),
        _held_words(held, by_key) if held else "",
    )


def _held_words(held: Holding, by_key: Mapping[PartKey, Dossier]) -> str:
    """``box / piece with box / piece at 0.83``, and how many pieces hang on it where that is more than one."""
    a, b = (by_key[key].title for key in (held.link.a, held.link.b))
    hanging = len({piece_name(by_key[key]) for key in held.side})
    more = f", {hanging} pieces hang on it" if hanging > 1 else ""
    return f"{a} with {b} at {held.link.probability:.2f}{more}"


def _title(members: Iterable[Dossier], listed: Sequence[Listed]) -> str:
    """The tallest lettering that most members bear; where none was read, what the owner's list says; else nothing."""
    members = list(members)
    printed = [d for d in members if d.kind in TITLED_KINDS]
    for among in (printed, [d for d in members if d.kind not in FILM_KINDS]):
        read = Counter(text for d in among if (text := display_lettering(d)))
        if read:
            return max(read, key=lambda text: (read[text], len(text), text))
    described = {(x.box, x.piece): x.description for x in listed if x.description}
    words = sorted({described[d.scan.box, d.scan.piece] for d in members if (d.scan.box, d.scan.piece) in described})
    return words[0] if words else ""


def _news(family: Family, ruled: Rulings, by_key: Mapping[PartKey, Dossier], config: Config) -> str:
    """What joined since a person confirmed what is now a part of this family, in words; empty where nothing did:
    ``box 31 holds a copy negative of a design confirmed in May 2026``."""
    inside = {m.key for m in family.members}
    told = zip(ruled.confirmed, ruled.confirmed_at, strict=True)
    before = [(parts, at) for parts, at in told if len(parts & inside) > 1]
    new = inside - frozenset().union(*(parts for parts, _ in before)) if before else frozenset()
    if not new:
        return ""
    held: dict[str, Counter[str]] = {}
    for d in (by_key[m.key] for m in family.members if m.key in new):
        held.setdefault(d.scan.box, Counter())[config.kinds.kinds[d.kind].words] += 1
    boxes = [f"box {box} holds {_kinds(kinds)}" for box, kinds in sorted(held.items())[:_BOXES_NAMED]]
    more = f", and {len(held) - _BOXES_NAMED} boxes more" if len(held) > _BOXES_NAMED else ""
    when = datetime.fromisoformat(max(at for _, at in before))
    return f"{'; '.join(boxes)}{more}, of a design confirmed in {when:%B %Y}"


def _kinds(kinds: Counter[str]) -> str:
    return ", ".join(
        f"{n} of {word}" if n > 1 else f"{_AN.get(word[0], 'a')} {word}" for word, n in sorted(kinds.items())
    )
