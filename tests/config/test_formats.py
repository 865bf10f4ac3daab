"""The table of formats: what does not parse is refused with its line."""

from pathlib import Path

import pytest

from intake.config.formats import load_formats
from intake.errors import ConfigError
from tests.made import CONFIG


def rewritten(folder: Path, old: str, new: str) -> Path:
    text = (CONFIG / "formats.csv").read_text(encoding="utf-8")
    assert old in text
    (folder / "formats.csv").write_text(text.replace(old, new, 1), encoding="utf-8")
    return folder


def test_the_shipped_table_loads_whole() -> None:
    rows = load_formats(CONFIG)
    assert len(rows) == 67 and len({r.id for r in rows}) == 67


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("us_half,US,half sheet,711.2", "us_half,US,half sheet,-7", "line 4"),
        ("us_half,US,half sheet,711.2", "us_half,US,half sheet,wide", "line 4"),
        ("us_half,US,half sheet,711.2", "us_half,US,half sheet,11.2", "is not L"),
        ("us_half,US", "us_insert,US", "stands twice"),
        ("practice,high", "practice,certain", "line 2"),
    ],
)
def test_a_row_that_does_not_parse_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(ConfigError, match=said):
        load_formats(rewritten(tmp_path, old, new))


def test_every_problem_is_listed_and_an_empty_table_refused(tmp_path: Path) -> None:
    head = (CONFIG / "formats.csv").read_text(encoding="utf-8").splitlines()[0]
    (tmp_path / "formats.csv").write_text(f"{head}\na,b\nc,d\n", encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        load_formats(tmp_path)
    assert "line 2" in str(caught.value) and "line 3" in str(caught.value)
    (tmp_path / "formats.csv").write_text(head, encoding="utf-8")
    with pytest.raises(ConfigError, match="no formats"):
        load_formats(tmp_path)
    with pytest.raises(ConfigError):
        load_formats(tmp_path / "nowhere")
