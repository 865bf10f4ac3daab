"""What a copy of a picture says of itself, embedded: XMP (ISO 16684-1) and IPTC-IIM 4.2, as segments of a JPEG file.

For copies alone: a received file is never written. The pixels of the copy stay as they are, byte for byte.
"""

import struct
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from intake.services.handover.sound import sound

_START = b"\xff\xd8"
_XMP, _PHOTOSHOP = b"http://ns.adobe.com/xap/1.0/\0", b"Photoshop 3.0\0"
_MOST_XMP, _MOST_WORDS = 60_000, 2_000
_APP1, _APP13, _APP0 = 0xE1, 0xED, 0xE0
# IIM 4.2, record 2: number of each dataset and the octets that it may hold.
_OBJECT_NAME, _INSTRUCTIONS, _KEYWORDS, _CAPTION, _SOURCE = (5, 64), (40, 256), (25, 64), (120, 2000), (115, 32)


@dataclass(frozen=True, slots=True)
class Caption:
    """What is embedded: identifier, a title or none, what it shows, what is to be minded, and keywords."""

    identifier: str
    title: str
    description: str
    instructions: str
    keywords: tuple[str, ...]


def embed(jpeg: bytes, said: Caption) -> bytes:
    """The JPEG file with the caption in it, in place of any that it bore. Raises ValueError when it is no JPEG file."""
    if not jpeg.startswith(_START):
        raise ValueError("no JPEG file")
    head, rest = _split(jpeg)
    made = _segment(_APP1, _XMP + _xmp(said)) + _segment(_APP13, _PHOTOSHOP + _resource(_iim(said)))
    return _START + head + made + rest


def _split(jpeg: bytes) -> tuple[bytes, bytes]:
    """The JFIF header, if any, which comes first; and all after it, without captions."""
    at, head, rest = 2, b"", b""
    while at + 4 <= len(jpeg) and jpeg[at] == 0xFF and jpeg[at + 1] not in (0xDA, 0xD9):
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
        segment, marker, body = jpeg[at:end], jpeg[at + 1], jpeg[at + 4 : end]
        if marker == _APP0:
            head += segment
        elif not (marker == _APP1 and body.startswith(_XMP)) and not (marker == _APP13 and body.startswith(_PHOTOSHOP)):
            rest += segment
        at = end
    return head, rest + jpeg[at:]


def _segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body


def _xmp(said: Caption) -> bytes:
    title = _alternatives("dc:title", said.title) if said.title else ""
    words = "".join(f"<rdf:li>{_text(k)}</rdf:li>" for k in said.keywords)
    made = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" '
        'xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/" '
        f"dc:identifier={quoteattr(_cut(said.identifier))} photoshop:Instructions={quoteattr(_cut(said.instructions))}>"
        f"{title}{_alternatives('dc:description', said.description)}"
        f"<dc:subject><rdf:Bag>{words}</rdf:Bag></dc:subject>"
        '</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
    ).encode()
    if len(made) > _MOST_XMP:
        raise ValueError("a caption too long for one segment")
    return made


def _alternatives(name: str, words: str) -> str:
    return f'<{name}><rdf:Alt><rdf:li xml:lang="x-default">{_text(words)}</rdf:li></rdf:Alt></{name}>'


def _iim(said: Caption) -> bytes:
    """Datasets of record 2; record 1 says first that text is UTF-8 (1:90, ESC % G)."""
    made = b"\x1c\x01\x5a" + struct.pack(">H", 3) + b"\x1b%G" + b"\x1c\x02\x00" + struct.pack(">HH", 2, 4)
    for (number, most), words in (
        (_OBJECT_NAME, said.identifier), *((_KEYWORDS, k) for k in said.keywords), (_INSTRUCTIONS, said.instructions),
        (_SOURCE, said.identifier.partition("/")[0]), (_CAPTION, said.description),
    ):  # fmt: skip
        data = _cut(words).encode()[:most].decode("utf-8", "ignore").encode()
        if data:
            made += bytes((0x1C, 2, number)) + struct.pack(">H", len(data)) + data
    return made


def _resource(iim: bytes) -> bytes:
    """The image resource 1028, which holds IIM."""
    return b"8BIM" + struct.pack(">HHI", 0x0404, 0, len(iim)) + iim + b"\0" * (len(iim) % 2)


def _text(words: str) -> str:
    return escape(_cut(words))


def _cut(words: str) -> str:
    return " ".join(sound(words)[:_MOST_WORDS].split())
