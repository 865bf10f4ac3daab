"""Tie families to campaigns by shared elements and words. Nothing is joined: families stay what they are."""

import heapq
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from intake.config.campaign import CampaignRules
from intake.kin import Match, Tie
from intake.model import Evidence, PartKey
from intake.ocr.wording import heads_of, words_of

VERSION = 1

Groups = list[tuple[tuple[str, ...], tuple[Tie, ...]]]


@dataclass(frozen=True, slots=True)
class Bearing:
    """What one family brings: its code, its parts, the display lettering on them and their other lines of text."""

    family: str
    parts: tuple[PartKey, ...]
    titles: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Worded:
    """The heads of the words of one family: of its title, and of all of its text."""

    title: frozenset[str]
    every: frozenset[str]


def campaign(bearings: Sequence[Bearing], matches: Iterable[Match], rules: CampaignRules) -> Groups:
    """Groups of two or more families, each as its sorted codes and the ties that hold it, in the order of first codes.

    Every pair of families has a say: what ties it, beside ``rules.prior``; a pair that nothing ties says
    ``rules.untold``. The two groups whose pairs sum to the most are put together first, while the sum is above 0. What
    more than ``rules.most`` families bear ties nothing, so work and groups stay bounded however many bear it. The order
    of the input does not matter.
    """
    known = sorted(bearings, key=lambda b: b.family)
    ties = _ties(known, matches, rules)
    groups = _gather([b.family for b in known], ties, rules)
    home = {code: n for n, codes in enumerate(groups) for code in codes}
    held: list[list[Tie]] = [[] for _ in groups]
    for tie in ties:
        if tie.weight > 0 and tie.a in home and home[tie.a] == home.get(tie.b):
            held[home[tie.a]].append(tie)
    return [(codes, tuple(found)) for codes, found in zip(groups, held, strict=True)]


# ---- what ties two families -----------------------------------------------------------------------------------------


def _ties(known: Sequence[Bearing], matches: Iterable[Match], rules: CampaignRules) -> list[Tie]:
    """Every pair of families that something speaks for, by codes; each with the sum of what speaks for it."""
    links = _links(known, matches)
    degree = Counter(code for pair in links for code in pair)
    worded, rarity = _words(known, rules)
    said: dict[tuple[str, str], list[Evidence]] = {}
    shared: dict[tuple[str, str], tuple[str, ...]] = {}
    for (a, b), found in links.items():
        if seen := _element(found, _rarity(1 + max(degree[a], degree[b]), rules), rules):
            said.setdefault((a, b), []).append(seen)
    for a, b, common in _sharing(worded, rarity):
        if read := _text(worded[a], worded[b], common, rarity, rules):
            said.setdefault((a, b), []).extend(read)
            shared[a, b] = tuple(sorted(common, key=lambda w: (-rarity[w], -len(w), w))[: rules.enough_names])
    prior = Evidence("prior", "before looking", rules.prior)
    made = []
    for (a, b), evidence in sorted(said.items()):
        link = None
        if any(e.name == "element" for e in evidence):
            surest = max(links[a, b], key=lambda m: (m.probability, m.weight, m.a, m.b))
            link = (surest.a, surest.b)
        made.append(Tie(a, b, (prior, *evidence), shared.get((a, b), ()), link))
    return made


def _links(known: Sequence[Bearing], matches: Iterable[Match]) -> dict[tuple[str, str], list[Match]]:
    """The matches between two families that speak for something: two codes, sorted -> matches, in their one order."""
    home = {part: b.family for b in known for part in b.parts}
    links: dict[tuple[str, str], list[Match]] = {}
    for match in sorted(matches, key=lambda m: (m.a, m.b, m.relation, m.probability)):
        a, b = home.get(match.a), home.get(match.b)
        if a is not None and b is not None and a != b and match.probability > 0.5:
            links.setdefault((min(a, b), max(a, b)), []).append(match)
    return links


def _element(found: Sequence[Match], rarity: float, rules: CampaignRules) -> Evidence | None:
    total = sum(_log_odds(m.probability) for m in found)
    weight = round(min(rules.element, total) * rarity, 4)
    if weight <= 0:
        return None
    best = max(m.probability for m in found)
    words = f"an element of one seems to be on the other, at {best:.2f}"
    if len(found) > 1:
        words = f"elements of one seem to be on the other, in {len(found)} pairs, the surest at {best:.2f}"
    return Evidence("element", words, weight)


