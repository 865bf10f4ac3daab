"""What is said of a piece's condition: suggestions, and people's words over them, none of which is ever lost."""

from typing import Any

import pytest

from intake.kin import Decision, Verb
from intake.model import Box, Condition, Finding, Place
from intake.services import examining, review
from intake.services.condition import Examined, worn
from intake.services.dossiers import dossiers
from intake.services.home import Home
from intake.services.review import RulingRefused
from intake.services.tables import table
from intake.store import decisions
from tests.made import AT, SETTINGS, STAMPS, Written, classified, key, received

TORN = Box(0, 1200, 160, 40)
HERE = Condition(("tear",), (Place("tear", TORN, 0.9, "ground shows"),))
LOOK = Examined(True, True, "raking light")


def said(number: int, verb: Verb, undoes: int | None = None, **shown: Any) -> Decision:
    return Decision(number, AT, "Ada", verb, (key("a"),), shown, undoes)


def on(number: int, verb: Verb, box: Box = TORN, sort: str = "tear") -> Decision:
    return said(number, verb, sort=sort, box=list(box), light="daylight")


def test_the_newest_word_on_a_place_stands_and_taking_it_back_brings_back_the_one_before() -> None:
    assert [p.state for p in worn(HERE, []).places] == ["suggested"]
    confirmed, rejected = on(1, "confirm_place"), on(2, "reject_place")
    assert [p.state for p in worn(HERE, [confirmed]).places] == ["confirmed"]
    assert worn(HERE, [confirmed, rejected]).standing == ()
    back = said(3, "undo", 2)
    assert [p.state for p in worn(HERE, [confirmed, rejected, back]).standing] == ["confirmed"]


def test_what_a_person_said_outlives_the_suggestion_and_covers_it_when_it_is_drawn_otherwise() -> None:
    drawn_larger = Condition(("tear",), (Place("tear", Box(0, 1180, 200, 90), 0.8, "ground shows"),))
    assert [p.state for p in worn(Condition(), [on(1, "confirm_place")]).standing] == ["confirmed"]
    assert [p.state for p in worn(drawn_larger, [on(1, "reject_place")]).places] == ["rejected"]
    other = Condition(("stain",), (Place("stain", TORN, 0.8, "yellower"),))
    assert [(p.sort, p.state) for p in worn(other, [on(1, "reject_place")]).standing] == [("stain", "suggested")]


def test_a_place_and_a_grade_are_kept_with_who_and_how_it_was_examined(tmp_path: Any) -> None:
    home, made = Home(tmp_path / "home"), received("B01/1.tif")
    written = Written(home)
    written.consignment(made)
    written.run()
    written.looked(made, (classified(), HERE))
    part = key("B01/1.tif")
    with pytest.raises(RulingRefused, match="light"):
        examining.rule_on_place(home, SETTINGS, "Ida", "confirm_place", part, "tear", TORN, Examined(True, True, ""))
    with pytest.raises(RulingRefused, match="on the picture"):
        examining.rule_on_place(home, SETTINGS, "Ida", "add_place", part, "tape", Box(990, 0, 40, 40), LOOK)
    with pytest.raises(RulingRefused, match="changed"):
        examining.rule_on_place(home, SETTINGS, "Ida", "confirm_place", part, "tape", TORN, LOOK)
    with pytest.raises(RulingRefused, match="scale"):
        examining.grade(home, SETTINGS, "Ida", part, "letters", "Very fine", LOOK)
    examining.rule_on_place(home, SETTINGS, "Ida", "confirm_place", part, "tear", TORN, LOOK)
    added = examining.rule_on_place(home, SETTINGS, "Ida", "add_place", part, "writing", Box(10, 10, 60, 60), LOOK)
    examining.grade(home, SETTINGS, "Ida", part, "words", "Very fine", LOOK, "before cleaning")
    examining.grade(home, SETTINGS, "Bo", part, "letters", "B+", LOOK)
    with home.database.read() as connection:
        (d,) = dossiers(connection, STAMPS)
    assert [(p.sort, p.state) for p in d.worn.standing] == [("tear", "confirmed"), ("writing", "put")]
    assert "unframed, both sides, raking light" in d.worn.places[0].says and d.worn.places[0].certainty == 0.9
    newest, first = d.worn.grades
    assert (newest.shown["grade"], newest.shown["scale"]) == ("B+", "letters") and first.shown["scale"] == "words"
    review.undo(home, SETTINGS, "Ida", added)
    with home.database.read() as connection:
        (d,) = dossiers(connection, STAMPS)
        assert len(decisions.all_decisions(connection)) == 5
    assert [p.sort for p in d.worn.standing] == ["tear"] and len(d.worn.grades) == 2
    columns, rows = table(home, SETTINGS, "condition")
    said = [dict(zip(columns, r, strict=True)) for r in rows]
    assert [(r["sort"], r["state"], r["scale"]) for r in said] == [
        ("tear", "confirmed", ""),
        ("", "graded", "letters"),
        ("", "graded", "words"),
    ]
    assert (said[0]["left"], said[0]["width"], said[0]["light"], said[0]["both_sides"]) == (
        0,
        160,
        "raking light",
        True,
    )


def test_a_piece_under_hold_is_not_handled_to_be_graded(tmp_path: Any) -> None:
    """HSE INDG469: film that may be nitrate is left alone until those in charge were told."""
    home, made = Home(tmp_path / "home"), received("B01/1.tif")
    written = Written(home)
    written.consignment(made)
    written.run()
    flag = SETTINGS.classify.hazard_words
    held = classified("film_negative", findings=(Finding("classify", "possible_nitrate", "hazard", flag, 1),))
    written.looked(made, (held, Condition()))
    with pytest.raises(RulingRefused, match="under hold"):
        examining.grade(home, SETTINGS, "Ida", key("B01/1.tif"), "words", "Fine", LOOK)
