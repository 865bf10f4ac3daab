"""Campaigns, sets and sections through the services: which text counts, what is kept, and what the page is told."""

from dataclasses import replace
from typing import Any

import pytest

from intake.config.load import load_config
from intake.kin import Campaign, Decision, Family, Member, NumberedSet, Section, Tie
from intake.model import Box, Evidence, FeatureSummary, Measured, Parsed, PartKey, Received, Rendered
from intake.services.campaigns import make_campaigns
from intake.services.dossiers import Dossier
from intake.services.grouping import make_families
from intake.services.home import Home
from intake.services.mates import campaign_view, several_words
from intake.services.orient import orientations
from intake.services.relate import regroup
from intake.services.several import numbered_sets, sections, weighed
from intake.services.shown import member_view
from intake.services.tables import table
from intake.stages.group import family_code
from intake.store import campaigns, families, pairs, several
from tests.made import (
    CONFIG,
    FRAME,
    SETTINGS,
    STAMPS,
    Written,
    classified,
    dossier,
    key,
    line,
    mark,
    match,
    reading,
    received,
)

CONFIG_NOW = load_config(CONFIG)
TITLE, BELLS = Box(50, 100, 900, 120), Box(50, 100, 900, 110)


def sheet(path: str, title: str = "", kind: str = "finished_sheet", *small: str, **given: Any) -> Dossier:
    lines = [line(title, TITLE)] if title else []
    lines += [line(text, Box(50, 1300 + 30 * n, 800, 20)) for n, text in enumerate(small)]
    scan = received(path, **{k.removeprefix("scan_"): v for k, v in given.items() if k.startswith("scan_")})
    more = {k: v for k, v in given.items() if not k.startswith("scan_")}
    return dossier(scan, 1, kind, reading=reading(lines=lines), **more)


def family(*members: Dossier) -> Family:
    rows = tuple(Member(d.key, d.kind, 0.9) for d in members)
    return Family(family_code(d.key for d in members), "suggested", "", rows)


def made(*groups: list[Dossier], matches: Any = (), ruled: Any = ()) -> list[Campaign]:
    return make_campaigns([d for g in groups for d in g], [family(*g) for g in groups], matches, ruled, CONFIG_NOW)


ONE = [sheet("B1/1.tif", "THE COPPER LANTERN"), sheet("B1/2.tif", kind="artwork")]
TWO = [sheet("B2/1.tif", "THE COPPER LANTERN"), sheet("B2/2.tif", kind="artwork")]


def test_the_code_comes_from_the_members_of_its_families_and_no_family_is_changed() -> None:
    (campaign,) = made(ONE, TWO)
    assert campaign.code.startswith("C-") and campaign.code[2:] == family_code(d.key for d in (*ONE, *TWO))[2:]
    assert campaign.families == tuple(sorted(family(*g).code for g in (ONE, TWO)))
    assert made(TWO, ONE) == [campaign]
    grown = [*TWO, sheet("B2/3.tif")]
    assert made(ONE, grown)[0].code != campaign.code


@pytest.mark.parametrize(
    "given", [{"kind": "artwork"}, {"kind": "document"}, {"kind": "reverse", "scan_side": "verso"}]
)
def test_notes_stamps_and_letters_tie_nothing(given: dict[str, Any]) -> None:
    note = "ASTERFELD LIBRARY COLLECTION"
    groups = [[sheet(f"B{n}/1.tif", note, **given), sheet(f"B{n}/2.tif")] for n in (1, 2)]
    assert made(*groups) == []


def test_a_match_that_a_person_took_apart_ties_nothing_but_a_shared_element_does() -> None:
    one, two = ([sheet(f"B{n}/1.tif"), sheet(f"B{n}/2.tif")] for n in (1, 2))
    parted = [Decision(1, "2026-11-02", "Ada", "part_off", (one[0].key, two[0].key), {})]
    wrong, element = match(one[0].key, two[0].key), match(one[0].key, two[0].key, relation="shared_element")
    assert len(made(one, two, matches=[wrong])) == len(made(one, two, matches=[element], ruled=parted)) == 1
    assert made(one, two, matches=[wrong], ruled=parted) == []


