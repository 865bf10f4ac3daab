"""The tables that leave the tool: their columns as agreed, and what stands in them."""

from dataclasses import replace
from typing import Any

import pytest

from intake.errors import UsageError
from intake.kin import Family, Member
from intake.model import Finding, Folded, FoldLine, Listed, Measured, Parsed, PartKey, Rendered, StageResult, Stamps
from intake.services import process
from intake.services.home import Home
from intake.services.look import ScanJob
from intake.services.tables import TABLES, table
from intake.store import decisions, families, ledger, pairs, scans
from intake.store.codec import to_text
from tests.made import (
    AT,
    FRAME,
    SETTINGS,
    STAMPS,
    Written,
    checked,
    classified,
    key,
    mark,
    match,
    reading,
    received,
)

# Copied from section 6 of the task: other tools read these names. Later ones may add columns at the end.
COLUMNS = {
    "scans": "consignment, box, piece, side, scan, part, sha256, state, kind, kind_confidence, polarity, rotation, "
    "mirrored, width_mm, height_mm, size_source, format, format_fit, family, fold_pattern, skew_deg, screen_lpi, "
    "tone, base, hazard",
    "marks": "scan, part, kind, text, value, year_from, year_to, accepted, confidence, left, top, width, height, "
    "readers, country, dates, rule, periods, town, ruling, on_strip",
    "matches": "scan_a, part_a, scan_b, part_b, relation, probability, inliers, coverage_a, coverage_b, polarity_flip, "
    "mirror, rotation, scale",
    "differences": "scan_a, part_a, scan_b, part_b, kind, left_a, top_a, width_a, height_a, left_b, top_b, width_b, "
    "height_b, factor, certainty, words",
    "families": "family, status, title, piece, scan, part, role, probability, campaign",
    "findings": "consignment, box, piece, scan, part, stage, code, severity, message",
    "boxes": "consignment, box, listed, received, missing, extra, doubled, not_scanned, checked, read, matched, "
    "reviewed, rescan, held",
    "dates": "consignment, box, piece, edtf, not_before, not_before_doubtful, not_before_by, firm_from, firm_doubtful, "
    "firm_by, usual_until, until_doubtful, until_by, contradictions, contradictory, words",
    "printers": "consignment, printer, spellings, towns, countries, pieces, first_year, last_year",
    "moves": "consignment, box, piece, from, to, at, who, why",
    "withdrawals": "consignment, at, who, why, removed, files",
    "condition": "consignment, box, piece, scan, part, sort, state, certainty, left, top, width, height, grade, scale, "
    "words, at, who, unframed, both_sides, light",
    "points": "scan, part, left, top, width, height, what, original, copies, who, at",
}

SHEET, FILM, BACK = (
    received("B1/0001.tif"),
    received("B2/0001.tif"),
    received("B1/0001 v.tif", piece="0001", side="verso"),
)


def rows(home: Home, name: str) -> list[dict[str, Any]]:
    columns, found = table(home, SETTINGS, name)
    return [dict(zip(columns, row, strict=True)) for row in found]


def looked(home: Home) -> Written:
    """A sheet and a film that match, and the sheet's back; all looked at."""
    written = Written(home)
    written.consignment(SHEET, FILM, BACK)
    written.run()
    line = FoldLine("x", 0.5, (500.0, 0.0), (500.0, 1500.0), 0.9, False, "")
    folded = Folded(-0.126, True, (line,))
    size = Measured(685.84999, 1016.04, "resolution tag", "some format", "fits")
    sure, marks = classified(kind_confidence=0.98765), Parsed((mark("Lund & Ost"),))
    written.looked(SHEET, [Rendered(FRAME, 1, 1, 1.0), sure, folded, reading(90, True, 0.75), size, marks])
    written.looked(FILM, [classified("film_negative", polarity="negative"), reading()])
    written.looked(BACK, [classified("reverse"), reading()])
    a, b = pairs.ordered(PartKey(SHEET.digest, 1), PartKey(FILM.digest, 1))
    found = match(a, b, probability=0.912345, rotation=-0.04, scale=1.23456789, mirror=True, polarity_flip=True)
    roles = ((FILM, "film_negative", 0.9123), (SHEET, "finished_sheet", 1.0))
    members = tuple(Member(PartKey(scan.digest, 1), role, probability) for scan, role, probability in roles)
    with home.database.write() as connection:
        pairs.record_pairs(connection, STAMPS.match, [pairs.Compared((a, b), 1, found, 0.1)])
        families.replace_families(connection, [Family("F-1", "suggested", "THE TIDE", members, "")], [], "key")
    return written