def _text(
    a: _Worded, b: _Worded, common: Sequence[str], rarity: Mapping[str, float], rules: CampaignRules
) -> list[Evidence]:
    """What the common words say: those of both titles by their letters, the others by their number."""
    made = []
    title = sorted(w for w in common if w in a.title and w in b.title)
    if title:
        letters = sum(len(w) * rarity[w] for w in title)
        share = letters / min(sum(map(len, side.title)) for side in (a, b))
        # Squared: what two different titles have in common is seldom more than half of the shorter.
        weight = rules.title * share**2 * min(1.0, letters / rules.title_letters)
        made.append(Evidence("title", f"{share:.0%} of the shorter title is in the other", round(weight, 4)))
    others = [w for w in common if w not in title]
    if others:
        mass = sum(rarity[w] for w in others)
        fewest = min(sum(w in rarity and w not in title for w in side.every) for side in (a, b))
        share = mass / fewest
        weight = rules.names * share * min(1.0, mass / rules.enough_names)
        words = f"{len(others)} of {fewest} other telling words on the one are on the other"
        made.append(Evidence("names", words, round(weight, 4)))
    return [e for e in made if e.weight > 0]


def _words(known: Sequence[Bearing], rules: CampaignRules) -> tuple[dict[str, _Worded], dict[str, float]]:
    """The words of every family by their heads, and what each head still says, where that is above 0."""
    stock = rules.stock_words

    def words(texts: Iterable[str]) -> list[str]:
        found = Counter(
            w
            for text in texts
            for w in words_of(text, rules.shortest_word, rules.longest_word, rules.longest_text)
            if w not in stock
        )
        return sorted(found, key=lambda w: (-found[w], -len(w), w))[: rules.most_words]

    read = {b.family: (words(b.titles), words((*b.titles, *b.lines))) for b in known}
    # Stock words are on every sheet, and slips of them too: "produged" is no name.
    stocked = dict.fromkeys(stock, len(known) + 1)
    heads = heads_of(Counter(w for title, every in read.values() for w in {*title, *every}) | Counter(stocked))
    worded = {
        code: _Worded(*(frozenset(heads[w] for w in found) - stock for found in (title, (*title, *every))))
        for code, (title, every) in read.items()
    }
    bearers = Counter(w for side in worded.values() for w in side.every)
    rarity = {w: said for w, n in bearers.items() if (said := _rarity(n, rules)) > 0}
    return worded, rarity


def _sharing(worded: Mapping[str, _Worded], rarity: Mapping[str, float]) -> Iterator[tuple[str, str, list[str]]]:
    """Two families and the telling words that both bear, sorted; each pair that bears any, once."""
    postings: dict[str, list[str]] = {}
    for code in sorted(worded):
        common: dict[str, list[str]] = {}
        for word in sorted(w for w in worded[code].every if w in rarity):
            for other in postings.setdefault(word, []):
                common.setdefault(other, []).append(word)
            postings[word].append(code)
        yield from ((other, code, words) for other, words in common.items())


def _rarity(bearers: int, rules: CampaignRules) -> float:
    """What a thing says that so many families bear: 1 for a few, falling to 0 at ``rules.most``."""
    return min(1.0, max(0.0, (rules.most - bearers) / (rules.most - rules.few)))


def _log_odds(probability: float) -> float:
    sure = min(probability, 0.9999)
    return math.log(sure / (1 - sure))


# ---- groups of families ---------------------------------------------------------------------------------------------


def _gather(codes: Sequence[str], ties: Iterable[Tie], rules: CampaignRules) -> list[tuple[str, ...]]:
    """Greedy additive contraction. A tie is kept as what it says more than a pair that nothing ties."""
    place = {code: n for n, code in enumerate(codes)}
    members = {n: [code] for n, code in enumerate(codes)}
    surplus: dict[int, dict[int, float]] = {n: {} for n in members}
    for tie in ties:
        more = round(tie.weight - rules.untold, 6)
        if more > 0:
            a, b = place[tie.a], place[tie.b]
            surplus[a][b] = surplus[b][a] = more

    def bid(a: int, b: int) -> tuple[float, int, int]:
        pairs = len(members[a]) * len(members[b])
        return -round(surplus[a][b] + rules.untold * pairs, 6), min(a, b), max(a, b)

    heap = [bid(a, b) for a, row in surplus.items() for b in row if a < b]
    heapq.heapify(heap)
    while heap:
        offer = heapq.heappop(heap)
        _, a, b = offer
        # An offer from before one of the two grew is stale: a newer one is in the heap.
        if offer[0] >= 0 or b not in surplus.get(a, ()) or offer != bid(a, b):
            continue
        members[a] += members.pop(b)
        for other, more in surplus.pop(b).items():
            del surplus[other][b]
            if other != a:
                surplus[a][other] = surplus[other][a] = surplus[a].get(other, 0.0) + more
        for other in surplus[a]:
            heapq.heappush(heap, bid(a, other))
    return sorted(tuple(sorted(found)) for found in members.values() if len(found) > 1)
