"""Records: only what a person accepted, each statement with its source, read back by libraries that are not ours."""

import csv
import io
import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import openpyxl
import pytest
import rdflib

from intake.config.load import load_config
from intake.errors import HomeError, UsageError
from intake.model import Box, Parsed, PartKey
from intake.services.handover.drafts import draft
from intake.services.handover.record import Records, Wanted
from intake.services.handover.records import records
from intake.services.handover.writing import export_records
from intake.services.home import Home
from intake.services.looks import Withheld
from intake.services.materials import state_materials
from intake.services.piecework import rule_on_pieces
from intake.services.review import decide
from intake.services.whose import Whose
from intake.store import decisions, moves, relations
from tests.made import AT, CONFIG, SETTINGS, Written, checked, classified, dossier, line, reading, received
from tests.services.handover.archive import AUTO, IDA, LETTER, SECRET, Archive, accepted, archive
from tests.services.handover.lido_rules import complaints

LIDO = "{http://www.lido-schema.org}"
DCTERMS = rdflib.Namespace("http://purl.org/dc/terms/")
PROV = rdflib.Namespace("http://www.w3.org/ns/prov#")
HOSTILE = (
    "=1+1", '=HYPERLINK("http://example.org","x")', "@SUM(A1)", "<script>alert(1)</script>", "]]> & <!--",
    "\u202egnp.fit", "nul\x00here", "x" * 10_000, "\u05e9\u05dc\u05d5\u05dd",
    '#include "/etc/passwd" #read("x")', 'a"b\\', "two\nlines",
)  # fmt: skip


def of(found: Records, piece: str) -> object:
    return next(p for p in found.pieces if p.name[2] == piece)


def everything(folder: Path) -> str:
    """All text of all files, workbooks too."""
    text = [p.read_text(errors="replace") for p in folder.rglob("*") if p.is_file() and p.suffix != ".xlsx"]
    for path in folder.rglob("*.xlsx"):
        book = openpyxl.load_workbook(path)
        text += [str(c.value) for sheet in book for row in sheet.iter_rows() for c in row]
    return "\n".join(text)


def test_only_accepted_marks_enter_with_who_and_where(made: Archive, tmp_path: Path) -> None:
    sheet = of(records(made.home, SETTINGS), "0002")
    assert [(m.kind, m.value, m.source.who) for m in sheet.marks] == [
        ("printer", "MARL AND SONS", IDA),
        ("release_code", "61/204", IDA),
    ]
    assert "B1/0002.tif, picture 1, at 100 1400 300 40 px" in sheet.marks[0].source.on
    assert sheet.date.edtf.startswith("1961") and sheet.date.rests_on
    export_records(made.home, SETTINGS, tmp_path / "out", made_at=AT)
    assert AUTO.text not in everything(tmp_path / "out")


def test_without_a_person_there_is_no_mark_and_no_date(home: Home, tmp_path: Path) -> None:
    sheet = of(records(archive(home, tmp_path / "in").home, SETTINGS), "0002")
    assert (sheet.marks, sheet.date, sheet.title and sheet.title.certainty) == ((), None, "suggested")


def test_papers_found_in_boxes_stay_out_unless_named(made: Archive, tmp_path: Path) -> None:
    accepted(made, "letter")
    export_records(made.home, SETTINGS, tmp_path / "without", made_at=AT)
    assert LETTER not in everything(tmp_path / "without") and "C/B1/0003" not in everything(tmp_path / "without")
    assert records(made.home, SETTINGS).private_left_out == 1
    export_records(made.home, SETTINGS, tmp_path / "with", Wanted(with_documents=True), AT)
    assert LETTER in everything(tmp_path / "with")


def test_another_owners_piece_is_named_only_by_permit(made: Archive, tmp_path: Path) -> None:
    export_records(made.home, SETTINGS, tmp_path / "c", Wanted("C"), AT)
    assert SECRET not in everything(tmp_path / "c") and "D/B1/0009" not in everything(tmp_path / "c")
    with made.home.database.write() as connection:
        moves.permit(connection, "D", True)
    export_records(made.home, SETTINGS, tmp_path / "permitted", Wanted("C"), AT)
    assert "D/B1/0009" in everything(tmp_path / "permitted")


