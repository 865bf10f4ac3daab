"""Pairs of pictures of one design with known edits, as the differences bench looks at them. The seed decides all.

Designs are paintings of our own painter and photographs of the scikit-image wheel (``pictures.fetch`` for the others);
edits are planted in the second, then both are treated as film, print or a photo by hand, with the homography known.
Of the sample batch only its paintings are used, not its film and press.
"""

import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from sample_batch.art.design import GENRES, Edits, elements, paint

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Corners = tuple[float, float, float, float]
FONTS = ("anton-latin-400-normal", "oswald-latin-700-normal", "libre-baskerville-latin-700-normal")
PHOTOS = ("astronaut.png", "coffee.png", "chelsea.png", "rocket.jpg", "retina.jpg", "ihc.png", "motorcycle_left.png")
LINES = (
    "A NEW TALE OF THE MARSH COUNTRY", "COMING IN THE SPRING", "FROM THE MAKERS OF QUILL", "ONE NIGHT AT VESPER HALL",
    "IN GLORIOUS COLOUR", "SEE IT FROM THE BEGINNING", "THE LANTERN MEN RIDE AGAIN", "NOW WITH FULL SOUND",
)  # fmt: skip
STRIPS = ("GANTRY HALL  FRIDAY TO SUNDAY", "THIS WEEK ONLY", "FATHOM PICTURE HOUSE", "HELD OVER  SECOND WEEK")
VIEWS = ("plain", "negative", "mono negative", "transparency", "proof", "print", "phone")


@dataclass(frozen=True, slots=True)
class Planted:
    """One edit: its kind, its box on each picture (left, top, right, bottom; pixels), and the factor of a scaled
    one."""

    kind: str
    name: str
    box_a: Corners
    box_b: Corners
    factor: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """One picture: its pixels, the homography from art pixels to its own, what of the art it shows (art pixels), and
    whether light and dark are exchanged."""

    pixels: Picture
    matrix: Floats
    shown: Corners
    negative: bool
    mirrored: bool
    view: str


@dataclass(frozen=True, slots=True, eq=False)
class MadePair:
    """Two shots of one design, the homography as matching would give it, the edits, and the lines that stand on each.

    ``partly`` are edits that are cropped on one of them or hidden under another edit: a difference told there is not
    false, nor need it be told.
    """

    a: Shot
    b: Shot
    a_to_b: Floats
    planted: tuple[Planted, ...]
    partly: tuple[Planted, ...]
    lines_a: tuple[tuple[str, Corners], ...]
    lines_b: tuple[tuple[str, Corners], ...]
    equal: bool


@dataclass(slots=True, eq=False)
class _Art:
    """A design as first made and as another version, with what was planted (boxes in art pixels)."""

    first: Picture
    other: Picture
    planted: list[Planted] = field(default_factory=list)
    hidden: list[Planted] = field(default_factory=list)
    lines: tuple[list[tuple[str, Corners]], list[tuple[str, Corners]]] = field(default_factory=lambda: ([], []))


def photographs(work: Path) -> list[Path]:
    """The photographs of the scikit-image wheel in ``work``, unpacked."""
    folder = work / "photographs"
    folder.mkdir(parents=True, exist_ok=True)
    for wheel in work.glob("scikit_image*.whl"):
        with zipfile.ZipFile(wheel) as packed:
            for name in packed.namelist():
                if Path(name).name in PHOTOS and "/data/" in name:
                    (folder / Path(name).name).write_bytes(packed.read(name))
    return sorted(folder.iterdir())


def make_pair(seed: int, work: Path, *, equal: bool) -> MadePair:
    """The pair of this seed."""
    rng = np.random.default_rng(seed)
    photos = photographs(work)
    art = _painted(seed, rng, equal) if rng.random() < 0.75 or not photos else _photo(photos, seed, rng, equal)
    if rng.random() < 0.5:
        _lettering(art, rng, equal)
    if not equal and rng.random() < 0.6:
        _strip(art, rng)
    first, second = _views(rng)
    if rng.random() < 0.5:  # the edited one may be either
        art = _turned(art)
    a, b = _shot(art.first, first, rng), _shot(art.other, second, rng)
    planted, partly = [], []
    for p in (*art.planted, *art.hidden):
        here = Planted(p.kind, p.name, box_under(a.matrix, p.box_a), box_under(b.matrix, p.box_b), p.factor)
        whole = _seen(a, p.box_a) and _seen(b, p.box_b) and p not in art.hidden
        (planted if whole else partly).append(here)
    lines = [
        tuple((text, box_under(shot.matrix, box)) for text, box in found if _seen(shot, box))
        for shot, found in ((a, art.lines[0]), (b, art.lines[1]))
    ]
    return MadePair(a, b, _as_matched(a, b, rng), tuple(planted), tuple(partly), lines[0], lines[1], equal)


