"""How it was printed: the screens of its inks, continuous tone, or a screen over a screen."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from intake.config.screen import ScreenRules
from intake.imaging.colour_bar import Patch, find_bar, read_shifts, stands
from intake.imaging.page import Page
from intake.imaging.screens import Lattice, find_lattices, is_beat, spectrum
from intake.model import Box, Finding, InkScreen, InkShift, Rendered, Screened, Tone

VERSION = 2
_PLACES = ((0.25, 0.2), (0.75, 0.2), (0.25, 0.5), (0.75, 0.5), (0.25, 0.8), (0.75, 0.8))
# What an ink takes away: cyan red, magenta green, yellow blue; black all three.
_INKS = ("cyan", "magenta", "yellow")
_NO_COLOUR = 6.0
_ONE_ANGLE, _EXACT = 3.0, 1.0
_MM_PER_INCH = 25.4
_LEAST_PATCH_PX = 6


def screen(page: Page, rendered: Rendered, kind: str, ppi: float | None, rules: ScreenRules) -> Screened:
    """Return the screens seen on a part, and how far the inks of a proof's colour bar lie off black."""
    seen = _screens(page, rendered, kind, ppi, rules)
    if kind not in rules.bar_kinds:
        return seen
    shifts, words = _shifts(page, ppi, rules)
    return replace(seen, shifts=shifts, shifts_words=words)


def _screens(page: Page, rendered: Rendered, kind: str, ppi: float | None, rules: ScreenRules) -> Screened:
    """Return the screens seen on a part. Rulings in lines an inch, where the resolution is known; angles as scanned.

    Ruling and angle as in ISO 12647-1: rows of dots an inch, and the direction of the rows. Where no screen is seen and
    the scan is too coarse to show one, the tone is not told: ``limit_lpi`` says up to which ruling it would have shown.
    """
    tiles, scale = _tiles(page, rendered, ppi, rules) if kind in rules.kinds else ([], 1.0)
    if not tiles:
        return Screened("", None, None, ())
    look_ppi = ppi / scale if ppi else None
    limit = look_ppi / rules.pixels_a_line if look_ppi else None
    is_grey = float(np.mean([np.ptp(t.astype(np.int16), axis=2).mean() for t in tiles])) < _NO_COLOUR
    planes = [spectrum([t[..., c] for t in tiles]) for c in ((1,) if is_grey else (0, 1, 2))]
    found = [_clear_ones(find_lattices(plane, rules.least_strength), rules) for plane in planes]
    strongest = max((one for plane in found for one in plane), key=lambda o: o.strength, default=None)
    if strongest is None:
        tone: Tone = "continuous" if limit is not None and limit >= rules.finest_lpi else ""
        return Screened(tone, None, _rounded(limit), ())
    screens = _of_ruling(strongest, found, is_grey, rules)
    over = _another([one for one, _ in screens], found, rules)
    made = [_ink_screen(one, ink, scale, ppi) for one, ink in [*screens, *((o, "") for o in over)]]
    findings = (_rescreened(page.key.part),) if over else ()
    return Screened("rescreened" if over else "screened", made[0].lpi, _rounded(limit), tuple(made), findings)


def _shifts(page: Page, ppi: float | None, rules: ScreenRules) -> tuple[tuple[InkShift, ...], str]:
    """How far the other inks lie off black on the colour bar; and where that comes from, or why it is not told."""
    if ppi is None:
        return (), "how well the inks meet is not told: the scan's resolution is not known"
    off_mm = rules.bar_off_px / ppi * _MM_PER_INCH
    if off_mm > rules.bar_off_mm:
        return (), f"how well the inks meet is not told: {ppi:.0f} ppi are too coarse for it"
    scale = page.stored_per_working
    least, most = (mm * ppi / _MM_PER_INCH / scale for mm in rules.bar_patch_mm)
    bar = find_bar(page.working, max(_LEAST_PATCH_PX, round(least)), round(most))
    if not bar:
        return (), "how well the inks meet is not told: no colour bar with all four inks is seen"
    side = max(max(p.width, p.height) for p in bar)
    left, top = (min(getattr(p, n) for p in bar) - side for n in ("left", "top"))
    right, bottom = max(p.left + p.width for p in bar) + side, max(p.top + p.height for p in bar) + side
    box = Box(*(int(v * scale) for v in (max(0, left), max(0, top), right - left, bottom - top)))
    placed = box._replace(left=page.box.left + box.left, top=page.box.top + box.top)
    crop = page.crop(placed)
    closer = [
        Patch(p.ink, p.left * scale - box.left, p.top * scale - box.top, p.width * scale, p.height * scale) for p in bar
    ]
    found = read_shifts(crop, closer)
    if not found or max(s.off_px for s in found) > rules.bar_worst_px:
        return (), "how well the inks meet is not told: the patches of the colour bar are not alike"
    shifts = []
    for one in found:
        shift = round(one.off_black_px / ppi * _MM_PER_INCH, 3)
        off = round(max(off_mm, one.off_px / ppi * _MM_PER_INCH), 3)
        shifts.append(InkShift(one.ink, shift if stands(closer) else None, None if stands(closer) else shift, off))
    return tuple(shifts), "by the edges of the colour bar's patches; along the bar it is not told"


