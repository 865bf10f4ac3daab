"""What is below the house rule for its kind, and in whose words.

36 CFR 1236.50 (US federal records on paper): at least 300 ppi for modern text, 400 for photographic prints.
"""

from dataclasses import replace

import pytest

from intake.config.rescan import RescanRules
from intake.model import Kind
from intake.stages.rescan import rescan
from tests.made import CONFIG, checked, classified, section

RULES = section(RescanRules, CONFIG / "rescan.toml")


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
    found = rescan(replace(checked(), ppi=ppi, bits=bits), classified(kind), 2, RULES).findings
    assert [f.part for f in found] == ([2] if said else []) and all(said in f.message for f in found)
    assert all(f.severity == "note" for f in found)


def test_film_is_told_to_be_handled_only_where_that_is_allowed_and_memory_is_called_so() -> None:
    (found,) = rescan(replace(checked(), ppi=600.0), classified("film_negative"), 1, RULES).findings
    assert "those in charge of safety" in found.message and "memory" in found.message


def test_a_kind_stands_in_one_row() -> None:
    kinds = [kind for row in RULES.rows for kind in row.kinds]
    assert len(kinds) == len(set(kinds))