def box_under(matrix: Floats, box: Corners) -> Corners:
    """The upright box around a box under a homography."""
    left, top, right, bottom = box
    corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
    moved = cv2.perspectiveTransform(corners, matrix)[0]
    return (*(float(v) for v in moved.min(axis=0)), *(float(v) for v in moved.max(axis=0)))  # type: ignore[return-value]


def _turned(art: _Art) -> _Art:
    planted, hidden = (
        [Planted(p.kind, p.name, p.box_b, p.box_a, 1 / p.factor if p.factor else 0.0) for p in some]
        for some in (art.planted, art.hidden)
    )
    return _Art(art.other, art.first, planted, hidden, (art.lines[1], art.lines[0]))


def _painted(seed: int, rng: np.random.Generator, equal: bool) -> _Art:
    genre = GENRES[seed % len(GENRES)]
    high = int(rng.choice([1000, 1200, 1500]))
    wide = round(high * 0.7)
    brush = int(rng.random() < 0.25)
    if equal:
        first = paint(seed, genre, wide, high).pixels
        return _Art(first, paint(seed, genre, wide, high, Edits(brush=1)).pixels if brush else first)
    names = [str(n) for n in rng.permutation([n for n in elements(seed, genre, 0.7) if n not in _GROUND])]
    figures = [n for n in names if n.startswith(("figure", "head"))]
    factor = float(rng.choice([0.75, 0.82, 0.88, 0.92, 1.08, 1.12, 1.2, 1.3]))
    scale = ((names[0], factor),) if rng.random() < 0.6 else ()
    move = ((names[1], _either(rng, 0.03, 0.08), _either(rng, 0.015, 0.05)),) if rng.random() < 0.4 else ()
    redraw = (names[2],) if rng.random() < 0.6 and len(names) > 2 else ()
    covered: tuple[str, ...] = ("signature",) if rng.random() < 0.5 else ()
    areas = {n: (x1 - x0) * (y1 - y0) for n, (x0, y0, x1, y1) in paint(seed, genre, 70, 100).boxes.items()}
    figures = [n for n in figures if n not in names[:3] and areas.get(n, 1.0) < _MOST_COVERED]
    covered += tuple(figures[:1]) if rng.random() < 0.3 else ()
    edits = Edits(scale=scale, move=move, redraw=redraw, covered=covered, brush=brush, palette=int(rng.random() < 0.15))
    one, two = paint(seed, genre, wide, high), paint(seed, genre, wide, high, edits)
    art = _Art(one.pixels, two.pixels)
    factors = dict(edits.scale)
    kinds = [("scaled", tuple(factors)), ("moved", tuple(n for n, *_ in move)), ("redrawn", redraw)]
    for kind, named in [*kinds, ("covered", covered)]:
        for name in named:
            if name in one.boxes and name in two.boxes:
                sides = [tuple(v * s for v, s in zip(x.boxes[name], (wide, high) * 2, strict=True)) for x in (one, two)]
                there = Planted(kind, name, sides[0], sides[1], factors.get(name, 0.0))
                seen = kind == "covered" or _shows(seed, genre, edits, kind, name)
                (art.planted if seen else art.hidden).append(there)
    covers = [p.box_b for p in art.planted if p.kind == "covered"]
    art.hidden += [p for p in art.planted if p.kind != "covered" and any(_covers(c, p.box_b) > 0.5 for c in covers)]
    art.planted = [p for p in art.planted if p not in art.hidden]
    return art


_MOST_COVERED = 0.25  # of the picture: who paints out more makes another picture
_SMALL = (280, 400)
_GROUND = ("sky", "land", "signature", "rain", "sea", "sun")


