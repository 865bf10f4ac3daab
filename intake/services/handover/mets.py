"""What lies in a bag and which piece each file is of, as METS 1.12 (Library of Congress); only where asked for."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import PurePosixPath
from typing import NamedTuple

from intake.services.handover.copying import Digests
from intake.services.handover.sound import sound
from intake.services.xml_text import quoted

NAMESPACE = "http://www.loc.gov/METS/"
_XLINK = "http://www.w3.org/1999/xlink"
# What each folder of the payload is for; METS leaves the words to who uses it.
_USES = {"originals": "original", "derivatives": "derivative", "features": "feature", "alto": "text",
         "records": "record", "ledger": "ledger"}  # fmt: skip
_MEDIA = {".jpg": "image/jpeg", ".jpeg": "image/jpeg", ".png": "image/png", ".tif": "image/tiff", ".tiff": "image/tiff",
          ".webp": "image/webp", ".xml": "text/xml", ".csv": "text/csv", ".jsonld": "application/ld+json",
          ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}  # fmt: skip


class PieceFiles(NamedTuple):
    """One piece, and the paths in the bag of all files that are of it."""

    consignment: str
    box: str
    piece: str
    paths: tuple[str, ...]


def mets(of: str, files: Mapping[str, Digests], pieces: Iterable[PieceFiles], made_at: str) -> Iterator[str]:
    """The document in pieces of text; it lies in the folder ``data``, and names files from there.

    ``of`` is what the bag is of, ``files`` are paths in the bag, ``made_at`` is the stated time.
    """
    payload = {path: d for path, d in sorted(files.items()) if path.startswith("data/")}
    names = {path: f"file-{n}" for n, path in enumerate(payload, start=1)}
    yield (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<mets xmlns="{NAMESPACE}" xmlns:xlink="{_XLINK}" '
        f'OBJID={_quoted(of)} TYPE="bag">\n<metsHdr CREATEDATE={_quoted(made_at)}>'
        '<agent ROLE="CREATOR" TYPE="OTHER" OTHERTYPE="SOFTWARE"><name>Kinfold</name></agent></metsHdr>\n'
        f'<dmdSec ID="records">{_reference("LIDO", "records/records.lido.xml")}</dmdSec>\n'
        f'<amdSec ID="done"><digiprovMD ID="events">{_reference("PREMIS", "premis.xml")}</digiprovMD></amdSec>\n'
        "<fileSec>\n"
    )
    for use, group in groupby(payload.items(), key=lambda x: PurePosixPath(x[0]).parts[1]):
        if use in _USES:
            yield f'<fileGrp USE="{_USES[use]}">\n'
            yield from (_file(names[path], path, d) for path, d in group)
            yield "</fileGrp>\n"
    yield '</fileSec>\n<structMap TYPE="physical">\n'
    yield f'<div TYPE="bag" LABEL={_quoted(of)} DMDID="records" ADMID="events">\n'
    for code, boxes in groupby(sorted(pieces), key=lambda p: p.consignment):
        yield f'<div TYPE="consignment" LABEL={_quoted(code)}>\n'
        for box, within in groupby(boxes, key=lambda p: p.box):
            yield f'<div TYPE="box" LABEL={_quoted(box)}>\n'
            for p in within:
                here = "".join(f'<fptr FILEID="{names[path]}"/>' for path in sorted(set(p.paths)))
                yield f'<div TYPE="piece" LABEL={_quoted(p.piece)}>{here}</div>\n'
            yield "</div>\n"
        yield "</div>\n"
    yield "</div></structMap>\n</mets>\n"


def _file(name: str, path: str, d: Digests) -> str:
    media = _MEDIA.get(PurePosixPath(path).suffix.lower())
    said = f' MIMETYPE="{media}"' if media else ""
    return (
        f'<file ID="{name}" SIZE="{d.size}" CHECKSUM="{d.sha512}" CHECKSUMTYPE="SHA-512"{said}>'
        f'<FLocat LOCTYPE="URL" xlink:type="simple" xlink:href={_quoted(path.removeprefix("data/"))}/></file>\n'
    )


def _reference(kind: str, to: str) -> str:
    return f'<mdRef LOCTYPE="URL" MDTYPE="{kind}" xlink:type="simple" xlink:href="{to}"/>'


def _quoted(text: str) -> str:
    return quoted(sound(text))