def test_print_marks_tie_nothing() -> None:
    imprint = "KALDERSEN ROWLAND OSTMERE HALVERTON WREXLEY"
    groups = [[sheet(f"B{n}/1.tif", "", "finished_sheet", imprint), sheet(f"B{n}/2.tif")] for n in (1, 2)]
    assert len(made(*groups)) == 1
    groups = [[replace(g[0], parsed=Parsed((mark(imprint),))), g[1]] for g in groups]
    assert made(*groups) == []


# ---- sets and sections ----------------------------------------------------------------------------------------------

SIZE = Measured(254.0, 203.2, "resolution tag", "us_still", "fits")


def still(path: str, number: str, **given: Any) -> Dossier:
    lines = [line("THE COPPER LANTERN", Box(100, 1400, 500, 40)), line(number, Box(900, 1400, 60, 40))]
    return replace(sheet(path, kind="still", **given), reading=reading(lines=lines), measured=SIZE)


def test_stills_are_a_set_and_stay_apart_where_a_border_alone_matches() -> None:
    a, b, c = still("B1/1.tif", "DC-4"), still("B1/2.tif", "DC-5"), still("B1/3.tif", "DC-6")
    (found,) = numbered_sets([c, b, a], CONFIG_NOW)
    assert [n for _, n in found.numbers] == [4, 5, 6]
    border = [match(x.key, y.key, evidence=(Evidence("places", "the border", 2.5),)) for x, y in ((a, b), (b, c))]
    assert len(make_families([a, b, c], border, [], [], CONFIG_NOW)[0]) == 1
    told = weighed(border, [found], [], CONFIG_NOW)
    assert make_families([a, b, c], told, [], [], CONFIG_NOW)[0] == []
    assert [m.weight for m in told] == [pytest.approx(2.5 + CONFIG_NOW.sets.other_number)] * 2


def test_a_match_of_whole_pictures_outweighs_a_number() -> None:
    """Two copies that were given numbers by hand look like a set; their pictures say that they are none."""
    a, b = still("B1/1.tif", "4"), still("B1/2.tif", "5")
    whole = [match(a.key, b.key, evidence=(Evidence("places", "all of it", 6.0),))]
    told = weighed(whole, numbered_sets([a, b], CONFIG_NOW), [], CONFIG_NOW)
    assert len(make_families([a, b], told, [], [], CONFIG_NOW)[0]) == 1


def test_a_turned_scan_is_of_its_set() -> None:
    """Turned upside down in the scanner: its reading says so, and its lines lie at the other end."""
    b = still("B1/2.tif", "DC-5")
    # FRAME is 1,000 by 1,500: the boxes of ``still`` seen from the other side.
    turned = [line("THE COPPER LANTERN", Box(400, 60, 500, 40)), line("DC-5", Box(40, 60, 60, 40))]
    upside_down = replace(b, reading=reading(rotation=180, lines=turned))
    (found,) = numbered_sets([still("B1/1.tif", "DC-4"), upside_down], CONFIG_NOW)
    assert [n for _, n in found.numbers] == [4, 5]


def test_backs_details_and_cards_of_no_size_are_in_no_set() -> None:
    a = still("B1/1.tif", "DC-4")
    unsized = replace(still("B1/4.tif", "DC-7"), measured=Measured(None, None, "size unknown", "", "size unknown"))
    rest = [still("B1/2.tif", "DC-5", scan_side="verso"), still("B1/3.tif", "DC-6", scan_side="detail"), unsized]
    assert numbered_sets([a, *rest], CONFIG_NOW) == []


