"""One measurement by a person: sizes and formats of a piece, of its box, and their taking back."""

from dataclasses import replace

import pytest

from intake.kin import Verb
from intake.model import Box, Finding, Measured, Rendered
from intake.services import review, said
from intake.services.dossiers import dossiers
from intake.services.home import Home
from intake.services.measuring import in_mm, note_measure
from intake.services.review import RulingRefused
from tests.made import SETTINGS, STAMPS, Written, checked, classified, key, reading, received

UNKNOWN = Measured(None, None, "size unknown", "", "size unknown")
ASKS = Finding("check", "no_resolution", "attention", "Size unknown: give one known length.")
A, B, OTHER, TRUSTED = (received(f"{p}.tif") for p in ("B01/1", "B01/2", "B02/3", "B01/4"))


@pytest.fixture
def sheets(home: Home) -> Home:
    """Two sheets of a box without resolution, one with, and one in another box."""
    written = Written(home)
    written.consignment(A, B, OTHER, TRUSTED)
    written.run()
    for scan, size in ((A, (2000, 3000)), (B, (1500, 2222)), (OTHER, (2000, 3000)), (TRUSTED, (2000, 3000))):
        box = Box(0, 0, *size)
        ppi = 100.0 if scan is TRUSTED else None
        words = "resolution tag: 100 pixels per inch" if ppi else "72 pixels per inch, which programs write"
        check = replace(checked(findings=() if ppi else (ASKS,)), ppi=ppi, ppi_words=words)
        known = Measured(508.0, 762.0, "resolution tag", "uk_dcrown", "fits") if ppi else UNKNOWN
        written.looked(scan, [Rendered(box, *size, 1.0), classified(), reading(confidence=0.9), known], check=check)
    return home


def sizes(home: Home) -> dict[str, Measured]:
    with home.database.read() as connection:
        made = dossiers(connection, STAMPS, "C")
    assert all(any(f.code == "no_resolution" for f in d.findings) == (d.measured.width_mm is None) for d in made)
    return {d.scan.path: d.measured for d in made}


def test_a_measure_gives_the_box_its_scale_and_goes_when_it_is_taken_back(sheets: Home) -> None:
    before = sizes(sheets)
    number = note_measure(sheets, SETTINGS, "Ida", key("B01/1.tif"), 1030.0, True)
    after = sizes(sheets)
    first, second = after["B01/1.tif"], after["B01/2.tif"]
    assert (first.width_mm, first.height_mm) == (pytest.approx(686.67, abs=0.01), 1030.0)
    assert first.size_source == second.size_source == "person"
    assert second.height_mm == pytest.approx(1030 * 2222 / 3000, abs=0.01)
    assert second.format == "uk_dcrown" or "uk_dcrown" in second.candidates
    # a person's measure is good to 1.5 mm, and edges are found to 1.4 pixels each
    assert 1.5 <= first.height_off_mm < 3
    assert after["B02/3.tif"] == UNKNOWN
    assert after["B01/4.tif"] == before["B01/4.tif"]
    review.undo(sheets, SETTINGS, "Ida", number)
    assert sizes(sheets) == before


def test_a_later_measure_goes_before_and_one_piece_is_one_piece(sheets: Home) -> None:
    note_measure(sheets, SETTINGS, "Ida", key("B01/1.tif"), 1030.0, True)
    note_measure(sheets, SETTINGS, "Jon", key("B01/1.tif"), 1041.0, False)
    after = sizes(sheets)
    assert after["B01/1.tif"].height_mm == 1041.0
    assert after["B01/2.tif"].height_mm == pytest.approx(1030 * 2222 / 3000, abs=0.01)
    note_measure(sheets, SETTINGS, "Jon", key("B01/4.tif"), 700.0, False)
    assert sizes(sheets)["B01/4.tif"].height_mm == 700.0


def test_what_makes_no_sense_is_refused(sheets: Home) -> None:
    for mm in (0.0, 9.9, 10_001.0, float("nan")):
        with pytest.raises(RulingRefused, match="in mm"):
            note_measure(sheets, SETTINGS, "Ida", key("B01/1.tif"), mm, False)
    with pytest.raises(RulingRefused, match="no such piece"):
        note_measure(sheets, SETTINGS, "Ida", key("nothing"), 700.0, False)
    assert (in_mm(" 1041,4 "), in_mm("762")) == (1041.4, 762.0)
    for text in ("", "27x41", "1e3", "-4", "1.2.3", "١٢"):
        with pytest.raises(RulingRefused):
            in_mm(text)


def test_every_verb_has_its_words() -> None:
    assert set(said.PAST) == set(Verb.__args__)  # type: ignore[attr-defined]
