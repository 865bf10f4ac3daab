"""The reading bench itself: its lines are what they say, a seed is a seed, and its figures are worked out right."""

import numpy as np
import pytest

from intake.config.parse import ParseRules
from intake.config.patterns import Pattern, load_patterns
from intake.model import Box, Line, Mark, Parsed, ReaderSaid, Reading
from intake.ocr.grammar import hits_in
from sample_batch.sheet import SheetPlan, SmallLine, place_of
from sample_batch.typeset import set_line
from tests.bench.reading_faces import Faces, has, own_faces
from tests.bench.reading_lines import CONDITIONS, Light, art_of, line_crops
from tests.bench.reading_look import boards_of
from tests.bench.reading_score import Truth, bare, edits, error_rate, judge
from tests.bench.reading_sheets import planned
from tests.bench.reading_words import FIELDS, NOUNS, ONSETS, Words
from tests.made import CONFIG, section

SIDES = ("tune", "report")
CELLS = len(FIELDS) * len(CONDITIONS)


@pytest.fixture(scope="module")
def patterns() -> tuple[Pattern, ...]:
    return load_patterns(CONFIG)


@pytest.fixture(scope="module")
def art() -> list[Light]:
    return art_of("report", 1)


def words(side: str, seed: int) -> Words:
    return Words(side, np.random.default_rng(seed))


def values_in(text: str, kind: str, patterns: tuple[Pattern, ...]) -> set[str]:
    """What the product's grammar makes of a text that was read without a slip."""
    rules = section(ParseRules, CONFIG / "parse.toml")
    return {bare(hit.value) for hit in hits_in(text, patterns, rules) if hit.pattern.mark == kind and not hit.repaired}


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("field", FIELDS)
def test_a_true_line_satisfies_its_pattern_with_its_true_value(
    field: str, side: str, patterns: tuple[Pattern, ...]
) -> None:
    for seed in range(30):
        told = FIELDS[field](words(side, seed))
        if told.kind:
            assert bare(told.value) in values_in(told.text, told.kind, patterns), told
        else:
            assert [
                h.pattern.name for h in hits_in(told.text, patterns, section(ParseRules, CONFIG / "parse.toml"))
            ] == []


@pytest.mark.parametrize("condition", ["clean", "degraded", "negative"])
def test_so_do_the_small_lines_of_a_sheet_and_its_plan_is_its_seeds(
    condition: str, patterns: tuple[Pattern, ...]
) -> None:
    faces = own_faces("report")
    plans = [planned(words("report", seed), faces, condition) for seed in range(12)]
    assert plans == [planned(words("report", seed), faces, condition) for seed in range(12)]
    lines = [line for plan, _ in plans for line in plan.lines]
    assert len(lines) > 60
    for line in lines:
        assert line.kind == "text" or bare(line.value) in values_in(line.text, line.kind, patterns), line


@pytest.mark.parametrize("condition", ["clean", "degraded"])
def test_no_two_small_lines_of_a_sheet_run_into_each_other(condition: str) -> None:
    for seed in range(25):
        plan, _ = planned(words("report", seed), own_faces("report"), condition)
        boxes = [_box_of(plan, line) for line in plan.lines]
        for n, (x0, y0, x1, y1) in enumerate(boxes):
            assert x0 > 0 and y0 > 0 and x1 < plan.width_mm and y1 < plan.height_mm, plan.lines[n]
            for other in boxes[:n]:
                assert x1 < other[0] or other[2] < x0 or y1 < other[1] or other[3] < y0, (plan.lines[n], seed)


def _box_of(plan: SheetPlan, line: SmallLine) -> tuple[float, float, float, float]:
    x, y, anchor, turned = place_of(plan, line.place, line.cap_mm)
    high, wide = (side / 20 * line.cap_mm for side in set_line(line.text, 20.0, line.face).shape)
    before = {"left": 0.0, "centre": 0.5, "right": 1.0}[anchor] * wide
    if turned == 0:
        return x - before, y - high / 2, x - before + wide, y + high / 2
    start = y if turned == 90 else y - wide
    return x - high / 2, start, x + high / 2, start + wide


