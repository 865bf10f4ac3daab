"""The committed sample against its own truth: boxes inside pictures, sums that add up, members that exist."""

import csv
import hashlib
import re
from collections import Counter
from pathlib import Path

import pytest
import pyvips
from PIL import Image

HERE = Path(__file__).resolve().parents[2] / "sample_batch"
SCANS, EXPECTED = HERE / "scans", HERE / "expected"
MEGABYTE = 1_000_000

# Kinds and finding codes that the brief for the sample names.
KINDS = {
    *("film_negative", "film_transparency", "glass_negative", "separation", "photographic_proof", "printers_proof"),
    *("finished_sheet", "artwork", "rough", "paste_up", "lettering", "photograph", "still", "printed_matter"),
    *("reverse", "document", "target", "unknown"),
}
MARKS = {
    *("printer", "certificate", "release_code", "visa", "deposit", "copyright", "style", "origin", "film_base", "job"),
    *("web", "union"),
}


def rows(name: str) -> list[dict[str, str]]:
    with (EXPECTED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def files() -> list[str]:
    return sorted(p.relative_to(SCANS).as_posix() for p in SCANS.rglob("*") if p.is_file())


@pytest.fixture(scope="module")
def sizes() -> dict[str, tuple[int, int]]:
    """Width and height of every stored file, read from its header."""
    found = {}
    for name in files():
        if name.endswith("_0032_front.tif"):
            with Image.open(SCANS / name) as image:
                found[name] = image.size
        else:
            image = pyvips.Image.new_from_file(str(SCANS / name))
            found[name] = (image.width, image.height)
    return found


def test_batch_is_within_its_size_and_large_enough() -> None:
    names = files()
    total = sum((SCANS / n).stat().st_size for n in names)
    assert total <= 40 * MEGABYTE
    assert len(names) >= 70
    boxes = {n.split("/")[0] for n in names if "/" in n}
    assert len(boxes) == 5
    families = {r["family"] for r in rows("families")}
    stills = {r["scan"] for r in rows("scans") if r["kind"] == "still"}
    assert len(families) + len(stills) >= 15


def test_every_file_has_its_truth_and_the_other_way_round() -> None:
    assert sorted({r["scan"] for r in rows("scans")}) == files()
    assert {r["kind"] for r in rows("scans")} <= KINDS
    assert KINDS - {r["kind"] for r in rows("scans")} == set()


@pytest.mark.parametrize("table", ["marks", "scans"])
def test_boxes_lie_inside_their_scans(table: str, sizes: dict[str, tuple[int, int]]) -> None:
    for row in rows(table):
        width, height = sizes[row["scan"]]
        left, top, wide, high = (int(row[k]) for k in ("left", "top", "width", "height"))
        assert left >= 0 and top >= 0 and wide > 0 and high > 0, row
        assert left + wide <= width + 1 and top + high <= height + 1, row


def test_differences_lie_inside_both_scans(sizes: dict[str, tuple[int, int]]) -> None:
    found = rows("differences")
    assert {r["kind"] for r in found} >= {"redrawn", "scaled", "moved", "covered", "pasted", "cropped"}
    for row in found:
        for one in "ab":
            width, height = sizes[row[f"scan_{one}"]]
            left, top, wide, high = (int(row[f"{k}_{one}"]) for k in ("left", "top", "width", "height"))
            assert left >= 0 and left + wide <= width + 1, row
            assert top >= 0 and top + high <= height + 1, row


def test_families_have_two_pieces_and_real_scans() -> None:
    known = {(r["scan"], r["part"]) for r in rows("scans")}
    pieces: dict[str, set[tuple[str, str]]] = {}
    for row in rows("families"):
        assert (row["scan"], row["part"]) in known
        pieces.setdefault(row["family"], set()).add((row["box"], row["piece"]))
    assert all(len(p) >= 2 for p in pieces.values()), pieces


def test_main_family_is_spread_over_boxes_and_kinds() -> None:
    main = [r for r in rows("families") if r["family"] == "salt-a"]
    assert {"artwork", "film_negative", "printers_proof", "finished_sheet"} <= {r["role"] for r in main}
    assert len({r["box"] for r in main}) >= 4
    negative = next(r for r in rows("scans") if r["scan"].endswith("_0023_front.tif"))
    assert (negative["polarity"], negative["mirrored"]) == ("negative", "true")


def test_pairs_that_share_an_element_are_in_no_common_family() -> None:
    families = {(r["scan"], r["part"]): r["family"] for r in rows("families")}
    shared = rows("matches")
    assert shared and {r["relation"] for r in shared} == {"shared_element"}
    for row in shared:
        a, b = families.get((row["scan_a"], row["part_a"])), families.get((row["scan_b"], row["part_b"]))
        assert a is None or b is None or a != b


def test_box_list_adds_up() -> None:
    with (HERE / "box-list.csv").open(encoding="utf-8", newline="") as file:
        listed = list(csv.DictReader(file))
    received = {(r["box"], r["piece"]) for r in rows("scans")}
    named = {(r["box"], r["piece"]) for r in listed}
    held = {(r["box"], r["piece"]) for r in listed if r["held"] == "yes"}
    assert all(r["why"] for r in listed if r["held"] == "yes")
    sums = Counter[str]()
    for row in rows("boxes"):
        box = row["box"]
        assert int(row["listed"]) == sum(b == box for b, _ in named)
        assert int(row["received"]) == sum(b == box for b, _ in received)
        assert int(row["listed"]) == int(row["received"]) - int(row["extra"]) + int(row["missing"]) + int(
            row["not_scanned"]
        )
        sums.update({k: int(row[k]) for k in ("missing", "extra", "not_scanned")})
    assert len(named - received - held) == sums["missing"] == 1
    assert len(held) == sums["not_scanned"] == 2
    assert len(received - named) == sums["extra"]


def test_exact_copy_is_exact() -> None:
    digests = Counter(hashlib.sha256((SCANS / n).read_bytes()).hexdigest() for n in files())
    assert sorted(digests.values(), reverse=True)[:2] == [2, 1]
    assert sum(r["code"] == "duplicate_file" for r in rows("findings")) == 1


def test_planted_findings_are_all_there() -> None:
    codes = Counter(r["code"] for r in rows("findings"))
    once = ("truncated", "blank", "out_of_focus", "duplicate_file", "re_scan", "no_resolution", "missing")
    assert all(codes[c] == 1 for c in once), codes
    assert codes["held"] == 2 and codes["possible_nitrate"] == 2


def test_bad_files_are_bad_and_odd_ones_odd() -> None:
    with Image.open(SCANS / "B03/2026-014_B03_0032_front.tif") as image, pytest.raises(OSError):
        image.load()
    with Image.open(SCANS / "B02/2026-014_B02_0058_front.jpg") as image:
        assert image.mode == "CMYK"
    with Image.open(SCANS / "B02/2026-014_B02_0060_front.jpg") as image:
        # Pillow reports 72 where a file says nothing, so ask the file's own tags.
        assert image.info["jfif_unit"] == 0 and 0x011A not in image.getexif()
    deep = pyvips.Image.new_from_file(str(SCANS / "B03/2026-014_B03_0023_front.tif"))
    assert (deep.format, deep.bands) == ("ushort", 3)
    with Image.open(SCANS / "B02/2026-014_B02_0062_front.jpg") as image:
        assert image.getexif()[0x0112] == 6


def test_ppi_in_the_files_is_the_true_one() -> None:
    for row in rows("scans"):
        if row["scan"].endswith(("_0060_front.jpg", "_0032_front.tif")):
            continue
        image = pyvips.Image.new_from_file(str(SCANS / row["scan"]))
        assert image.xres * 25.4 == pytest.approx(float(row["true_ppi"]), rel=0.005), row["scan"]


def test_paper_measures_what_the_truth_says() -> None:
    """Box of the part / ppi = size in mm, but for skew (under a degree), for linen and for halves of a sheet."""
    for row in rows("scans"):
        if "linen" in row["note"] or "half" in row["note"] or "p02" in row["scan"] or row["side"] == "detail":
            continue
        size = float(row["width_mm"]), float(row["height_mm"])
        size = size if row["rotation"] in ("0", "180") else size[::-1]
        seen = tuple(int(row[k]) / float(row["true_ppi"]) * 25.4 for k in ("width", "height"))
        for true, measured in zip(size, seen, strict=True):
            assert true * 0.995 - 1 <= measured <= true + 0.07 * max(size), row["scan"]


# Forms of printed codes by country, common practice as the domain notes collect it; not taken from config/.
SHAPES = {
    "release_code": r"(R ?)?\d\d/\d{1,4}",
    "visa": r"(VISA DE CENSURE N° \d{1,3} \d{3}|VISTO CENSURA N\. \d{5})",
    "deposit": r"(DÉPÔT LÉGAL .*19\d\d|DEPÓSITO LEGAL [A-Z]{1,2}\. [\d.]+-19\d\d)",
    "copyright": r"(©|COPYRIGHT) (19\d\d|M[MDCLXVI]+) .+",
    "style": r'STYLE "[A-D]"',
    "job": r"(JOB NO\.|REF\.) \d{4}",
    "film_base": r".*\b(SAFETY|NITRATE)\b.*",
    "printer": r"(PRINTED IN (ENGLAND|SCOTLAND) BY .+, .+|IMP\. .+, .+|DRUCK: .+, .+|.+ PTY\. LTD\. .+)",
    "origin": r"(LITHO|PRINTED) IN (U\.S\.A\.|ITALY)",
    "certificate": r'("?\w+"? CERTIFICATE|RATED \w+|INTERDIT .+ ANS|V\.M\. \d+|FREIGEGEBEN AB \d+ JAHREN)',
}


def test_marks_have_the_forms_of_their_countries() -> None:
    found = rows("marks")
    assert {r["kind"] for r in found} <= MARKS
    assert {r["kind"] for r in found} == set(SHAPES)
    for row in found:
        assert re.fullmatch(SHAPES[row["kind"]], row["text"].upper()), row["text"]


def test_small_lines_can_be_read() -> None:
    """Most lines stand 10 px high or more at their scan's ppi, none below 7."""
    ppi = {r["scan"]: float(r["true_ppi"]) for r in rows("scans")}
    heights = [float(r["type_height_mm"]) * ppi[r["scan"]] / 25.4 for r in rows("marks")]
    assert min(heights) >= 7
    assert sum(h >= 10 for h in heights) >= 0.6 * len(heights)
