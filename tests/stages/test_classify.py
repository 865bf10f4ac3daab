"""Kinds by physical signs: the rules as a table, and pictures whose kind is given by how they were made."""

import re
import string
from dataclasses import replace
from typing import get_args

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.config.classify import ClassifyRules, Rule
from intake.config.render import RenderRules
from intake.imaging.page import Page
from intake.imaging.traits import read_traits
from intake.model import FILM_KINDS, Classified, Finding, Kind
from intake.stages.classify import classify, fires, judge
from intake.stages.render import render
from tests.imaging.pictures import on_bed, scene
from tests.made import CONFIG, checked, section
from tests.stages.test_render import negative_of, page_of

RULES = section(ClassifyRules, CONFIG / "classify.toml")
RENDER = section(RenderRules, CONFIG / "render.toml")


def told(pixels: np.ndarray, ppi: float | None) -> Classified:
    page = page_of(pixels)
    return classify(page, render(page, RENDER), replace(checked(), ppi=ppi), RULES)


def traits_of(page: Page) -> dict[str, float]:
    return read_traits(page, render(page, RENDER), replace(checked(), ppi=100.0), RULES)


# ---- the table of rules ----------------------------------------------------------------------------------------------


def test_every_rule_asks_for_traits_that_exist_and_shows_traits_that_it_asked_for() -> None:
    known = set(traits_of(page_of(on_bed(scene(700, 900), (118, 118, 118), (50, 50))[0]))) | {
        "file_source", "ragged_px", "ragged_mm"
    }  # fmt: skip
    for rule in RULES.rules:
        assert set(rule.when) <= known, rule.name
        shown = {name for _, name, _, _ in string.Formatter().parse(rule.words) if name}
        always = (
            {"short_mm", "screen_period_px", "margin_ratio"}
            if "long_mm" in rule.when or "screen" in rule.when
            else set()
        )
        sized = {"long_mm", "short_mm"} if {"film_size", "plate_size"} & set(rule.when) else set()
        assert shown <= set(rule.when) | always | sized, rule.name


def test_every_kind_has_a_start_and_unknown_leads() -> None:
    assert set(RULES.start) == set(get_args(Kind))
    assert max(RULES.start, key=lambda k: RULES.start[k]) == "unknown"


def test_nothing_seen_is_unknown_and_no_guess() -> None:
    nothing = judge({}, 1, RULES)
    assert nothing.kind == "unknown" and nothing.evidence == () and nothing.findings == ()


def test_the_evidence_adds_up_to_the_verdict() -> None:
    rules = RULES.model_copy(update={"rules": (
        Rule(name="a", words="{x:.0f}", when={"x": (1, 2)}, weights={"artwork": 3.0, "rough": 1.0}),
        Rule(name="b", words="b", when={"x": (0, 9), "y": (0, 0)}, weights={"artwork": 0.5}, negative=-2.0),
        Rule(name="c", words="c", when={"z": (0, 9)}, weights={"target": 9.0}),
    )})  # fmt: skip
    seen = judge({"x": 2.0, "y": 0.0}, 3, rules)
    assert seen.kind == "artwork" and seen.polarity == "positive"
    assert [(e.name, e.words, e.weight) for e in seen.evidence] == [("a", "2", 3.0), ("b", "b", 0.5)]
    sums = dict(rules.start) | {"artwork": rules.start["artwork"] + 3.5, "rough": rules.start["rough"] + 1.0}
    expected = np.exp(sums["artwork"]) / sum(np.exp(v) for v in sums.values())
    assert seen.kind_confidence == pytest.approx(expected, abs=1e-4)


def test_a_rule_rests_when_a_trait_is_not_known() -> None:
    rule = Rule(name="a", words="a", when={"long_mm": (0, 100)}, weights={"still": 1.0})
    assert not fires(rule, {}) and fires(rule, {"long_mm": 100.0}) and not fires(rule, {"long_mm": 100.1})


