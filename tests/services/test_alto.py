"""ALTO of what was read. Rules: the schema alto-4-4.xsd of the ALTO editorial board (read in its public repository,
altoxml/schema on GitHub; not carried here): elements that we write, their order, and which attributes each may have.
"""

import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.errors import HomeError
from intake.model import Box, Line, PartFound, Reading
from intake.services.alto import NAMESPACE, alto_files
from intake.services.export import export
from intake.services.home import Home
from tests.made import SETTINGS, Written, checked, classified, dossier, line, reading, received

PLACE = {"HPOS", "VPOS", "WIDTH", "HEIGHT"}
# element -> (children in their order with ? * + as in a content model, attributes that must be, that may be)
SCHEMA: dict[str, tuple[str, set[str], set[str]]] = {
    "alto": ("Description? Tags? Layout", set(), {"SCHEMAVERSION"}),
    "Description": ("MeasurementUnit sourceImageInformation? Processing*", set(), set()),
    "MeasurementUnit": ("", set(), set()),
    "sourceImageInformation": ("fileName? fileIdentifier*", set(), set()),
    "fileName": ("", set(), set()),
    "fileIdentifier": ("", set(), {"fileIdentifierLocation"}),
    "Processing": (
        "processingCategory? processingStepDescription* processingStepSettings? processingSoftware?", {"ID"}, set(),
    ),
    "processingCategory": ("", set(), set()),
    "processingStepDescription": ("", set(), set()),
    "processingStepSettings": ("", set(), set()),
    "processingSoftware": ("softwareCreator? softwareName? softwareVersion?", set(), set()),
    "softwareName": ("", set(), set()),
    "Tags": ("OtherTag*", set(), set()),
    "OtherTag": ("", {"ID", "LABEL"}, {"TYPE", "DESCRIPTION", "URI"}),
    "Layout": ("Page+", set(), set()),
    "Page": ("PrintSpace?", {"ID", "PHYSICAL_IMG_NR"}, {"WIDTH", "HEIGHT"}),
    "PrintSpace": ("TextBlock*", set(), PLACE),
    "TextBlock": ("Shape? TextLine*", {"ID"}, PLACE | {"ROTATION", "TAGREFS"}),
    "TextLine": ("Shape? String1 SP?", set(), PLACE | {"ID", "TAGREFS", "BASELINE"}),
    "Shape": ("Polygon", set(), set()),
    "Polygon": ("", {"POINTS"}, set()),
    "String": ("", {"CONTENT"}, PLACE | {"WC", "ID"}),
    "SP": ("", set(), PLACE),
}  # fmt: skip


def valid(raw: bytes) -> ET.Element:
    """Read a document back, held against the rules above."""
    root = ET.fromstring(raw)
    assert root.tag == f"{{{NAMESPACE}}}alto"
    ids: list[str] = []
    refs: list[str] = []
    for element in root.iter():
        name = element.tag.removeprefix(f"{{{NAMESPACE}}}")
        children, must, may = SCHEMA[name]
        held = " ".join(c.tag.removeprefix(f"{{{NAMESPACE}}}") for c in element)
        if name == "TextLine":
            assert re.fullmatch(r"(Shape ?)?(String( SP)? ?)+", held)
        else:
            model = "".join(rf"(?:{c.rstrip('?*+')} ){c[-1] if c[-1] in '?*+' else ''}" for c in children.split())
            assert re.fullmatch(model, f"{held} " if held else ""), name
        assert must <= set(element.attrib) <= must | may, name
        ids += [element.attrib["ID"]] if "ID" in element.attrib else []
        refs += element.attrib.get("TAGREFS", "").split()
        for number in PLACE & set(element.attrib):
            float(element.attrib[number])
        assert 0 <= float(element.attrib.get("WC", 0)) <= 1
    assert all(re.fullmatch(r"[A-Za-z_][\w.-]*", i) for i in ids), "xsd:ID is an NCName"
    assert len(ids) == len(set(ids)) and set(refs) <= set(ids)
    return root


def found(root: ET.Element, name: str) -> list[ET.Element]:
    return list(root.iter(f"{{{NAMESPACE}}}{name}"))