def test_a_person_confirms_one_design_and_kinds_suggest_the_direction(made: Archive) -> None:
    found = records(made.home, SETTINGS)
    (to_sheet,) = [r for r in of(found, "0001").relations if r.other[2] == "0002"]
    (to_painting,) = [r for r in of(found, "0002").relations if r.other[2] == "0001"]
    assert (to_sheet.word, to_painting.word) == ("is source for", "is printed after")
    assert to_painting.certainty == "likely" and IDA in to_painting.source.on
    (to_film,) = [r for r in of(found, "0002").relations if r.other[2] == "0004"]
    assert (to_film.word, to_film.certainty, to_film.source.who) == ("is of the design of", "confirmed", IDA)


def test_what_people_state_of_two_pieces_is_certain_and_goes_both_ways(made: Archive) -> None:
    with made.home.database.write() as connection:
        relations.add_relation(connection, "C", ("B1", "0001"), "overlay_of", ("B1", "0002"), (AT, "Ore Vann"))
    found = records(made.home, SETTINGS)
    for piece, word in (("0001", "is overlay of"), ("0002", "bears overlay")):
        (r,) = [r for r in of(found, piece).relations if r.word == word]
        assert (r.certainty, r.source.who) == ("confirmed", "Ore Vann")


def test_condition_is_a_persons_word_with_its_scale_and_how_it_was_examined(made: Archive) -> None:
    seen = {"unframed": True, "both_sides": False, "light": "raking light"}
    place = {"sort": "tear", "box": [10, 20, 30, 40], "words": "short", **seen}
    with made.home.database.write() as connection:
        on = [made.keys["sheet"]]
        decisions.add_decision(connection, AT, IDA, "add_place", on, place)
        decisions.add_decision(connection, AT, IDA, "grade", on, {"grade": "fine", "scale": "words", **seen})
    found = [(c.words, c.certainty, c.source.who) for c in of(records(made.home, SETTINGS), "0002").condition]
    called = SETTINGS.condition.sorts["tear"].called
    assert (f"{called}: short", "confirmed", IDA) in found and ("grade fine (words scale)", "stated", IDA) in found
    assert all(
        "raking light" in c.source.on for c in of(records(made.home, SETTINGS), "0002").condition if c.source.who == IDA
    )


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib uses its own old name
def test_jsonld_is_read_by_rdflib(made: Archive, tmp_path: Path) -> None:
    """Terms: DCMI Metadata Terms; W3C PROV-O. Reader: rdflib."""
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    graph = rdflib.Graph().parse(data=(tmp_path / "records.jsonld").read_text(), format="json-ld")
    piece = rdflib.URIRef("https://records.invalid/piece/C/B1/0002")
    assert (piece, DCTERMS.identifier, rdflib.Literal("C/B1/0002")) in graph
    scans = list(graph.subjects(PROV.wasDerivedFrom, piece))
    assert len(scans) == 2 and all(str(s).startswith("ni:///sha-256;") for s in scans)
    stated = list(graph.subjects(rdflib.RDF.type, rdflib.RDF.Statement))
    assert all(graph.value(s, PROV.wasAttributedTo) and graph.value(s, rdflib.RDF.object) for s in stated) and stated
    (edtf,) = [o for o in graph.objects(piece, DCTERMS.date) if getattr(o, "datatype", None)]
    assert str(edtf) == of(records(made.home, SETTINGS), "0002").date.edtf


