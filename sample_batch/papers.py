"""Paste-ups, studio photographs, letters, printed pages and the scanning house's own target."""

from dataclasses import replace

import cv2
import numpy as np

from sample_batch import story
from sample_batch.art.design import Painting
from sample_batch.billing import set_billing
from sample_batch.board import _board
from sample_batch.light import cloud, grain, seeded
from sample_batch.page import Page, blank, lay
from sample_batch.photoprint import silver
from sample_batch.press import register_mark
from sample_batch.sheet import art_matrix, lay_rgba, picture_place, resample, title_block
from sample_batch.typeset import BLACK, made_mark, press_ink, print_line
from sample_batch.wear import plain_strip

PASTE_UP_MARGIN = 28.0


def paste_up(recipe: story.PastedUp, painting: Painting, ppi: float, seed: int) -> Page:
    """Return the mechanical of a sheet: a photograph of the art, title and billing pasted on board, blue lines, job."""
    plan = recipe.plan
    zoom = recipe.width_mm / plan.width_mm
    margin = PASTE_UP_MARGIN
    height = plan.height_mm * zoom
    page = _board(recipe.width_mm + 2 * margin, height + 2 * margin, ppi, seed, (0.955, 0.95, 0.93))
    scale = page.px_per_mm
    rng = seeded(seed, "paste up")
    left, top, right, bottom = (v * zoom for v in picture_place(plan))
    size = (round((right - left) * scale), round((bottom - top) * scale))
    h, w = painting.pixels.shape[:2]
    to_sheet = art_matrix(plan, w / h)
    local = (
        np.array([[1, 0, -left * scale], [0, 1, -top * scale], [0, 0, 1.0]])
        @ np.diag([scale * zoom, scale * zoom, 1])
        @ to_sheet
    )
    pixels = resample(painting.pixels.astype(np.float32) / 255, local @ np.diag([1 / w, 1 / h, 1.0]), size)
    photo = Page(silver(pixels, seed, 1.1), ppi, (), local, dict(painting.boxes))
    page = lay(page, photo, margin + left, margin + top, float(rng.uniform(-0.25, 0.25)), shadow=0.3)
    if plan.title:
        ink = replace(plan.title, fill=(18, 18, 20), outline=None, shadow=None)
        block = title_block(ink, (right - left) * plan.title_width * scale * 0.94)
        slip = blank(block.shape[1] / scale + 8, block.shape[0] / scale + 8, ppi, (0.965, 0.96, 0.945))
        lay_rgba(slip.pixels, block, 4 * scale, 4 * scale)
        x = margin + (left + right) / 2 - slip.size_mm[0] / 2
        page = lay(page, slip, x, margin + bottom - slip.size_mm[1] * 1.05, float(rng.uniform(-0.4, 0.4)), shadow=0.3)
    if plan.billing:
        ink = set_billing(plan.billing, (right - left) * 0.8 * scale, plan.billing_cap_mm * zoom * scale)
        slip = blank(ink.shape[1] / scale + 6, ink.shape[0] / scale + 4, ppi, (0.965, 0.96, 0.945))
        press_ink(slip.pixels, ink, 3 * scale, 2 * scale, BLACK)
        page = lay(
            page, slip, margin + (left + right) / 2 - slip.size_mm[0] / 2, margin + bottom + 2.5, 0.2, shadow=0.25
        )
    for x, y in (
        (margin / 2, margin / 2),
        (page.size_mm[0] - margin / 2, margin / 2),
        (margin / 2, page.size_mm[1] - margin / 2),
    ):
        register_mark(page.pixels, x * scale, y * scale, 5 * scale)
    outline = [round(v * scale) for v in (margin, margin, margin + recipe.width_mm, margin + height)]
    cv2.rectangle(page.pixels, (outline[0], outline[1]), (outline[2], outline[3]), (0.55, 0.74, 0.9), 1)
    box = print_line(page, recipe.job, 3.6, "typewriter", page.size_mm[0] - margin, page.size_mm[1] - 9, anchor="right")
    return replace(page, marks=(made_mark("job", recipe.job, recipe.job.split()[-1], box, 3.6),))


