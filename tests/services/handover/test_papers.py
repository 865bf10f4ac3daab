"""Papers: what stands in them is read back from the PDF, by PDFium; codes by ZXing; plans by the printed table."""

from pathlib import Path

import pypdfium2
import pytest
import typst
import zxingcpp

from intake.config.sampling import SamplingRules
from intake.errors import ConfigError, UsageError
from intake.imaging.font import font_folder
from intake.services.boxlist import read_box_list
from intake.services.handover import typeset as t
from intake.services.handover.papers import export_papers
from intake.services.handover.record import Wanted
from intake.services.home import Home
from intake.services.places import move_piece
from intake.store import decisions
from tests.made import AT, CONFIG, SETTINGS, section
from tests.services.handover.archive import AUTO, IDA, LETTER, SECRET, Archive, archive
from tests.services.handover.test_records import HOSTILE

FONTS = '("Libertinus Serif", "DejaVu Sans Mono", "Noto Sans CJK JP")'  # of config/papers.typ
NAMES = {
    "receipt", "schedule-B1", "schedule-B2", "box-labels", "hold-list", "hazards", "rescan-order", "pick-list",
    "return-list", "spot-check", "sampling", "lists",
}  # fmt: skip


def text(path: Path) -> str:
    with pypdfium2.PdfDocument(path) as pdf:
        pages = [page.get_textpage().get_text_bounded() for page in pdf]
    return " ".join(" ".join(pages).replace("\u200b", "").replace("\ufffe", "").split())


def test_every_paper_of_a_consignment_is_there_and_of_its_owner_alone(made: Archive, tmp_path: Path) -> None:
    move_piece(made.home, "C", "B1", "0001", "shelf 7", IDA)
    assert export_papers(made.home, SETTINGS, tmp_path / "p", Wanted("C"), made_at=AT) == len(NAMES)
    said = {p.stem: text(p) for p in (tmp_path / "p/C").glob("*.pdf")}
    assert set(said) == NAMES
    for name, words in said.items():
        assert SECRET not in words and "0009" not in words and AUTO.text not in words and LETTER not in words, name
    assert "sticky roll, not to be opened" in said["receipt"] and "no scan came" in said["receipt"]
    assert "paper found in the box: not pictured here" in said["schedule-B1"]
    assert "held: may be nitrate film" in said["schedule-B2"] and "Possible cellulose nitrate" in said["schedule-B2"]
    assert "shelf 7" in said["pick-list"] and "shelf 7" in said["return-list"]
    assert "Roll, stuck" in said["return-list"], "what was never scanned goes back too"
    assert "kept back unseen: sticky roll" in said["lists"] and "B2 / 0004" in said["lists"]
    assert "fire" in said["hazards"] and "conservator" in said["hazards"]


def test_the_hold_list_is_taken_in_by_receive(made: Archive, tmp_path: Path) -> None:
    export_papers(made.home, SETTINGS, tmp_path / "p", Wanted("C"), made_at=AT)
    lines = read_box_list(tmp_path / "p/C/hold-list.csv")
    assert [(x.piece, x.held) for x in lines if x.box == "B2"] == [("0004", False), ("0005", True), ("0006", False)]


def test_the_code_on_the_label_says_the_box(made: Archive, tmp_path: Path) -> None:
    export_papers(made.home, SETTINGS, tmp_path / "p", Wanted("C"), made_at=AT)
    with pypdfium2.PdfDocument(tmp_path / "p/C/box-labels.pdf") as pdf:
        codes = [c.text for page in pdf for c in zxingcpp.read_barcodes(page.render(scale=2).to_numpy())]
    assert sorted(codes) == ["C/B1", "C/B2"]


@pytest.mark.parametrize(("paper", "points"), [("a4", (595.28, 841.89)), ("us-letter", (612, 792))])
def test_the_family_on_either_paper(made: Archive, tmp_path: Path, paper: str, points: tuple[float, float]) -> None:
    """Sizes: ISO 216 A4 210 x 297 mm; ANSI/ASME Y14.1 Letter 8.5 x 11 in."""
    count = export_papers(made.home, SETTINGS, tmp_path, Wanted("C", made.family()), paper, AT)
    (dossier,) = tmp_path.glob("dossier-*.pdf")
    assert count == 4 and len(list(tmp_path.glob("condition-*.pdf"))) == 3
    words = text(dossier)
    assert "confirmed by Ida Marl" in words and "MARL AND SONS" in words and "1961" in words
    assert AUTO.text not in words and SECRET not in words
    report = text(next(p for p in tmp_path.glob("condition-*") if "0002" in p.name))
    assert "near mint" in report and "B+" in report and "printer: MARL AND SONS" in report
    with pypdfium2.PdfDocument(dossier) as pdf:
        assert pdf[0].get_size() == pytest.approx(points, abs=0.5)
        assert pdf[0].render(scale=0.5).to_numpy().std() > 10, "an empty page"
        assert [o for page in pdf for o in page.get_objects() if o.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE], (
            "no picture"
        )


