"""XML against what its makers published: by rules written from the schemas of PREMIS 3.0 and METS 1.12
(package_rules.py) and LIDO 1.1 (lido_rules.py)."""

from pathlib import Path
from xml.etree import ElementTree as ET

import bagit
import pytest

from intake.services.handover.bag import export_bag
from intake.services.handover.record import Wanted
from intake.services.handover.unbag import receive_bag
from intake.services.handover.writing import export_records
from intake.services.home import Home
from tests.made import AT, SETTINGS
from tests.services.handover.archive import Archive, accepted, archive
from tests.services.handover.lido_rules import complaints
from tests.services.handover.package_rules import METS, PREMIS, mets_complaints, premis_complaints
from tests.services.handover.test_records import HOSTILE

HREF = "{http://www.w3.org/1999/xlink}href"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bag, with METS, of an archive whose owner's words are hostile."""
    folder = tmp_path_factory.mktemp("hostile")
    made = archive(Home(folder / "home"), folder / "in", HOSTILE)
    accepted(made, "sheet", *(f"text {n}" for n in range(len(HOSTILE))))
    export_bag(made.home, SETTINGS, folder / "bag", Wanted(with_documents=True), AT, with_mets=True)
    made.home.database.close()
    return folder / "bag"


def test_the_bag_keeps_to_the_rules_of_premis_and_mets(hostile: Path) -> None:
    assert premis_complaints(ET.parse(hostile / "data/premis.xml").getroot()) == []
    assert mets_complaints(ET.parse(hostile / "data/mets.xml").getroot()) == []


def test_those_rules_do_complain(hostile: Path) -> None:
    premis = ET.parse(hostile / "data/premis.xml").getroot()
    event = premis.find(f"{{{PREMIS}}}event")
    assert event is not None
    event.remove(event[1])
    assert premis_complaints(premis) == ["/premis/event: 0 of eventType"]
    mets = ET.parse(hostile / "data/mets.xml").getroot()
    shown = next(mets.iter(f"{{{METS}}}fptr"))
    shown.set("FILEID", "file-x")
    assert mets_complaints(mets) == ["file-x stands for nothing"]


def test_mets_names_every_file_of_each_piece_with_its_digest(hostile: Path) -> None:
    root = ET.parse(hostile / "data/mets.xml").getroot()
    named = {f.get("ID"): f for f in root.iter(f"{{{METS}}}file")}
    manifest = dict(line.split("  ", 1)[::-1] for line in (hostile / "manifest-sha512.txt").read_text().splitlines())
    for f in named.values():
        (at,) = f
        path = f"data/{at.get(HREF)}"
        assert manifest[path] == f.get("CHECKSUM") and int(f.get("SIZE", 0)) == (hostile / path).stat().st_size
    original = sum(f.tag == f"{{{METS}}}file" for f in root.find(f".//{{{METS}}}fileGrp[@USE='original']"))
    assert original == len(list((hostile / "data/originals").iterdir()))
    (own,) = [d for d in root.iter(f"{{{METS}}}div") if d.get("LABEL") == "C"]
    (box,) = [d for d in own if d.get("LABEL") == "B1"]
    (sheet,) = [d for d in box if d.get("LABEL") == "0002"]
    assert {named[p.get("FILEID")][0].get(HREF).split("/")[0] for p in sheet} == {
        "originals",
        "derivatives",
        "features",
    }
    assert len([p for p in sheet if named[p.get("FILEID")][0].get(HREF).startswith("originals/")]) == 2, (
        "front and back"
    )


def test_a_bag_with_mets_is_sound_and_is_received_back(hostile: Path, tmp_path: Path) -> None:
    assert bagit.Bag(str(hostile)).validate()
    home = Home(tmp_path / "other")
    assert receive_bag(home, hostile).rows > 50
    home.database.close()


def test_there_is_none_unless_asked_for(made: Archive, tmp_path: Path) -> None:
    export_bag(made.home, SETTINGS, tmp_path / "bag", Wanted("C"), AT)
    assert not (tmp_path / "bag/data/mets.xml").exists()


def test_lido_keeps_to_its_rules(made: Archive, hostile: Path, tmp_path: Path) -> None:
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    for path in (tmp_path / "records.lido.xml", hostile / "data/records/records.lido.xml"):
        root = ET.parse(path).getroot()
        assert complaints(root) == [] and len(root) >= 4


def test_the_rules_of_lido_do_complain() -> None:
    head = '<lidoWrap xmlns="http://www.lido-schema.org">'
    said = complaints(ET.fromstring(f"{head}<lido><objectPublishedID>x</objectPublishedID></lido></lidoWrap>"))
    assert [s.rpartition("/")[2] for s in said] == [
        "lido: 0 of lidoRecID", "lido: 0 of descriptiveMetadata", "lido: 0 of administrativeMetadata",
        "objectPublishedID: no type",
    ]  # fmt: skip
    assert complaints(ET.fromstring(f"{head}<nonsense/></lidoWrap>"))
