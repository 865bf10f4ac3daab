"""Copies say in themselves what they are of. Read back by Pillow (IPTC-IIM), rdflib (the RDF of XMP) and exifread."""

import hashlib
import io
from pathlib import Path

import exifread
import numpy as np
import pytest
import rdflib
from PIL import Image, IptcImagePlugin

from intake.imaging.encode import jpeg_bytes
from intake.services.handover.bag import export_bag
from intake.services.handover.copies import export_copies
from intake.services.handover.embedded import Caption, embed
from intake.services.handover.iiif import export_iiif
from intake.services.handover.papers import export_papers
from intake.services.handover.record import Wanted
from intake.services.handover.writing import export_records
from tests.made import AT, SETTINGS
from tests.services.handover.archive import AUTO, LETTER, SECRET, Archive
from tests.services.handover.test_records import HOSTILE

DC = rdflib.Namespace("http://purl.org/dc/elements/1.1/")
PHOTOSHOP = rdflib.Namespace("http://ns.adobe.com/photoshop/1.0/")


def xmp(data: bytes) -> rdflib.Graph:
    with Image.open(io.BytesIO(data)) as picture:
        packet = picture.info["xmp"].decode()
    inside = packet[packet.index("<rdf:RDF") : packet.index("</rdf:RDF>") + len("</rdf:RDF>")]
    return rdflib.Graph().parse(data=inside, format="xml", publicID="urn:copy")


def iptc(data: bytes) -> dict[tuple[int, int], object]:
    with Image.open(io.BytesIO(data)) as picture:
        return IptcImagePlugin.getiptcinfo(picture) or {}


def test_copies_of_one_owner_say_what_they_are_of(made: Archive, tmp_path: Path) -> None:
    assert export_copies(made.home, SETTINGS, tmp_path / "out", Wanted("C")) == 4
    data = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    (name,) = [n for n in data if "0002" in n and n.endswith("-1.jpg")]
    graph = xmp(data[name])
    assert "C/B1/0002" in {str(o) for o in graph.objects(predicate=DC.identifier)}
    words = " ".join(map(str, graph.objects()))
    assert "the list says: US one sheet" in words and "(suggested)" in words and "A copy, made from a scan." in words
    told = iptc(data[name])
    assert told[(2, 5)] == b"C/B1/0002" and told[(1, 90)] == b"\x1b%G" and b"US one sheet" in told[(2, 120)]
    everything = b"".join(data.values())
    for never in (SECRET, LETTER, AUTO.text, "0009"):
        assert never.encode() not in everything
    film = next(d for n, d in data.items() if "0004" in n)
    assert b"Caution" in film and b"nitrate" in film


def test_a_reader_of_exif_opens_it_and_finds_no_fault(made: Archive, tmp_path: Path) -> None:
    export_copies(made.home, SETTINGS, tmp_path / "out", Wanted("C"))
    for path in (tmp_path / "out").iterdir():
        with path.open("rb") as file:
            assert not exifread.process_file(file, strict=True, details=False), "no camera made this copy"
        with Image.open(path) as picture:
            picture.load()


def test_originals_are_as_they_were_after_every_export(made: Archive, tmp_path: Path) -> None:
    of = {p: (hashlib.sha256(p.read_bytes()).hexdigest(), p.stat().st_mtime_ns) for p in made.folder.rglob("*.tif")}
    wanted = Wanted("C")
    export_copies(made.home, SETTINGS, tmp_path / "copies", wanted)
    export_iiif(made.home, SETTINGS, tmp_path / "iiif", wanted)
    export_records(made.home, SETTINGS, tmp_path / "records", wanted, AT)
    export_papers(made.home, SETTINGS, tmp_path / "papers", Wanted("C", made.family()), made_at=AT)
    export_bag(made.home, SETTINGS, tmp_path / "bag", wanted, AT)
    assert len(of) == 6
    assert of == {p: (hashlib.sha256(p.read_bytes()).hexdigest(), p.stat().st_mtime_ns) for p in of}


def test_pixels_stay_and_a_caption_takes_the_place_of_the_one_before() -> None:
    plain = jpeg_bytes(np.random.default_rng(1).integers(0, 255, (80, 60, 3)).astype(np.uint8))
    once = embed(plain, Caption("C/B1/1", "A TITLE", "words", "mind", ("sheet",)))
    twice = embed(once, Caption("C/B1/2", "", "others", "mind", ("sheet", "F-1")))
    for made in (once, twice):
        with Image.open(io.BytesIO(plain)) as a, Image.open(io.BytesIO(made)) as b:
            assert a.tobytes() == b.tobytes()
    assert b"C/B1/1" not in twice and b"A TITLE" not in twice
    assert iptc(twice)[(2, 25)] == [b"sheet", b"F-1"]
    assert {str(o) for o in xmp(once).objects(predicate=PHOTOSHOP.Instructions)} == {"mind"}
    with pytest.raises(ValueError, match="no JPEG"):
        embed(b"II*\0", Caption("", "", "", "", ()))


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_stay_words(words: str) -> None:
    plain = jpeg_bytes(np.zeros((8, 8, 3), np.uint8))
    made = embed(plain, Caption(words or "x", words, words, words, (words,)))
    graph = xmp(made)
    known = ("http://purl.org/dc/elements/1.1/", "http://ns.adobe.com/", "http://www.w3.org/1999/02/22-rdf-syntax-ns#")
    assert len(graph) > 5 and all(str(p).startswith(known) for p in graph.predicates()), "no element of theirs"
    with Image.open(io.BytesIO(made)) as picture:
        picture.load()
    assert b"\xe2\x80\xae" not in made and all(len(v) <= 2000 for v in iptc(made).values() if isinstance(v, bytes))
