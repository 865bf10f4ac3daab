"""A consignment with pieces of every kind, drawn at random: what the looking bench looks at.

Sizes, frames, grounds, wear, beds, turns, file forms and resolutions are drawn wider than those of the sample. Some
scans hold several pieces.
"""

from dataclasses import replace

import numpy as np
from numpy.random import Generator

from sample_batch import crowd, story
from sample_batch.art.design import GENRES
from sample_batch.files import Delivery
from sample_batch.film import Film
from sample_batch.layouts import SIZES
from sample_batch.photoprint import Caption
from sample_batch.scanner import Setting
from sample_batch.story import Consignment, Design, Piece, Shot
from sample_batch.verso import Back, Stamp
from sample_batch.wear import Wear

# Sheet film and roll film, plates and lantern slides, in mm (ISO 1012 and practice, as config/classify.toml has them).
FILMS = ((100.0, 125.4), (126.0, 177.0), (201.0, 252.0), (61.5, 92.0), (61.5, 61.5), (88.0, 118.0))
PLATES = ((120.6, 165.1), (82.5, 108.0), (165.1, 215.9), (90.0, 120.0))
EDGES = ("SAFETY FILM 7314", "SAFETY 41", "NITRATE 2206", "TARVEL PAN SAFETY 41", "")
PROOFED = ("us_1sh_old", "uk_1sh", "uk_dcrown")
BEDS = ("grey", "black", "white")
KINDS = (
    "film_negative", "film_negative", "film_negative", "glass_negative", "film_transparency", "separation",
    "photographic_proof", "printers_proof", "finished_sheet", "finished_sheet", "finished_sheet", "artwork", "artwork",
    "rough", "paste_up", "lettering", "photograph", "still", "printed_matter", "reverse", "document", "target",
)  # fmt: skip


def mixed(scans: int, seed: int) -> Consignment:
    """``scans`` scans: kinds in turn, every eleventh scan holding two to four transparencies, stills or papers."""
    drawn = _Drawn(seed)
    for number in range(scans):
        drawn.one(number)
    return Consignment("2026-901", tuple(drawn.designs), tuple(drawn.pieces), tuple(drawn.shots), ())


