"""Possible nitrate: the hold stands on all film; no text ends it, two named people do, and it can come back.

The wording and whom to defer to follow HSE leaflet INDG469; that edge print copies through when film is duplicated, and
that SAFETY therefore proves nothing, is practice of film archives.
"""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from intake.config.load import Config
from intake.model import Parsed
from intake.services import review
from intake.services.cautions import cautions
from intake.services.clearing import hazard_rulings
from intake.services.correcting import AskedReading, rule_on_readings
from intake.services.hazards import with_hazards
from intake.services.home import Home
from intake.services.review import RulingRefused
from intake.services.tables import table
from intake.store import scans
from tests.made import AT, SETTINGS, Written, checked, classified, dossier, mark, reading, received
from tests.services.films import (
    ALL_FILM,
    FILES,
    FILM,
    IDA,
    NITRATE,
    READ,
    add,
    clear,
    filled,
    holds,
    known,
    note,
    rerun,
    row,
)


@pytest.fixture
def home(home: Home) -> Home:
    """One piece of film of every kind, each with SAFETY on its edge; glass; a sheet that matches one of the films."""
    return filled(home)


# ---- what is held ---------------------------------------------------------------------------------------------------


def test_all_film_is_held_whatever_its_edge_and_its_picture_say(home: Home) -> None:
    assert holds(home) == ALL_FILM
    for name in FILM:
        found = row(home, FILES[name].path)
        assert (found["base"], found["hazard"]) == ("unconfirmed", "possible_nitrate"), name
    assert (row(home, "F1/0005.tif")["base"], row(home, "F1/0005.tif")["hazard"]) == ("", "glass")
    assert (row(home, "F1/0006.tif")["base"], row(home, "F1/0006.tif")["hazard"]) == ("", "")
    columns, rows = table(home, SETTINGS, "findings")
    said = [dict(zip(columns, r, strict=True)) for r in rows]
    assert {f["scan"] for f in said if f["code"] == "possible_nitrate"} == {FILES[n].path for n in FILM}
    assert {f["severity"] for f in said if f["code"] in ("possible_nitrate", "glass")} == {"hazard"}


texts = st.one_of(
    st.text(max_size=40),
    st.sampled_from(
        ["SAFETY", "SAFETY FILM", "NOT NITRATE", "ACETATE", "POLYESTER", "1962", "TRIACETATE 1971", "SAFE"]
    ),
)
years = st.one_of(st.none(), st.integers(1890, 2030))


@given(st.lists(st.tuples(texts, texts, years, years, st.sampled_from(["auto", "person", "no"])), max_size=6))
def test_no_text_and_no_year_ends_a_hold(read: list[tuple[str, str, int | None, int | None, Any]]) -> None:
    """Whatever marks stand on film, with whatever years, accepted by whomever: of planted cases text clears none."""
    marks = tuple(
        mark(
            text,
            "film_base",
            value=value,
            year_from=first,
            year_to=last,
            year=first,
            accepted=by,
            dates="the film itself",
        )
        for text, value, first, last, by in read
    )
    scan, nothing = FILES["mono"], hazard_rulings([])
    from intake.services.hazards import Hazards

    d = dossier(scan, kind="film_negative", parsed=Parsed(marks), findings=(NITRATE,))
    seen = Hazards(nothing).look(scan, d.piece, d.key, None, d.findings)
    hazard, findings = with_hazards(seen, d.findings, 1)
    assert seen.on_hold and hazard.base == "unconfirmed" and NITRATE in findings


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(texts.filter(lambda t: bool(t.strip())), st.sampled_from(["accept_reading", "correct_reading"]))
def test_a_person_who_rules_on_a_reading_ends_no_hold(home: Home, text: str, verb: Any) -> None:
    d = known(home)["F1 / 0001"]
    asked = [AskedReading(d.key, r.mark.kind, r.mark.box, r.seen) for r in d.readings]
    try:
        rule_on_readings(home, SETTINGS, IDA, verb, asked, text, "film_base" if verb == "correct_reading" else "")
    except RulingRefused:
        return
    assert holds(home) == ALL_FILM and row(home, "F1/0001.tif")["base"] == "unconfirmed"


def test_nitrate_read_on_what_was_not_told_is_held(home: Home) -> None:
    new = received("F1/0009.tif")
    add(home, new, "glass_negative", READ)
    assert "F1 / 0009" in holds(home)
    assert "NITRATE is read on it" in [c.title for c in cautions(home, SETTINGS, {("C", "F1")})]