def test_names_and_overlap_tell_sections() -> None:
    one, two, other = (
        sheet(f"B1/0053 {s}.tif", scan_piece="0053" if s != "x" else "0054", scan_sequence=s if s != "x" else "")
        for s in ("p01", "p02", "x")
    )
    (told,) = sections([one, two, other], [], CONFIG_NOW)
    assert ({told.a, told.b}, told.shared_a) == ({one.key, two.key}, 0.0)
    shift = (1.0, 0.0, 0.0, 0.0, 1.0, -1200.0, 0.0, 0.0, 1.0)
    (told,) = sections([one, two, other], [match(one.key, two.key, transform=shift)], CONFIG_NOW)
    assert (told.shared_a, told.shared_b) == (0.2, 0.2)
    told = sections([one, two, other], [match(one.key, other.key, transform=shift)], CONFIG_NOW)
    assert {frozenset((s.a, s.b)) for s in told} == {frozenset((one.key, two.key)), frozenset((one.key, other.key))}


def test_halves_that_bear_two_names_are_one_family_as_sections() -> None:
    """What two halves share is little, so their match is unsure: that it is a strip at the edges says the rest."""
    one, two = sheet("B1/0053.tif"), sheet("B1/0054.tif")
    shift = (1.0, 0.0, 0.0, 0.0, 1.0, -1200.0, 0.0, 0.0, 1.0)
    unsure = [match(one.key, two.key, transform=shift, probability=0.55, evidence=(Evidence("places", "few", 0.2),))]
    assert make_families([one, two], unsure, [], [], CONFIG_NOW)[0] == []
    told = weighed(unsure, [], sections([one, two], unsure, CONFIG_NOW), CONFIG_NOW)
    assert len(make_families([one, two], told, [], [], CONFIG_NOW)[0]) == 1
    named = weighed(unsure, [], [Section(unsure[0].a, unsure[0].b, 0.0, 0.0)], CONFIG_NOW)
    assert named == unsure, "a name alone is no evidence of what is on the picture"


# ---- kept, and told in tables ---------------------------------------------------------------------------------------


def _look(
    written: Written, scan: Received, lines: list[Any], kind: Any = "finished_sheet", size: Any = None
) -> PartKey:
    size = size or Measured(685.8, 1016.0, "resolution tag", "us_1sh_old", "fits")
    features = FeatureSummary(400, 640, 960, 1.5, FRAME)
    written.looked(scan, [Rendered(FRAME, 1000, 1500, 1.0), classified(kind), reading(lines=lines), size, features,
                          Parsed(())])  # fmt: skip
    return PartKey(scan.digest, 1)


def test_a_regrouping_keeps_all_and_gives_the_same_again(home: Home) -> None:
    written = Written(home)
    files = [received(f"B{box}/{n:04}.tif") for box in (1, 2) for n in (1, 2)]
    stills = [received(f"B3/{n:04}.tif") for n in (4, 5)]
    halves = [received(f"B4/0053 p0{n}.tif", piece="0053", sequence=f"p0{n}") for n in (1, 2)]
    written.consignment(*files, *stills, *halves)
    written.run()
    keys = [_look(written, f, [line("THE COPPER LANTERN", TITLE)]) for f in files]
    cards = [
        _look(written, f, [line("NINE BELLS", Box(100, 1400, 500, 40)), line(f.piece[-1], Box(900, 1400, 60, 40))],
              "still", SIZE)
        for f in stills
    ]  # fmt: skip
    parts = [_look(written, f, []) for f in halves]
    strip = (1.0, 0.0, 0.0, 0.0, 1.0, -1200.0, 0.0, 0.0, 1.0)
    found = [
        match(keys[0], keys[1]),
        match(keys[2], keys[3]),
        match(*cards, relation="same_piece", evidence=(Evidence("wear", "the border", 0.8),)),
        match(parts[0], parts[1], transform=strip if parts[0] < parts[1] else (*strip[:5], 1200.0, *strip[6:])),
    ]
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.1) for m in found])
    kept = []
    for _ in range(2):
        assert regroup(home, CONFIG_NOW, STAMPS) == 2
        with home.database.read() as connection:
            kept.append(
                (campaigns.campaigns_by_family(connection), several.all_sets(connection),
                 several.all_sections(connection), families.related_key(connection))
            )  # fmt: skip
            of = [campaigns.campaign_of(connection, code) for code in kept[-1][0]]
    assert kept[0] == kept[1]
    by_family, (numbered,), (divided,), _ = kept[0]
    assert len(by_family) == 2 and len(set(by_family.values())) == 1
    assert of[0] == of[1] and of[0] is not None and of[0].ties[0].words == ("lantern", "copper")
    assert {k for k, _ in numbered.numbers} == set(cards)
    assert {divided.a, divided.b} == set(parts)

    columns, rows = table(home, SETTINGS, "families")
    assert columns[-1] == "campaign" and {r[-1] for r in rows} == set(by_family.values())
    columns, rows = table(home, SETTINGS, "findings")
    told = [(r[3], r[6], r[7]) for r in rows]
    assert sorted(told) == [
        ("B3/0004.tif", "numbered_set", "note"), ("B3/0005.tif", "numbered_set", "note"),
        ("B4/0053 p02.tif", "section", "note"),
    ]  # fmt: skip
    assert all("not" in r[8] and "again" not in r[8] for r in rows)


