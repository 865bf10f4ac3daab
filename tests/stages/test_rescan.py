"""What is below the house rule for its kind, and in whose words.

36 CFR 1236.50 (US federal records on paper): at least 300 ppi for modern text, 400 for photographic prints.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from intake.config.rescan import RescanRules
from intake.imaging.page import Page
from intake.model import Box, Kind, PartKey
from intake.stages.rescan import rescan
from tests.made import CONFIG, checked, classified, section

RULES = section(RescanRules, CONFIG / "rescan.toml")


def page(noise: float = 0.5, lines: float = 0.0, specks: int = 0, part: int = 2) -> Page:
    """A grey page of 600 x 800 pixels, with what a bad scanner adds, in levels."""
    rng = np.random.default_rng(6)
    grey = 140 + rng.normal(0, noise, (600, 800)) + rng.normal(0, 1, 800) * lines
    for y, x in rng.integers(5, 590, (specks, 2)):
        grey[y : y + 3, x : x + 3] = 250
    image = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    whole = Box(0, 0, 800, 600)

    def read(box: Box, _: int | None) -> NDArray[np.uint8]:
        return image[box.top : box.top + box.height, box.left : box.left + box.width]

    return Page(PartKey("x", part), whole, image, None, 1.0, whole, read)


PAGE = page()


@pytest.mark.parametrize(
    ("kind", "ppi", "bits", "said"),
    [
        ("document", 300.0, 8, ""),
        ("document", 299.0, 8, "299 ppi, which reaches 3 stars"),
        ("photograph", 400.0, 8, ""),
        ("photograph", 300.0, 8, "300 ppi"),
        ("finished_sheet", 100.0, 8, "reaches no level"),
        ("film_negative", 3000.0, 8, "8 bits a channel; the rule is 16"),
        ("film_negative", 3000.0, 16, ""),
        ("finished_sheet", None, 8, ""),
        ("unknown", 20.0, 8, ""),
    ],
)
def test_the_house_rule_is_held_against_the_kind(kind: Kind, ppi: float | None, bits: int, said: str) -> None:
    found = rescan(PAGE, replace(checked(), ppi=ppi, bits=bits), classified(kind), RULES).findings
    assert [f.part for f in found] == ([2] if said else []) and all(said in f.message for f in found)
    assert all(f.severity == "note" for f in found)


def test_film_is_told_to_be_handled_only_where_that_is_allowed_and_memory_is_called_so() -> None:
    (found,) = rescan(PAGE, replace(checked(), ppi=600.0, bits=16), classified("film_negative"), RULES).findings
    assert "those in charge of safety" in found.message and "memory" in found.message


def test_a_kind_stands_in_one_row() -> None:
    kinds = [kind for row in RULES.rows for kind in row.kinds]
    assert len(kinds) == len(set(kinds))


@pytest.mark.parametrize(
    ("bad", "kind", "code", "said"),
    [
        ({"noise": 8.0}, "document", "noisy", "which reaches 2 stars; the rule is 2"),
        ({"noise": 8.0}, "film_transparency", "", ""),
        ({"lines": 4.0}, "artwork", "banded", "calibrate"),
        ({"specks": 300}, "film_negative", "dusty", "never wipe film"),
        ({"specks": 300}, "unknown", "", ""),
    ],
)
def test_what_the_scanner_added_is_told_with_what_to_do_and_in_whose_words(
    bad: dict[str, float], kind: Kind, code: str, said: str
) -> None:
    told = rescan(page(**bad), replace(checked(), ppi=4000.0, bits=16), classified(kind), RULES)  # type: ignore[arg-type]
    assert [f.code for f in told.findings] == ([code] if code else [])
    assert all(said in f.message and "doubt" in f.message and f.severity == "note" for f in told.findings)
    assert told.noise is not None and told.banding is not None and told.specks is not None