def test_words_of_hazard_defer_and_clear_nothing() -> None:
    """The draft wording of the domain notes (after HSE leaflet INDG469): whom to tell, and what the tool cannot do."""
    words = RULES.hazard_words
    assert "Possible cellulose nitrate" in words and "fire safety" in words and "conservator" in words
    assert "cannot tell nitrate from safety film" in words
    assert not re.search(r"\b(is safe|no risk|not nitrate)\b", words)


# ---- pictures --------------------------------------------------------------------------------------------------------


def film(kind: str, bits: int = 8) -> np.ndarray:
    """4 x 5 in film at 160 ppi on a lamp."""
    subject = cv2.GaussianBlur(scene(520, 680, 9), (0, 0), 1.0)
    linear = ((subject / 255.0) ** 2.2).astype(np.float32)
    if kind == "colour":
        return negative_of(linear, (0.2, 0.6, 0.9), bits)
    grey = np.repeat(linear.mean(axis=2, keepdims=True), 3, axis=2)
    return negative_of(grey, (0.16, 0.16, 0.16), bits)


@pytest.mark.parametrize("bits", [8, 16])
def test_a_masked_negative_is_told_by_its_orange_rim(bits: int) -> None:
    seen = told(film("colour", bits), 160.0)
    assert (seen.kind, seen.polarity) == ("film_negative", "negative")
    assert seen.kind_confidence > 0.9 and "orange_base" in {e.name for e in seen.evidence}


def test_flexible_film_is_possible_nitrate_whatever_is_printed_on_it() -> None:
    """No word in the rebate clears it: edge print copies through when film is duplicated (domain notes 2.3)."""
    pixels = film("mono")
    cv2.putText(pixels, "SAFETY", (200, 57), cv2.FONT_HERSHEY_SIMPLEX, 0.45, (40, 40, 40), 1, cv2.LINE_AA)
    for one in (told(pixels, 160.0), told(film("colour"), 160.0), told(film("colour"), None)):
        assert [(f.code, f.severity) for f in one.findings if f.code == "possible_nitrate"] == [
            ("possible_nitrate", "hazard")
        ]


FLEXIBLE = sorted(FILM_KINDS - {"glass_negative"})


@given(st.dictionaries(st.sampled_from(sorted(RULES.start)), st.floats(-8, 8), max_size=8), st.sampled_from(FLEXIBLE))
def test_whatever_is_told_to_be_flexible_film_is_flagged(weights: dict[Kind, float], film_kind: Kind) -> None:
    """However the signs add up: never a kind of film without its caution, and near film has it too."""
    for more in (weights, weights | {film_kind: 7.0}):
        sign = Rule(name="a", words="a", when={"x": (0, 1)}, weights=more, negative=0.1)
        seen = judge({"x": 0.5}, 1, RULES.model_copy(update={"rules": (sign,)}))
        codes = {f.code for f in seen.findings}
        assert seen.kind not in FLEXIBLE or "possible_nitrate" in codes
        assert seen.kind != "glass_negative" or "glass" in codes


@pytest.mark.parametrize("film_kind", FLEXIBLE)
def test_film_that_nearly_lost_to_another_kind_is_flagged_too(film_kind: Kind) -> None:
    weights: dict[Kind, float] = {film_kind: 4.0, "photograph": 5.0 + RULES.start[film_kind]}
    sign = Rule(name="a", words="a", when={"x": (0, 1)}, weights=weights)
    seen = judge({"x": 0.5}, 1, RULES.model_copy(update={"rules": (sign,)}))
    assert seen.kind not in FLEXIBLE and "possible_nitrate" in {f.code for f in seen.findings}


def test_what_is_surely_glass_is_no_flexible_film_and_what_may_be_either_is_both() -> None:
    """Beyond the margin of hazard_margin; signs in the pixels alone seldom come so far."""
    for ahead, codes in ((RULES.hazard_margin + 0.5, {"glass"}), (1.0, {"glass", "possible_nitrate"})):
        start = RULES.start
        weights: dict[Kind, float] = {"film_negative": 6.0 - start["film_negative"]}
        weights["glass_negative"] = 6.0 + ahead - start["glass_negative"]
        sign = Rule(name="a", words="a", when={"x": (0, 1)}, weights=weights)
        seen = judge({"x": 0.5}, 1, RULES.model_copy(update={"rules": (sign,)}))
        assert seen.kind == "glass_negative" and {f.code for f in seen.findings} == codes