class _Drawn:
    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.designs: list[Design] = []
        self.pieces: list[Piece] = []
        self.shots: list[Shot] = []

    def one(self, number: int) -> None:
        rng = self.rng
        if number % 11 == 10:
            kind = _one(rng, ("film_transparency", "still", "photograph", "document"))
            count = int(rng.integers(2, 5))
            pieces = [self._piece(kind) for _ in range(count)]
            pieces = [replace(p, recipe=pieces[0].recipe) for p in pieces] if kind == "film_transparency" else pieces
        else:
            kind = KINDS[number % len(KINDS)]
            pieces = [self._piece(kind)]
        self.pieces += pieces
        self.shots.append(self._shot(number, kind, pieces))

    def _piece(self, kind: str) -> Piece:
        rng = self.rng
        number = sum(len(s.pieces) for s in self.shots) + len(self.pieces) + len(self.designs) + 1
        film = crowd._film(rng)
        design = Design(f"d{number}", film.name, _one(rng, GENRES), int(rng.integers(1, 2**31)), 0.7, film.name)
        self.designs.append(design)
        made = self._recipe(kind, film)
        size = ""
        if isinstance(made, story.Printed):
            size = next(s for s, mm in SIZES.items() if mm == (made.plan.width_mm, made.plan.height_mm))
        recto = "finished_sheet" if kind == "reverse" else kind
        back = Back((Stamp(("RECEIVED", f"{int(rng.integers(1, 29))} MAY"), 0.6, 0.3, 5),), (), seed=number)
        return Piece(
            "B01", f"{number:05d}", recto, made, design.key, edits=crowd._edits(design, rng), back=back,
            format=size, seed=number,
        )  # fmt: skip

    def _recipe(self, kind: str, film: crowd.Campaign) -> story.Recipe:
        rng = self.rng
        wide = float(rng.uniform(250, 600))
        board = story.Painted(wide, wide * 1.37, float(rng.uniform(8, 34)), (), crowd._job(rng))
        job, seed = f"JOB NO. {int(rng.integers(1000, 9999))}", int(rng.integers(1e6))
        ground = tuple(float(v) for v in rng.uniform(0.05, 0.7) + rng.uniform(-0.01, 0.01, 3))
        air = (float(rng.uniform(8, 45)),) * 2
        rebate = (float(rng.uniform(2, 5)), float(rng.uniform(2.5, 5.5)))
        plan = crowd._plan(_one(rng, PROOFED), film, rng, "")
        if kind == "film_negative":
            sort = _one(rng, ("colour", "colour", "mono", "line"))
            stock = Film(
                sort, *_turned(rng, _one(rng, FILMS)), rebate, _one(rng, EDGES), "", bool(rng.random() < 0.6), seed
            )
            return story.Copied(stock, board, ground, air)
        if kind == "glass_negative":
            stock = Film("plate", *_turned(rng, _one(rng, PLATES)), (rebate[0] / 2, rebate[1] / 2), seed=seed)
            return story.Copied(stock, board, ground, air)
        if kind == "film_transparency":
            fading = float(rng.uniform(0, 0.5))
            stock = Film("transparency", *_one(rng, FILMS), rebate, _one(rng, EDGES), "", True, seed, fading)
            return story.Copied(stock, board, (float(rng.uniform(0.02, 0.3)),) * 3, air)
        if kind in ("finished_sheet", "reverse"):
            size = _one(rng, crowd.PORTRAIT_SHEETS)
            worn = replace(crowd._wear(size, rng), linen=bool(rng.random() < 0.2))
            return story.Printed(crowd._plan(size, film, rng, ""), worn, float(rng.uniform(0, 0.4)))
        lines = tuple(" ".join(_one(rng, crowd.TAGS).lower().split()[: int(rng.integers(3, 7))]) for _ in range(16))
        made: dict[str, story.Recipe] = {
            "separation": story.Separated(plan, _one(rng, ("CYAN", "MAGENTA", "YELLOW", "BLACK")), job),
            "photographic_proof": story.PhotoProof(
                *_one(rng, ((203, 254), (178, 240), (280, 356))), board, float(rng.choice([0, 5, 7, 10]))
            ),
            "printers_proof": story.Proofed(plan, job, ("OK", "see corrs."), wear=Wear(seed=seed)),
            "artwork": board,
            "rough": story.Roughed(float(rng.uniform(200, 420)), float(rng.uniform(290, 560)), film.title),
            "paste_up": story.PastedUp(plan, float(rng.uniform(180, 300)), job),
            "lettering": story.Lettered(float(rng.uniform(300, 520)), float(rng.uniform(150, 300)), film.title, job),
            "photograph": story.Snapshot(*_one(rng, ((180, 240), (127, 178), (203, 254))), bool(rng.random() < 0.4)),
            "still": story.StillOf(
                Caption(film.name, "TESSARY INTERNATIONAL INC", "DC", "1961"), int(rng.integers(1, 99))
            ),
            "printed_matter": story.TypedPage(254, 355, film.name, lines, 2, True),
            "document": story.TypedPage(203, 254, "Asterly & Knowe", lines),
            "target": story.TargetCard(),
        }
        return made[kind]

    def _shot(self, number: int, kind: str, pieces: list[Piece]) -> Shot:
        rng = self.rng
        film = kind in ("film_negative", "film_transparency", "glass_negative", "separation")
        negative = kind in ("film_negative", "glass_negative")
        small = kind in ("film_negative", "film_transparency", "glass_negative")
        ppi = float(rng.uniform(180, 320)) if small else float(rng.uniform(80, 130))
        ppi = float(rng.uniform(55, 80)) if kind == "reverse" else ppi
        several = len(pieces) > 1
        setting = Setting(
            "lamp" if film else _one(rng, BEDS),
            float(rng.uniform(3, 9)) if film else float(rng.uniform(6, 20)),
            float(rng.normal(0, 0.6)),
            0 if several else _one(rng, (0, 0, 0, 90, 180, 270)),
            bool(negative and rng.random() < 0.4),
            noise=float(rng.uniform(0.001, 0.005)),
            exposure=float(rng.uniform(0.95, 1.02)),
            warmth=float(rng.uniform(-0.02, 0.02)),
            columns=2 if several else 1,
            gap_mm=float(rng.uniform(5, 14)),
            seed=number,
        )
        form = _one(rng, ("jpeg", "jpeg", "tiff8", "tiff16_lzw"))
        delivery = Delivery(form, int(rng.integers(70, 93)), stand=not film)  # type: ignore[arg-type]
        ending = "jpg" if form == "jpeg" else "tif"
        side = "verso" if kind == "reverse" else "recto"
        path = f"B01/{number:04d}_{kind}.{ending}"
        return Shot(path, tuple(p.code for p in pieces), side, ppi, setting, delivery)


def _one(rng: Generator, options):  # type: ignore[no-untyped-def]
    return options[int(rng.integers(len(options)))]


def _turned(rng: Generator, size: tuple[float, float]) -> tuple[float, float]:
    return size[::-1] if rng.random() < 0.3 else size
