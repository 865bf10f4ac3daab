"""`kinfold learn`: what would change is shown, nothing changes before it is adopted, and it can be taken back."""

import json
import re
import xml.etree.ElementTree as ET

import pytest

from intake.errors import UsageError
from intake.kin import Learnt
from intake.model import Evidence, PartKey
from intake.services import review, views
from intake.services.learning import adopt, prepare, ruled_pairs
from intake.services.relate import regroup
from intake.store import decisions, families, learnt, pairs
from tests.made import SETTINGS, STAMPS, in_ledger, key, match
from tests.web.hand import Client, Made

FEW = SETTINGS.model_copy(update={"learn": SETTINGS.learn.model_copy(update={"least_pairs": 2})})


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _members(made: Made) -> set[frozenset[PartKey]]:
    with made.home.database.read() as connection:
        return {frozenset(m.key for m in f.members) for f in families.all_families(connection)}


def _rule(made: Made) -> None:
    """Both designs are confirmed; the painting is parted from a piece that only shares an element with it, which
    matches wrongly said to be one design join to everything."""
    for one in (made.art, made.second_a):
        code = views.family_holding(made.home, [one])
        view = views.family_view(made.home, FEW, code)
        assert view is not None
        review.decide(made.home, FEW, "Ida", "confirm", [m.key for m in view.members], {"families": [code]})
    wrong = [match(made.alone, k, evidence=match(made.alone, k).evidence[:0]) for k in (made.second_a, made.second_b)]
    with made.home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in wrong])
    parts = [made.alone, made.second_a, made.second_b]
    review.decide(made.home, FEW, "Ida", "part_off", parts, {})


def test_pairs_are_taken_from_rulings_that_stand_the_later_over_the_earlier() -> None:
    from intake.kin import Decision

    a, b, c = sorted(key(n) for n in "abc")
    found = [match(a, b), match(b, c), match(a, c, relation="shared_element")]
    pieces = {a: 1, b: 2, c: 3}
    rows = [Decision(1, "", "Ida", "confirm", (a, b, c)), Decision(2, "", "Ida", "part_off", (c, a, b))]
    told = ruled_pairs(rows, found, pieces)
    assert [(p.same, p.ruling) for p in told] == [(True, 1), (False, 2)]
    undone = [*rows, Decision(3, "", "Ida", "undo", (), {}, 2)]
    assert [p.same for p in ruled_pairs(undone, found, pieces)] == [True, True]
    assert ruled_pairs(rows, found, {a: 1, b: 1, c: 1}) == []  # scans of one piece teach nothing


def test_nothing_changes_before_it_is_adopted_and_taking_back_restores_all(made: Made) -> None:
    _rule(made)
    before = _members(made)
    learning = prepare(made.home, FEW)
    assert learning.name == "L-0001" and (learning.lesson.same, learning.lesson.other) == (4, 2)
    with made.home.database.read() as connection:
        assert learnt.adopted(connection) is None
    assert _members(made) == before
    kept = json.loads((made.home.folder / "learnt" / "L-0001.json").read_text())
    assert kept["slope"] == learning.lesson.slope and kept["rulings_up_to"] == 3
    plot = ET.fromstring((made.home.folder / "learnt" / "L-0001.svg").read_text())
    assert len(plot.findall(".//{http://www.w3.org/2000/svg}circle")) >= 3
    number = adopt(made.home, FEW, "Ida", "L-0001")
    with made.home.database.read() as connection:
        assert learnt.adopted(connection) == Learnt(learning.lesson.slope, learning.lesson.offset, 6)
        first = pairs.all_matches(connection, STAMPS.match)[0]
        measured = pairs.all_matches(connection, STAMPS.match, as_measured=True)[0]
    assert first.evidence[-1].name == "rulings" and first.weight != measured.weight
    assert first.weight == pytest.approx(learning.lesson.slope * measured.weight + learning.lesson.offset)
    review.undo(made.home, FEW, "Ida", number)
    with made.home.database.read() as connection:
        assert learnt.adopted(connection) is None
    assert _members(made) == before


def test_families_follow_what_is_adopted_exactly_as_it_was_shown(made: Made) -> None:
    """An adoption that makes matches say less than nothing parts what nobody ruled on; it was announced so."""
    before = _members(made)
    with made.home.database.write() as connection:
        shown = {"slope": 1.0, "offset": -6.0, "pairs": 9, "version": "L-0009"}
        number = decisions.add_decision(connection, "2026-11-20T10:00:00+00:00", "Ida", "adopt_learnt", (), shown)
    regroup(made.home, SETTINGS, STAMPS)
    assert before and _members(made) == set()
    review.undo(made.home, SETTINGS, "Ida", number)
    assert _members(made) == before
    again = review.undo(made.home, SETTINGS, "Ida", number + 1)  # the taking back is taken back
    assert _members(made) == set() and again == number + 2


def test_the_change_in_families_is_announced(made: Made, capsys: pytest.CaptureFixture[str]) -> None:
    from pipelines.say import say_learning

    _rule(made)
    say_learning(made.home.folder, prepare(made.home, FEW))
    said = capsys.readouterr().out
    assert "6 ruled pairs (4 one design, 2 not)" in said and "Nothing has changed" in said
    assert re.search(r"there would be \d+ families \(\d+ now\)", said)


def test_too_little_is_refused_in_words_and_no_path_is_built_from_a_name(made: Made) -> None:
    with pytest.raises(UsageError, match="are needed"):
        prepare(made.home, SETTINGS)
    for name in ("../../kinfold", "L-0001", "L-1", ""):
        with pytest.raises(UsageError):
            adopt(made.home, SETTINGS, "Ida", name)
    assert in_ledger(made.home) == []


def test_rulings_that_speak_against_the_measures_are_said_to_do_so(made: Made) -> None:
    _rule(made)
    weak = [match(k, made.sheet, evidence=(Evidence("points", "few", -1.0),)) for k in (made.art, made.proof)]
    sure = [match(made.alone, k, evidence=(Evidence("points", "many", 6.0),)) for k in (made.second_a, made.second_b)]
    with made.home.database.write() as connection:
        found = [*weak, *sure]
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
    with pytest.raises(UsageError, match="the surer the match, the less often"):
        prepare(made.home, FEW)


def test_the_ledger_shows_an_adoption(made: Made, client: Client) -> None:
    _rule(made)
    prepare(made.home, FEW)
    adopt(made.home, FEW, "Ida", "L-0001")
    text = client.get("/ledger").text
    assert "adopted what rulings taught the match probability" in text and "version L-0001" in text