def test_what_a_person_said_is_theirs_and_no_suggestion(made: Archive, tmp_path: Path) -> None:
    """Title, kind and reproduction as ruled name who said so; what nobody ruled on stays suggested."""
    before = of(records(made.home, SETTINGS), "0002")
    assert (before.title.certainty, before.kind.certainty, before.remarks) == ("suggested", "suggested", ())
    keys = [made.keys[n] for n in ("painting", "sheet", "film", "back")]
    decide(made.home, SETTINGS, IDA, "name_design", keys, {"text": "The Quay"})
    rule_on_pieces(made.home, SETTINGS, IDA, "set_role", [(made.keys["sheet"], "")], "printers_proof")
    rule_on_pieces(made.home, SETTINGS, IDA, "reproduction", [(made.keys["sheet"], "")], "a screen over a screen")
    sheet, other = of(records(made.home, SETTINGS), "0002"), of(records(made.home, SETTINGS), "0001")
    assert (sheet.title.words, sheet.title.certainty, sheet.title.source.who) == ("The Quay", "stated", IDA)
    assert (sheet.kind_code, sheet.kind.certainty, sheet.kind.source.who) == ("printers_proof", "stated", IDA)
    assert [(r.words, r.source.who) for r in sheet.remarks] == [("a reproduction: a screen over a screen", IDA)]
    assert (other.kind.certainty, other.remarks) == ("suggested", ())
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    for name in ("records.jsonld", "records.lido.xml", "pieces.csv"):
        assert "a reproduction: a screen over a screen" in (tmp_path / name).read_text(), name
    assert complaints(ET.parse(tmp_path / "records.lido.xml").getroot()) == []


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib uses its own old name
def test_what_it_is_made_of_is_a_persons_word_with_how_sure(made: Archive, tmp_path: Path) -> None:
    """The newest word on any scan of the piece; LIDO: objectMaterialsTechWrap, DCMI: medium."""
    assert of(records(made.home, SETTINGS), "0002").materials is None
    whose = Whose("C", ("C", "D"), frozenset())
    for key, text, sure in (("sheet", "screen print", "possible"), ("back", "offset lithograph on paper", "probable")):
        state_materials(made.home, IDA, made.keys[key], whose, text, sure)
    with pytest.raises(Withheld):
        state_materials(made.home, IDA, made.keys["other"], whose, "paper", "certain")
    told = of(records(made.home, SETTINGS), "0002").materials
    assert (told.words, told.certainty, told.source.who) == ("offset lithograph on paper", "probable", IDA)
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    root = ET.parse(tmp_path / "records.lido.xml").getroot()
    assert complaints(root) == []
    assert [e.text for e in root.iter(f"{LIDO}displayMaterialsTech")] == ["offset lithograph on paper (probable)"]
    graph = rdflib.Graph().parse(data=(tmp_path / "records.jsonld").read_text(), format="json-ld")
    assert [str(o) for o in graph.objects(predicate=DCTERMS.medium)] == ["offset lithograph on paper"]
    row = next(r for r in csv.DictReader((tmp_path / "pieces.csv").read_text().splitlines()) if r["Piece"] == "0002")
    assert (row["Materials and technique"], row["Materials certainty"]) == ("offset lithograph on paper", "probable")
    assert "offset lithograph on paper (probable) [" in draft(of(records(made.home, SETTINGS), "0002"), SETTINGS)


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib uses its own old name
def test_the_title_as_inscribed_is_the_largest_lettering_with_its_place(home: Home, tmp_path: Path) -> None:
    """Letter by letter as it was read, and apart from a title that somebody gave."""
    written, sheet, film = Written(home), received("B1/0001.tif"), received("B1/0002.tif")
    read = reading(lines=[line("the Grey", Box(100, 60, 700, 80)), line("HARBOUR", Box(90, 160, 720, 90)),
                          line("small print", Box(90, 400, 200, 10))])  # fmt: skip
    written.consignment(sheet, film)
    written.run()
    for scan, kind in ((sheet, "finished_sheet"), (film, "film_negative")):
        d = dossier(scan)
        size = replace(d.measured, format="us_1sh_new")
        written.looked(scan, (d.rendered, classified(kind), read, size, d.features, Parsed(())), check=checked())
    one, other = records(home, SETTINGS).pieces
    assert one.inscribed and other.inscribed is None, "lettering on film may be a note"
    assert (one.inscribed.words, one.inscribed.certainty) == ("the Grey / HARBOUR", "suggested")
    assert one.inscribed.at == (PartKey(sheet.digest, 1), Box(90, 60, 720, 190))
    assert one.title is None, "what is written on it is no title that somebody gave it"
    assert (one.format.words, one.format.certainty) == ("US one sheet (newer)", "suggested")
    export_records(home, SETTINGS, tmp_path, made_at=AT)
    (row, _) = csv.DictReader((tmp_path / "pieces.csv").read_text().splitlines())
    assert (row["Title as inscribed"], row["Format"], row["Title"]) == (
        "the Grey / HARBOUR",
        "US one sheet (newer)",
        "",
    )
    assert (
        "title as inscribed: Kinfold (suggested), the largest lettering, read with 0.95; B1/0001.tif" in row["Sources"]
    )
    graph = rdflib.Graph().parse(tmp_path / "records.jsonld")
    assert "the Grey / HARBOUR" in {str(o) for o in graph.objects()}
    lido = ET.parse(tmp_path / "records.lido.xml")
    assert "the Grey / HARBOUR" in [e.text for e in lido.iter(f"{LIDO}inscriptionTranscription")]
    assert not complaints(lido.getroot())
    rule_on_pieces(home, SETTINGS, IDA, "set_format", [(one.images[0].key, "")], "us_half")
    ruled = records(home, SETTINGS).pieces[0].format
    assert (ruled.words, ruled.certainty, ruled.source.who) == ("US half sheet", "stated", IDA)


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib uses its own old name
def test_another_design_of_the_campaign_is_a_persons_word(home: Home, tmp_path: Path) -> None:
    a = archive(home, tmp_path / "in", ("one", "two"))
    decide(a.home, SETTINGS, IDA, "join", [a.keys["text 0"], a.keys["text 1"]], {})
    first = [a.keys[n] for n in ("painting", "sheet", "back", "film")]
    both = [*first, a.keys["text 0"], a.keys["text 1"]]
    decide(a.home, SETTINGS, "Ore Vann", "same_campaign", both, {"first": len(first)})
    found = {f.code: f for f in records(a.home, SETTINGS, Wanted("C")).families}
    code = a.family()
    (other,) = [c for c in found if c != code]
    (design,) = found[code].designs
    assert (design.code, design.certainty, design.source.who) == (other, "confirmed", "Ore Vann")
    assert [d.code for d in found[other].designs] == [code]
    assert records(a.home, SETTINGS, Wanted("D")).families == (), "C's families are no business of D"
    export_records(a.home, SETTINGS, tmp_path / "out", Wanted("C"), AT)
    graph = rdflib.Graph().parse(data=(tmp_path / "out/records.jsonld").read_text(), format="json-ld")
    assert f"{code} is another design of the campaign of {other}" in set(
        map(str, graph.objects(predicate=DCTERMS.description))
    )
    rows = list(csv.DictReader((tmp_path / "out/families.csv").read_text().splitlines()))
    assert {r["Other designs of the campaign"] for r in rows} == {f"{c} (confirmed)" for c in (code, other)}