def _either(rng: np.random.Generator, least: float, most: float) -> float:
    return float(rng.uniform(least, most) * rng.choice([-1, 1]))


def _shows(seed: int, genre: str, edits: Edits, kind: str, name: str) -> bool:
    """Can an eye see that this one edit was made? An element behind others may not show, whatever else changed
    there."""
    field_of = {"scaled": "scale", "moved": "move", "redrawn": "redraw"}[kind]
    with_, without = (paint(seed, genre, *_SMALL, e) for e in (edits, replace(edits, **{field_of: ()})))
    changed = np.abs(with_.pixels.astype(np.int16) - without.pixels).max(axis=2) > 30
    shares = []
    for left, top, right, bottom in (with_.boxes[name], without.boxes[name]):
        w, h = _SMALL
        shares.append(float(changed[int(top * h) : int(bottom * h) + 1, int(left * w) : int(right * w) + 1].mean()))
    return min(shares) > 0.06


def _photo(photos: list[Path], seed: int, rng: np.random.Generator, equal: bool) -> _Art:
    """A photograph: covered, an element scaled, another warped."""
    picture = cv2.imread(str(photos[seed % len(photos)]))[..., ::-1]
    scale = 1300 / max(picture.shape[:2])
    first = np.ascontiguousarray(cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC))
    art = _Art(first, first.copy())
    if equal:
        return art
    taken: list[Corners] = []
    for kind, least, most in (("covered", 0.07, 0.16), ("scaled", 0.2, 0.3), ("redrawn", 0.2, 0.3)):
        box = _free_place(first, taken, rng, least, most) if rng.random() < 0.6 else None
        if box is not None:
            taken.append(box)
            _edit_photo(art, kind, box, rng)
    return art


def _free_place(
    picture: Picture, taken: list[Corners], rng: np.random.Generator, least: float, most: float
) -> Corners | None:
    """A place with something in it that lies clear of the others."""
    h, w = picture.shape[:2]
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    detail = cv2.blur(np.abs(cv2.Laplacian(cv2.GaussianBlur(grey, (0, 0), 2), cv2.CV_32F)), (31, 31))
    for _ in range(60):
        bw, bh = rng.uniform(least, most, 2) * min(h, w)
        x, y = rng.uniform(0.08 * w, 0.92 * w - bw), rng.uniform(0.08 * h, 0.92 * h - bh)
        box = (x, y, x + bw, y + bh)
        clear = all(box[2] < t[0] - 60 or t[2] < box[0] - 60 or box[3] < t[1] - 60 or t[3] < box[1] - 60 for t in taken)
        if clear and detail[int(y) : int(y + bh), int(x) : int(x + bw)].mean() > max(0.5, detail.mean() * 0.8):
            return box
    return None


def _edit_photo(art: _Art, kind: str, box: Corners, rng: np.random.Generator) -> None:
    left, top, right, bottom = box
    h, w = art.other.shape[:2]
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    cx, cy, rx, ry = (left + right) / 2, (top + bottom) / 2, (right - left) / 2, (bottom - top) / 2
    if kind == "covered":
        tone = art.other[int(top) : int(bottom), int(left) : int(right)].reshape(-1, 3).mean(axis=0)
        patch = np.clip(tone + rng.normal(0, 3, (*art.other.shape[:2], 1)), 0, 255).astype(np.uint8)
        inside = (x > left) & (x < right) & (y > top) & (y < bottom)
        art.other[inside] = patch[inside]
        art.planted.append(Planted(kind, "patch", box, box))
        return
    radius = np.sqrt(((x - cx) / rx) ** 2 + ((y - cy) / ry) ** 2)
    if kind == "scaled":
        factor = float(rng.choice([0.8, 0.88, 0.92, 1.08, 1.12, 1.2, 1.3]))
        soft = cv2.GaussianBlur((radius < max(1.0, factor)).astype(np.float32), (0, 0), 3)[..., None]
        at_x, at_y = ((v - c) / factor + c for v, c in ((x, cx), (y, cy)))
        grown = cv2.remap(art.first, at_x.astype(np.float32), at_y.astype(np.float32), cv2.INTER_CUBIC)
        art.other[:] = (art.other * (1 - soft) + grown * soft).astype(np.uint8)
        grown_box = (cx - rx * factor, cy - ry * factor, cx + rx * factor, cy + ry * factor)
        art.planted.append(Planted(kind, "ellipse", box, grown_box, factor))
        return
    waves, phases = rng.normal(size=(4, 2)) * (5.0 / max(rx, ry)), rng.uniform(0, 6.28, (4, 1, 1))
    pull = rng.normal(size=(4, 2)) * max(rx, ry) * 0.035
    fade = np.clip((1.15 - radius) / 0.3, 0, 1)
    bends = [np.sin(u * (x - cx) + v * (y - cy) + p) for (u, v), p in zip(waves, phases, strict=True)]
    dx, dy = (sum(b * q for b, q in zip(bends, pull[:, k], strict=True)) * fade for k in (0, 1))
    moved = cv2.remap(art.other, (x + dx).astype(np.float32), (y + dy).astype(np.float32), cv2.INTER_CUBIC)
    art.other[:] = moved
    art.planted.append(Planted(kind, "warp", box, box))


