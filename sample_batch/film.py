"""Copy negatives and transparencies in density: light -> log exposure -> film curve -> what a scanner sees."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from sample_batch.light import cloud, grain, seeded, to_linear, to_srgb
from sample_batch.page import Mark, Page, Pixels, blank, carry, shift
from sample_batch.sheet import resample
from sample_batch.typeset import press_ink, set_line, turn

# Common practice and memory (status M, the values the section on film of the domain notes calls doubtful).
MASK_BASE = (0.20, 0.60, 0.90)
NEUTRAL_BASE = (0.16, 0.16, 0.17)
CLEAR_BASE = (0.17, 0.16, 0.18)
NEGATIVE_GAMMA = 0.60
REVERSAL_GAMMA = 1.45
REVERSAL_DMAX = 3.2
# Light that the copy lens scatters over the picture, as a share of white; ours.
FLARE = 0.012


@dataclass(frozen=True, slots=True)
class Film:
    """A piece of film or a plate, right reading (seen through its base), in mm. ``rebate_mm``: sides, ends.

    ``edge`` is printed in the rebate by light; ``mark`` says which of its words is a mark.
    """

    sort: str
    width_mm: float
    height_mm: float
    rebate_mm: tuple[float, float]
    edge: str = ""
    mark: str = ""
    notched: bool = False
    seed: int = 0
    fading: float = 0.0
    edge_cap_mm: float = 1.7


def negative_density(linear: Pixels, base: tuple[float, float, float], gamma: float = NEGATIVE_GAMMA) -> Pixels:
    """Return densities above clear light of a negative that saw ``linear`` (reflectances, 0..1), (h, w, 3).

    A straight line of slope ``gamma`` over log exposure, with a toe about 1.9 below white and a shoulder.
    """
    exposure = np.log10(np.maximum(linear, 1e-5)) + 1.9
    toe = 0.12
    straight = toe * np.logaddexp(0, exposure / toe)
    image = gamma * straight
    shoulder = 1.7
    image = image / (1 + (image / shoulder) ** 6) ** (1 / 6)
    return np.asarray(np.float32(base) + image, np.float32)


def reversal_density(linear: Pixels, gamma: float = REVERSAL_GAMMA) -> Pixels:
    """Return densities of a transparency that saw ``linear``: clear near white, dark to about ``REVERSAL_DMAX``."""
    exposure = np.log10(np.maximum(linear, 1e-5))
    toe = 0.08
    image = gamma * toe * np.logaddexp(0, (-0.12 - exposure) / toe)
    return np.asarray(np.float32(CLEAR_BASE) + image / (1 + (image / REVERSAL_DMAX) ** 5) ** 0.2, np.float32)


def see_through(density: Pixels) -> Pixels:
    """Return what a scanner codes for ``density``, the bare lamp being 0.97."""
    return to_srgb(0.97 * 10.0**-density)


def expose(film: Film, subject: Page, ppi: float) -> Page:
    """Return the processed ``film`` at ``ppi`` with ``subject`` filling its image area as a copy camera framed it.

    ``subject`` must have about the area's proportions (see ``copy_stand``).
    """
    page = blank(film.width_mm, film.height_mm, ppi, (0, 0, 0))
    scale = page.px_per_mm
    h, w = page.pixels.shape[:2]
    side, end = film.rebate_mm
    x0, y0, x1, y1 = (round(v * scale) for v in (side, end, film.width_mm - side, film.height_mm - end))
    sh, sw = subject.pixels.shape[:2]
    zoom = max((x1 - x0) / sw, (y1 - y0) / sh)
    into = shift((x0 + x1) / 2 - sw * zoom / 2, (y0 + y1) / 2 - sh * zoom / 2) @ np.diag([zoom, zoom, 1.0])
    local = shift(-x0, -y0) @ into
    seen = to_linear(resample(subject.pixels, local, (x1 - x0, y1 - y0)))
    seen = cv2.GaussianBlur(seen, (0, 0), 0.018 * scale + 0.25)
    seen = seen * _vignette(seen.shape[:2])[..., None] + (FLARE * 0.4 if film.sort == "transparency" else FLARE)
    light = np.zeros((h, w, 3), np.float32)
    light[y0:y1, x0:x1] = seen
    gate = np.zeros((h, w), np.float32)
    cv2.rectangle(gate, (x0 + 1, y0 + 1), (x1 - 2, y1 - 2), 1.0, -1)
    gate = cv2.GaussianBlur(gate, (0, 0), 0.06 * scale + 0.3)
    light *= gate[..., None]
    edge, marks = _edge_print(film, scale, (h, w))
    density = _develop(film, light, edge, (h, w))
    exposed = carry(subject, into, see_through(density), _outline(film, scale, (h, w)))
    return replace(exposed, ppi=ppi, marks=marks, added={})


def _develop(film: Film, light: Pixels, edge: Pixels, shape: tuple[int, int]) -> Pixels:
    rng = seeded(film.seed, "film")
    if film.sort == "transparency":
        density = reversal_density(light)
        # Edge print by light leaves clear, slightly yellow letters in the black rebate.
        density = density + edge[..., None] * (np.float32([0.35, 0.45, 1.1]) - density) * 0.9
        fade = np.float32([0.35, 0.1, 0.16]) * film.fading
        density = density * (1 - fade)
    elif film.sort == "colour":
        density = negative_density(light, MASK_BASE)
        density += edge[..., None] * np.float32([0.75, 0.85, 0.8])
    else:
        grey = (light @ np.float32([0.30, 0.55, 0.15] if film.sort == "mono" else [0.02, 0.48, 0.50]))[..., None]
        density = negative_density(grey, (NEUTRAL_BASE[1],) * 3, 0.64)
        density += np.float32(NEUTRAL_BASE) - NEUTRAL_BASE[1] + edge[..., None] * 1.05
    size = 0.6
    common = grain(rng, shape, size)[..., None]
    amount = 0.011 * np.sqrt(np.maximum(density, 0.02))
    density = density + common * amount
    if film.sort in ("colour", "transparency"):
        for channel in range(3):
            density[..., channel] += grain(rng, shape, size) * amount[..., channel] * 0.5
    density += (cloud(rng, shape, min(shape) * 0.5) * 0.008)[..., None]
    return np.maximum(density, 0)


def _vignette(shape: tuple[int, int]) -> Pixels:
    h, w = shape
    y, x = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    return 1 - 0.10 * (x * x + y * y) / 2


def _edge_print(film: Film, scale: float, shape: tuple[int, int]) -> tuple[Pixels, tuple[Mark, ...]]:
    """Letters along one long side, in the rebate; a few bars and a number stand between them as on real edges."""
    field = np.zeros(shape, np.float32)
    if not film.edge:
        return field, ()
    layer = np.zeros((*shape, 3), np.float32)
    marks = []
    cap = film.edge_cap_mm
    ink = turn(set_line(film.edge, cap * scale, "grotesque-bold", 0.18), 270)
    x = film.rebate_mm[0] * 0.5 * scale - ink.shape[1] / 2
    for y_mm in _edge_places(film.height_mm, ink.shape[0] / scale):
        box = press_ink(layer, ink, x, y_mm * scale, (1, 1, 1))
        if film.mark:
            marks.append(Mark("film_base", film.edge, film.mark, box, cap))
    field = cv2.GaussianBlur(layer[..., 0], (0, 0), 0.3)
    return field, tuple(marks)


def _edge_places(height_mm: float, length_mm: float) -> list[float]:
    if height_mm > 2 * length_mm + 30:
        return [height_mm * 0.13, height_mm * 0.62]
    return [height_mm * 0.3]


def _outline(film: Film, scale: float, shape: tuple[int, int]) -> Pixels:
    """Return 1 on the film and 0 where it is cut away: rounded corners, and a notch in the short edge.

    Seen through the base, the notch lies at the upper left (published practice: upper right = emulsion towards you).
    """
    h, w = shape
    cover = np.zeros((h, w), np.uint8)
    radius = max(1, round((0.4 if film.sort == "plate" else 1.2) * scale))
    cv2.rectangle(cover, (radius, 0), (w - 1 - radius, h - 1), 255, -1)
    cv2.rectangle(cover, (0, radius), (w - 1, h - 1 - radius), 255, -1)
    for x in (radius, w - 1 - radius):
        for y in (radius, h - 1 - radius):
            cv2.circle(cover, (x, y), radius, 255, -1, cv2.LINE_AA)
    if film.notched:
        rng = seeded(film.seed, "notch")
        x = 9.0
        for _ in range(int(rng.integers(2, 5))):
            wide, deep = rng.choice([1.6, 2.6, 3.4]), rng.choice([1.0, 1.5])
            points = np.array([[x, -1], [x + wide, -1], [x + wide * 0.5, deep * 1.3]])
            if rng.random() < 0.4:
                points = np.array([[x, -1], [x + wide, -1], [x + wide, deep], [x, deep]])
            cv2.fillPoly(cover, [(points * scale).astype(np.int32)], 0, cv2.LINE_AA)
            x += wide + 1.4
    return cv2.GaussianBlur(cover, (0, 0), 0.5).astype(np.float32) / 255