def test_lido_holds_its_parts_in_the_order_of_its_schema(made: Archive, tmp_path: Path) -> None:
    """Order after LIDO 1.1 (ICOM CIDOC), complex types descriptiveMetadata and objectIdentificationWrap."""
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    root = ET.parse(tmp_path / "records.lido.xml").getroot()
    (sheet,) = [r for r in root if r.findtext(f"{LIDO}lidoRecID") == "C/B1/0002"]
    told = sheet.find(f"{LIDO}descriptiveMetadata")
    order = ["objectClassificationWrap", "objectIdentificationWrap", "eventWrap", "objectRelationWrap"]
    assert [e.tag.removeprefix(LIDO) for e in told] == order
    known = ["titleWrap", "inscriptionsWrap", "repositoryWrap", "displayStateEditionWrap", "objectDescriptionWrap",
             "objectMeasurementsWrap"]  # fmt: skip
    found = [e.tag.removeprefix(LIDO) for e in told[1]]
    assert found == [k for k in known if k in found] and "titleWrap" in found
    assert sheet.find(f".//{LIDO}roleActor/{LIDO}term").text == "printer"
    assert sheet.find(f".//{LIDO}recordWrap/{LIDO}recordID").text == "C/B1/0002"


def test_the_workbook_has_dates_a_frozen_head_and_no_formula(made: Archive, tmp_path: Path) -> None:
    export_records(made.home, SETTINGS, tmp_path, made_at=AT)
    book = openpyxl.load_workbook(tmp_path / "records.xlsx")
    assert book.sheetnames == ["pieces", "families", "marks", "relations"]
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert {c.data_type for row in sheet.iter_rows() for c in row} <= {"s", "n", "d"}
    head = [c.value for c in book["pieces"][1]]
    assert book["pieces"].cell(2, head.index("Received") + 1).value.date().isoformat() == AT[:10]