def test_places_that_a_person_put_stand_on_the_condition_report(made: Archive, tmp_path: Path) -> None:
    seen = {"sort": "tear", "box": [10, 20, 30, 40], "words": "", "unframed": True, "both_sides": True, "light": "day"}
    with made.home.database.write() as connection:
        decisions.add_decision(connection, AT, IDA, "add_place", [made.keys["sheet"]], seen)
    export_papers(made.home, SETTINGS, tmp_path, Wanted("C", made.family()), made_at=AT)
    report = text(next(p for p in tmp_path.glob("condition-*") if "0002" in p.name))
    assert f"3 {SETTINGS.condition.sorts['tear'].called} (confirmed)" in report


def test_what_differs_stands_in_the_dossier_with_a_crop_of_both(differing: Archive, tmp_path: Path) -> None:
    export_papers(differing.home, SETTINGS, tmp_path, Wanted("C", differing.family()), made_at=AT)
    (dossier,) = tmp_path.glob("dossier-*.pdf")
    words = text(dossier)
    assert "a line is covered" in words and "0.90" in words and "the other owner's" not in words
    with pypdfium2.PdfDocument(dossier) as pdf:
        images = [o for page in pdf for o in page.get_objects() if o.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE]
    assert len(images) == 3 + 2, "a card a piece, and a crop of either side"


@pytest.mark.parametrize("style", ["plain", "aam"])
def test_provenance_in_the_style_asked_for(made: Archive, tmp_path: Path, style: str) -> None:
    """Semicolon where one handed over to the next, full stop where that is not known, agents in parentheses: Yeide,
    Akinsha, Walsh, The AAM Guide to Provenance Research (2001)."""
    own = SETTINGS.model_copy(update={"papers": SETTINGS.papers.model_copy(update={"provenance": style})})
    export_papers(made.home, own, tmp_path, Wanted("C", made.family()), made_at=AT)
    report = text(next(p for p in tmp_path.glob("condition-*") if "0002" in p.name))
    line = "Owner before the consignor not stated. The consignor of C [1]; (The house, on consignment) [2]."
    assert (line in report) is (style == "aam")
    assert "Owner before the consignor not stated." in report and "Found in a box is not ownership." in report


def test_the_same_ledger_gives_the_same_papers(made: Archive, tmp_path: Path) -> None:
    for name in ("one", "two"):
        export_papers(made.home, SETTINGS, tmp_path / name, Wanted("C"), made_at=AT)
    for path in (tmp_path / "one/C").iterdir():
        assert path.read_bytes() == (tmp_path / "two/C" / path.name).read_bytes(), path.name


def test_hostile_text_is_printed_and_nothing_more(home: Home, tmp_path: Path) -> None:
    a = archive(home, tmp_path / "in", HOSTILE)
    export_papers(a.home, SETTINGS, tmp_path / "p", Wanted("C"), made_at=AT)
    words = text(tmp_path / "p/C/schedule-B3.pdf")
    for shown in ("=1+1", "<script>alert(1)</script>", '#read("x")', "]]> & <!--"):
        assert shown in words
    assert 600 <= words.count("x") < 700, "text is bounded"
    assert "\u202e" not in words


@pytest.mark.parametrize(
    ("words", "foot"),
    [
        ("東映の映画 龍", ""),
        ("Ωжא ع é", ""),
        ("한국 영화 说繁體", ""),
        ("ไทย 한", "3 letters could not be set here"),
        ("龍 ᚠ", "One letter could not be set here"),
    ],
)
def test_letters_that_cannot_be_set_are_owned_up_to(home: Home, tmp_path: Path, words: str, foot: str) -> None:
    a = archive(home, tmp_path / "in", (words,))
    export_papers(a.home, SETTINGS, tmp_path / "p", Wanted("C"), made_at=AT)
    said = text(tmp_path / "p/C/schedule-B3.pdf")
    assert foot in said and ("could not be set" in said) is bool(foot)
    assert "could not be set" not in text(tmp_path / "p/C/schedule-B1.pdf")


