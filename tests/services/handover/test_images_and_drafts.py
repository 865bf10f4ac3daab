"""IIIF manifests, read by a library that is not ours; and draft entries, each fact of which leads to its source."""

import json
import re
from pathlib import Path

import iiif_prezi3
import pytest
from PIL import Image

from intake.config.papers import load_entry
from intake.errors import ConfigError
from intake.services.handover.drafts import draft, export_drafts
from intake.services.handover.iiif import export_iiif
from intake.services.handover.record import Wanted
from intake.services.handover.records import records
from tests.made import CONFIG, SETTINGS
from tests.services.handover.archive import AUTO, IDA, LETTER, SECRET, Archive


def test_manifests_of_families_and_boxes(made: Archive, tmp_path: Path) -> None:
    """IIIF Presentation API 3.0; physical dimensions: the IIIF annex of services."""
    export_iiif(made.home, SETTINGS, tmp_path, Wanted("C"))
    paths = sorted(tmp_path.glob("*.json"))
    assert [p.name for p in paths if p.name.startswith("box")] != [] and any(p.name.startswith("family") for p in paths)
    for path in paths:
        held = json.loads(path.read_text())
        iiif_prezi3.Manifest(**held)
        assert SECRET not in path.read_text() and LETTER not in path.read_text() and AUTO.text not in path.read_text()
        for canvas in held["items"]:
            body = canvas["items"][0]["items"][0]["body"]
            assert (tmp_path / body["id"].removeprefix(f"{SETTINGS.records.base}iiif/")).is_file()
            # 300 ppi, shown at the size that it was stored: 25.4 / 300 mm a pixel.
            assert canvas["service"][0]["physicalScale"] == pytest.approx(25.4 / 300, rel=1e-5)
    family = json.loads(next(p for p in paths if p.name.startswith("family")).read_text())
    places = [
        a["target"].partition("#")[2] for c in family["items"] for p in c.get("annotations", ()) for a in p["items"]
    ]
    assert places == ["xywh=100,1400,300,40", "xywh=700,1400,90,40"]


def test_marks_and_differing_regions_have_a_crop_that_the_manifest_names(differing: Archive, tmp_path: Path) -> None:
    export_iiif(differing.home, SETTINGS, tmp_path / "out", Wanted("C"))
    (path,) = (tmp_path / "out").glob("family-*.json")
    held = json.loads(path.read_text())
    iiif_prezi3.Manifest(**held)
    notes = {
        p["id"].rpartition("/")[2]: p["items"]
        for c in held["items"]
        for p in c.get("annotations", ())
        if "0002" in c["id"]
    }
    assert set(notes) == {"marks", "differences"} and len(notes["marks"]) == 2
    (region,) = notes["differences"]
    assert region["body"][0]["value"] == "a line is covered (suggested, 0.90; beside C/B1/0001)"
    assert region["target"].endswith("#xywh=200,300,250,150")
    base = f"{SETTINGS.records.base}iiif/"
    for note in (region, *notes["marks"]):
        crop = tmp_path / "out" / note["body"][1]["id"].removeprefix(base)
        with Image.open(crop) as picture:
            assert picture.format == "JPEG" and picture.width > 1
    rows = {m.crop for p in records(differing.home, SETTINGS).pieces for m in p.marks}
    assert rows <= {p.name for p in (tmp_path / "out/images/crops").iterdir()}
    assert SECRET not in path.read_text() and "0009" not in path.read_text()


def test_each_fact_of_a_draft_leads_to_its_source(made: Archive, tmp_path: Path) -> None:
    sheet = next(p for p in records(made.home, SETTINGS).pieces if p.name[2] == "0002")
    words = draft(sheet, SETTINGS)
    body, _, sources = words.partition("Sources:")
    used, given = set(re.findall(r"\[(\d+)\]", body)), set(re.findall(r"\[(\d+)\]", sources))
    assert used == given and used
    assert "printer: MARL AND SONS" in body and IDA in sources and AUTO.text not in words
    assert export_drafts(made.home, SETTINGS, tmp_path, Wanted("C")) == 3
    for word in ("genuine", "original release", "worth", "value", "by the artist"):
        assert word not in (tmp_path / "drafts.txt").read_text()


def test_gaps_stay_open(made: Archive) -> None:
    film = next(p for p in records(made.home, SETTINGS).pieces if p.name[2] == "0004")
    assert "Date by the marks that a person accepted: [not stated]" in draft(film, SETTINGS)
    assert "Makers" not in draft(film, SETTINGS)


def test_the_house_edits_the_entry(made: Archive, tmp_path: Path) -> None:
    (tmp_path / "entry.txt").write_text("# ours\nLot {piece}: {marks}.\n")
    own = SETTINGS.model_copy(update={"entry": load_entry(tmp_path)})
    sheet = next(p for p in records(made.home, SETTINGS).pieces if p.name[2] == "0002")
    assert draft(sheet, own).startswith("Lot C/B1/0002: release code 61/204 [1].")
    (tmp_path / "entry.txt").write_text("{piece.__class__}\n")
    with pytest.raises(ConfigError, match="no such fields"):
        load_entry(tmp_path)
    assert load_entry(CONFIG)