def _lettering(art: _Art, rng: np.random.Generator, equal: bool) -> None:
    """One line on both; another reading on the other, half of the time."""
    h, w = art.first.shape[:2]
    one, two = (str(t) for t in rng.choice(LINES, 2, replace=False))
    differs = not equal and rng.random() < 0.6
    face = f"sample_batch/fonts/{rng.choice(FONTS)}.woff"
    size, y = int(h * rng.uniform(0.02, 0.03)), float(rng.uniform(0.08, 0.2)) * h
    ink = (245, 240, 220) if art.first[int(y) : int(y) + size].mean() < 128 else (20, 18, 24)
    boxes = []
    for picture, text, lines in ((art.first, one, art.lines[0]), (art.other, two if differs else one, art.lines[1])):
        if boxes and art.other is art.first:
            lines.append((text, boxes[0]))
            continue
        boxes.append(_written(picture, text, face, size, (0.1 * w, y), ink))
        lines.append((text, boxes[-1]))
    if differs:
        art.planted.append(Planted("lettering", f"{one} / {two}", boxes[0], boxes[1]))


def _written(
    picture: Picture, text: str, face: str, size: int, at: tuple[float, float], ink: tuple[int, int, int]
) -> Corners:
    image = Image.fromarray(picture)
    draw, font = ImageDraw.Draw(image), ImageFont.truetype(face, size)
    draw.text(at, text, font=font, fill=ink)
    picture[:] = np.asarray(image)
    return tuple(float(v) for v in draw.textbbox(at, text, font=font))


def _strip(art: _Art, rng: np.random.Generator) -> None:
    """A strip of paper with a line on it, pasted over the other version."""
    if art.other is art.first:
        art.other = art.first.copy()
    h, w = art.other.shape[:2]
    for _ in range(40):
        sh, sw = int(h * rng.uniform(0.03, 0.09)), int(w * rng.uniform(0.35, 0.8))
        x, y = int(rng.uniform(0.06 * w, 0.94 * w - sw)), int(rng.uniform(0.25 * h, 0.93 * h - sh))
        box = (float(x), float(y), float(x + sw), float(y + sh))
        if not any(_covers(box, p.box_a) > 0.1 for p in art.planted):
            break
    else:
        return
    paper = np.array([(238, 232, 214), (236, 205, 60), (30, 30, 34), (180, 40, 40)][int(rng.integers(4))], np.float64)
    ground = paper + rng.normal(0, 2.5, (sh, sw, 1))
    strip = np.clip(ground, 0, 255).astype(np.uint8)
    ink = (20, 20, 24) if paper.mean() > 110 else (240, 236, 220)
    face = f"sample_batch/fonts/{FONTS[int(rng.integers(len(FONTS)))]}.woff"
    _written(strip, str(rng.choice(STRIPS)), face, int(sh * 0.55), (sw * 0.06, sh * 0.12), ink)
    art.other[y : y + sh, x : x + sw] = strip
    art.planted.append(Planted("pasted", "strip", box, box))


