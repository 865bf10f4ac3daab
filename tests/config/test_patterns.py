"""A row that misses its own example does not load, and all that is wrong is said at once."""

from pathlib import Path

import pytest

from intake.config.certificates import load_certificates
from intake.config.patterns import load_patterns
from intake.errors import ConfigError

ROW = """
[[patterns]]
name = "{name}"
mark = "job"
regex = '''^JOB (?P<no>\\d+)$'''
value = "{value}"
valid = ["{valid}"]
invalid = ["{invalid}"]
note = "made for a test"
source = "test"
"""


def written(folder: Path, *rows: str) -> Path:
    (folder / "patterns.toml").write_text("".join(rows), encoding="utf-8")
    return folder


def row(name: str = "a", value: str = "{no}", valid: str = "Job 12", invalid: str = "JOB") -> str:
    return ROW.format(name=name, value=value, valid=valid, invalid=invalid)


def test_a_sound_row_loads(tmp_path: Path) -> None:
    (pattern,) = load_patterns(written(tmp_path, row()))
    assert pattern.compiled.search("job 12")


def test_every_problem_is_listed(tmp_path: Path) -> None:
    rows = [row("a", valid="JOB X"), row("b", invalid="JOB 7"), row("c", value="{number}"), row("a")]
    with pytest.raises(ConfigError) as error:
        load_patterns(written(tmp_path, *rows))
    said = str(error.value).splitlines()
    assert len(said) == 4
    assert "misses its own example 'JOB X'" in said[0]
    assert "accepts 'JOB 7'" in said[1]
    assert "['number']" in said[2]
    assert "the name is taken" in said[3]


@pytest.mark.parametrize("text", ["", "not toml [", "[[patterns]]\nname = 'x'\n", "patterns = [1]"])
def test_a_broken_file_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(ConfigError):
        load_patterns(written(tmp_path, text))


HEAD = "country,label,values,doubtful_from,from,to,meaning_or_note,source,confidence\n"


def test_certificates_keep_sure_years_alone(tmp_path: Path) -> None:
    rows = "UK,Q,Q|QQ,,1951,1970-06-30,,S22,high\nUK,R,R,,by 1945,c1960,,S22,medium\nUK,S,S,,1950,,,memory,low\n"
    (tmp_path / "certificates.csv").write_text(HEAD + rows, encoding="utf-8")
    first, second, third = load_certificates(tmp_path)
    assert (first.values, first.year_from, first.year_to) == (("Q", "QQ"), 1951, 1970)
    assert (second.year_from, second.year_to) == (None, 1960)
    assert (third.year_from, third.in_use) == (None, True)


@pytest.mark.parametrize("rows", ["", "UK,Q\n", "UK,Q,Q,,then,,,S22,high\n", "UK,Q,Q,,1951,,,S22,sure\n"])
def test_broken_certificates_are_refused(tmp_path: Path, rows: str) -> None:
    (tmp_path / "certificates.csv").write_text(HEAD + rows, encoding="utf-8")
    with pytest.raises(ConfigError):
        load_certificates(tmp_path)