@pytest.mark.parametrize("name", COLUMNS)
def test_columns_are_as_agreed_and_an_empty_home_has_no_rows(home: Home, name: str) -> None:
    assert table(home, SETTINGS, name) == (tuple(COLUMNS[name].split(", ")), [])


def test_there_are_exactly_these_tables(home: Home) -> None:
    assert list(TABLES) == list(COLUMNS)
    with pytest.raises(
        UsageError, match=r"nothing: no such table. There are: scans, marks, matches, differences, families"
    ):
        table(home, SETTINGS, "nothing")


def test_scans(home: Home) -> None:
    looked(home)
    found = {r["scan"]: r for r in rows(home, "scans")}
    assert list(found) == ["B1/0001 v.tif", "B1/0001.tif", "B2/0001.tif"]
    assert found["B1/0001.tif"] == {
        "consignment": "C", "box": "B1", "piece": "0001", "side": "recto", "scan": "B1/0001.tif", "part": 1,
        "sha256": SHEET.digest, "state": "done", "kind": "finished_sheet", "kind_confidence": 0.988,
        "polarity": "positive", "rotation": 90, "mirrored": True, "width_mm": 685.8, "height_mm": 1016.0,
        "size_source": "resolution tag", "format": "some format", "format_fit": "fits", "family": "F-1",
        "fold_pattern": "0 + 1 in halves", "skew_deg": -0.13,
        "screen_lpi": None, "tone": "",
        "base": "", "hazard": "",
    }  # fmt: skip
    film = found["B2/0001.tif"]
    assert (film["width_mm"], film["size_source"], film["polarity"]) == (None, "", "negative")
    assert film["mirrored"] is False  # the sheet is mirrored, and the match says that the film lies the other way round


def test_a_scan_that_shows_several_pieces_has_a_row_for_each(home: Home) -> None:
    written = Written(home)
    written.consignment(SHEET)
    written.run()
    written.looked(SHEET, [classified("film_transparency")], [classified("film_transparency")])
    assert [(r["part"], r["piece"]) for r in rows(home, "scans")] == [(1, "0001.1"), (2, "0001.2")]
    assert [(r["received"], r["checked"]) for r in rows(home, "boxes")] == [(1, 1)]


def test_states_from_waiting_to_set_aside(home: Home) -> None:
    waiting, empty, broken, killer, half = (received(f"B1/000{n}.tif") for n in range(5))
    written = Written(home)
    written.consignment(waiting, empty, broken, killer, half)
    written.run()
    unreadable = Finding("check", "truncated", "failure", "ends too early")
    written.looked(empty, check=replace(checked(findings=[unreadable]), parts=()))
    failed = Finding("classify", "stage_failed", "failure", "broke off", 1)
    written.looked(broken, [Rendered(FRAME, 1, 1, 1.0)])
    with home.database.write() as connection:
        entry = StageResult(
            PartKey(broken.digest, 1), "classify", STAMPS.stages["classify"], "failed", to_text(failed), 0
        )
        ledger.record(connection, [entry], AT)
    written.looked(half, [classified()], whole=False)
    # The killer had been checked under these settings already: what is said of it now must not be lost behind that.
    written.looked(killer, [classified()], whole=False)
    process.record(home, [process.set_aside(ScanJob(killer.digest, "/", killer.path, STAMPS, {}), "ended its worker")])
    assert {r["scan"]: r["state"] for r in rows(home, "scans")} == {
        waiting.path: "waiting", empty.path: "unreadable", broken.path: "failed", killer.path: "failed",
        half.path: "done",
    }  # fmt: skip
    assert {r["scan"]: (r["code"], r["part"]) for r in rows(home, "findings")} == {
        empty.path: ("truncated", 1), broken.path: ("stage_failed", 1), killer.path: ("quarantined", 1),
    }  # fmt: skip
    assert {w.scan.path for w in process.waiting(home, STAMPS, None)} == {waiting.path, half.path}
    assert [r["rescan"] for r in rows(home, "boxes")] == [1]


