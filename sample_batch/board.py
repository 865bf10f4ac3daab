"""Paintings, roughs, lettering and paste-ups on their boards, as an agency's studio left them."""

from dataclasses import replace

import cv2
import numpy as np

from sample_batch.art.design import Painting
from sample_batch.light import LUMA, cloud, grain, seeded
from sample_batch.page import Page, blank, lay
from sample_batch.sheet import Title, lay_rgba, resample, title_block
from sample_batch.typeset import Ink, made_mark, print_line

BOARD: Ink = (0.925, 0.905, 0.855)
PENCIL: Ink = (0.36, 0.36, 0.38)


def _board(width_mm: float, height_mm: float, ppi: float, seed: int, colour: Ink = BOARD) -> Page:
    page = blank(width_mm, height_mm, ppi, colour)
    h, w = page.pixels.shape[:2]
    rng = seeded(seed, "board")
    page.pixels[:] += (grain(rng, (h, w), 0.9) * 0.008 + cloud(rng, (h, w), 90 * page.px_per_mm) * 0.012)[..., None]
    y, x = np.ogrid[0:h, 0:w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y)).astype(np.float32) / page.px_per_mm
    page.pixels[:] *= 1 - (0.09 * np.exp(-edge / 9))[..., None] * np.float32([0.6, 1.0, 1.6])
    for _ in range(5):
        at = (int(rng.uniform(0, w)), int(rng.uniform(0, h)))
        axes = (int(rng.uniform(4, 15) * page.px_per_mm), int(rng.uniform(2, 6) * page.px_per_mm))
        smear = np.zeros((h, w), np.float32)
        cv2.ellipse(smear, at, axes, rng.uniform(0, 180), 0, 360, 1.0, -1)
        page.pixels[:] *= 1 - cv2.GaussianBlur(smear, (0, 0), 3 * page.px_per_mm)[..., None] * 0.05
    return page


def paint_on_board(
    painting: Painting,
    width_mm: float,
    height_mm: float,
    ppi: float,
    seed: int,
    margin_mm: float = 32.0,
    notes: tuple[str, ...] = (),
    job: str = "",
) -> Page:
    """Return a painting on illustration board: ragged painted edge, pencil crop marks and notes in the margin."""
    board = _board(width_mm, height_mm, ppi, seed)
    scale = board.px_per_mm
    wide, high = width_mm - 2 * margin_mm, height_mm - 2 * margin_mm
    size = (round(wide * scale), round(high * scale))
    h, w = painting.pixels.shape[:2]
    fit = np.diag([size[0] / w, size[1] / h, 1.0])
    pixels = resample(painting.pixels.astype(np.float32) / 255, fit, size)
    rng = seeded(seed, "paint")
    relief = cloud(rng, size[::-1], 0.7 * scale)
    pixels = pixels * (1 + 0.012 * (relief - np.roll(relief, 1, axis=0)))[..., None]
    alpha = _ragged_edge(size, scale, rng)
    matrix = np.diag([float(size[0]), float(size[1]), 1.0])
    art = Page(np.clip(pixels, 0, 1).astype(np.float32), ppi, (), matrix, dict(painting.boxes), {}, alpha)
    page = lay(board, art, margin_mm, margin_mm)
    _pencil_crop(page, margin_mm, wide, high, rng)
    marks = list(page.marks)
    if job:
        box = print_line(
            page, job, 4.2, "grotesque-bold", width_mm - margin_mm, 12, anchor="right", colour=(0.2, 0.16, 0.4)
        )
        marks.append(made_mark("job", job, job.split()[-1], box, 4.2))
    for number, note in enumerate(notes):
        x = margin_mm + number * wide * 0.45
        print_line(page, note, 5.0, "script", x, height_mm - margin_mm * 0.42, colour=PENCIL, strength=0.75)
    return replace(page, marks=tuple(marks))


def _ragged_edge(size: tuple[int, int], scale: float, rng: np.random.Generator) -> np.ndarray:
    """The edge of the paint where tape was pulled off: straight, with small runs."""
    w, h = size
    y, x = np.ogrid[0:h, 0:w]
    edge = np.minimum(np.minimum(x, w - 1 - x), np.minimum(y, h - 1 - y)).astype(np.float32) / scale
    bite = 0.7 + 0.45 * cloud(rng, (h, w), 2.5 * scale)
    return np.clip((edge - bite) * scale + 0.5, 0, 1).astype(np.float32)


