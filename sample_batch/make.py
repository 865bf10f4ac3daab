"""From a piece's recipe to the thing itself: one function a kind of thing."""

from dataclasses import replace
from functools import lru_cache

from sample_batch import board, film, papers, photoprint, press, story, wear
from sample_batch.art.design import Edits, Painting, paint
from sample_batch.certificate import print_certificate
from sample_batch.light import seeded
from sample_batch.page import Page, blank, lay
from sample_batch.sheet import print_sheet
from sample_batch.story import Design, Piece, Recipe, Strip
from sample_batch.verso import turn_over

LONG_EDGE = 2000


@lru_cache(maxsize=6)
def painted(seed: int, genre: str, aspect: float, edits: Edits, long_edge: int = LONG_EDGE) -> Painting:
    """Return a design's painting with its longer edge ``long_edge`` pixels long."""
    wide, high = (long_edge, round(long_edge / aspect)) if aspect > 1 else (round(long_edge * aspect), long_edge)
    return paint(seed, genre, wide, high, edits)


def front_of(piece: Piece, design: Design | None, ppi: float) -> Page:
    """Return the face of ``piece`` at ``ppi``."""
    assert piece.recipe is not None
    return _make(piece.recipe, piece, design, ppi)


def back_of(piece: Piece, design: Design | None, ppi: float) -> Page:
    """Return the back of ``piece`` at ``ppi``."""
    assert piece.back is not None
    own_wear = piece.recipe.wear if isinstance(piece.recipe, story.Printed) else None
    return turn_over(front_of(piece, design, ppi), piece.back, own_wear)


def _art(piece: Piece, design: Design | None) -> Painting:
    assert design is not None, piece.code
    return painted(design.seed, design.genre, design.aspect, piece.edits)


def _make(recipe: Recipe, piece: Piece, design: Design | None, ppi: float) -> Page:
    match recipe:
        case story.Printed():
            return _printed(recipe, piece, design, ppi)
        case story.Proofed():
            page = press.ink_on_paper(print_sheet(recipe.plan, _art(piece, design), ppi), piece.seed)
            page = press.proof(page, piece.seed, recipe.notes, recipe.job, recipe.imprint, ppi)
            return wear.age(page, recipe.wear)
        case story.Separated():
            return _separated(recipe, piece, design, ppi)
        case story.Painted():
            page = board.paint_on_board(
                _art(piece, design),
                recipe.width_mm,
                recipe.height_mm,
                ppi,
                piece.seed,
                recipe.margin_mm,
                recipe.notes,
                recipe.job,
            )
            return _with_strips(page, recipe.strips, piece.seed)
        case story.Roughed():
            return board.rough(_art(piece, design), recipe.title, recipe.width_mm, recipe.height_mm, ppi, piece.seed)
        case story.Lettered():
            return board.lettering(recipe.title, recipe.width_mm, recipe.height_mm, ppi, piece.seed, recipe.job)
        case story.PastedUp():
            return papers.paste_up(recipe, _art(piece, design), ppi, piece.seed)
        case story.Copied():
            return _copied(recipe, piece, design, ppi)
        case story.PhotoProof():
            subject = _make(recipe.of, piece, design, ppi * 0.75)
            return photoprint.print_photo(subject, recipe.width_mm, recipe.height_mm, ppi, piece.seed, recipe.border_mm)
        case story.StillOf():
            return photoprint.print_still(_art(piece, design), recipe.caption, recipe.number, ppi, piece.seed)
        case story.Snapshot():
            return papers.snapshot(recipe, _art(piece, design), ppi, piece.seed)
        case story.TypedPage():
            art = _art(piece, design) if recipe.pictures else None
            return papers.typed_page(recipe, art, ppi, piece.seed)
        case story.TargetCard():
            return papers.target_card(recipe, ppi)
        case story.EmptyBed():
            return blank(recipe.width_mm, recipe.height_mm, ppi, (0.94, 0.945, 0.95))