def test_a_black_and_white_negative_is_a_negative() -> None:
    seen = told(film("mono"), 160.0)
    assert seen.polarity == "negative" and seen.kind in {"film_negative", "glass_negative"}


def test_a_transparency_is_positive_in_a_black_rebate() -> None:
    pixels = np.full((800, 640, 3), 251, np.uint8)
    pixels[40:-40, 40:-40] = 4
    pixels[70:-70, 65:-65] = scene(510, 660, 3)
    seen = told(pixels, 145.0)
    assert (seen.kind, seen.polarity) == ("film_transparency", "positive")


def sheet(width: int, height: int, border: int) -> np.ndarray:
    paper = np.full((height, width, 3), (240, 236, 226), np.uint8)
    paper[border : -2 * border, border:-border] = scene(width - 2 * border, height - 3 * border, 4)
    for number in range(14):
        x = border + 30 + number * 12
        paper[-border - 10 : -border, x : x + 6] = 30
    return on_bed(paper, (118, 119, 121), (40, 40), 0.0, shadow=True)[0]


def test_a_sheet_and_the_same_sheet_as_a_proof() -> None:
    plain = sheet(1080, 1640, 28)
    seen = told(plain, 40.0)
    assert (seen.kind, seen.polarity) == ("finished_sheet", "positive")
    wide = sheet(1080, 1640, 80)
    for number, ink in enumerate([(0, 158, 219), (219, 13, 122), (250, 224, 13), (26, 26, 26)]):
        wide[1570:1592, 560 + number * 22 : 582 + number * 22] = ink
    for x, y in ((580, 75), (80, 860), (1080, 860)):
        cv2.circle(wide, (x, y), 5, (20, 20, 20), 1, cv2.LINE_AA)
        cv2.line(wide, (x - 11, y), (x + 11, y), (20, 20, 20), 1)
        cv2.line(wide, (x, y - 11), (x, y + 11), (20, 20, 20), 1)
    proof = told(wide, 40.0)
    assert proof.kind == "printers_proof"
    assert {"colour_bar", "register_marks"} <= {e.name for e in proof.evidence}


def test_a_bare_back_is_a_reverse() -> None:
    rng = np.random.default_rng(3)
    paper = np.clip(rng.normal(222, 1.5, (1500, 1000, 1)) + np.array([4, 0, -10]), 0, 255).astype(np.uint8)
    for number in range(9):
        paper[700:712, 300 + number * 12 : 308 + number * 12] = (90, 70, 130)
    assert told(on_bed(paper, (12, 12, 12), (40, 40))[0], 40.0).kind == "reverse"


def test_a_blank_scan_is_nothing() -> None:
    page = page_of(np.full((400, 300, 3), 240, np.uint8))
    blank = replace(checked(), findings=(Finding("check", "blank", "attention", "nothing", 1),))
    assert classify(page, render(page, RENDER), blank, RULES).kind == "unknown"


def test_the_same_pixels_are_always_told_alike() -> None:
    assert told(film("colour"), 160.0) == told(film("colour"), 160.0)


def test_a_board_within_the_border_is_a_sign_of_a_photograph_of_art() -> None:
    """The same photograph, filling its border and showing a pale board round the painted part."""
    border = np.full((760, 600, 3), 240, np.uint8)
    full, board = border.copy(), border.copy()
    grey = cv2.cvtColor(cv2.cvtColor(scene(540, 700), cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2RGB)
    full[30:730, 30:570] = grey
    board[30:730, 30:570] = 176
    board[80:680, 80:520] = grey[50:650, 50:490]
    fired = [{e.name for e in told(on_bed(p, (14, 14, 14), (60, 50))[0], 75.0).evidence} for p in (full, board)]
    assert "shows_a_board" not in fired[0] and "shows_a_board" in fired[1]