def test_what_is_said_of_letters_is_so() -> None:
    """Each is set by Typst and looked at: a letter that can be set is no box (the form of a private letter)."""

    def form(letter: str) -> bytes:
        page = f'#set page(width: 40pt, height: 40pt)\n#set text(font: {FONTS}, fallback: true)\n#"{letter}"'
        return typst.compile(page.encode(), font_paths=[str(font_folder())], ignore_system_fonts=True, format="png")

    boxes = {form("\U000f0000"), form("\ue123")}
    letters = "aéŁΩжЯאעع漢映龍ァひ。「。—“×½£©→ﾃ한힣국说說繁體🎞ไᚠ"
    assert {c for c in letters if form(c) in boxes} == t.unset(letters) == set("🎞ไᚠ")


def test_a_family_of_two_owners_is_shown_to_neither_without_a_permit(home: Home, tmp_path: Path) -> None:
    from intake.services.review import decide

    a = archive(home, tmp_path / "in")
    decide(a.home, SETTINGS, IDA, "join", [a.keys["painting"], a.keys["other"]], {})
    with pytest.raises(UsageError, match="not every owner permits"):
        export_papers(a.home, SETTINGS, tmp_path / "p", Wanted(family=a.family()), made_at=AT)
    export_papers(a.home, SETTINGS, tmp_path / "c", Wanted("C", a.family()), made_at=AT)
    (dossier,) = (tmp_path / "c").glob("dossier-*.pdf")
    said = text(dossier)
    assert "Pieces of the family that are not handed out: 1." in said and "0009" not in said
    assert SECRET not in said and "Title not stated" in said, "a title may be another owner's words"


def test_a_large_paper_comes_in_parts_and_no_row_is_lost() -> None:
    many = t.rows([("piece", 1.0)], [[f"{n:04}"] for n in range(45)])
    few = t.rows([("other", 1.0)], [["x"]])
    paper = t.Paper("List", "C", (t.caution("Mind"), t.text("words"), many, few, t.signatures("me")))
    parts = t.volumes(paper, 20)
    assert [p.title for p in parts] == [f"List (part {n} of 3)" for n in (1, 2, 3)]
    rows = [row[0] for p in parts for b in p.blocks if b["kind"] == "table" for row in b["rows"]]
    assert rows == [*(f"{n:04}" for n in range(45)), "x"]
    assert all(p.blocks[0]["kind"] == "caution" for p in parts) and parts[-1].blocks[-1]["kind"] == "sign"
    assert t.volumes(paper, 46) == [paper]


def test_a_template_that_cannot_be_set_is_refused_in_words(made: Archive, tmp_path: Path) -> None:
    broken = SETTINGS.model_copy(update={"paper_template": "#let x = ("})
    with pytest.raises(ConfigError, match=r"papers\.typ"):
        export_papers(made.home, broken, tmp_path / "p", Wanted("C"), made_at=AT)
    reaching = SETTINGS.model_copy(update={"paper_template": '#read("/../../kinfold.db")'})
    with pytest.raises(ConfigError, match=r"papers\.typ"):
        export_papers(made.home, reaching, tmp_path / "p", Wanted("C"), made_at=AT)
    assert not list((tmp_path / "p").rglob("*.pdf"))


@pytest.mark.parametrize(
    ("lot", "aql", "letter", "n", "accept"),
    [
        (400, "1.0", "H", 50, 1),
        (100, "0.65", "F", 20, 0),
        (150, "1.0", "E", 13, 0),  # arrow up: the plan of E with its own n
        (91, "1.5", "G", 32, 1),  # arrow down
        (151, "0.65", "F", 20, 0),
        (280, "1.0", "H", 50, 1),
        (281, "0.65", "J", 80, 1),
        (501, "1.0", "J", 80, 2),
        (3200, "4.0", "K", 125, 10),
        (5000, "1.0", "L", 200, 5),
        (35000, "2.5", "M", 315, 14),
    ],
)
def test_plans_of_the_published_table(lot: int, aql: str, letter: str, n: int, accept: int) -> None:
    """ISO 2859-1 single normal, level II, as in the MIL-STD-105E table that it shares."""
    plan = section(SamplingRules, CONFIG / "sampling.toml").plan(lot, aql)
    assert (plan.letter, plan.n, plan.accept, plan.reject) == (letter, n, accept, accept + 1)


@pytest.mark.parametrize("lot", [0, 1, 13, 30, 40_000])
def test_where_the_table_is_silent_every_scan_is_looked_at(lot: int) -> None:
    plan = SETTINGS.sampling.plan(lot)
    assert (plan.n, plan.accept) == (lot, 0)
