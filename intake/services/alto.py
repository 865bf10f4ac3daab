"""All lines of text as ALTO 4, the open format of the Library of Congress for recognised text: one file a scan.

Coordinates are pixels of the stored file. Only what was found is written: lines have boxes and corners, words have
none.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from xml.etree import ElementTree as ET

from intake.model import Line
from intake.services.dossiers import Dossier

NAMESPACE = "http://www.loc.gov/standards/alto/ns-v4#"
# XML 1.0, production 2: all that a document may hold.
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_HELD = "possible_nitrate"
_TAGS = {
    "agreed": "the readers agree",
    "open": "the readers do not agree, or one alone has read it",
    "mirrored": "the text reads mirrored in the stored file",
    _HELD: "possible cellulose nitrate, base unconfirmed: read the caution before the piece is touched",
}


def alto_files(parts: Iterable[Dossier], stamp: str) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, XML) for every scan that was read, each once. The name is the scan's SHA-256, and nothing else.

    ``parts`` lie as ``dossiers`` gives them: those of one file together. ``stamp`` is that of the reading.
    """
    done: set[str] = set()
    for (digest, *_), of_file in groupby(parts, key=lambda d: (d.key.digest, d.scan.consignment, d.scan.path)):
        read = [d for d in of_file if d.reading is not None and d.found is not None]
        if read and digest not in done:
            done.add(digest)
            yield f"{digest}.xml", _document(read, stamp)


def _document(parts: Sequence[Dossier], stamp: str) -> bytes:
    first = parts[0]
    root = ET.Element("alto", {"xmlns": NAMESPACE, "SCHEMAVERSION": "4.4"})
    description = ET.SubElement(root, "Description")
    ET.SubElement(description, "MeasurementUnit").text = "pixel"
    image = ET.SubElement(description, "sourceImageInformation")
    ET.SubElement(image, "fileName").text = _sound(first.scan.path)
    ET.SubElement(image, "fileIdentifier", fileIdentifierLocation="sha256").text = first.key.digest
    step = ET.SubElement(description, "Processing", ID="reading")
    ET.SubElement(step, "processingCategory").text = "contentGeneration"
    ET.SubElement(step, "processingStepDescription").text = "Lines of text found and read."
    ET.SubElement(step, "processingStepSettings").text = f"settings stamp {stamp}"
    ET.SubElement(ET.SubElement(step, "processingSoftware"), "softwareName").text = "kinfold"
    tags = ET.SubElement(root, "Tags")
    for name, words in _TAGS.items():
        ET.SubElement(tags, "OtherTag", ID=name, LABEL=words)
    layout = ET.SubElement(root, "Layout")
    for number, on_page in groupby(parts, key=lambda d: d.found.page if d.found else 0):
        page = ET.SubElement(layout, "Page", ID=f"page_{number + 1}", PHYSICAL_IMG_NR=str(number + 1))
        if number == 0 and first.checked is not None:  # sizes of further pages are not kept
            page.attrib |= {"WIDTH": str(first.checked.width_px), "HEIGHT": str(first.checked.height_px)}
        space = ET.SubElement(page, "PrintSpace")
        for d in on_page:
            _block(space, d)
    ET.indent(root)
    return ET.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n"


def _block(space: ET.Element, d: Dossier) -> None:
    assert d.reading is not None and d.found is not None
    name = f"part_{d.key.part}"
    # Our turn is the one to be made, clockwise; ALTO's is the one that was made, counterclockwise.
    block = ET.SubElement(
        space, "TextBlock", {"ID": name, **_place(d.found.box), "ROTATION": str(d.reading.rotation)}
    )  # fmt: skip
    tags = [t for t, on in (("mirrored", d.reading.mirrored), (_HELD, _HELD in d.hazard.codes)) if on]
    if tags:
        block.set("TAGREFS", " ".join(tags))
    for number, line in enumerate(d.reading.lines, start=1):
        _line(block, f"{name}_line_{number}", line)


def _line(block: ET.Element, name: str, line: Line) -> None:
    tag = "agreed" if line.agreed else "open"
    made = ET.SubElement(block, "TextLine", {"ID": name, **_place(line.box), "TAGREFS": tag})
    corners = " ".join(f"{x:g},{y:g}" for x, y in line.corners)
    ET.SubElement(ET.SubElement(made, "Shape"), "Polygon", POINTS=corners)
    confidence = f"{min(1.0, max(0.0, line.confidence)):.4f}"
    for number, word in enumerate(_sound(line.text).split() or [""]):
        if number:
            ET.SubElement(made, "SP")
        ET.SubElement(made, "String", CONTENT=word, WC=confidence)


def _place(box: Sequence[int]) -> dict[str, str]:
    return dict(zip(("HPOS", "VPOS", "WIDTH", "HEIGHT"), map(str, box), strict=True))


def _sound(text: str) -> str:
    return _NO_XML.sub("\ufffd", text)
