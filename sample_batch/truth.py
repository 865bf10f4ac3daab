"""The truth of a painted consignment as tables with the names and columns of the exports, as far as they apply."""

import csv
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from pathlib import Path

import numpy as np

from sample_batch.art.design import Edits
from sample_batch.make import size_of
from sample_batch.page import Box, Page, carry_box
from sample_batch.scanner import Scanned
from sample_batch.story import Consignment, Piece, Shot

COLUMNS = {
    "scans": "consignment box piece side scan part kind polarity rotation mirrored width_mm height_mm format true_ppi "
    "left top width height note",
    "marks": "scan part kind text value left top width height type_height_mm",
    "families": "family title piece scan part role box campaign",
    "findings": "box piece scan part code",
    "boxes": "box listed received missing extra doubled not_scanned",
    "matches": "scan_a part_a scan_b part_b relation",
    "differences": "scan_a part_a scan_b part_b kind element "
    "left_a top_a width_a height_a left_b top_b width_b height_b factor",
}


@dataclass(frozen=True, slots=True)
class Seen:
    """What the truth keeps of one part of one scan: everything but the pixels."""

    path: str
    part: int
    piece: str
    page: Page
    box: Box
    shape: tuple[int, int]


def remember(shot: Shot, scanned: Scanned) -> list[Seen]:
    """Return what the truth needs of a scan, without its pixels."""
    times = round(scanned.ppi / shot.ppi)
    shape = tuple(side * times for side in scanned.pixels.shape[:2])
    nothing = np.zeros((1, 1, 3), np.float32)
    seen = []
    for number, (piece, part) in enumerate(zip(shot.pieces, scanned.parts, strict=True), start=1):
        page = part.page
        page = Page(nothing, page.ppi, page.marks, page.art, page.elements, page.added, None, page.shown)
        seen.append(Seen(shot.path, number, piece, page, part.box, (int(shape[0]), int(shape[1]))))
    return seen


def write_tables(to: Path, story: Consignment, seen: Sequence[Seen]) -> None:
    """Write every table of ``COLUMNS`` into the folder ``to``, rows sorted."""
    to.mkdir(parents=True, exist_ok=True)
    tables = {
        "scans": scan_rows(story, seen),
        "marks": mark_rows(story, seen),
        "families": family_rows(story, seen),
        "findings": finding_rows(story),
        "boxes": box_rows(story),
        "matches": shared_rows(story, seen),
        "differences": difference_rows(story, seen),
    }
    for name, rows in tables.items():
        write_table(to / f"{name}.csv", COLUMNS[name].split(), rows)


