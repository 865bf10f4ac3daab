"""Consignments of any size: families of all sorts with random edits, told in the same words as the sample."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from numpy.random import Generator

from sample_batch import codes, story
from sample_batch.art.design import GENRES, Edits, elements
from sample_batch.art.lettering import FACES
from sample_batch.files import Delivery
from sample_batch.film import Film
from sample_batch.layouts import Campaign, lay_out
from sample_batch.light import seeded
from sample_batch.scanner import Setting
from sample_batch.sheet import SheetPlan, Title
from sample_batch.story import Consignment, Design, Piece, Shot
from sample_batch.verso import Back, Stamp
from sample_batch.wear import Wear

T = TypeVar("T")
CODE = "2026-900"
BOX_SCANS = 100
FULL_SIZE_PPI, FULL_SIZE_ENLARGED = 107.0, 3
ONSETS = (
    "Bre",
    "Cal",
    "Dor",
    "Es",
    "Fen",
    "Gar",
    "Hol",
    "Is",
    "Ker",
    "Lun",
    "Mar",
    "Nor",
    "Or",
    "Pel",
    "Ros",
    "Sten",
    "Tar",
)
MIDDLES = ("va", "men", "li", "dra", "ro", "the", "ni", "ga", "sal", "wyn", "mo", "bre")
ENDS = ("ck", "ne", "ld", "rrow", "sk", "th", "ll", "mond", "ra", "ss", "nt", "gate", "low")
PHRASES = (
    "NIGHT OVER {}",
    "THE BELLS OF {}",
    "NO ROAD TO {}",
    "THE {} CIPHER",
    "FOUR FROM {}",
    "RETURN TO {}",
    "THE {} LANTERN",
)
TAGS = (
    "NOTHING COMES BACK THE SAME WAY",
    "ASK THE WIND WHO WENT FIRST",
    "THEY CAME FOR THE SILENCE",
    "ONE LIE TOO FAR FROM HOME",
)
DISPLAY_FACES = ("condensed", "poster", "tall", "gothic-bold", "narrow-bold", "roman-caps", "brushed", "serif-bold")
INKS = ((240, 226, 180), (214, 44, 30), (250, 206, 70), (236, 244, 250), (226, 232, 120), (250, 250, 246))
PORTRAIT_SHEETS = (
    "us_1sh_old",
    "uk_1sh",
    "uk_dcrown",
    "us_insert",
    "de_a1",
    "fr_moyenne",
    "it_loc",
    "es_70100",
    "au_daybill",
)


def crowd(scans: int, seed: int, full_size: int = 0) -> Consignment:
    """Return a consignment of ``scans`` scans (a few more, since families are kept whole).

    ``full_size`` of its sheets are written at about 115 MP with 16 bits.
    """
    unpacked = _Unpacked(seed, full_size)
    number = 0
    while len(unpacked.shots) < scans:
        unpacked.campaign(number)
        number += 1
    return Consignment(
        CODE, tuple(unpacked.designs), tuple(unpacked.pieces), tuple(unpacked.shots), tuple(unpacked.kin)
    )


class _Unpacked:
    def __init__(self, seed: int, full_size: int) -> None:
        self.seed, self.full_size = seed, full_size
        self.designs: list[Design] = []
        self.pieces: list[Piece] = []
        self.shots: list[Shot] = []
        self.kin: list[tuple[str, str]] = []

    def campaign(self, number: int) -> None:
        """One film: a design, sometimes two that share title treatment and billing block only, or a stray painting."""
        rng = seeded(self.seed, "campaign", number)
        film = _film(rng)
        genre = _one(rng, GENRES)
        designs = 2 if rng.random() < 0.25 else 1
        titled: list[list[str]] = []
        for letter in "AB"[:designs]:
            design = Design(
                f"film-{number:04d}{letter.lower()}",
                film.name,
                genre,
                int(rng.integers(1, 2**31)),
                0.7,
                film.name.title(),
            )
            self.designs.append(design)
            titled.append(self._family(design, film, rng, letter if designs == 2 else ""))
        if designs == 2:
            self.kin += [(a, b) for a in titled[0] for b in titled[1]]
        if rng.random() < 0.3:
            loose = (_one(rng, GENRES), int(rng.integers(1, 2**31)), 0.7)
            self._scan(self._piece("artwork", story.Painted(400, 548, 22), "", rng, loose=loose), rng)

    def _family(self, design: Design, film: Campaign, rng: Generator, letter: str) -> list[str]:
        """Make the pieces of one design; return the codes of those that carry the title."""
        wide = float(rng.uniform(340, 480))
        board = story.Painted(wide, wide * 1.37, float(rng.uniform(16, 32)), (), _job(rng))
        titled = []
        makers = {"artwork": 0.7, "film_negative": 0.6, "film_transparency": 0.3, "photographic_proof": 0.35}
        makers |= {"printers_proof": 0.35, "separation": 0.15, "rough": 0.15}
        for kind, chance in makers.items():
            if rng.random() < chance:
                recipe = _recipe(kind, board, film, rng)
                piece = self._piece(kind, recipe, design.key, rng, edits=_edits(design, rng))
                titled += [piece.code] if kind in ("printers_proof", "separation", "rough") else []
                self._scan(piece, rng)
        for _ in range(int(rng.integers(1, 4))):
            size = _one(rng, PORTRAIT_SHEETS)
            recipe = story.Printed(_plan(size, film, rng, letter), _wear(size, rng))
            back = Back(
                (Stamp(("RECEIVED", f"{int(rng.integers(1, 29))} MAY"), 0.6, 0.3, 5),), (), seed=int(rng.integers(1e6))
            )
            piece = self._piece(
                "finished_sheet", recipe, design.key, rng, edits=_edits(design, rng), back=back, format=size
            )
            titled.append(piece.code)
            self._scan(piece, rng)
            if rng.random() < 0.4:
                self._scan(piece, rng, "verso")
        return titled

    def _piece(self, kind: str, recipe: story.Recipe, design: str, rng: Generator, **more: object) -> Piece:
        box = f"B{len(self.shots) // BOX_SCANS + 1:02d}"
        listed = rng.random() > 0.01
        name = f"{len(self.pieces) + 1:05d}"
        words = kind.replace("_", " ")
        piece = Piece(
            box, name, kind, recipe, design, description=words, listed=listed, seed=len(self.pieces) + 1, **more
        )  # type: ignore[arg-type]
        self.pieces.append(piece)
        return piece

    def _scan(self, piece: Piece, rng: Generator, side: str = "recto") -> None:
        film = piece.kind in ("film_negative", "film_transparency")
        angle, turn = float(rng.normal(0, 0.4)), _one(rng, [0, 0, 0, 90, 180, 270])
        bed = "lamp" if film else _one(rng, ["grey", "black", "white"])
        mirrored = piece.kind == "film_negative" and rng.random() < 0.4
        setting = Setting(bed, 5.0 if film else 12.0, angle, turn, mirrored, noise=0.002, seed=len(self.shots))
        ppi = 250.0 if film else 60.0 if side == "verso" else 90.0
        delivery, findings = Delivery(quality=76, stand=not film), ()
        luck = rng.random()
        if luck < 0.004:
            delivery, findings = Delivery("tiff8_raw", keep=0.6), ("truncated",)
        elif luck < 0.010:
            setting, findings = replace(setting, blur_mm=25.4 / ppi * 7), ("out_of_focus",)
        elif luck < 0.020:
            delivery, findings = replace(delivery, tagged_ppi=False), ("no_resolution",)
        if self.full_size and piece.format == "us_1sh_old" and side == "recto":
            self.full_size -= 1
            ppi, findings = FULL_SIZE_PPI, ()
            delivery = Delivery("tiff16_lzw", enlarge=FULL_SIZE_ENLARGED)
            setting = replace(setting, blur_mm=0.0)
        word, ending = {"recto": "front", "verso": "back"}[side], "tif" if delivery.form.startswith("tiff") else "jpg"
        path = f"{piece.box}/{CODE}_{piece.box}_{piece.number}_{word}.{ending}"
        self.shots.append(Shot(path, (piece.code,), side, ppi, setting, delivery, findings=findings))
        if luck > 0.995:
            twin = path.replace(f".{ending}", f" (2).{ending}")
            self.shots.append(Shot(twin, (piece.code,), side, ppi, setting, delivery, path, ("duplicate_file",)))


def _one(rng: Generator, options: Sequence[T]) -> T:
    return options[int(rng.integers(len(options)))]


def _name(rng: Generator) -> str:
    parts = (ONSETS, MIDDLES, ENDS)
    return "".join(_one(rng, p) for p in parts)


def _film(rng: Generator) -> Campaign:
    name = _one(rng, PHRASES).format(_name(rng).upper())
    words = name.split()
    half = (len(words) + 1) // 2
    lines = (" ".join(words[:half]), " ".join(words[half:]))
    face = _one(rng, [f for f in DISPLAY_FACES if f in FACES])
    fill = _one(rng, INKS)
    outline = (20, 16, 18) if sum(fill) > 330 else (250, 240, 214)
    title = Title(lines, face, fill, outline, None, _one(rng, [0, 0, 0.12]))
    people = [f"{_name(rng)} {_name(rng)}".upper() for _ in range(4)]
    billing = (
        f"{_name(rng).upper()} PICTURES ~PRESENTS {people[0]} ~AND {people[1]}",
        f"~IN {name} ~WITH {people[2]}",
        f"~DIRECTED ~BY {people[3]}",
    )
    return Campaign(name, title, billing, _one(rng, TAGS))


def _job(rng: Generator) -> str:
    return f"JOB NO. {int(rng.integers(1000, 9999))}"


def _plan(size: str, film: Campaign, rng: Generator, letter: str) -> SheetPlan:
    """Return a sheet of ``size`` with the codes of its country and a random crop."""
    year = int(rng.integers(1958, 1970))
    printer, town = f"{_name(rng)} & {_name(rng)}", _one(rng, ["London", "Leeds", "Bristol"])
    number = int(rng.integers(10000, 60000))
    certificate = None
    land = size[:2]
    if land == "us":
        lines = (codes.us_code(f"{year % 100}/{number % 400 + 1}"), codes.origin("Litho in U.S.A.", "USA"))
        lines += (codes.notice(year, f"{_name(rng)} Pictures Inc."),)
        lines += (codes.style(letter, "bottom-left/1"),) if letter else ()
    elif land == "uk":
        lines = (codes.uk_imprint(f"{printer} Ltd.", town),)
        certificate = codes.uk_certificate(_one(rng, ["U", "A", "X"]), _one(rng, ["circle", "box", "word"]))  # type: ignore[arg-type]
    elif land == "fr":
        lines = (codes.fr_imp(_name(rng), "Paris"), codes.fr_visa(f"{number // 1000} {number % 1000:03d}"))
        lines += (codes.fr_depot(f"Dépôt légal {year}", year),)
        certificate = codes.fr_age(18) if year > 1961 else None
    elif land == "it":
        lines = (codes.it_visto(str(number)), codes.origin("Printed in Italy", "ITALY", "bottom-left"))
        certificate = codes.it_vm(14) if year > 1962 else None
    elif land == "de":
        lines, certificate = (
            (codes.de_druck(f"{_name(rng)} KG", "Hamburg"),),
            codes.de_fsk(_one(rng, [6, 12, 16])),
        )
    elif land == "es":
        lines = (codes.es_deposit("B", f"{number // 1000}.{number % 1000:03d}", year),)
    else:
        lines = (codes.au_printer(f"{_name(rng)} Press", "Sydney"),)
    crop = (float(rng.uniform(0.46, 0.54)), float(rng.uniform(0.44, 0.56)), float(rng.uniform(0.85, 1.0)))
    return lay_out(size, film, lines, certificate, window=crop)


def _wear(size: str, rng: Generator) -> Wear:
    folds = {"us_1sh_old": (2, 4), "uk_1sh": (2, 4), "de_a1": (2, 4), "fr_moyenne": (2, 2), "au_daybill": (1, 3)}
    folded = folds.get(size, (1, 2)) if rng.random() < 0.7 else (1, 1)
    strength, fade, stains = float(rng.uniform(0.2, 0.9)), float(rng.uniform(0, 0.5)), float(rng.uniform(0, 0.8))
    return Wear(folded, strength, False, bool(rng.random() < 0.3), stains, fade, 0.4, seed=int(rng.integers(1e6)))


def _edits(design: Design, rng: Generator) -> Edits:
    """Return how this piece's picture differs from the design as first painted: mostly not at all."""
    if rng.random() < 0.5:
        return Edits()
    names = [
        n for n in elements(design.seed, design.genre, design.aspect) if n not in ("sky", "land", "rain", "signature")
    ]
    one, other = (str(n) for n in rng.choice(names, 2, replace=False)) if len(names) > 1 else (names[0], names[0])
    shift = tuple(float(v) for v in rng.uniform(-0.07, 0.07, 2))
    return Edits(
        redraw=(one,) if rng.random() < 0.4 else (),
        scale=((other, float(rng.uniform(0.75, 1.35))),) if rng.random() < 0.5 else (),
        move=((other, *shift),) if rng.random() < 0.4 else (),  # type: ignore[arg-type]
        covered=("signature",) if rng.random() < 0.3 else (),
        brush=int(rng.random() < 0.15),
    )