def _printed(recipe: story.Printed, piece: Piece, design: Design | None, ppi: float) -> Page:
    page = press.ink_on_paper(print_sheet(recipe.plan, _art(piece, design), ppi), piece.seed, recipe.lpi, recipe.gloss)
    page = _with_strips(wear.age(page, recipe.wear), recipe.strips, piece.seed)
    return wear.back_with_linen(page, piece.seed) if recipe.wear.linen else page


def _with_strips(page: Page, strips: tuple[Strip, ...], seed: int) -> Page:
    for number, strip in enumerate(strips):
        paper = wear.plain_strip(strip.width_mm, strip.height_mm, page.ppi, strip.colour, seed + number, strip.text)
        if strip.certificate:
            mark = print_certificate(paper, strip.certificate, strip.width_mm / 2, strip.height_mm / 2, along=0.5)
            paper = replace(paper, marks=(mark,))
        page = wear.paste(page, strip.name, paper, strip.x_mm, strip.y_mm, strip.angle_deg)
    return page


def _separated(recipe: story.Separated, piece: Piece, design: Design | None, ppi: float) -> Page:
    """The sheet is set at its own size and then reduced as a process camera does."""
    reduction = recipe.width_mm / recipe.plan.width_mm
    page = print_sheet(recipe.plan, _art(piece, design), ppi * reduction)
    return press.separation(replace(page, ppi=ppi), recipe.ink, piece.seed, recipe.job, ppi)


def _copied(recipe: story.Copied, piece: Piece, design: Design | None, ppi: float) -> Page:
    """Stand the subject before the ground, at a resolution that suits the film, and expose."""
    stock = recipe.film
    area_w = stock.width_mm - 2 * stock.rebate_mm[0]
    area_h = stock.height_mm - 2 * stock.rebate_mm[1]
    probe = _make(recipe.of, piece, design, 12.0)
    wide, high = probe.size_mm
    need_w, need_h = wide + 2 * recipe.air_mm[0], high + 2 * recipe.air_mm[1]
    if need_w / need_h < area_w / area_h:
        need_w = need_h * area_w / area_h
    else:
        need_h = need_w * area_h / area_w
    subject_ppi = min(ppi * area_w / need_w * 1.15, 130.0)
    subject = _make(recipe.of, piece, design, subject_ppi)
    stand = blank(need_w, need_h, subject_ppi, recipe.ground)
    rng = seeded(piece.seed, "stand")
    x, y = (need_w - wide) / 2 + rng.uniform(-0.02, 0.02) * wide, (need_h - high) / 2 + rng.uniform(-0.02, 0.02) * high
    stand = lay(stand, subject, x, y, float(rng.uniform(-0.5, 0.5)), shadow=0.3)
    return film.expose(stock, replace(stand, marks=()), ppi)


def size_of(piece: Piece) -> tuple[float, float]:
    """Return width and height in mm of ``piece`` turned upright: the paper, board or film, without linen."""
    match piece.recipe:
        case story.Printed(plan=plan):
            return plan.width_mm, plan.height_mm
        case story.Proofed(plan=plan):
            left, top, right, foot = press.PROOF_MARGINS
            return plan.width_mm + left + right, plan.height_mm + top + foot
        case story.Separated(plan=plan, width_mm=wide):
            margin = 2 * press.SEPARATION_MARGIN
            return wide + margin, wide * plan.height_mm / plan.width_mm + margin
        case story.PastedUp(plan=plan, width_mm=wide):
            margin = 2 * papers.PASTE_UP_MARGIN
            return wide + margin, wide * plan.height_mm / plan.width_mm + margin
        case story.Copied(film=stock):
            return stock.width_mm, stock.height_mm
        case story.StillOf():
            return photoprint.STILL_SIZE
        case None:
            raise ValueError(f"{piece.code} was never made")
        case recipe:
            return recipe.width_mm, recipe.height_mm