def test_marks(home: Home) -> None:
    looked(home)
    assert rows(home, "marks") == [
        {
            "scan": "B1/0001.tif", "part": 1, "kind": "printer", "text": "Lund & Ost", "value": "Lund & Ost",
            "year_from": None, "year_to": 1962, "accepted": "auto", "confidence": 0.877, "left": 10, "top": 20,
            "width": 30, "height": 40, "readers": "one: Lund & Ost (0.90)", "country": "", "dates": "", "rule": "r",
            "periods": "", "town": "", "ruling": "", "on_strip": False,
        }
    ]  # fmt: skip


def test_matches_are_ordered_and_rounded(home: Home) -> None:
    looked(home)
    (row,) = rows(home, "matches")
    assert {row["scan_a"], row["scan_b"]} == {"B1/0001.tif", "B2/0001.tif"}
    assert (row["probability"], row["scale"], row["mirror"], row["polarity_flip"]) == (0.912, 1.235, True, True)
    assert str(row["rotation"]) == "0.0"  # not -0.0


def test_families(home: Home) -> None:
    looked(home)
    found = rows(home, "families")
    assert [(r["family"], r["title"], r["piece"], r["role"], r["probability"]) for r in found] == [
        ("F-1", "THE TIDE", "0001", role, probability)
        for _, role, probability in sorted(
            [(FILM.digest, "film_negative", 0.912), (SHEET.digest, "finished_sheet", 1.0)]
        )
    ]


def test_tables_hold_while_a_new_run_looks_at_everything_anew(home: Home) -> None:
    """Families and matches stand until the run is through, though the parts that they name are not known yet again."""
    written = Written(home)
    written.consignment(SHEET, FILM)
    written.run()
    written.looked(SHEET, [classified()], [classified()])
    written.looked(FILM, [classified()])
    two, film = PartKey(SHEET.digest, 2), PartKey(FILM.digest, 1)
    members = (Member(two, "finished_sheet", 0.9), Member(film, "finished_sheet", 0.9))
    with home.database.write() as connection:
        families.replace_families(connection, [Family("F-1", "suggested", "", members, "")], [], "key")
        found = match(two, film, relation="same_piece")
        pairs.record_pairs(connection, "m2", [pairs.Compared(pairs.ordered(two, film), 1, found, 0.1)])
    Written(home, Stamps(dict.fromkeys(STAMPS.stages, "newer"), "newer", "m2")).run()
    assert {(r["scan"], r["part"]) for r in rows(home, "families")} == {("B1/0001.tif", 2), ("B2/0001.tif", 1)}
    assert len(rows(home, "matches")) == 1
    assert {r["code"] for r in rows(home, "findings")} == {"re_scan"}
    assert {r["state"] for r in rows(home, "scans")} == {"waiting"}


def test_findings_of_receipt_of_the_list_and_of_the_stages(home: Home) -> None:
    written = Written(home)
    soft = Finding("check", "out_of_focus", "attention", "soft")
    written.consignment(SHEET, received("B1/0009.tif"), has_list=True)
    written.run()
    written.looked(SHEET, [classified()], check=checked(findings=[soft]))
    with home.database.write() as connection:
        scans.replace_receipt_findings(
            connection, "C", [("B1/link", Finding("receive", "not_opened", "attention", "a link"))], AT
        )
        scans.replace_list(
            connection, "C",
            [Listed("B1", "0001"), Listed("B1", "0002"), Listed("B1", "0003", held=True, why="framed"),
             Listed("B1", "0004", held=True)],
        )  # fmt: skip
    found = rows(home, "findings")
    assert {(r["code"], r["piece"], r["scan"], r["severity"]) for r in found} == {
        ("not_opened", "", "B1/link", "attention"),
        ("missing", "0002", "", "attention"),
        ("not_listed", "0009", "", "attention"),
        ("held", "0003", "", "note"),
        ("held", "0004", "", "note"),
        ("out_of_focus", "0001", "B1/0001.tif", "attention"),
    }
    assert {r["message"] for r in found if r["code"] == "held"} == {
        "was not scanned: framed.",
        "was not scanned: held, no reason given.",
    }


