"""Rulings are added rows; families follow from them, and a ruling taken back is as if it had not been made."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from intake.config.load import Config, load_config
from intake.kin import Verb
from intake.model import PartKey, Stamps
from intake.services import review, views
from intake.services.progress import progress
from intake.services.review import FamilyChanged, RulingRefused
from intake.services.shown import withhold
from intake.store import decisions, moves, runs
from tests.made import CONFIG, STAMPS, in_ledger
from tests.web.hand import Made, build, copied


@pytest.fixture(scope="module")
def config() -> Config:
    return load_config(CONFIG)


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory, config: Config) -> Made:
    return build(tmp_path_factory.mktemp("review") / "home", config)


@pytest.fixture
def made(untouched: Made, tmp_path: Path) -> Iterator[Made]:
    copy = copied(untouched, tmp_path / "home")
    yield copy
    copy.home.database.close()


def families(made: Made, config: Config) -> dict[frozenset[PartKey], str]:
    """Members -> status, of all families, waiting or settled."""
    items = views.queue_items(made.home, config) + views.queue_items(made.home, config, settled=True)
    return {frozenset(m.key for m in item.members): item.status for item in items}


def first(made: Made) -> frozenset[PartKey]:
    return frozenset({made.art, made.negative, made.proof, made.sheet})


def second(made: Made) -> frozenset[PartKey]:
    return frozenset({made.second_a, made.second_b})


def code_of(made: Made, key: PartKey) -> str:
    return views.family_holding(made.home, [key])


def rule(made: Made, config: Config, verb: Verb, parts: Any, who: str = "Ida Marl") -> int:
    parts = list(parts)
    shown = {"families": sorted({code_of(made, k) for k in parts} - {""})}
    return review.decide(made.home, config, who, verb, parts, shown)


def test_the_queue_is_in_the_order_of_its_sums(made: Made, config: Config) -> None:
    items = views.queue_items(made.home, config)
    assert [frozenset(m.key for m in i.members) for i in items] == [first(made), second(made)]
    assert all(i.weight == pytest.approx(sum(r.weight for r in i.reasons)) for i in items)
    assert all(r.words for i in items for r in i.reasons)


def test_members_stand_in_the_order_of_making(made: Made, config: Config) -> None:
    view = views.family_view(made.home, config, code_of(made, made.art))
    assert view is not None
    assert [m.kind for m in view.members] == ["artwork", "film_negative", "printers_proof", "finished_sheet"]
    assert [m.place for m in view.members if m.hazards] == ["B02 / 0009"]


def test_what_is_shown_as_evidence_is_what_weighs(made: Made, config: Config) -> None:
    view = views.family_view(made.home, config, code_of(made, made.art))
    assert view is not None and len(view.matches) == 3
    assert all(m.match.weight == sum(e.weight for e in m.match.evidence) for m in view.matches)


def test_a_mirrored_negative_stands_upright_by_its_match(made: Made, config: Config) -> None:
    view = views.family_view(made.home, config, code_of(made, made.art))
    negative = view.member(made.negative) if view else None
    assert negative is not None and negative.upright is not None
    assert (negative.upright.mirrored, negative.upright.turn, negative.is_negative) == (True, 0, True)


def test_a_shared_element_is_seen_elsewhere_and_not_a_member(made: Made, config: Config) -> None:
    view = views.family_view(made.home, config, code_of(made, made.art))
    assert view is not None
    assert [(e.inside, e.outside.key, e.match.match.relation) for e in view.elsewhere] == [
        (made.art, made.alone, "shared_element")
    ]


def test_confirming_settles_and_taking_back_unsettles(made: Made, config: Config) -> None:
    number = rule(made, config, "confirm", first(made))
    assert families(made, config) == {first(made): "confirmed", second(made): "suggested"}
    review.undo(made.home, config, "Ida Marl", number)
    assert families(made, config) == {first(made): "suggested", second(made): "suggested"}


def test_taking_a_taking_back_back_brings_the_ruling_again(made: Made, config: Config) -> None:
    number = rule(made, config, "confirm", first(made))
    again = review.undo(made.home, config, "Ida Marl", number)
    review.undo(made.home, config, "Ida Marl", again)
    assert families(made, config)[first(made)] == "confirmed"
    rows = {r.decision.id: r for r in in_ledger(made.home)}
    assert [rows[n].stands for n in (1, 2, 3)] == [True, False, False]
    assert [rows[n].undone_by for n in (1, 2, 3)] == [2, 3, None]


def test_a_piece_taken_out_stays_out_and_the_rest_stays_together(made: Made, config: Config) -> None:
    rest = first(made) - {made.sheet}
    number = rule(made, config, "part_off", [made.sheet, *sorted(rest)])
    assert set(families(made, config)) == {rest, second(made)}
    review.undo(made.home, config, "Ida Marl", number)
    assert set(families(made, config)) == {first(made), second(made)}


def test_a_family_of_two_ends_when_one_is_taken_out(made: Made, config: Config) -> None:
    rule(made, config, "part_off", [made.second_a, made.second_b])
    assert set(families(made, config)) == {first(made)}
    assert code_of(made, made.second_b) == ""


def test_joined_families_are_one_and_come_apart_again(made: Made, config: Config) -> None:
    number = rule(made, config, "join", [*first(made), *second(made)])
    assert set(families(made, config)) == {first(made) | second(made)}
    review.undo(made.home, config, "Ida Marl", number)
    assert set(families(made, config)) == {first(made), second(made)}


def test_a_single_piece_can_be_joined(made: Made, config: Config) -> None:
    rule(made, config, "join", [*first(made), made.alone])
    assert first(made) | {made.alone} in families(made, config)


def test_a_ruling_on_what_changed_meanwhile_writes_nothing(made: Made, config: Config) -> None:
    old = {"families": [code_of(made, made.art)]}
    rule(made, config, "part_off", [made.sheet, *sorted(first(made) - {made.sheet})], who="Ore Vann")
    before = len(in_ledger(made.home))
    with pytest.raises(FamilyChanged, match="Ore Vann took a piece out"):
        review.decide(made.home, config, "Ida Marl", "confirm", sorted(first(made)), old)
    assert len(in_ledger(made.home)) == before


def test_only_ones_own_ruling_is_taken_back_and_once(made: Made, config: Config) -> None:
    number = rule(made, config, "confirm", first(made))
    with pytest.raises(RulingRefused, match="Ida Marl's"):
        review.undo(made.home, config, "Ore Vann", number)
    review.undo(made.home, config, "Ida Marl", number)
    with pytest.raises(RulingRefused, match="already"):
        review.undo(made.home, config, "Ida Marl", number)
    with pytest.raises(RulingRefused, match="no ruling 99"):
        review.undo(made.home, config, "Ida Marl", 99)


@pytest.mark.parametrize("who", ["", "   ", "x" * 61, "a\u202eb", "a\x00b"])
def test_nobody_rules_without_a_plain_name(made: Made, config: Config, who: str) -> None:
    with pytest.raises(RulingRefused):
        rule(made, config, "confirm", first(made), who=who)
    assert in_ledger(made.home) == []


def test_rows_keep_what_was_shown_and_name_parts_alone(made: Made, config: Config) -> None:
    shown = {"families": [code_of(made, made.art)], "name": "what lay there"}
    review.decide(made.home, config, "Ida  Marl ", "confirm", sorted(first(made)), shown)
    with made.home.database.read() as connection:
        (row,) = decisions.all_decisions(connection)
    assert (row.who, row.verb, set(row.parts)) == ("Ida Marl", "confirm", set(first(made)))
    weights = row.shown.pop("weights")
    assert row.shown == shown and [w for _, _, w in weights] == [5.5, 5.5, 5.5]


def test_a_piece_of_an_owner_who_has_not_permitted_it_is_withheld(made: Made, config: Config) -> None:
    with made.home.database.write() as connection:
        moves.permit(connection, "C", True)
    view = views.family_view(made.home, config, code_of(made, made.art))
    assert view is not None and not any(m.withheld for m in view.members)
    other = [replace(m, consignment="D") if m.key == made.sheet else m for m in view.members]
    assert [m.withheld for m in withhold(other, {"C"})] == [False, False, False, True]
    assert not any(m.withheld for m in withhold(other, {"C", "D"}))


def test_a_run_under_changed_settings_does_not_take_the_desk_away(made: Made, config: Config) -> None:
    before = families(made, config)
    changed = Stamps({s: f"changed-{s}" for s in STAMPS.stages}, "changed", "changed")
    with made.home.database.write() as connection:
        runs.start_run(connection, "2026-11-04T20:00:00+00:00", {}, changed)
    assert families(made, config) == before
    rule(made, config, "confirm", first(made))
    assert families(made, config) == {first(made): "confirmed", second(made): "suggested"}
    assert progress(made.home).pace.scans_left == 8  # type: ignore[union-attr]


def test_progress_counts_pieces_by_box(made: Made, config: Config) -> None:
    rule(made, config, "part_off", [made.sheet, *sorted(first(made) - {made.sheet})])
    boxes = {b.box: b for b in progress(made.home).boxes}
    first_box = boxes["B01"]
    assert (first_box.listed, first_box.received, first_box.missing, first_box.extra) == (2, 2, 1, 1)
    assert (first_box.checked, first_box.read, first_box.matched, first_box.reviewed) == (2, 2, 2, 0)
    assert (boxes["B04"].received, boxes["B04"].rescan, boxes["B04"].reviewed) == (3, 1, 1)
    assert (boxes["B02"].not_scanned, boxes["B02"].held, boxes["B02"].adds_up) == (1, 1, True)
