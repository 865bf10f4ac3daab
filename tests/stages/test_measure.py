"""Millimetres from pixels, and formats from millimetres, against published sizes."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.config.formats import load_formats
from intake.config.measure import MeasureRules
from intake.model import Box, Measured, PartFound, Ruler
from intake.stages.measure import fit_format, measure
from tests.made import CONFIG, checked, section

FORMATS = load_formats(CONFIG)
RULES = section(MeasureRules, CONFIG / "measure.toml")
# ISO 216:2007 and JIS P 0138, by the published tables (millimetres)
PUBLISHED = {
    "de_a1": (594, 841),
    "de_a0": (841, 1189),
    "jp_b2": (515, 728),
    "jp_b1": (728, 1030),
    "jp_b0": (1030, 1456),
    "jp_b3": (515, 364),
    "jp_b4": (257, 364),
    "jp_b5": (182, 257),
    "de_still_a4": (297, 210),
}


def measured(
    width_px: int, height_px: int, ppi: float | None, kind: str = "finished_sheet", rotation: int | None = 0
) -> Measured:
    found = PartFound(1, 0, Box(0, 0, width_px, height_px))
    return measure(found, (), replace(checked(), ppi=ppi), kind, rotation, FORMATS, RULES)


def test_size_maths() -> None:
    """1 inch is 25.4 mm exactly, so 10800 pixels at 400 ppi are 685.8 mm; 157.48 pixels per cm are 400 ppi."""
    size = measured(10800, 16400, 400.0)
    assert (size.width_mm, size.height_mm) == (685.8, 1041.4)
    assert measured(10800, 16400, 157.48 * 2.54).width_mm == pytest.approx(685.8, abs=0.01)


def test_without_a_trusted_resolution_nothing_is_guessed() -> None:
    size = measured(10800, 16400, None)
    assert (size.width_mm, size.format, size.format_fit, size.size_source) == (None, "", "size unknown", "size unknown")


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_sizes(name: str) -> None:
    width, height = PUBLISHED[name]
    format_id, fit, candidates = fit_format(width, height, FORMATS, RULES)
    assert fit == "fits" and name in candidates
    (row,) = (f for f in FORMATS if f.id == name)
    assert (row.w_mm, row.h_mm) == (width, height)
    assert format_id in candidates


def test_every_format_fits_itself() -> None:
    for row in FORMATS:
        _, fit, candidates = fit_format(row.w_mm, row.h_mm, FORMATS, RULES)
        assert fit == "fits" and row.id in candidates, row.id


def test_orientation_decides() -> None:
    """Upright it is a 30x40, lying it is a quad: the same paper."""
    upright, lying = measured(3000, 4000, 100.0), measured(4000, 3000, 100.0)
    assert upright.format == "us_3040" and "uk_quad" not in upright.candidates
    assert lying.format == "uk_quad" and "us_3040" not in lying.candidates
    assert measured(4000, 3000, 100.0, rotation=90) == upright


def test_lying_any_way_up_it_may_be_either() -> None:
    """When no text tells which way a sheet hangs, the same paper is a quad or a 30x40, and both are said."""
    unknown = measured(4000, 3000, 100.0, rotation=None)
    assert {"us_3040", "uk_quad"} <= set(unknown.candidates)
    assert (unknown.width_mm, unknown.height_mm) == (1016.0, 762.0)


def test_what_no_format_holds_is_no_format() -> None:
    assert measured(2000, 2000, 100.0).format_fit == "no format known"
    assert measured(2000, 2000, 100.0).candidates == ()


def test_trimmed_and_off_size() -> None:
    assert fit_format(685.8 - 20, 1041.4 - 18, FORMATS, RULES)[1] == "loosely"
    assert fit_format(355.6 - 18, 914.4 - 45, FORMATS, RULES)[1] == "off-size"


def test_memory_and_low_rows_never_come_first_among_equals() -> None:
    format_id, _, candidates = fit_format(700.0, 1000.0, FORMATS, RULES)
    assert format_id == "it_1f" and "es_70100" in candidates


def test_film_and_paintings_have_a_size_but_no_format() -> None:
    size = measured(4000, 5000, 1000.0, kind="film_negative")
    assert size.width_mm == 101.6 and (size.format, size.format_fit) == ("", "no format known")


def test_the_outline_is_measured_not_the_box() -> None:
    outline = ((10.0, 20.0), (1010.0, 22.0), (1008.0, 1522.0), (8.0, 1520.0))
    found = PartFound(1, 0, Box(0, 0, 1100, 1600))
    seen = measure(found, outline, replace(checked(), ppi=100.0), "artwork", 0, FORMATS, RULES)
    assert seen.width_mm == pytest.approx(254.0, abs=0.01) and seen.height_mm == pytest.approx(381.0, abs=0.01)


@given(st.floats(20, 7000), st.floats(20, 7000))
def test_the_answer_is_always_among_its_candidates(width: float, height: float) -> None:
    format_id, fit, candidates = fit_format(width, height, FORMATS, RULES)
    assert (format_id in candidates) if candidates else (format_id, fit) == ("", "no format known")
    assert len(candidates) <= RULES.near_formats


@pytest.mark.parametrize(
    ("ppi", "share"),
    [(300.0, 0.5 / 300), (118 * 2.54, 0.5 / 118), (118.1 * 2.54, 0.05 / 118.1), (299.87, 0.005 / 299.87)],
)
def test_the_error_follows_from_the_digits_of_the_tag(ppi: float, share: float) -> None:
    size = measured(8100, 12300, ppi)
    edge_mm = 2 * RULES.edge_px * 12300 / 2048 * math.sqrt(2) * 25.4 / ppi
    assert size.height_off_mm == pytest.approx(math.hypot(size.height_mm * share, edge_mm), abs=0.02)


def test_an_outline_out_of_square_is_less_sure() -> None:
    square = ((50.0, 60.0), (2050.0, 60.0), (2050.0, 3060.0), (50.0, 3060.0))
    askew = (*square[:2], (2070.0, 3060.0), (30.0, 3060.0))
    box, at = Box(0, 0, 2100, 3100), replace(checked(), ppi=100.0)
    good, bad = (measure(PartFound(1, 0, box), o, at, "artwork", 0, FORMATS, RULES) for o in (square, askew))
    assert bad.width_off_mm > 2 * good.width_off_mm
    assert bad.height_off_mm == pytest.approx(good.height_off_mm, abs=0.1)


def test_27x41_and_27x40_stay_both_where_the_scale_is_coarse() -> None:
    """At 300 ppi a tag is good to 0.17 %; a tag of whole pixels a centimetre at 30 of these only to 1.7 %."""
    clear = measured(8100, 12300, 300.0)
    assert "us_1sh_old" in clear.candidates and "us_1sh_new" not in clear.candidates
    coarse = measured(round(27 * 76.2), round(41 * 76.2), 30 * 2.54)
    assert coarse.height_off_mm / coarse.height_mm > RULES.clear_share
    assert {"us_1sh_old", "us_1sh_new"} <= set(coarse.candidates)


def _by_ruler(ruler_box: Box, outline: tuple[tuple[float, float], ...]) -> Measured:
    """A scan of 3000 x 4000 pixels at 4 pixels a millimetre, as its ruler says."""
    ruler = Ruler("millimetres", 4.0, 0.003, 200, ruler_box)
    scan = replace(checked(), ppi=101.6, ruler=ruler)
    found = PartFound(3, 0, Box(0, 0, 3000, 4000))
    return measure(found, outline, scan, "finished_sheet", 0, FORMATS, RULES)


def test_a_ruler_beside_the_piece_tells_its_size_with_an_error_bar() -> None:
    size = _by_ruler(Box(100, 3700, 900, 30), ((100, 100), (2132, 100), (2132, 3148), (100, 3148)))
    assert (size.width_mm, size.height_mm, size.size_source) == (508.0, 762.0, "ruler in the frame")
    assert size.format == "uk_dcrown" and size.height_off_mm == pytest.approx(0.003 * 762, rel=0.2)


@pytest.mark.parametrize(
    ("ruler", "outline"),
    [
        (Box(100, 3000, 900, 100), ((100, 100), (2132, 100), (2132, 3148), (100, 3148))),
        (Box(100, 3700, 900, 30), ()),
    ],
)
def test_a_ruler_on_the_piece_or_no_edge_beside_it_tells_no_size(
    ruler: Box, outline: tuple[tuple[float, float], ...]
) -> None:
    size = _by_ruler(ruler, outline)
    assert size.width_mm is None and size.size_source == "size unknown"
    assert [(f.code, f.part) for f in size.findings] == [("ruler_in_the_way", 3)]