def test_the_sides_share_no_name() -> None:
    assert not set(ONSETS["tune"]) & set(ONSETS["report"])
    assert not set(NOUNS["tune"]) & set(NOUNS["report"])
    assert not set(own_faces("tune").small) & set(own_faces("report").small)


def test_the_same_seed_gives_the_same_pixels_and_another_gives_others(art: list[Light]) -> None:
    faces = own_faces("report")
    first, again, other = (line_crops(CELLS, "report", seed, faces, art) for seed in (5, 5, 6))
    assert {(c.told.field, c.condition) for c in first} == {(f, c) for f in FIELDS for c in CONDITIONS}
    for a, b in zip(first, again, strict=True):
        assert (a.told, a.condition, a.face, a.cap_px) == (b.told, b.condition, b.face, b.cap_px)
        assert np.array_equal(a.picture, b.picture)
        assert np.array_equal(a.quad, b.quad)
    assert not any(np.array_equal(a.picture, b.picture) for a, b in zip(first, other, strict=True))


def test_every_crop_stands_on_one_board_apart_from_the_others_and_unchanged(art: list[Light]) -> None:
    crops = line_crops(CELLS, "report", 5, own_faces("report"), art)
    boards = boards_of(crops)
    assert sorted(id(c) for b in boards for c in b.crops) == sorted(id(c) for c in crops)
    for board in boards:
        page = board.page()
        taken = np.zeros((page.box.height // 10, page.box.width // 10), bool)
        for crop, (x, y) in zip(board.crops, board.places, strict=True):
            high, wide = crop.picture.shape[:2]
            assert np.array_equal(page.crop(Box(x, y, wide, high)), crop.picture)
            here = np.s_[(y - 80) // 10 : (y + high + 80) // 10, (x - 80) // 10 : (x + wide + 80) // 10]
            assert not taken[here].any()
            taken[here] = True


@pytest.mark.parametrize(
    ("said", "true", "away"),
    # The examples that textbooks give of Levenshtein's distance (1966); common practice.
    [("sitting", "kitten", 3), ("sunday", "saturday", 3), ("", "abc", 3), ("same", "same", 0), ("flaw", "lawn", 2)],
)
def test_edits_are_levenshteins(said: str, true: str, away: int) -> None:
    assert edits(said, true) == edits(true, said) == away


def test_the_error_rate_is_edits_over_true_characters_spaces_case_and_accents_aside() -> None:
    assert error_rate([("sitting", "kitten"), ("same", "same")]) == pytest.approx(3 / 10)
    assert error_rate([("DEPOT LEGAL N°", "Dépôt légal Nº")]) == 0
    assert error_rate([("", "ab"), ("abcd", "ab")]) == 1


def test_wrong_values_strays_and_lines_not_found_are_told_apart() -> None:
    def line(x: int, text: str) -> Line:
        corners = ((x, 10.0), (x + 80.0, 10.0), (x + 80.0, 20.0), (x, 20.0))
        return Line(corners, text, 0.9, True, (ReaderSaid("one", text, 0.9),))

    def mark(x: int, kind: str, value: str) -> Mark:
        return Mark(kind, value, value, None, None, "auto", 0.9, Box(x, 10, 80, 10), (), "", "", "")

    def truth(x: int, kind: str, value: str) -> Truth:
        corners = np.array([[x, 10], [x + 80, 10], [x + 80, 20], [x, 20]], np.float32)
        return Truth(corners, value, kind, value, "field", "clean")

    truths = [truth(0, "release_code", "61/204"), truth(200, "release_code", "52/7"), truth(400, "printer", "X")]
    reading = Reading((line(2, "61/204"), line(201, "52/1")), 0, False, 1.0)
    marks = (mark(2, "release_code", "61/204"), mark(201, "release_code", "52/1"), mark(202, "job", "52"))
    outcomes, strays = judge(truths, reading, Parsed(marks))
    assert [(o.exact, o.right, o.accepted) for o in outcomes] == [
        (True, True, True),
        (False, False, True),
        (False, False, False),
    ]
    assert outcomes[2].line is None
    assert [s.mark.kind for s in strays] == ["job"]


def test_a_face_without_a_letter_is_not_set() -> None:
    assert has("serif", "©")
    assert not has("serif", "映")
    assert Faces(("serif",), ()).small_for("映") == ()
