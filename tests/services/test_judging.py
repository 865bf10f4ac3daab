"""What a family's pieces are judged by: the formats that a piece's own marks leave."""

from dataclasses import replace

from intake.model import Mark, Measured, Parsed
from intake.services.clashing import looks_of
from intake.stages.clash import clashes
from tests.made import SETTINGS, dossier, mark, received

NEWER = Measured(685.8, 1016.0, "resolution tag", "us_1sh_new", "fits", ("us_1sh_new", "uk_1sh", "au_1sh"))
CODE = mark("56/401", "release_code", year=1956, dates="a release", country="US")


def _signs(*marks: Mark) -> list[str]:
    d = dossier(received("B1/0001.tif"), measured=NEWER, parsed=Parsed(marks))
    return [c.rule for c in clashes(looks_of(d, SETTINGS), SETTINGS.clash)]


def test_27_by_40_before_its_time_is_a_sign_on_a_sheet_whose_marks_name_its_country_alone() -> None:
    """Domain notes section 1: 27x40 is US from about 1985 on, and was British and Australian long before."""
    assert _signs(CODE) == ["format"]
    assert _signs(replace(CODE, country="UK")) == []
    assert _signs(replace(CODE, country="")) == []
    assert _signs(CODE, mark("A", "certificate", country="UK")) == []
    assert _signs(replace(CODE, year=1990)) == []
