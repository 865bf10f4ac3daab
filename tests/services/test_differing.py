"""Differences of waiting families: told once, kept by pair, in the queue's reasons and in the export."""

import csv
from pathlib import Path

import cv2
import pytest

from intake.services import differing, views
from intake.services.export import export
from intake.services.relate import is_settled, regroup
from intake.services.review import decide
from intake.stages.differ import differ
from intake.store import differences, families
from tests.made import SETTINGS, STAMPS
from tests.web.hand import Made, build


@pytest.fixture
def made(tmp_path: Path) -> Made:
    """Two families; on the second sheet of one of them a place is covered."""
    home = build(tmp_path / "home", SETTINGS)
    path = home.home.picture(home.second_b, "working", STAMPS.stages["render"])
    picture = cv2.imread(str(path))
    picture[360:460, 220:340] = picture[360:460, 220:340].reshape(-1, 3).mean(axis=0)
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return home


def _tell(made: Made) -> list[differing.Task]:
    tasks = differing.tasks_left(made.home, SETTINGS, STAMPS)
    differing.record(made.home, differing.tell(tasks, SETTINGS.differ, SETTINGS.signature, SETTINGS.very_object))
    differing.note_in_queue(made.home, SETTINGS)
    return tasks


def test_every_pair_of_a_waiting_family_is_told_once_and_survives_grouping(made: Made, tmp_path: Path) -> None:
    assert not is_settled(made.home, SETTINGS, STAMPS)
    tasks = _tell(made)
    assert {frozenset((t.a.key, t.b.key)) for t in tasks} >= {
        frozenset((made.art, made.negative)),
        frozenset((made.second_a, made.second_b)),
    }
    assert is_settled(made.home, SETTINGS, STAMPS)
    assert differing.tasks_left(made.home, SETTINGS, STAMPS) == []

    with made.home.database.read() as connection:
        (report,) = differences.differences_among(connection, [made.second_a, made.second_b])
        reasons = {r.name: r.words for e in families.queue(connection) for r in e.reasons}
    first = report.regions[0]
    assert first.a is not None and first.b is not None and not report.why_not
    # stored pixels: the working image is the stored one made smaller
    assert abs((first.a.left + first.a.width / 2) / (first.b.left + first.b.width / 2) - 1) < 0.05
    assert "regions differ" in reasons["regions_differ"]

    export(made.home, SETTINGS, "differences", tmp_path / "differences.csv")
    with (tmp_path / "differences.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == [
        "scan_a",
        "part_a",
        "scan_b",
        "part_b",
        "kind",
        "left_a",
        "top_a",
        "width_a",
        "height_a",
        "left_b",
        "top_b",
        "width_b",
        "height_b",
        "factor",
        "certainty",
        "words",
    ]
    assert any(r["left_a"] == str(first.a.left) and r["kind"] == first.kind for r in rows)

    regroup(made.home, SETTINGS, STAMPS)
    with made.home.database.read() as connection:
        again = {r.name: r.words for e in families.queue(connection) for r in e.reasons}
    assert again == reasons
    assert differing.tasks_left(made.home, SETTINGS, STAMPS) == []


def test_a_working_image_that_is_gone_is_said_and_breaks_nothing(made: Made) -> None:
    made.home.picture(made.second_b, "working", STAMPS.stages["render"]).unlink()
    tasks = [t for t in differing.tasks_left(made.home, SETTINGS, STAMPS) if made.second_b in (t.a.key, t.b.key)]
    (told,) = differing.tell(tasks, SETTINGS.differ, SETTINGS.signature, SETTINGS.very_object)
    assert told.differences.why_not and told.differences.regions == ()


def test_a_ruling_leaves_what_differs_among_the_reasons_of_families_beside_it(made: Made) -> None:
    """They are made anew with it, in the same transaction; the queue must not move under the person's eyes."""
    _tell(made)
    before = {i.code: i.reasons for i in views.queue_items(made.home, SETTINGS)}
    assert any(r.name == "regions_differ" for reasons in before.values() for r in reasons)
    beside = views.family_holding(made.home, [made.second_a])
    shown = {"families": [views.family_holding(made.home, [made.art]), beside], "first": 1}
    decide(made.home, SETTINGS, "Ida", "same_campaign", [made.art, made.second_a], shown)
    after = {i.code: i.reasons for i in views.queue_items(made.home, SETTINGS)}
    assert after[beside] == before[beside]


def test_a_comparison_that_breaks_says_so_on_its_pair_and_the_others_are_told(
    made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def breaks_once(*given: object, **more: object) -> object:
        asked.append(given)
        if len(asked) == 1:
            raise IndexError("index 0 is out of bounds")
        return differ(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(differing, "differ", breaks_once)
    tasks = differing.tasks_left(made.home, SETTINGS, STAMPS)
    told = differing.tell(tasks, SETTINGS.differ, SETTINGS.signature, SETTINGS.very_object)
    assert len(told) == len(tasks) > 1
    broken = told[0].differences
    assert broken.regions == () and "broke off (IndexError: index 0 is out of bounds)" in broken.why_not
    assert not any("broke off" in t.differences.why_not for t in told[1:])