def test_lines_keep_their_text_boxes_and_confidence() -> None:
    read = reading(90, True, 1.0, [line("Printed in England", Box(10, 20, 300, 25), 0.9), line("X", Box(5, 5, 9, 9))])
    ((name, raw),) = alto_files([dossier(received("B1/0001.tif"), reading=read)], "stamp")
    assert re.fullmatch(r"[0-9a-f]{64}\.xml", name)
    root = valid(raw)
    first, second = found(root, "TextLine")
    assert [s.get("CONTENT") for s in found(first, "String")] == ["Printed", "in", "England"]
    assert {s.get("WC") for s in found(first, "String")} == {"0.9000"}
    assert [first.get(n) for n in ("HPOS", "VPOS", "WIDTH", "HEIGHT")] == ["10", "20", "300", "25"]
    assert found(first, "Polygon")[0].get("POINTS") == "10,20 310,20 310,45 10,45"
    assert (first.get("TAGREFS"), second.get("ID")) == ("agreed", "part_1_line_2")
    (block,) = found(root, "TextBlock")
    assert (block.get("ROTATION"), block.get("TAGREFS")) == ("90", "mirrored")
    assert found(root, "MeasurementUnit")[0].text == "pixel" and found(root, "softwareName")[0].text == "kinfold"
    (page,) = found(root, "Page")
    assert (page.get("WIDTH"), page.get("HEIGHT")) == ("1000", "1500")


def test_parts_and_pages_of_one_file_are_one_document() -> None:
    scan = received("B1/0001.tif")
    parts = [
        dossier(scan, n, found=PartFound(n, page, Box(0, 0, 9, 9)), reading=reading())
        for n, page in ((1, 0), (2, 0), (3, 1))
    ]
    ((_, raw),) = alto_files(parts, "stamp")
    assert [len(found(page, "TextBlock")) for page in found(valid(raw), "Page")] == [2, 1]
    assert list(alto_files([dossier(scan, reading=None)], "stamp")) == []


@given(st.text(st.characters(codec=None), max_size=80), st.text(max_size=40))
def test_no_text_and_no_name_breaks_the_document(text: str, path: str) -> None:
    one = Line(((0.0, 0.0), (9.0, 0.0), (9.0, 4.0), (0.0, 4.0)), text, 0.5, False, ())
    scan = received(f"{path}/0001.tif")
    ((name, raw),) = alto_files([dossier(scan, reading=Reading((one,), 0, False, 0.0))], "stamp")
    assert name == f"{scan.digest}.xml"
    root = valid(raw)
    words = [s.get("CONTENT") for s in found(root, "String")]
    assert len(words) == max(1, len(text.split())) or "\ufffd" in "".join(map(str, words))


def test_files_are_written_under_the_digest_alone(home: Home, tmp_path: Path) -> None:
    scan = received("..\\<b>&amp;/\u202e..xml", piece="x")
    twin = received("B2/0001.tif", digest=scan.digest)
    written = Written(home)
    written.consignment(scan, twin)
    written.run()
    written.looked(scan, [classified(), reading(lines=[line("A & B <c>", Box(1, 2, 3, 4))])], check=checked())
    assert export(home, SETTINGS, "alto", tmp_path / "deep" / "alto") == 1
    (file,) = (tmp_path / "deep" / "alto").iterdir()
    assert file.name == f"{scan.digest}.xml"
    assert [s.get("CONTENT") for s in found(valid(file.read_bytes()), "String")] == ["A", "&", "B", "<c>"]


def test_a_file_in_the_way_is_said(home: Home, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x")
    with pytest.raises(HomeError, match=r"taken: cannot be written .* Give a folder"):
        export(home, SETTINGS, "alto", tmp_path / "taken")


def test_ten_thousand_lines_are_one_sound_document() -> None:
    lines = [line("two words", Box(n, n, 5, 5)) for n in range(10_000)]
    ((_, raw),) = alto_files([dossier(received("B1/0001.tif"), reading=reading(lines=lines))], "stamp")
    assert len(found(valid(raw), "TextLine")) == 10_000