def test_a_back_of_held_film_is_exported_as_held(home: Home) -> None:
    back = received("F1/0002 v.tif", piece="0002", side="verso")
    with home.database.write() as connection:
        scans.add_scans(connection, [(back, 1)], AT)
    written = Written(home)
    d = dossier(back)
    written.looked(back, (d.rendered, classified("reverse"), reading(), Parsed(())), check=checked())
    assert (row(home, back.path)["base"], row(home, back.path)["hazard"]) == ("unconfirmed", "possible_nitrate")


def test_what_nobody_flagged_never_reads_safe(home: Home) -> None:
    clear(home, "box")
    clear(home, "box", "F2")
    said = [words for c in cautions(home, SETTINGS) for words in (c.title, c.message)]
    said += [f.message for d in known(home).values() for f in d.findings] + [SETTINGS.hazards.why, SETTINGS.hazards.ask]
    rules = SETTINGS.hazards
    said += [*rules.bases.values(), *(n.caution for n in rules.noted.values()), *SETTINGS.findings.codes.values()]
    for words in said:
        for wrong in ("is safe", "are safe", "no risk", "not nitrate", "no nitrate", "harmless", "°", "degrees", "kg"):
            assert wrong not in words.replace("base is safety film", ""), words
        assert not {"burn", "float", "flame", "solvent"} & set(words.lower().split()), words
    assert "conservator" in rules.ask and "fire authority" in rules.ask and "ocal codes" in rules.ask


# ---- notes ----------------------------------------------------------------------------------------------------------


def test_a_noted_hazard_is_shown_from_then_on(home: Home) -> None:
    number = note(home, "0006", "mould", "lower left <b>corner</b>")
    found = [f for f in known(home)["F1 / 0006"].findings if f.code == "noted_hazard"]
    assert (
        [f.severity for f in found] == ["hazard"]
        and "lower left <b>corner</b>" in found[0].message
        and IDA in found[0].message
    )
    assert row(home, "F1/0006.tif")["hazard"] == "mould"
    assert "Noted: mould" in [c.title for c in cautions(home, SETTINGS, {("C", "F1")})]
    rerun(home)
    assert row(home, "F1/0006.tif")["hazard"] == "mould"
    review.undo(home, SETTINGS, IDA, number)
    assert row(home, "F1/0006.tif")["hazard"] == ""
    assert "Noted: mould" not in [c.title for c in cautions(home, SETTINGS)]


def test_a_note_on_a_box_reaches_every_export_of_it(home: Home) -> None:
    note(home, "", "vinegar")
    assert row(home, "F1/0006.tif")["hazard"] == "vinegar" and row(home, "F2/0001.tif")["hazard"] == "possible_nitrate"
    assert row(home, "F1/0001.tif")["hazard"] == "possible_nitrate; vinegar"
    columns, rows = table(home, SETTINGS, "findings")
    said = [dict(zip(columns, r, strict=True)) for r in rows]
    (one,) = [f for f in said if f["code"] == "noted_hazard"]
    assert (one["box"], one["piece"], one["severity"]) == ("F1", "", "hazard") and "acid vapour" in one["message"]


def test_film_that_the_tool_did_not_see_is_held_once_noted(home: Home) -> None:
    note(home, "0006", "possible_nitrate")
    assert holds(home) == ALL_FILM | {"F1 / 0006"} and row(home, "F1/0006.tif")["base"] == "unconfirmed"
    assert "possible_nitrate" in {f.code for f in known(home)["F1 / 0006"].findings}
    clear(home, "0006")
    assert holds(home) == ALL_FILM and row(home, "F1/0006.tif")["hazard"] == ""


def test_a_piece_without_a_scan_can_be_noted(home: Home) -> None:
    from intake.model import Listed

    with home.database.write() as connection:
        scans.replace_list(connection, "C", [Listed("F3", "0031", "roll", 1, True, "stuck")])
    note(home, "0031", "decay", "sticky", name="F3")
    assert "F3 / 0031" in holds(home)
    clear(home, "0031", "F3")
    assert "F3 / 0031" not in holds(home)


@pytest.mark.parametrize(
    ("piece", "code", "words"),
    [("", "possible_nitrate", ""), ("0001", "other", " "), ("0001", "no such", ""), ("0001", "mould", "x" * 301)],
)
def test_notes_that_make_no_sense_are_refused(home: Home, piece: str, code: str, words: str) -> None:
    with pytest.raises(RulingRefused):
        note(home, piece, code, words)


def test_config_says_why_and_whom_to_ask() -> None:
    config: Config = SETTINGS
    text = (Path(__file__).parents[2] / "config/hazards.toml").read_text()
    assert "edge print copies through" in config.hazards.why and "no table of years" in config.hazards.why
    assert "INDG469" in text and "NFPA 40" in text