def _covers(one: Corners, other: Corners) -> float:
    """The share of ``other`` that ``one`` hides."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    return max(0.0, wide) * max(0.0, high) / max(1.0, (other[2] - other[0]) * (other[3] - other[1]))


def _seen(shot: Shot, box: Corners) -> bool:
    """What lies in the border is cropped: nobody can see it."""
    return _covers(shot.shown, box) > 0.8


def _views(rng: np.random.Generator) -> tuple[str, str]:
    first = str(rng.choice(["plain", "plain", "proof", "transparency", "print", "negative"]))
    return first, str(rng.choice(VIEWS))


def _shot(art: Picture, view: str, rng: np.random.Generator) -> Shot:
    """Cropped a little, treated, bordered, perhaps mirrored, sized."""
    h, w = art.shape[:2]
    left, right, top, bottom = rng.uniform(0, 0.05, 4)
    x0, y0, x1, y1 = left * w, top * h, w - right * w, h - bottom * h
    size = float(rng.choice([1100, 1300, 1600])) if view != "phone" else 1400.0
    scale = size / max(x1 - x0, y1 - y0)
    rim = 0.0 if view == "plain" else size * float(rng.uniform(0.02, 0.06))
    out_w, out_h = int((x1 - x0) * scale + 2 * rim), int((y1 - y0) * scale + 2 * rim)
    matrix = np.array([[scale, 0, rim - x0 * scale], [0, scale, rim - y0 * scale], [0, 0, 1.0]])
    laid = cv2.warpPerspective(_bent(art, rng), matrix, (out_w, out_h), flags=cv2.INTER_CUBIC)
    inner = (slice(int(rim), out_h - int(rim)), slice(int(rim), out_w - int(rim)))
    border, treated = _TREATMENTS[view](laid.astype(np.float32), rng)
    page = np.empty_like(laid)
    page[:] = border
    page[inner] = treated[inner]
    mirrored = "negative" in view and bool(rng.random() < 0.5)
    if mirrored:
        page, matrix = (
            np.ascontiguousarray(page[:, ::-1]),
            np.array([[-1, 0, out_w - 1], [0, 1, 0], [0, 0, 1.0]]) @ matrix,
        )
    if view == "phone":
        page, matrix = _by_hand(page, matrix, rng)
    packed = cv2.imencode(".jpg", page, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(78, 93))])[1]
    return Shot(cv2.imdecode(packed, cv2.IMREAD_COLOR), matrix, (x0, y0, x1, y1), "negative" in view, mirrored, view)


def _bent(art: Picture, rng: np.random.Generator) -> Picture:
    """Paper and lenses bend a picture a little: two slow waves of up to 0.25 % of its height."""
    h, w = art.shape[:2]
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    most = 0.0025 * h * rng.uniform(0, 1)
    turns = rng.uniform(0, 6.28, 2)
    dx = most * np.sin(y * (3.0 / h) + turns[0])
    dy = most * np.sin(x * (3.0 / w) + turns[1])
    return cv2.remap(
        art, x + dx.astype(np.float32), y + dy.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )


def _grained(picture: NDArray[np.float32], rng: np.random.Generator, sigma: float, soft: float = 0.7) -> Picture:
    grain = cv2.GaussianBlur(rng.normal(0, 1, picture.shape[:2]).astype(np.float32), (0, 0), soft)
    return np.clip(picture + (grain * (sigma / grain.std()))[..., None], 0, 255).astype(np.uint8)


def _plain(art: NDArray[np.float32], rng: np.random.Generator) -> tuple[Floats, Picture]:
    toned = 255 * (art / 255) ** float(rng.uniform(0.8, 1.3)) * rng.uniform(0.9, 1.0, 3).astype(np.float32)
    return np.array([240.0] * 3), _grained(cv2.GaussianBlur(toned, (0, 0), float(rng.uniform(0.3, 1.0))), rng, 2.5)


def _negative(art: NDArray[np.float32], rng: np.random.Generator, colour: bool = True) -> tuple[Floats, Picture]:
    light = (art / 255) ** 2.2 + 0.012
    density = float(rng.uniform(0.5, 0.75)) * np.log10(light / 0.012)
    density = density / (1 + (density / float(rng.uniform(1.1, 1.7))) ** 6) ** (1 / 6)
    base = np.float32([0.2, 0.6, 0.9]) if colour else np.float32([0.16] * 3)
    if not colour:
        weights = rng.dirichlet([3, 6, 3]).astype(np.float32)
        density = density @ weights[:, None]
    coded = 255 * (0.97 * 10.0 ** -(density + base)) ** (1 / 2.2)
    seen = _grained(cv2.GaussianBlur(coded, (0, 0), float(rng.uniform(0.5, 1.2))), rng, float(rng.uniform(2, 4)), 0.8)
    return 255 * (0.97 * 10.0 ** -base.astype(np.float64)) ** (1 / 2.2), seen


def _transparency(art: NDArray[np.float32], rng: np.random.Generator) -> tuple[Floats, Picture]:
    toned = (art / 255) ** float(rng.uniform(1.2, 1.9)) * 255
    return np.array([14.0, 12.0, 16.0]), _grained(cv2.GaussianBlur(toned, (0, 0), 0.8), rng, 3)


def _print(art: NDArray[np.float32], rng: np.random.Generator) -> tuple[Floats, Picture]:
    grey = art @ rng.dirichlet([3, 6, 3]).astype(np.float32) / 255
    toned = 255 * (0.08 + 0.86 * grey ** float(rng.uniform(0.7, 1.6)))
    warm = toned[..., None] * np.float32([1.0, 0.97, 0.9])
    return np.array([238.0, 236.0, 230.0]), _grained(cv2.GaussianBlur(warm, (0, 0), 0.7), rng, 3)


def _proof(art: NDArray[np.float32], rng: np.random.Generator) -> tuple[Floats, Picture]:
    """Screened and a little faded, as a printed sheet is."""
    h, w = art.shape[:2]
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    pitch = float(rng.uniform(1.5, 2.0))
    screen = np.sin(x * pitch + y * pitch / 2) * np.sin(y * pitch - x * pitch / 2)
    inked = cv2.GaussianBlur(art, (0, 0), 0.8) * float(rng.uniform(0.75, 0.98)) + float(rng.uniform(0, 35))
    return np.array([244.0, 242.0, 236.0]), _grained(inked + 18 * screen[..., None], rng, 3)


_TREATMENTS: dict[str, Callable[[NDArray[np.float32], np.random.Generator], tuple[Floats, Picture]]] = {
    "plain": _plain,
    "negative": _negative,
    "mono negative": lambda art, rng: _negative(art, rng, colour=False),
    "transparency": _transparency,
    "print": _print,
    "proof": _proof,
    "phone": _proof,
}


def _by_hand(page: Picture, matrix: Floats, rng: np.random.Generator) -> tuple[Picture, Floats]:
    """Photographed by hand: perspective, uneven light, blur, noise, compression."""
    h, w = page.shape[:2]
    source = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    target = source + rng.uniform(-0.06, 0.06, (4, 2)) * (w, h) + np.array([w * 0.1, h * 0.1])
    tilt = cv2.getPerspectiveTransform(source, target.astype(np.float32))
    size = (int(w * 1.2), int(h * 1.2))
    ground = np.full((size[1], size[0], 3), rng.integers(60, 190, 3), np.uint8)
    seen = cv2.warpPerspective(page, tilt, size, ground, borderMode=cv2.BORDER_TRANSPARENT, flags=cv2.INTER_LINEAR)
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, size[0]), np.linspace(-0.5, 0.5, size[1]))
    light = (1 + rng.uniform(-0.3, 0.3) * x + rng.uniform(-0.3, 0.3) * y).astype(np.float32)
    lit = _grained(cv2.GaussianBlur(seen.astype(np.float32) * light[..., None], (0, 0), 1.1), rng, 5)
    packed = cv2.imencode(".jpg", lit, [cv2.IMWRITE_JPEG_QUALITY, 70])[1]
    return cv2.imdecode(packed, cv2.IMREAD_COLOR), tilt @ matrix


def _as_matched(a: Shot, b: Shot, rng: np.random.Generator) -> Floats:
    """The true homography, off by what matching at 400 px leaves: about a pixel of 400."""
    true = b.matrix @ np.linalg.inv(a.matrix)
    h, w = a.pixels.shape[:2]
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    there = cv2.perspectiveTransform(corners[None].astype(np.float64), true)[0]
    there += rng.normal(0, 0.0025 * max(b.pixels.shape[:2]), there.shape)
    return np.asarray(cv2.getPerspectiveTransform(corners, there.astype(np.float32)), np.float64)