def _pencil_crop(page: Page, margin: float, wide: float, high: float, rng: np.random.Generator) -> None:
    scale = page.px_per_mm
    layer = np.zeros(page.pixels.shape[:2], np.float32)
    thick = max(1, round(0.35 * scale))
    for x, dx in ((margin + 6, -1), (margin + wide - 6, 1)):
        for y, dy in ((margin + 6, -1), (margin + high - 6, 1)):
            px, py = x * scale, y * scale
            jitter = rng.uniform(-1, 1, 2) * scale
            ends = [(px + dx * 22 * scale, py + jitter[0]), (px + jitter[1], py + dy * 22 * scale)]
            starts = [(px + dx * 8 * scale, py), (px, py + dy * 8 * scale)]
            for (ax, ay), (bx, by) in zip(starts, ends, strict=True):
                cv2.line(layer, (round(ax), round(ay)), (round(bx), round(by)), 0.7, thick, cv2.LINE_AA)
    page.pixels[:] += (np.float32(PENCIL) - page.pixels) * layer[..., None]


def rough(painting: Painting, title: Title, width_mm: float, height_mm: float, ppi: float, seed: int) -> Page:
    """Return a felt-pen and wash rough of a design: outlines over a few flat washes on layout paper."""
    page = _board(width_mm, height_mm, ppi, seed, (0.94, 0.93, 0.88))
    scale = page.px_per_mm
    margin = 16.0
    wide, high = width_mm - 2 * margin, height_mm - 2 * margin
    size = (round(wide * scale), round(high * scale))
    h, w = painting.pixels.shape[:2]
    pixels = resample(painting.pixels.astype(np.float32) / 255, np.diag([size[0] / w, size[1] / h, 1.0]), size)
    rng = seeded(seed, "rough")
    shape = size[::-1]
    wobble = np.stack([cloud(rng, shape, 22 * scale), cloud(rng, shape, 22 * scale)]) * 0.9 * scale
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    soft = cv2.bilateralFilter(cv2.GaussianBlur(pixels, (0, 0), 1.6 * scale), 9, 0.25, 3 * scale)
    wash = np.floor(soft * 5 + 0.5) / 5
    wash = cv2.remap(wash, x + wobble[0], y + wobble[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    grey = cv2.GaussianBlur(pixels @ LUMA, (0, 0), 0.9 * scale)
    edges = np.abs(cv2.GaussianBlur(grey, (0, 0), 0.6 * scale) - cv2.GaussianBlur(grey, (0, 0), 1.5 * scale))
    pen = np.clip(edges * 26 - 0.35, 0, 1)
    pen = cv2.remap(pen, x - wobble[1] * 0.6, y + wobble[0] * 0.6, cv2.INTER_LINEAR)
    streak = cv2.GaussianBlur(rng.standard_normal(shape).astype(np.float32), (0, 0), sigmaX=14 * scale / 4, sigmaY=0.8)
    cover = np.clip(0.72 + 0.22 * streak / streak.std(), 0.3, 0.95)[..., None]
    ground = np.float32([0.94, 0.93, 0.88])
    drawn = ground + (wash * 0.85 + 0.14 - ground) * cover
    drawn = drawn * (1 - 0.8 * pen[..., None])
    matrix = np.diag([float(size[0]), float(size[1]), 1.0])
    art = Page(
        np.clip(drawn, 0, 1).astype(np.float32),
        ppi,
        (),
        matrix,
        dict(painting.boxes),
        {},
        _ragged_edge(size, scale, rng),
    )
    page = lay(page, art, margin, margin)
    block = title_block(replace(title, fill=(240, 236, 226), outline=(40, 36, 34), shadow=None), wide * 0.7 * scale)
    lay_rgba(
        page.pixels,
        block,
        (width_mm * 0.5) * scale - block.shape[1] / 2,
        (margin + high * 0.96) * scale - block.shape[0],
    )
    return page


def lettering(title: Title, width_mm: float, height_mm: float, ppi: float, seed: int, job: str = "") -> Page:
    """Return the drawn title treatment alone on white board, with guide lines and touched-out edges."""
    page = _board(width_mm, height_mm, ppi, seed, (0.95, 0.94, 0.90))
    scale = page.px_per_mm
    ink = replace(title, fill=(22, 20, 24), outline=None, shadow=None)
    block = title_block(ink, width_mm * 0.78 * scale)
    x = width_mm * 0.5 * scale - block.shape[1] / 2
    y = height_mm * 0.48 * scale - block.shape[0] / 2
    for line in (y - 2 * scale, y + block.shape[0] + 2 * scale):
        cv2.line(
            page.pixels,
            (round(8 * scale), round(line)),
            (round((width_mm - 8) * scale), round(line)),
            (0.6, 0.7, 0.85),
            1,
        )
    halo = cv2.GaussianBlur(cv2.dilate(block[..., 3], np.ones((9, 9))), (0, 0), 1.2 * scale)
    white = np.dstack([np.full((*halo.shape, 3), 0.975, np.float32), halo * 0.7])
    lay_rgba(page.pixels, white, x, y)
    lay_rgba(page.pixels, block, x, y)
    marks = []
    if job:
        box = print_line(page, job, 3.6, "typewriter", 12, height_mm - 9)
        marks.append(made_mark("job", job, job.split()[-1], box, 3.6))
    return replace(page, marks=tuple(marks))
