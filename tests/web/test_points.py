"""Comparison points: marked by a click, cut out of every piece of the design, suggested on, carried to another home."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from sqlalchemy import update

from intake.errors import UsageError
from intake.model import Box, Received
from intake.services import export, views
from intake.services.home import Home, write_whole
from intake.services.known import view
from intake.services.narrowed import narrowed
from intake.services.piecework import rule_on_pieces
from intake.services.pointing import PlaceView, family_points
from intake.services.points import Taken, import_points, mark_point, points_on
from intake.services.relate import regroup
from intake.services.review import RulingRefused, undo
from intake.store import pairs
from intake.store.schema import consignment
from tests.made import SETTINGS, STAMPS, Written, match, received
from tests.web.hand import HOSTILE, Client, Made, _write

PLACE = Box(960, 1560, 160, 160)  # a disc is drawn there on what is original


@pytest.fixture
def made(own: Made) -> Made:
    """These tests write."""
    return own


def _detail(made: Made, key: object, filled: bool) -> None:
    """Draw the detail into a working image: a disc, filled or not."""
    path = made.home.picture(key, "working", STAMPS.stages["render"])  # type: ignore[arg-type]
    picture = cv2.imread(str(path))
    assert picture is not None
    x = int((PLACE.left + 80) / 4) if key != made.negative else 599 - int((PLACE.left + 80) / 4)
    ink = (20, 20, 20) if key != made.negative else (235, 235, 235)
    paper = (225, 225, 225) if key != made.negative else (30, 30, 30)
    cv2.rectangle(picture, (x - 34, 376), (x + 34, 444), paper, -1)
    cv2.circle(picture, (x, 410), 13, ink, -1 if filled else 4)
    write_whole(path, cv2.imencode(".jpg", picture)[1].tobytes())


def _places(made: Made) -> dict[object, PlaceView]:
    code = views.family_holding(made.home, [made.sheet])
    family = views.family_view(made.home, SETTINGS, code)
    assert family is not None
    (only,) = family_points(made.home, SETTINGS, family.members)
    return {p.member.key: p for p in only.places}


def test_every_piece_is_set_beside_the_proven_one_and_a_known_reproduction(made: Made) -> None:
    for key, filled in ((made.art, True), (made.negative, True), (made.proof, False), (made.sheet, True)):
        _detail(made, key, filled)
    mark_point(made.home, SETTINGS, "Ida", made.sheet, PLACE, "dot", "a filled dot", "a ring")
    told = _places(made)
    assert told[made.sheet].is_proven
    assert {p.says for k, p in told.items() if k != made.sheet} == {"cannot say"}  # nothing is known to be a copy
    assert told[made.art].alike > told[made.proof].alike > 0  # type: ignore[operator]
    rule_on_pieces(made.home, SETTINGS, "Ida", "reproduction", [(made.proof, "")], "screen over screen")
    told = _places(made)
    assert told[made.proof].is_copy and told[made.proof].says == ""
    assert told[made.art].says == SETTINGS.points.says.original
    assert told[made.negative].says == SETTINGS.points.says.original  # mirrored, light and dark exchanged


def test_a_piece_that_comes_later_in_another_consignment_is_cut_out_too(made: Made) -> None:
    """And one that shows what the reproductions show is said to be nearer to those, never to be one."""
    for key, filled in ((made.art, True), (made.negative, True), (made.proof, False), (made.sheet, True)):
        _detail(made, key, filled)
    mark_point(made.home, SETTINGS, "Ida", made.sheet, PLACE, "dot", "a filled dot", "a ring")
    rule_on_pieces(made.home, SETTINGS, "Ida", "reproduction", [(made.proof, "")], "screen over screen")
    written = Written(made.home)
    late: Received = received("N01/0001.jpg", consignment="D", digest="d" * 64)
    written.consignment(late, code="D")
    picture = cv2.imread(str(made.home.picture(made.proof, "working", STAMPS.stages["render"])))
    assert picture is not None
    _write(written, late, np.asarray((picture * 0.8 + 12).astype(np.uint8)), "finished_sheet", {}, (), ())
    key = type(made.sheet)(late.digest, 1)
    found = [match(k, key) for k in (made.art, made.proof, made.sheet)]
    with made.home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((m.a, m.b), 1, m, 0.01) for m in found])
        connection.execute(update(consignment).values(shown_to_others=True))
    regroup(made.home, SETTINGS, STAMPS)
    assert _places(made)[key].says == SETTINGS.points.says.copy_


def test_points_are_marked_by_a_click_and_hostile_words_stay_text(client: Client, made: Made) -> None:
    client.post("/who", {"who": "Ida Marl"})
    code = views.family_holding(made.home, [made.sheet])
    assert f"/closer/{code}" in client.get(f"/families/{code}").text
    part = f"{made.sheet.digest}-1"
    assert 'type="image"' in client.get(f"/closer/{code}?on={part}").text
    form = {"family": code, "part": part, "size": "1", "at.x": "100", "at.y": "240", "what": HOSTILE[:50]}
    form |= {"original": "a filled dot", "copies": "<i>a ring</i>"}
    assert client.post("/closer", form).headers["location"] == f"/closer/{code}?done=1"
    assert client.post("/closer", form | {"original": " "}).status_code == 409
    assert client.post("/closer", form | {"size": "7"}).status_code == 400
    text = client.get(f"/closer/{code}?done=1").text
    assert "<i>a ring" not in text and HOSTILE[:50] not in text and "a filled dot" in text
    assert "drawn alike" in text and "nothing to set the others beside" in text
    cut = client.get(f"/point-cut?point=1&part={made.negative.digest}-1")
    assert cut.status_code == 200
    shape = cv2.imdecode(np.frombuffer(cut.content, np.uint8), cv2.IMREAD_COLOR).shape
    assert max(shape) == 320
    assert client.get(f"/point-cut?point=2&part={part}").status_code == 404
    assert client.get(f"/point-cut?point=1&part={made.second_a.digest}-1").status_code == 404  # another design
    undo(made.home, SETTINGS, "Ida Marl", 1)
    assert "No point is marked" in client.get(f"/closer/{code}").text
    assert client.get(f"/point-cut?point=1&part={part}").status_code == 404


def test_nonsense_is_refused(made: Made) -> None:
    with pytest.raises(RulingRefused, match="lie on the picture"):
        mark_point(made.home, SETTINGS, "Ida", made.sheet, Box(9_000, 0, 50, 50), "dot", "dot", "")
    rule_on_pieces(made.home, SETTINGS, "Ida", "reproduction", [(made.proof, "")], "why")
    with pytest.raises(RulingRefused, match="proven piece"):
        mark_point(made.home, SETTINGS, "Ida", made.proof, PLACE, "dot", "dot", "")


def test_points_travel_as_json_and_wait_for_scans_that_are_not_there(made: Made, tmp_path: Path) -> None:
    mark_point(made.home, SETTINGS, "Ida", made.sheet, PLACE, "dot", "a filled dot", "= a ring")
    file = tmp_path / "points.json"
    assert export.export(made.home, SETTINGS, "points", file) == 1
    other = Home(tmp_path / "other")
    assert import_points(other, file, "Jo") == Taken(1, 0, 1)
    assert import_points(other, file, "Jo").added == 0
    with other.database.read() as connection:
        (point,) = points_on(connection)
    assert (point.key, point.box, point.copies, point.who, point.by) == (made.sheet, PLACE, "= a ring", "Ida", "Jo")
    again = tmp_path / "again.json"
    export.export(other, SETTINGS, "points", again)
    assert again.read_bytes() == file.read_bytes()
    other.database.close()


def test_other_programs_see_the_points_of_pieces_that_may_be_shown_alone(made: Made) -> None:
    mark_point(made.home, SETTINGS, "Ida", made.sheet, PLACE, "dot", "a filled dot", "a ring")
    known = view(made.home, SETTINGS)
    assert [p.key for p in narrowed(known, lambda code: code == "C").points] == [made.sheet]
    assert narrowed(known, lambda code: code != "C").points == []


@pytest.mark.parametrize(
    "changed",
    [
        {"scan": "../../etc/passwd"},
        {"scan": "A" * 64},
        {"part": "1"},
        {"left": -1},
        {"width": 0},
        {"what": "x" * 61},
        {"original": ""},
        {"more": 1},
        {"at": "<script>"},
        {"who": None},
    ],
)
def test_a_file_that_is_no_table_of_points_is_refused_whole(
    made: Made, tmp_path: Path, changed: dict[str, object]
) -> None:
    mark_point(made.home, SETTINGS, "Ida", made.sheet, PLACE, "dot", "a filled dot", "a ring")
    file = tmp_path / "points.json"
    export.export(made.home, SETTINGS, "points", file)
    (row,) = json.loads(file.read_text())
    other = row | {"left": row["left"] + 1}
    file.write_text(json.dumps([other, row | changed]))
    with pytest.raises(UsageError, match="points"):
        import_points(made.home, file, "Jo")
    with made.home.database.read() as connection:
        assert len(points_on(connection)) == 1


@pytest.mark.parametrize("data", [b"", b"{}", b"[" * 100_000, b"\xff\xfe", b'[{"scan": 1e999}]', b" " * 2_000_001])
def test_what_is_no_json_at_all_is_refused_in_words(made: Made, tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "points.json"
    file.write_bytes(data)
    with pytest.raises(UsageError):
        import_points(made.home, file, "Jo")