def test_the_same_ledger_gives_the_same_bytes_but_for_the_stated_time(made: Archive, tmp_path: Path) -> None:
    for name in ("one", "two"):
        export_records(made.home, SETTINGS, tmp_path / name, made_at=AT)
    export_records(made.home, SETTINGS, tmp_path / "later", made_at="2027-01-02T03:04:05+00:00")
    for path in sorted((tmp_path / "one").iterdir()):
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name
        if path.suffix in (".csv", ".xml"):
            assert path.read_bytes() == (tmp_path / "later" / path.name).read_bytes(), path.name


@pytest.mark.filterwarnings("ignore:ConjunctiveGraph is deprecated")  # rdflib uses its own old name
def test_hostile_text_is_inert_in_every_format(home: Home, tmp_path: Path) -> None:
    a = archive(home, tmp_path / "in", HOSTILE)
    accepted(a, *(f"text {n}" for n in range(len(HOSTILE))))
    export_records(a.home, SETTINGS, tmp_path / "out", made_at=AT)
    read = ET.parse(tmp_path / "out/records.lido.xml").getroot()
    assert not read.findall(".//script") and "<script>alert(1)</script>" in "".join(read.itertext())
    graph = rdflib.Graph().parse(data=(tmp_path / "out/records.jsonld").read_text(), format="json-ld")
    assert any(str(o) == "=1+1" for o in graph.objects())  # no spreadsheet reads this: it stays as it is
    for name in ("pieces", "marks"):
        rows = list(csv.reader(io.StringIO((tmp_path / f"out/{name}.csv").read_text(), newline="")))
        assert {len(r) for r in rows} == {len(rows[0])}
        assert not any(c.startswith(("=", "+", "@", "\t", "\n")) for r in rows for c in r)
    book = openpyxl.load_workbook(tmp_path / "out/records.xlsx")
    assert {c.data_type for s in book for row in s.iter_rows() for c in row} <= {"s", "n", "d"}
    assert all(c.hyperlink is None for s in book for row in s.iter_rows() for c in row)
    assert not set(everything(tmp_path / "out")) & set("\x00\u202e")


def test_another_system_names_the_columns(made: Archive, tmp_path: Path) -> None:
    folder = tmp_path / "config"
    folder.mkdir()
    for path in CONFIG.iterdir():
        (folder / path.name).write_bytes(path.read_bytes())
    text = (
        (CONFIG / "records.toml")
        .read_text()
        .replace('"Identifier" = "identifier"\n"Consignment"', '"OBJ_NO" = "identifier"\n"Consignment"')
    )
    (folder / "records.toml").write_text(text)
    export_records(made.home, load_config(folder), tmp_path / "out", made_at=AT)
    assert (tmp_path / "out/pieces.csv").read_text().startswith("OBJ_NO,Consignment,")


def test_refusals(made: Archive, tmp_path: Path) -> None:
    for wanted in (Wanted("nobody"), Wanted(family="F-NONE")):
        with pytest.raises(UsageError):
            records(made.home, SETTINGS, wanted)
    (tmp_path / "file").write_text("x")
    with pytest.raises(HomeError, match="cannot be written"):
        export_records(made.home, SETTINGS, tmp_path / "file")
    assert json.dumps(sorted(p.name for p in tmp_path.iterdir())) == '["file", "home"]'