def test_families_may_be_replaced_while_campaigns_stand(home: Home) -> None:
    one, two = family(*ONE), family(*TWO)
    with home.database.write() as connection:
        families.replace_families(connection, [one, two], [], "1")
        tie = Tie(*sorted((one.code, two.code)), (Evidence("prior", "x", 1.0),), ("lantern",), (ONE[0].key, TWO[0].key))
        campaigns.put_campaigns(connection, [Campaign("C-1", (one.code, two.code), (tie,))])
    with home.database.write() as connection:
        families.replace_families(connection, [one], [], "2")
    with home.database.read() as connection:
        assert campaigns.campaigns_by_family(connection) == {}
        assert campaigns.campaign_of(connection, one.code) is None


# ---- what the page is told ------------------------------------------------------------------------------------------


def _view(permitted: set[str], owner_of_two: str = "D") -> Any:
    two = [replace(d, scan=replace(d.scan, consignment=owner_of_two)) for d in TWO]
    here, there = family(*ONE), replace(family(*two), title="THE OTHER")
    evidence = (Evidence("prior", "before looking", -2.0), Evidence("title", "the same", 4.0))
    tie = Tie(*sorted((here.code, there.code)), evidence, ("lantern",), (ONE[0].key, two[0].key))
    campaign = Campaign("C-1", tuple(sorted((here.code, there.code))), (tie,))
    (mate,) = campaign_view(campaign, here, [there], {d.key: d for d in (*ONE, *two)}, "C", permitted).mates
    return mate


def test_a_mate_is_named_with_its_reasons() -> None:
    mate = _view(set(), "C")
    assert (mate.name, mate.words, mate.weight) == ("THE OTHER", ("lantern",), 2.0)
    assert mate.link == "B1 / 1 with B2 / 1"
    assert _view({"C", "D"}).name == "THE OTHER"


@pytest.mark.parametrize("permitted", [set(), {"C"}, {"D"}])
def test_nothing_of_another_owner_is_named_without_permission(permitted: set[str]) -> None:
    mate = _view(permitted)
    assert mate.withheld
    assert (mate.family, mate.name, mate.reasons, mate.words, mate.link) == ("", "", (), (), "")


def test_sections_and_sets_are_said_of_shown_pieces_alone() -> None:
    parts = [sheet(f"B4/0053 p0{n}.tif", scan_piece="0053", scan_sequence=f"p0{n}") for n in (1, 2)]
    have = {d.key: d for d in parts}
    turned = orientations(have, [])
    shown = [member_view(d, turned[d.key], 1.0, "F-1") for d in parts]
    divided = [Section(*sorted(have), 0.2, 0.25)]
    numbered = [NumberedSet(((parts[0].key, 4), (key("elsewhere"), 5)))]
    (first, section_said), (second, set_said) = several_words(shown, numbered, divided)
    assert first == second == "B4 / 0053"
    assert section_said.startswith("shares a strip of 25% at one edge with B4/0053 p0")
    assert "number 4 of a set: 2 cards" in set_said and "not duplicates" in set_said
    hidden = [replace(shown[0], withheld=True), shown[1]]
    assert several_words(hidden, numbered, divided) == ()
