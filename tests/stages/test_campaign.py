"""Campaigns: what ties families, what says nothing, order, hostile text, and ten thousand families under one stamp.

Nothing outside the project says how families of one film are told; the expectations are common practice.
"""

import hashlib
import string
import time
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.config.campaign import CampaignRules
from intake.kin import Match, Relation
from intake.model import PartKey
from intake.stages.campaign import Bearing, Groups, campaign
from tests.made import key, match, section

RULES = section(CampaignRules, Path("config/campaign.toml"))
BILLING = "MARTA QUILL AND EVERT SANDOR IN A FILM BY PIETER LAMBOUR MUSIC BY ROSA ENNETT"
OTHERS = "TOMAS WINDRICK AND LENA OSTERVALD DIRECTED BY HANNO KREEL MUSIC BY GREGOR FALLMAN"


def bearing(name: str, title: str = "", *lines: str) -> Bearing:
    return Bearing(f"F-{name}", (key(name), key(f"{name} too")), (title,) if title else (), lines)


def link(a: str, b: str, probability: float, relation: Relation = "shared_element") -> Match:
    return match(key(a), key(b), relation=relation, probability=probability)


def told(bearings: list[Bearing], matches: list[Match] | None = None) -> list[set[str]]:
    return [{code.removeprefix("F-") for code in codes} for codes, _ in campaign(bearings, matches or [], RULES)]


# ---- what ties ------------------------------------------------------------------------------------------------------


def test_one_title_ties_two_designs_and_says_so() -> None:
    ((codes, (tie,)),) = campaign(
        [bearing("A", "THE COPPER LANTERN"), bearing("B", "THE COPPER LANTERN"), bearing("C", "NINE BELLS AT NORSTAD")],
        [],
        RULES,
    )
    assert codes == ("F-A", "F-B")
    assert (tie.a, tie.b, tie.link) == ("F-A", "F-B", None)
    assert set(tie.words) == {"copper", "lantern"}
    assert tie.weight == pytest.approx(sum(e.weight for e in tie.evidence)) and tie.weight > 0


def test_a_title_in_two_languages_ties_with_the_names() -> None:
    one, other = bearing("A", "THE TOWERS OF GRAVENHOLM", BILLING), bearing("B", "LOS TORREONES DE GRAVENHOLM", BILLING)
    assert told([one, other]) == [{"A", "B"}]


@pytest.mark.parametrize(
    "read", ["THE C0PPER LANTERM", "THE COPPFR LANTERN", "the cópper lantern", "THE COPPER  LANTERNS"]
)
def test_a_slip_of_the_reader_does_not_hide_a_title(read: str) -> None:
    one, other = bearing("A", "THE COPPER LANTERN", BILLING), bearing("B", read, BILLING.replace("LAMBOUR", "LAMB0UR"))
    assert told([one, other]) == [{"A", "B"}]


def test_a_sure_element_ties_and_an_unsure_one_does_not() -> None:
    pair = [bearing("A"), bearing("B")]
    assert told(pair, [link("A", "B", 0.95)]) == [{"A", "B"}]
    assert told(pair, [link("A", "B", 0.7)]) == []
    assert told(pair, [link("A", "B", 0.3), link("A too", "B", 0.4), link("A too", "B too", 0.45)]) == []
    ((_, (tie,)),) = campaign(pair, [link("A", "B", 0.95), link("A too", "B", 0.7)], RULES)
    assert tie.link == tuple(sorted((key("A"), key("B"))))


def test_unsure_links_and_words_add_up() -> None:
    one, other = bearing("A", "THE TOWERS OF GRAVENHOLM"), bearing("B", "LOS TORREONES DE GRAVENHOLM")
    assert told([one, other]) == []
    assert told([one, other], [link("A", "B", 0.7)]) == [{"A", "B"}]


def test_a_chain_of_ties_is_one_campaign() -> None:
    chain = [bearing(n) for n in "ABC"]
    assert told(chain, [link("A", "B", 0.95), link("B", "C", 0.95)]) == [{"A", "B", "C"}]