def _tiles(
    page: Page, rendered: Rendered, ppi: float | None, rules: ScreenRules
) -> tuple[list[NDArray[np.uint8]], float]:
    """Square tiles well inside the piece, and stored pixels a pixel of theirs."""
    scale = max(1.0, ppi / rules.finest_look_ppi) if ppi else 1.0
    left, top, right, bottom = _inside(page.box, rendered)
    side = int(min(rules.tile_px * scale, (right - left) / 2, (bottom - top) / 3))
    look = int(side / scale)
    if look < rules.tile_px // 4:
        return [], scale
    tiles = []
    for sx, sy in _PLACES:
        x, y = left + sx * (right - left) - side / 2, top + sy * (bottom - top) - side / 2
        tile = page.crop(Box(int(x), int(y), side, side), look if scale > 1 else None)
        tiles.append(tile)
    least = min(min(t.shape[:2]) for t in tiles)
    return [t[:least, :least] for t in tiles], scale


def _inside(box: Box, rendered: Rendered) -> tuple[float, float, float, float]:
    if len(rendered.outline) != 4:
        return box.left, box.top, box.left + box.width, box.top + box.height
    xs, ys = [x for x, _ in rendered.outline], [y for _, y in rendered.outline]
    return (
        max(box.left, min(xs)),
        max(box.top, min(ys)),
        min(box.left + box.width, max(xs)),
        min(box.top + box.height, max(ys)),
    )


def _clear_ones(lattices: Sequence[Lattice], rules: ScreenRules) -> list[Lattice]:
    """Without those along the scan's own rows that borders and lines of type make: a screen's are far clearer."""
    return [
        one
        for one in lattices
        if one.strength >= rules.least_on_axis or min(one.angle_deg % 90, -one.angle_deg % 90) > rules.axis_deg
    ]


def _of_ruling(
    strongest: Lattice, found: Sequence[Sequence[Lattice]], is_grey: bool, rules: ScreenRules
) -> list[tuple[Lattice, str]]:
    """The lattices of the strongest one's ruling, each once under the plane that shows it best, with its ink."""
    kept: list[tuple[Lattice, list[float]]] = []
    for plane, lattices in enumerate(found):
        for one in lattices:
            if one.strength < rules.beside * strongest.strength or not _same_ruling(one, strongest, rules):
                continue
            known = next((k for k in kept if _turned(k[0], one) < _ONE_ANGLE), None)
            if known is None:
                known = (one, [0.0] * len(found))
                kept.append(known)
            known[1][plane] = one.strength
            if one.strength > known[0].strength:
                kept[kept.index(known)] = (one, known[1])
    kept.sort(key=lambda k: -k[0].strength)
    return [(one, "" if is_grey else _ink(heights, rules)) for one, heights in kept[:4]]


def _ink(heights: list[float], rules: ScreenRules) -> str:
    """The ink whose colour shows a lattice much better than the other two; none where colour does not tell it."""
    order = np.argsort(heights)[::-1]
    return _INKS[order[0]] if heights[order[0]] > rules.own_ink * heights[order[1]] else ""


def _another(screens: Sequence[Lattice], found: Sequence[Sequence[Lattice]], rules: ScreenRules) -> list[Lattice]:
    """The lattices of a second ruling that no beats of the first ones explain, at a set's angles; else none."""
    left: list[Lattice] = []
    for one in sorted((o for lattices in found for o in lattices), key=lambda o: -o.strength):
        known = [*screens, *left]
        if one.strength < rules.over * screens[0].strength:
            break
        if any(_same_ruling(one, s, rules) for s in screens) or is_beat(one, screens):
            continue
        if not any(_same_ruling(one, k, rules) and _turned(one, k) < _ONE_ANGLE for k in known):
            left.append(one)
    if len(screens) == 1:  # one ink: its beats are its own multiples
        return [one for one in left[:1] if one.strength >= rules.over_alone * screens[0].strength]
    for one in left:
        alike = [o for o in left if abs(o.period_px / one.period_px - 1) < rules.one_ruling]
        stepped = [one, *(o for o in alike if o is not one and abs(_turned(one, o) - rules.angle_step) < _EXACT)]
        if any(abs(_turned(a, b) - rules.angle_step) < _EXACT for a, b in combinations(stepped[1:], 2)):
            return stepped
    return []


def _same_ruling(a: Lattice, b: Lattice, rules: ScreenRules) -> bool:
    return abs(a.period_px / b.period_px - 1) < rules.same_ruling


def _turned(a: Lattice, b: Lattice) -> float:
    away = abs(a.angle_deg - b.angle_deg) % 90
    return min(away, 90 - away)


def _ink_screen(one: Lattice, ink: str, scale: float, ppi: float | None) -> InkScreen:
    period = one.period_px * scale
    lpi = round(ppi / period, 1) if ppi else None
    return InkScreen(ink, lpi, round(period, 3), round(one.angle_deg % 90, 1), round(one.strength, 1))


def _rounded(limit: float | None) -> float | None:
    return None if limit is None else round(limit, 1)


def _rescreened(part: int) -> Finding:
    message = (
        "Two screens of different rulings lie over one another: a printed picture seems to have been copied and "
        "printed again. Compare it with a surely original printing; a printed part in the artwork does the same."
    )
    return Finding("screen", "rescreened", "attention", message, part)
