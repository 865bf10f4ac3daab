"""A made archive: families of designs, campaigns, sets, strangers, and pictures to look for. The seed decides all."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from tests.bench import treatments as do
from tests.bench.pictures import Art, Picture, gather

# Families, strangers, pictures of strangers to ask for, paintings; of each side of the pictures.
SIZES = {"report": (310, 70, 100, 430), "tune": (120, 80, 40, 220)}


@dataclass(frozen=True, slots=True)
class View:
    """One scan to be made. ``layout`` is shared by the sheets of a campaign or the stills of a set; a design with
    ``borrows`` uses a figure of that picture again. ``asked`` is a picture to look for, not part of the archive."""

    name: str
    design: str
    sort: str
    art: Art | None
    seed: int
    layout: str = ""
    borrows: Art | None = None
    asked: bool = False

    @property
    def rng(self) -> np.random.Generator:
        """Draws of this view alone."""
        return np.random.default_rng(self.seed)

    @property
    def mirrored(self) -> bool:
        """Was the film scanned from the wrong side?"""
        return self.sort in ("negative", "transparency", "line film") and self.seed % 2 == 1

    @property
    def negative(self) -> bool:
        """Are light and dark exchanged? A line film or separation may be either, and tells its own."""
        return self.sort == "negative"


@lru_cache(maxsize=12)
def _read(path: Path) -> Picture:
    return np.ascontiguousarray(cv2.imread(str(path))[..., ::-1])


def _art(view: View, other_version: bool) -> Picture:
    assert view.art is not None
    if other_version and view.art.variant is not None:
        return _read(view.art.variant)
    art = _read(view.art.path)
    if view.borrows is not None:
        art = do.with_figure(art, _read(view.borrows.path), np.random.default_rng(int(view.layout[1:])))
    return do.variant(art, np.random.default_rng(view.seed)) if other_version else art


def picture_of(view: View) -> Picture:
    """Make one scan, (h, w, 3) RGB."""
    rng = view.rng
    if view.sort == "back":
        return do.verso(do.make_layout(view.layout, np.random.default_rng(int(view.layout[1:]))), rng)
    if view.art is None:
        return do.text_page(rng)
    art = _art(view, view.sort in ("variant", "photo of a variant"))
    layout = do.make_layout(view.layout, np.random.default_rng(int(view.layout[1:]) if view.layout else view.seed))
    makers: dict[str, Callable[[], Picture]] = {
        "artwork": lambda: art,
        "negative": lambda: do.turned(do.negative(art, rng, bool(rng.random() < 0.5)), rng),
        "transparency": lambda: do.turned(do.transparency(art, rng), rng),
        "line film": lambda: do.turned(do.line_film(art, rng), rng),
        "photographic proof": lambda: do.print_of(art, rng),
        "printer's proof": lambda: do.turned(do.proof(art, rng), rng),
        "separation": lambda: do.separation(art, rng),
        "sheet": lambda: do.sheet(art, layout, rng),
        "upper half": lambda: _half(do.sheet(art, layout, np.random.default_rng(view.seed)), upper=True),
        "lower half": lambda: _half(do.sheet(art, layout, np.random.default_rng(view.seed)), upper=False),
        "part": lambda: do.part_of(do.sheet(art, layout, rng), rng),
        "variant": lambda: art,
        "photo": lambda: do.phone(art, rng),
        "photo of a variant": lambda: do.phone(art, rng),
        "still": lambda: do.still(art, layout, view.seed % 100),
    }
    made = makers[view.sort]()
    return cv2.flip(made, 1) if view.mirrored else made


def _half(sheet: Picture, *, upper: bool) -> Picture:
    cut = int(sheet.shape[0] * 0.6)
    return sheet[:cut] if upper else sheet[-cut:]


def plan(arts: list[Art], seed: int, families: int, strangers: int, asked_strangers: int) -> list[View]:
    """What the archive holds, and what is asked of it.

    Families come in campaigns of one to three designs under one layout; in half of the campaigns of more, the second
    design uses a figure of the first again. Two fifths of the families hold another version or a photo by hand; of the
    rest these are asked for. Strangers are treated like the rest, so that no treatment tells them.
    """
    rng = np.random.default_rng(seed)
    order = [arts[i] for i in rng.permutation(len(arts))]
    views: list[View] = []
    left = 0
    for n in range(families):
        borrows = None
        if left == 0:
            left, layout, first = int(rng.choice([1, 2, 2, 3])), f"L{seed * 10_000 + n}", order[n]
        elif order[n].variant is None and rng.random() < 0.6:
            borrows = first
        left -= 1
        views += _family(order[n], f"D{n:04d}", layout, borrows, rng)
    rest = order[families:]
    plain = ("artwork", "negative", "photographic proof", "printer's proof", "sheet", "transparency")
    for n, art in enumerate(rest[: strangers + asked_strangers]):
        asked = n >= strangers
        sort = str(rng.choice(["photo", "artwork", "negative", "sheet"])) if asked else str(rng.choice(plain))
        layout = f"L{seed * 10_000 + 5_000 + n}"
        if not asked and n % 5 == 0:
            sort, layout = "still", f"L{seed * 10_000 + 9_000 + n // 40}"
        views.append(View(f"x{n:04d}", f"X{n:04d}", sort, art, int(rng.integers(1 << 30)), layout, asked=asked))
    views += [View(f"t{n:03d}", f"T{n:03d}", "letter", None, int(rng.integers(1 << 30))) for n in range(24)]
    for n in range(24):
        layout = f"L{seed * 10_000 + 9_900 + n // 8}"
        views.append(View(f"v{n:03d}", f"V{n:03d}", "back", None, int(rng.integers(1 << 30)), layout))
    return views


def _family(art: Art, design: str, layout: str, borrows: Art | None, rng: np.random.Generator) -> list[View]:
    chances = {
        "artwork": 0.6,
        "negative": 1.0,
        "transparency": 0.35,
        "line film": 0.15,
        "photographic proof": 0.5,
        "printer's proof": 0.6,
        "separation": 0.25,
        "sheet": 0.9,
        "part": 0.15,
    }
    sorts = [sort for sort, chance in chances.items() if rng.random() < chance]
    sorts += ["negative"] * int(rng.random() < 0.4) + ["sheet"] * int(rng.random() < 0.4)
    held = rng.random() < 0.4
    more = [s for s, chance in (("variant", 0.8), ("photo", 0.6), ("photo of a variant", 0.4)) if rng.random() < chance]
    found = [(sort, False) for sort in sorts] + [(sort, not held) for sort in more]
    if rng.random() < 0.12:
        both = int(rng.integers(1 << 30))
        found += [("upper half", False), ("lower half", False)]
    views = []
    for number, (sort, asked) in enumerate(found):
        drawn = int(rng.integers(1 << 30))
        drawn = both if sort.endswith("half") else drawn
        views.append(View(f"{design}-{number}", design, sort, art, drawn, layout, borrows, asked))
    return views


def made(
    work: Path, side: str, seed: int, families: int, strangers: int, asked: int, painted: int
) -> tuple[list[View], Path]:
    """The views of one archive and the folder of their pictures, one PNG a view; made once, kept in ``work``."""
    views = plan(gather(work, side, painted), seed, families, strangers, asked)
    folder = work / f"{side}-{seed}-{families}-{strangers}"
    folder.mkdir(exist_ok=True)
    with ProcessPoolExecutor(2) as workers:
        list(workers.map(_save, views, [folder] * len(views), chunksize=8))
    return views, folder


def _save(view: View, folder: Path) -> None:
    path = folder / f"{view.name}.png"
    if not path.exists():
        unfinished = folder / f"{view.name}.{os.getpid()}.png"
        cv2.imwrite(str(unfinished), picture_of(view)[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])
        unfinished.replace(path)


def truth_of(a: View, b: View) -> str:
    """``same``, ``shared`` (a common layout, set or borrowed figure) or ``other``."""
    if a.design == b.design:
        return "same"
    if a.layout and a.layout == b.layout and (_bears(a) and _bears(b)):
        return "shared"
    if _lends(a, b) or _lends(b, a):
        return "shared"
    return "other"


def _bears(view: View) -> bool:
    return view.sort in ("sheet", "part", "still", "back", "upper half", "lower half")


def _lends(a: View, b: View) -> bool:
    return b.borrows is not None and b.borrows == a.art


def shown(views: Iterable[View]) -> dict[str, int]:
    """How many of each sort."""
    counts: dict[str, int] = {}
    for view in views:
        counts[view.sort] = counts.get(view.sort, 0) + 1
    return counts