def _recipe(kind: str, board: story.Painted, film: Campaign, rng: Generator) -> story.Recipe:
    seed = int(rng.integers(1e6))
    if kind == "artwork":
        return board
    if kind == "film_negative":
        sort = _one(rng, ["colour", "mono"])
        word = _one(rng, ["SAFETY FILM 7314", "SAFETY 41", ""])
        return story.Copied(Film(sort, 100, 125.4, (3.2, 4.6), word, "SAFETY" if word else "", True, seed), board)
    if kind == "film_transparency":
        return story.Copied(
            Film("transparency", 100, 125.4, (3.2, 4.6), "SAFETY 6142", "SAFETY", True, seed), board, (0.05,) * 3
        )
    if kind == "photographic_proof":
        return story.PhotoProof(203, 254, board)
    if kind == "rough":
        return story.Roughed(297, 420, film.title)
    plan = _plan(_one(rng, ["us_1sh_old", "uk_1sh", "uk_dcrown"]), film, rng, "")
    if kind == "separation":
        return story.Separated(plan, _one(rng, ["CYAN", "MAGENTA", "YELLOW", "BLACK"]), f"Job No. {seed % 9000 + 1000}")
    return story.Proofed(plan, f"Job No. {seed % 9000 + 1000}", ("OK", "see corrs."))