def test_a_finding_on_the_file_stands_on_each_part_and_one_on_a_part_on_it_alone(home: Home) -> None:
    written = Written(home)
    written.consignment(SHEET)
    written.run()
    whole, second = Finding("check", "multi_page", "note", "pages"), Finding("check", "blank", "attention", "even", 2)
    written.looked(SHEET, [classified()], [classified()], check=checked(2, [whole, second]))
    assert [(r["code"], r["part"]) for r in rows(home, "findings")] == [
        ("multi_page", 1),
        ("multi_page", 2),
        ("blank", 2),
    ]


def test_the_same_bytes_are_told_once_and_across_consignments(home: Home) -> None:
    written = Written(home)
    twin = replace(SHEET, path="B9/0007.tif", box="B9", piece="0007")
    other = replace(SHEET, consignment="D")
    written.consignment(SHEET, twin)
    written.consignment(other, code="D")
    written.run()
    written.looked(SHEET, [classified()])
    found = {(r["consignment"], r["scan"]): r["message"] for r in rows(home, "findings")}
    assert set(found) == {("C", "B9/0007.tif"), ("D", "B1/0001.tif")}
    assert "as B1/0001.tif." in found["C", "B9/0007.tif"]
    assert "as B1/0001.tif of C." in found["D", "B1/0001.tif"]
    assert len(rows(home, "scans")) == 3


def test_boxes(home: Home) -> None:
    looked(home)
    with home.database.write() as connection:
        number = decisions.add_decision(
            connection, AT, "Ada", "confirm", [PartKey(SHEET.digest, 1), key("elsewhere")], {}
        )
    # The back is not compared, so its piece has taken that step only when a run is done.
    b1, b2 = rows(home, "boxes")
    assert b1 == {
        "consignment": "C", "box": "B1", "listed": None, "received": 1, "missing": None, "extra": None, "doubled": None,
        "not_scanned": None, "checked": 1, "read": 1, "matched": 0, "reviewed": 1, "rescan": 0, "held": 0,
    }  # fmt: skip
    assert (b2["box"], b2["matched"], b2["reviewed"]) == ("B2", 1, 0)
    with home.database.write() as connection:
        decisions.add_decision(connection, AT, "Ada", "undo", [], {}, undoes=number)
    assert [r["reviewed"] for r in rows(home, "boxes")] == [0, 0]


def test_nothing_of_other_settings_is_shown(home: Home) -> None:
    looked(home)
    Written(home, Stamps(dict.fromkeys(STAMPS.stages, "newer"), "newer", "newer")).run()
    assert {r["state"] for r in rows(home, "scans")} == {"waiting"}
    assert rows(home, "marks") == rows(home, "matches") == []


def test_a_side_that_the_list_promises_and_nobody_scanned_is_named(home: Home) -> None:
    whole = (received("B1/0002.tif"), received("B1/0002 v.tif", piece="0002", side="verso"))
    Written(home).consignment(received("B1/0001.tif"), *whole, received("B1/0003.tif"), has_list=True)
    with home.database.write() as connection:
        sides = [Listed("B1", "0001", sides=2), Listed("B1", "0002", sides=2), Listed("B1", "0003")]
        scans.replace_list(connection, "C", [*sides, Listed("B1", "0004", sides=2, held=True, why="glass")])
    (said,) = [r for r in rows(home, "findings") if r["code"] == "side_missing"]
    assert (said["piece"], said["severity"]) == ("0001", "attention") and "scan of its back" in said["message"]
