"""All lines of text as ALTO 4, the open format of the Library of Congress for recognised text: one file a scan.

Coordinates are pixels of the stored file. Only what was found is written: lines have boxes and corners, words have
none.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from intake.model import Line
from intake.services.dossiers import Dossier
from intake.services.xml_text import element, quoted

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
    tags = "\n".join(f'    <OtherTag ID="{name}" LABEL={quoted(words)} />' for name, words in _TAGS.items())
    by_page = groupby(parts, key=lambda d: d.found.page if d.found else 0)
    pages = "".join(_page(number, list(on_page)) for number, on_page in by_page)
    return f"""\
<?xml version='1.0' encoding='utf-8'?>
<alto xmlns="{NAMESPACE}" SCHEMAVERSION="4.4">
  <Description>
    <MeasurementUnit>pixel</MeasurementUnit>
    <sourceImageInformation>
      {element("fileName", _sound(parts[0].scan.path))}
      <fileIdentifier fileIdentifierLocation="sha256">{parts[0].key.digest}</fileIdentifier>
    </sourceImageInformation>
    <Processing ID="reading">
      <processingCategory>contentGeneration</processingCategory>
      <processingStepDescription>Lines of text found and read.</processingStepDescription>
      {element("processingStepSettings", f"settings stamp {stamp}")}
      <processingSoftware>
        <softwareName>kinfold</softwareName>
      </processingSoftware>
    </Processing>
  </Description>
  <Tags>
{tags}
  </Tags>
  <Layout>
{pages}  </Layout>
</alto>
""".encode()


def _page(number: int, parts: Sequence[Dossier]) -> str:
    checked = parts[0].checked
    known = number == 0 and checked is not None  # sizes of further pages are not kept
    size = f' WIDTH="{checked.width_px}" HEIGHT="{checked.height_px}"' if known and checked else ""
    return (
        f'    <Page ID="page_{number + 1}" PHYSICAL_IMG_NR="{number + 1}"{size}>\n      <PrintSpace>\n'
        f"{''.join(map(_block, parts))}      </PrintSpace>\n    </Page>\n"
    )


def _block(d: Dossier) -> str:
    assert d.reading is not None and d.found is not None
    name = f"part_{d.key.part}"
    tags = [t for t, on in (("mirrored", d.reading.mirrored), (_HELD, _HELD in d.hazard.codes)) if on]
    refs = f' TAGREFS="{" ".join(tags)}"' if tags else ""
    # Our turn is the one to be made, clockwise; ALTO's is the one that was made, counterclockwise.
    begin = f'        <TextBlock ID="{name}" {_place(d.found.box)} ROTATION="{d.reading.rotation}"{refs}'
    lines = [_line(f"{name}_line_{number}", line) for number, line in enumerate(d.reading.lines, start=1)]
    return f"{begin}>\n{''.join(lines)}        </TextBlock>\n" if lines else f"{begin} />\n"


def _line(name: str, line: Line) -> str:
    tag = "agreed" if line.agreed else "open"
    corners = " ".join(f"{x:g},{y:g}" for x, y in line.corners)
    confidence = f"{min(1.0, max(0.0, line.confidence)):.4f}"
    words = _sound(line.text).split() or [""]
    return (
        f'          <TextLine ID="{name}" {_place(line.box)} TAGREFS="{tag}">\n'
        f'            <Shape>\n              <Polygon POINTS="{corners}" />\n            </Shape>\n'
        + "            <SP />\n".join(f'            <String CONTENT={quoted(w)} WC="{confidence}" />\n' for w in words)
        + "          </TextLine>\n"
    )


def _place(box: Sequence[int]) -> str:
    left, top, width, height = box
    return f'HPOS="{left}" VPOS="{top}" WIDTH="{width}" HEIGHT="{height}"'


def _sound(text: str) -> str:
    return _NO_XML.sub("\ufffd", text)