def write_table(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write ``rows`` with a head of ``columns`` as UTF-8 CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(rows)


def _ltwh(box: Box) -> tuple[int, int, int, int]:
    left, top = round(box[0]), round(box[1])
    return left, top, max(1, round(box[2]) - left), max(1, round(box[3]) - top)


def kind_of(piece: Piece, shot: Shot) -> tuple[str, str]:
    """Return kind and polarity of one picture of ``piece``."""
    if shot.side == "verso":
        return "reverse", "positive"
    if piece.kind in ("film_negative", "glass_negative"):
        return piece.kind, "negative"
    return piece.kind, "unknown" if piece.kind in ("unknown", "target") else "positive"


def scan_rows(story: Consignment, seen: Sequence[Seen]) -> list[tuple[object, ...]]:
    """One row a part: what it is, how it lies, and its true size (of the paper or film, turned upright)."""
    shots = {s.path: s for s in story.shots}
    rows = []
    for s in seen:
        shot, piece = shots[s.path], story.piece(s.piece)
        kind, polarity = kind_of(piece, shot)
        wide, high = (round(v, 1) for v in size_of(piece))
        rows.append(
            (
                *(story.code, piece.box, piece.name, shot.side, s.path, s.part, kind, polarity),
                *(shot.setting.rotation, str(shot.setting.mirrored).lower(), wide, high, piece.format),
                *(round(s.page.ppi, 3), *_ltwh(s.box), shot.note),
            )
        )
    return sorted(rows, key=lambda r: (r[4], r[5]))


def mark_rows(story: Consignment, seen: Sequence[Seen]) -> list[tuple[object, ...]]:
    """Every print code that can be seen, with the box of its line in stored pixels; a cut file shows none."""
    cut = {shot.path for shot in story.shots if "truncated" in shot.findings}
    rows = [
        (s.path, s.part, m.kind, m.text, m.value, *_ltwh(m.box), m.type_height_mm)
        for s in seen
        if s.path not in cut
        for m in s.page.marks
    ]
    return sorted(rows, key=lambda r: (r[0], r[1], r[2], r[6], r[5]))


def family_rows(story: Consignment, seen: Sequence[Seen]) -> list[tuple[object, ...]]:
    """The pieces of one design; designs that only one piece shows are no family, and one family alone no campaign."""
    shots = {s.path: s for s in story.shots}
    members: dict[str, set[str]] = {}
    for s in seen:
        piece = story.piece(s.piece)
        if piece.design:
            members.setdefault(piece.design, set()).add(piece.code)
    films = Counter(story.design(key).campaign for key, pieces in members.items() if len(pieces) > 1)
    rows = []
    for s in seen:
        piece = story.piece(s.piece)
        if not piece.design or len(members[piece.design]) < 2:
            continue
        design = story.design(piece.design)
        kind, campaign = kind_of(piece, shots[s.path])[0], design.campaign if films[design.campaign] > 1 else ""
        rows.append((design.key, design.title, piece.name, s.path, s.part, kind, piece.box, campaign))
    return sorted(rows, key=lambda r: (r[0], r[2], r[3], r[4]))


def finding_rows(story: Consignment) -> list[tuple[object, ...]]:
    """What a pipeline ought to say of files and of pieces without one."""
    rows: list[tuple[object, ...]] = []
    for shot in story.shots:
        piece = story.piece(shot.pieces[0])
        rows += [(piece.box, piece.name, shot.path, 1, code) for code in shot.findings]
    scanned = {code for shot in story.shots for code in shot.pieces}
    for piece in story.pieces:
        if piece.code not in scanned:
            rows.append((piece.box, piece.name, "", 0, "held" if piece.held else "missing"))
    return sorted(rows)


def box_rows(story: Consignment) -> list[tuple[object, ...]]:
    """Listed against received. ``doubled`` counts files too many: exact copies and further scans of one side."""
    scanned = {code for shot in story.shots for code in shot.pieces}
    rows = []
    for box in sorted({p.box for p in story.pieces}):
        pieces = [p for p in story.pieces if p.box == box]
        listed = {p.name for p in pieces if p.listed}
        received = {p.name for p in pieces if p.code in scanned}
        held = {p.name for p in pieces if p.held}
        missing, extra = listed - received - held, received - listed
        doubled = sum(
            1
            for shot in story.shots
            if story.piece(shot.pieces[0]).box == box and {"duplicate_file", "re_scan"} & set(shot.findings)
        )
        rows.append((box, len(listed), len(received), len(missing), len(extra), doubled, len(held)))
    return rows


def shared_rows(story: Consignment, seen: Sequence[Seen]) -> list[tuple[object, ...]]:
    """Pairs of parts that share an element and no more (``story.kin`` names the two pieces)."""
    shots = {s.path: s for s in story.shots}
    fronts: dict[str, list[tuple[str, int]]] = {}
    for s in seen:
        if shots[s.path].side == "recto":
            fronts.setdefault(s.piece, []).append((s.path, s.part))
    rows = []
    for one, other in story.kin:
        for pair in product(fronts.get(one, ()), fronts.get(other, ())):
            first, second = sorted(pair)
            rows.append((*first, *second, "shared_element"))
    return sorted(rows)


def difference_rows(story: Consignment, seen: Sequence[Seen]) -> list[tuple[object, ...]]:
    """Planted differences between every two fronts of a family, without elements that one of them does not show."""
    shots = {s.path: s for s in story.shots}
    fronts = [
        s for s in seen if s.page.art is not None and shots[s.path].side == "recto" and story.piece(s.piece).design
    ]
    fronts.sort(key=lambda s: (s.path, s.part))
    families: dict[str, list[Seen]] = {}
    for s in fronts:
        families.setdefault(story.piece(s.piece).design, []).append(s)
    rows: list[tuple[object, ...]] = []
    for a, b in (pair for some in families.values() for pair in combinations(some, 2)):
        pa, pb = story.piece(a.piece), story.piece(b.piece)
        if pa.code != pb.code:
            rows += [(a.path, a.part, b.path, b.part, *row) for row in _differences(a, b, pa.edits, pb.edits)]
    return rows


def _differences(a: Seen, b: Seen, ea: Edits, eb: Edits) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []

    def add(kind: str, name: str, factor: float | str = "") -> None:
        fa, fb = a.page.elements.get(name), b.page.elements.get(name)
        fa, fb = fa or fb, fb or fa
        if fa is None or fb is None or not (_is_shown(fa, a) and _is_shown(fb, b)):
            return
        rows.append((kind, name, *_stored(fa, a), *_stored(fb, b), factor))

    for name in sorted(set(ea.redraw) ^ set(eb.redraw)):
        add("redrawn", name)
    sa, sb = dict(ea.scale), dict(eb.scale)
    for name in sorted(set(sa) | set(sb)):
        factor = sb.get(name, 1.0) / sa.get(name, 1.0)
        if factor != 1.0:
            add("scaled", name, round(factor, 4))
    ma, mb = {n: (x, y) for n, x, y in ea.move}, {n: (x, y) for n, x, y in eb.move}
    for name in sorted(set(ma) | set(mb)):
        if ma.get(name, (0, 0)) != mb.get(name, (0, 0)):
            add("moved", name)
    for name in sorted(set(ea.drop) ^ set(eb.drop)):
        add("removed", name)
    for name in sorted(set(ea.covered) ^ set(eb.covered)):
        add("covered", name)
    if ea.signature != eb.signature:
        add("removed", "signature")
    for one, other, flipped in ((a, b, False), (b, a, True)):
        for name, box in one.page.added.items():
            if not name.startswith("strip"):
                continue
            fraction = carry_box(np.linalg.inv(one.page.art), box)
            if name not in other.page.added and _is_shown(fraction, other):
                here, there = _ltwh(box), _stored(fraction, other)
                rows.append(("pasted", name, *(there if flipped else here), *(here if flipped else there), ""))
    if max(abs(x - y) for x, y in zip(a.page.shown, b.page.shown, strict=True)) > 0.02:
        both = _overlap(a.page.shown, b.page.shown)
        rows.append(("cropped", "common area", *_stored(both, a), *_stored(both, b), ""))
    return rows


def _overlap(one: Box, other: Box) -> Box:
    return max(one[0], other[0]), max(one[1], other[1]), min(one[2], other[2]), min(one[3], other[3])


def _is_shown(fraction: Box, seen: Seen) -> bool:
    cut = _overlap(fraction, seen.page.shown)
    whole = (fraction[2] - fraction[0]) * (fraction[3] - fraction[1])
    if max(0.0, cut[2] - cut[0]) * max(0.0, cut[3] - cut[1]) < 0.6 * whole:
        return False
    left, top, right, bottom = carry_box(seen.page.art, fraction)
    return 0 <= (left + right) / 2 < seen.shape[1] and 0 <= (top + bottom) / 2 < seen.shape[0]


def _stored(fraction: Box, seen: Seen) -> tuple[int, int, int, int]:
    box = carry_box(seen.page.art, fraction)
    h, w = seen.shape
    return _ltwh((max(0.0, box[0]), max(0.0, box[1]), min(float(w), box[2]), min(float(h), box[3])))