def snapshot(recipe: story.Snapshot, painting: Painting, ppi: float, seed: int) -> Page:
    """Return a studio photograph with a white border and rounded corners."""
    page = blank(recipe.width_mm, recipe.height_mm, ppi, (0.955, 0.945, 0.915))
    scale = page.px_per_mm
    border = round(6 * scale)
    hh, ww = page.pixels.shape[:2]
    size = (ww - 2 * border, hh - 2 * border)
    h, w = painting.pixels.shape[:2]
    zoom = max(size[0] / w, size[1] / h)
    fit = np.array([[zoom, 0, (size[0] - w * zoom) / 2], [0, zoom, (size[1] - h * zoom) / 2], [0, 0, 1.0]])
    picture = cv2.bilateralFilter(resample(painting.pixels.astype(np.float32) / 255, fit, size), 9, 0.18, 4)
    if recipe.colour:
        faded = picture ** np.float32([0.82, 1.0, 0.95]) * np.float32([0.92, 0.86, 0.82]) + 0.05
        picture = faded + (grain(seeded(seed, "snap"), size[::-1], 0.8) * 0.012)[..., None]
    else:
        picture = silver(picture, seed, 1.15)
    page.pixels[border : border + size[1], border : border + size[0]] = np.clip(picture, 0, 1)
    to_page = np.array([[1, 0, border], [0, 1, border], [0, 0, 1.0]]) @ fit @ np.diag([w, h, 1.0])
    return replace(page, art=to_page, elements=dict(painting.boxes))


def typed_page(recipe: story.TypedPage, painting: Painting | None, ppi: float, seed: int) -> Page:
    """Return a letter (one column of typewriting) or a printed page in columns, perhaps with a small picture."""
    paper = (0.945, 0.93, 0.88)
    page = plain_strip(recipe.width_mm, recipe.height_mm, ppi, paper, seed)
    margin = recipe.width_mm * 0.1
    face = "typewriter" if recipe.columns == 1 else "serif"
    cap = 2.5 if recipe.columns == 1 else 2.2
    print_line(
        page, recipe.head, 8.0 if recipe.columns == 1 else 13.0, "serif-bold", recipe.width_mm / 2, 24, anchor="centre"
    )
    column_w = (recipe.width_mm - 2 * margin + 8) / recipe.columns
    top = 48.0
    marks = []
    picture_mm = 0.0
    if painting is not None:
        h, w = painting.pixels.shape[:2]
        wide = recipe.width_mm - 2 * margin
        picture_mm = wide * 0.52
        scale = page.px_per_mm
        size = (round(wide * scale), round(picture_mm * scale))
        zoom = max(size[0] / w, size[1] / h)
        fit = np.array([[zoom, 0, (size[0] - w * zoom) / 2], [0, zoom, (size[1] - h * zoom) / 2], [0, 0, 1.0]])
        pixels = silver(resample(painting.pixels.astype(np.float32) / 255, fit, size), seed, 1.0, 0.0)
        picture = Page(pixels, ppi, (), fit @ np.diag([w, h, 1.0]), dict(painting.boxes))
        page = lay(page, picture, margin, top)
        top += picture_mm + 12
    rows = int((recipe.height_mm - top - 20) / (cap * 2.4))
    for number, line in enumerate(recipe.lines[: rows * recipe.columns]):
        column, row = divmod(number, rows)
        kind, _, text = line.rpartition("|")
        x, y = margin + column * column_w, top + row * cap * 2.4
        if text:
            box = print_line(page, text, cap, face, x, y, colour=(0.16, 0.15, 0.17))
            if kind:
                marks.append(made_mark(kind, text, text.split()[-1], box, cap))
    return replace(page, marks=tuple(marks))


def target_card(recipe: story.TargetCard, ppi: float) -> Page:
    """Return a target card: grey steps, colour patches and a millimetre ruler."""
    page = blank(recipe.width_mm, recipe.height_mm, ppi, (0.46, 0.46, 0.46))
    scale = page.px_per_mm
    rng = seeded(7, "target")

    def patch(x: float, y: float, side: float, colour: tuple[float, float, float]) -> None:
        x0, y0, s = round(x * scale), round(y * scale), round(side * scale)
        page.pixels[y0 : y0 + s, x0 : x0 + s] = np.float32(colour)

    for number in range(12):
        value = 0.96 - number * 0.08
        patch(14 + number * 15.2, 14, 14, (value, value, value))
    for number in range(24):
        row, column = divmod(number, 12)
        patch(14 + column * 15.2, 38 + row * 17, 14, tuple(float(v) for v in rng.uniform(0.08, 0.92, 3)))
    page.pixels[round(92 * scale) : round(124 * scale), round(10 * scale) : round(200 * scale)] = 0.95
    for mm in range(181):
        x = round((14 + mm) * scale)
        high = 9 if mm % 10 == 0 else 6 if mm % 5 == 0 else 3.5
        cv2.line(page.pixels, (x, round(92 * scale)), (x, round((92 + high) * scale)), BLACK, 1)
        if mm % 10 == 0:
            print_line(page, str(mm // 10), 2.6, "grotesque", 14 + mm, 106, anchor="centre")
    print_line(page, "MILLIMETRES AND GREY SCALE", 2.4, "grotesque", 14, 117)
    page.pixels[:] += (cloud(rng, page.pixels.shape[:2], 200) * 0.004)[..., None]
    return page