def test_one_false_link_does_not_make_one_of_two_campaigns() -> None:
    one, other = (
        [bearing(f"{letter}{n}", title) for n in range(4)]
        for letter, title in (("A", "THE COPPER LANTERN"), ("B", "NINE BELLS AT NORSTAD"))
    )
    assert sorted(map(sorted, told([*one, *other], [link("A0", "B0", 0.99)]))) == [
        ["A0", "A1", "A2", "A3"], ["B0", "B1", "B2", "B3"],
    ]  # fmt: skip


# ---- what says nothing ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("NIGHT OVER GRAVENHOLM", BILLING), ("NIGHT TRAIN TO NORSTAD", OTHERS)),  # a word of two titles
        (("MOONLIGHT OVER GRAVENHOLM", BILLING), ("MOONLIGHT ROAD", OTHERS)),  # and a long one, of a short title
        (
            ("THE COPPER LANTERN", f"ALDEN PICTURES PRESENT {BILLING}"),
            ("NINE BELLS", f"ALDEN PICTURES PRESENT {OTHERS}"),
        ),
        (
            ("THE COPPER LANTERN", "MARTA QUILL"),
            ("NINE BELLS AT NORSTAD", f"MARTA QUILL {OTHERS}"),
        ),  # a star's two films
        (("THE COPPER LANTERN", "PRINTED IN ENGLAND"), ("NINE BELLS AT NORSTAD", "PRINTED IN ENGLAND")),
        (("", "DIRECTED PRODUCED STARRING PRODUGTIONS"), ("", "DIRECTED PRODUCED STARRING PRODUGTIONS")),
        (("", ""), ("", "")),
        (("WE", "12 OF 40"), ("WE", "12 OF 40")),
    ],
)
def test_what_films_have_in_common_ties_nothing(one: tuple[str, str], other: tuple[str, str]) -> None:
    assert told([bearing("A", *one), bearing("B", *other)]) == []


def test_what_hundreds_bear_says_nothing_to_any_two() -> None:
    stamped = [bearing(f"{n:03}", "ASTERFELD AGENCY", "KALDER AND ROWE LITHO OSTMERE PRESS") for n in range(300)]
    assert told(stamped) == []
    spelled = [bearing(f"{n:03}", "ASTERFELD AGENCY".replace("STERF", "STERF"[: n % 5] + "STERF"[n % 5 + 1 :]))
               for n in range(300)]  # fmt: skip
    assert told(spelled) == [], "slips of one stamp are that stamp"


def test_a_layout_that_matches_everywhere_says_nothing() -> None:
    names = [f"{n:03}" for n in range(60)]
    ring = [link(a, b, 0.99) for n, a in enumerate(names) for b in (names[n - 1 - k] for k in range(20))]
    assert told([bearing(n) for n in names], ring) == []


def test_a_family_is_no_campaign_and_matches_elsewhere_are_passed_over() -> None:
    assert told([bearing("A", "THE COPPER LANTERN")], [link("A", "A too", 0.99), link("A", "Z", 0.99)]) == []
    assert told([]) == []


# ---- order and bounds -----------------------------------------------------------------------------------------------

WORDS = ("COPPER", "LANTERN", "GRAVENHOLM", "GRAVENHULM", "NORSTAD", "WINDRICK", "BELLS", "DIRECTED")
texts = st.lists(st.sampled_from(WORDS), max_size=4).map(" ".join)
borne = st.lists(st.tuples(texts, texts), min_size=2, max_size=9)


