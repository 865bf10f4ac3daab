"""From matches and rulings to families and the queue, with ledgers made by hand."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from intake.config.load import load_config
from intake.kin import Decision, Family, Match, QueueEntry, Verb
from intake.model import Box, Evidence, FeatureSummary, Finding, Listed, Parsed, PartKey
from intake.services.dossiers import Dossier
from intake.services.grouping import is_compared, make_families, piece_name, standing_of
from intake.stages.queue import remarked
from tests.made import AT, CONFIG, FRAME, dossier, line, mark, match, reading, received

RULES = load_config(CONFIG)


def part(path: str, kind: str = "finished_sheet", number: int = 1, **given: Any) -> Dossier:
    """A part of the file at ``path``; what begins with ``scan_`` is of the file."""
    of_scan = {k.removeprefix("scan_"): v for k, v in given.items() if k.startswith("scan_")}
    return dossier(received(path, **of_scan), number, kind, **{k: v for k, v in given.items() if k not in
                   {f"scan_{n}" for n in of_scan}})  # fmt: skip


def link(a: Dossier, b: Dossier, weight: float = 5.0, **given: Any) -> Match:
    return match(a.key, b.key, evidence=(Evidence("points", "many", weight),), **given)


def decided(*rows: tuple[Verb, list[Dossier]] | tuple[Verb, int]) -> list[Decision]:
    made = []
    for number, (verb, what) in enumerate(rows, start=1):
        parts = () if isinstance(what, int) else tuple(d.key for d in what)
        made.append(Decision(number, AT, "Ada", verb, parts, {}, what if isinstance(what, int) else None))
    return made


def make(
    known: list[Dossier], matches: list[Match], ruled: list[Decision] | None = None, listed: list[Listed] | None = None
) -> tuple[list[Family], list[QueueEntry]]:
    return make_families(known, matches, ruled or [], listed or [], RULES)


def members(families: list[Family]) -> list[set[PartKey]]:
    return [{m.key for m in f.members} for f in families]


def keys(*dossiers: Dossier) -> set[PartKey]:
    return {d.key for d in dossiers}


ART, FILM, SHEET, OTHER = (
    part("B1/0001.tif", "artwork"), part("B2/0001.tif", "film_negative"), part("B3/0001.tif"), part("B3/0002.tif"),
)  # fmt: skip
ALL = [ART, FILM, SHEET, OTHER]


def test_what_matches_is_a_family_by_role_and_the_rest_is_none() -> None:
    (family,), (entry,) = make(ALL, [link(SHEET, ART), link(FILM, ART, probability=0.8)])
    assert [(m.key, m.role, m.probability) for m in family.members] == [
        (ART.key, "artwork", 0.95), (FILM.key, "film_negative", 0.8), (SHEET.key, "finished_sheet", 0.95),
    ]  # fmt: skip
    assert family.status == "suggested"
    assert family.weakest == "B2 / 0001 with B1 / 0001 at 0.80"
    assert entry.family == family.code
    assert entry.weight == pytest.approx(sum(r.weight for r in entry.reasons))


def test_a_family_needs_two_pieces_not_two_scans() -> None:
    front, back, detail = (
        part("B1/0001 r.tif", scan_piece="0001"),
        part("B1/0001 v.tif", "reverse", scan_piece="0001", scan_side="verso"),
        part("B1/0001 d.tif", scan_piece="0001", scan_side="detail"),
    )
    assert make([front, back, detail], [link(front, detail)]) == ([], [])
    same_number_elsewhere = part("B2/0001.tif")
    (family,), _ = make([front, back, detail, same_number_elsewhere], [link(front, same_number_elsewhere)])
    # The back and the detail go where their piece goes, certain as their name.
    assert {m.key: m.probability for m in family.members} == {
        front.key: 0.95, back.key: 1.0, same_number_elsewhere.key: 0.95, detail.key: 0.5,
    }  # fmt: skip


def test_the_parts_of_one_scan_are_pieces_of_their_own() -> None:
    first, second = (part("B1/0001.tif", "film_transparency", n, piece=f"0001.{n}") for n in (1, 2))
    assert piece_name(first) != piece_name(second)
    (family,), _ = make([first, second], [link(first, second)])
    assert {m.key for m in family.members} == keys(first, second)


def test_the_same_file_received_twice_is_one_part() -> None:
    twin = replace(SHEET, scan=replace(SHEET.scan, box="B9", path="B9/0007.tif"), piece="0007")
    (family,), _ = make([SHEET, twin, ART], [link(SHEET, ART)])
    assert len(family.members) == 2


@pytest.mark.parametrize(
    ("dossier", "compared"),
    [
        (SHEET, True),
        (part("x.tif", "unknown"), True),
        (part("x.tif", "document"), False),
        (part("x.tif", "target"), False),
        (part("x.tif", "reverse"), False),
        (part("x.tif", scan_side="verso"), False),
        (part("x.tif", scan_side="detail"), True),
        (part("x.tif", features=None), False),
        (part("x.tif", classified=None), False),
        (part("x.tif", features=FeatureSummary(0, 1, 1, 1.0, FRAME)), False),
        (part("x.tif", findings=(Finding("check", "blank", "attention", "even tone"),)), False),
        (part("x.tif", findings=(Finding("check", "clipped", "note", "white"),)), True),
    ],
)
def test_what_is_compared(dossier: Dossier, compared: bool) -> None:
    assert is_compared(dossier, RULES) is compared


# ---- rulings --------------------------------------------------------------------------------------------------------


def test_a_piece_taken_out_stays_out_and_undo_brings_it_back() -> None:
    matches = [link(SHEET, ART), link(FILM, ART), link(SHEET, FILM)]
    assert members(make(ALL, matches)[0]) == [keys(ART, FILM, SHEET)]
    ruled = decided(("part_off", [SHEET, ART, FILM]))
    assert members(make(ALL, matches, ruled)[0]) == [keys(ART, FILM)]
    ruled = decided(("part_off", [SHEET, ART, FILM]), ("undo", 1))
    assert members(make(ALL, matches, ruled)[0]) == [keys(ART, FILM, SHEET)]
    ruled = decided(("part_off", [SHEET, ART, FILM]), ("undo", 1), ("undo", 2))
    assert members(make(ALL, matches, ruled)[0]) == [keys(ART, FILM)]


def test_pieces_joined_by_a_person_are_a_family_without_any_match() -> None:
    (family,), _ = make(ALL, [], decided(("join", [SHEET, OTHER])))
    assert {m.key: m.probability for m in family.members} == {SHEET.key: 1.0, OTHER.key: 1.0}
    assert family.status == "suggested"


def test_a_person_may_part_two_scans_that_bear_one_number() -> None:
    one, two = part("B5/0001 a.tif", scan_piece="0001"), part("B5/0001 b.tif", scan_piece="0001")
    known, matches = [one, two, SHEET, ART], [link(one, SHEET), link(two, ART)]
    assert len(make(known, matches)[0]) == 1
    assert sorted(map(sorted, members(make(known, matches, decided(("part_off", [two, one])))[0]))) == sorted(
        map(sorted, [keys(one, SHEET), keys(two, ART)])
    )


def test_a_confirmed_family_leaves_the_queue_until_something_joins_it() -> None:
    matches = [link(SHEET, ART)]
    ruled = decided(("confirm", [SHEET, ART]))
    (family,), queue = make(ALL, matches, ruled)
    assert (family.status, queue) == ("confirmed", [])
    (grown,), (entry,) = make(ALL, [*matches, link(FILM, ART), link(FILM, SHEET)], ruled)
    assert (grown.status, len(grown.members)) == ("suggested", 3)
    assert "news: box B2 holds a copy negative, of a design confirmed in November 2026" in [
        r.words for r in entry.reasons
    ]
    (back,), _ = make(ALL, matches, decided(("confirm", [SHEET, ART]), ("undo", 1)))
    assert back.status == "suggested"


def test_a_confirmation_that_names_backs_holds() -> None:
    """The desk confirms all that it shows, backs too: those are not compared, yet must not upset the grouping."""
    back = part("B3/0001 v.tif", "reverse", scan_piece="0001", scan_side="verso")
    (family,), _ = make([*ALL, back], [link(SHEET, ART)], decided(("confirm", [SHEET, ART, back])))
    assert family.status == "confirmed"
    assert {m.key for m in family.members} == keys(SHEET, ART, back)


def test_rulings_on_scans_that_are_not_here_change_nothing() -> None:
    gone = part("B9/0009.tif")
    ruled = decided(("confirm", [SHEET, gone]), ("part_off", [gone, ART]))
    assert make(ALL, [link(SHEET, ART)], ruled)[0] == make(ALL, [link(SHEET, ART)])[0]


# ---- title, queue, order --------------------------------------------------------------------------------------------


def test_the_title_is_the_tallest_lettering_or_what_the_list_says_or_nothing() -> None:
    tall, small = line("The  Glass Tide", Box(0, 0, 900, 120)), line("PRINTED BY SOMEONE", Box(0, 1400, 800, 20))
    read = replace(SHEET, reading=reading(lines=[small, tall]))
    listed = [Listed("B3", "0001", "sheet, described"), Listed("B1", "0001", "artwork, described")]
    assert make([ART, read], [link(ART, read)], listed=listed)[0][0].title == "THE GLASS TIDE"
    only_small = replace(SHEET, reading=reading(lines=[small]))
    assert make([ART, only_small], [link(ART, only_small)], listed=listed)[0][0].title == "artwork, described"
    unsure = replace(SHEET, reading=reading(lines=[replace(tall, confidence=0.5)]))
    assert make([ART, unsure], [link(ART, unsure)])[0][0].title == ""


def test_reasons_are_those_of_the_family() -> None:
    risky = replace(FILM, findings=(Finding("classify", "possible_nitrate", "hazard", "caution"),))
    printed = [
        replace(s, parsed=Parsed((mark(who),))) for s, who in ((SHEET, "Lund & Ost"), (OTHER, "Hale Lithographic"))
    ]
    known = [ART, risky, *printed]
    matches = [link(a, b) for n, a in enumerate(known) for b in known[n + 1 :]]
    _, (entry,) = make(known, matches)
    said = {r.name: r.words for r in entry.reasons}
    assert set(said) == {"hazard", "art_and_film", "differs", "many_members"}
    assert said["differs"] == "marks differ between its pieces: printer Hale Lithographic / Lund & Ost"
    _, (entry,) = make([ART, FILM], [link(ART, FILM, probability=0.6)])
    said = {r.name: r.words for r in entry.reasons}
    assert set(said) == {"art_and_film", "no_sheet", "one_weak_link", "many_members"}
    assert said["no_sheet"] == "no finished sheet seen among 2 scans"


def test_a_sign_against_its_own_year_and_a_single_sheet_are_reasons_until_ruled_otherwise() -> None:
    film_of_1950 = mark("1950", "copyright", year=1950, dates="the film")
    web = mark("www.gantry.example", "web")
    clashing = replace(SHEET, parsed=Parsed((film_of_1950, web)))
    _, (entry,) = make([ART, clashing], [link(ART, clashing)])
    said = {r.name: r.words for r in entry.reasons}
    assert said["clash"].endswith("web on 1 piece") and "only_one" in said
    _, (entry,) = make([clashing, OTHER], [link(clashing, OTHER)])
    assert "only_one" not in {r.name for r in entry.reasons}
    parts = [standing_of(replace(clashing, parsed=Parsed((film_of_1950,))), RULES)]
    assert "clash" not in {r.name for r in remarked(entry, parts, RULES.queue).reasons}


def test_the_queue_is_in_the_order_of_its_weights() -> None:
    pairs = [(part(f"B{n}/0001.tif", kind), part(f"B{n}/0002.tif")) for n, kind in enumerate(("artwork", "still"))]
    pairs.append((part("B7/0001.tif", "artwork"), part("B7/0002.tif", "film_negative")))
    _, queue = make([d for p in pairs for d in p], [link(*p) for p in pairs])
    assert [e.weight for e in queue] == sorted((e.weight for e in queue), reverse=True)
    assert queue[0].weight > queue[1].weight


NAMES = [f"B{box}/{number:04}.tif" for box in (1, 2) for number in range(5)]


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_nothing_hangs_on_the_order_in_which_things_came(data: st.DataObject) -> None:
    known = [part(name) for name in NAMES]
    ways = [(a, b) for n, a in enumerate(known) for b in known[n + 1 :]]
    chosen = data.draw(st.lists(st.sampled_from(range(len(ways))), unique=True, max_size=14))
    matches = [link(*ways[n], weight=data.draw(st.sampled_from([-2.0, 0.4, 3.0, 6.0]))) for n in chosen]
    ruled = decided(*[("join", list(ways[n])) for n in chosen[:2]], *[("part_off", list(ways[n])) for n in chosen[2:3]])
    first = make(known, matches, ruled)
    again = make(data.draw(st.permutations(known)), data.draw(st.permutations(matches)), ruled)
    assert first == again
    found = [m.key for f in first[0] for m in f.members]
    assert len(found) == len(set(found)), "a part stands in two families"
    assert len({f.code for f in first[0]}) == len(first[0])
    for family in first[0]:
        assert len(family.members) >= 2