@settings(max_examples=80, deadline=None)
@given(data=st.data())
def test_nothing_hangs_on_the_order(data: st.DataObject) -> None:
    bearings = [bearing(str(n), *words) for n, words in enumerate(data.draw(borne))]
    numbers = st.integers(0, len(bearings) - 1)
    rows = data.draw(st.lists(st.tuples(numbers, numbers, st.floats(0.21, 0.999)), max_size=12))
    matches = [link(str(a), str(b), p) for a, b, p in rows if a != b]
    first = campaign(bearings, matches, RULES)
    turned = [Bearing(b.family, b.parts[::-1], b.titles, b.lines[::-1]) for b in data.draw(st.permutations(bearings))]
    assert campaign(turned, data.draw(st.permutations(matches)), RULES) == first
    _holds(first, bearings)


def _holds(groups: Groups, bearings: list[Bearing]) -> None:
    """Families are left as they are, each in one campaign at most, and each is tied to another one of it."""
    codes = [code for found, _ in groups for code in found]
    assert len(codes) == len(set(codes)) and set(codes) <= {b.family for b in bearings}
    for found, ties in groups:
        assert len(found) > 1 and list(found) == sorted(found)
        assert {code for t in ties for code in (t.a, t.b)} == set(found)
        assert all(t.weight > 0 and t.a < t.b for t in ties)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=400), min_size=2, max_size=6))
def test_any_text_is_harmless(lines: list[str]) -> None:
    _holds(campaign([bearing(str(n), text, text[::-1]) for n, text in enumerate(lines)], [], RULES), [
        bearing(str(n)) for n in range(len(lines))
    ])  # fmt: skip


def test_long_text_is_cut_and_words_that_leave_are_letters() -> None:
    hostile = "<script>alert(1)</script>\u202e {{7*7}} COPPERTONGUE LANTERNHEAD " + "ΩX" * 100_000
    started = time.process_time()
    ((_, (tie,)),) = campaign([bearing(n, hostile, *[hostile] * 20) for n in "AB"], [], RULES)
    assert time.process_time() - started < 5
    assert tie.words and all(word.isalpha() and len(word) <= RULES.longest_word for word in tie.words)


def _name(number: int) -> str:
    """A word of ten letters that is like no other number's."""
    return "".join(string.ascii_lowercase[b % 26] for b in hashlib.sha256(str(number).encode()).digest()[:10])


def _crowd(sort: str, count: int) -> tuple[list[Bearing], list[Match]]:
    """Families that all bear one stamp and one layout; that have nothing in common; or twelve of which have all."""
    stamp = ("ASTERFELD AGENCY KALDER AND ROWE OSTMERE", "THE ASTERFELD LIBRARY COLLECTION")

    def lines(n: int) -> tuple[str, ...]:
        own = 40 * (n if sort == "words of their own" else n // 12)
        words = tuple(" ".join(_name(own + k) for k in range(m, m + 10)) for m in range(0, 40, 10))
        return stamp if sort == "one stamp" else words

    bearings = [Bearing(f"F-{n:05}", (PartKey(f"{n:064x}", 1),), (), lines(n)) for n in range(count)]
    matches = [
        match(bearings[n].parts[0], bearings[(n + k) % count].parts[0], relation="shared_element", probability=0.95)
        for n in range(0, count, 2)
        for k in range(1, 26)
    ]
    return bearings, matches if sort == "one stamp" else []


@pytest.mark.parametrize(("sort", "campaigns"), [("one stamp", 0), ("words of their own", 0), ("words of twelve", 834)])
def test_ten_thousand_families_are_bounded(sort: str, campaigns: int) -> None:
    bearings, matches = _crowd(sort, 10_000)
    started = time.process_time()
    groups = campaign(bearings, matches, RULES)
    spent = time.process_time() - started
    print(f"{sort}: {spent:.1f} CPU-s, {len(groups)} campaigns")
    assert len(groups) == campaigns
    assert max((len(codes) for codes, _ in groups), default=0) <= 12
    assert spent < 60


def test_memory_is_bounded() -> None:
    """The dearest case, all words new, at a fifth of that size: it grows as the number of families."""
    bearings, _ = _crowd("words of their own", 2_000)
    tracemalloc.start()
    campaign(bearings, [], RULES)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 150e6
