"""Whether a scan is below the house rule for its kind, and what to do differently. A note: it refuses nothing."""

import math

from intake.config.rescan import CaptureRow, RescanRow, RescanRules
from intake.imaging.capture import look_at_capture
from intake.imaging.page import Page
from intake.model import FILM_KINDS, Checked, Classified, Finding, Rescan

VERSION = 2
_BEYOND_CHANCE = 2.0  # standard deviations of a count (Poisson)


def rescan(page: Page, checked: Checked, classified: Classified, rules: RescanRules) -> Rescan:
    """Return what the scan adds to the picture, and the findings; none where the kind is unknown or has no rule."""
    seen, part = look_at_capture(page), page.key.part
    even = seen.even_px >= rules.least_even_px
    specks = round(1e6 * seen.specks / seen.even_px, 1) if even else None
    made = Rescan((), seen.noise, seen.banding, specks)
    row = next((r for r in rules.rows if classified.kind in r.kinds), None)
    if row is None:
        return made
    by_chance = _BEYOND_CHANCE * math.sqrt(seen.specks)
    sure = specks if 1e6 * (seen.specks - by_chance) > rules.dust.most * seen.even_px else None
    noise = rules.film_noise if classified.kind in FILM_KINDS else rules.noise
    findings = [
        below_house_rule(checked, row, part),
        _more("noisy", "Noise of {:.1f} (CIE L*) on the evenest places", seen.noise, noise, part),
        _more("banded", "Lines along an axis of the scan, {:.1f} (CIE L*) strong", seen.banding, rules.banding, part),
        _more("dusty", "{:.0f} specks on a million pixels of even ground", sure, rules.dust, part),
    ]
    return Rescan(tuple(f for f in findings if f), seen.noise, seen.banding, specks)


def below_house_rule(checked: Checked, row: RescanRow, part: int) -> Finding | None:
    """Return the finding of a scan of too little resolution or depth."""
    short = [
        f"{checked.ppi:.0f} ppi, {_level(checked.ppi, row)}; the rule is {row.ppi:.0f}"
        if checked.ppi is not None and checked.ppi < row.ppi
        else "",
        f"{checked.bits} bits a channel; the rule is {row.bits}" if 0 < checked.bits < row.bits else "",
    ]
    said = "; ".join(s for s in short if s)
    if not said:
        return None
    message = f"Below the house rule for its kind: {said} (after {row.source}; {row.sure}). {row.how}"
    return Finding("rescan", "below_house_rule", "note", message, part)


def _more(code: str, words: str, value: float | None, row: CaptureRow, part: int) -> Finding | None:
    if value is None or value <= row.most:
        return None
    reached = [(most, name) for name, most in row.levels.items() if value <= most]
    level = f", which reaches {min(reached)[1] if reached else 'no level'}" if row.levels else ""
    message = f"{words.format(value)}{level}; the rule is {row.most:g} (after {row.source}; {row.sure}). {row.how}"
    return Finding("rescan", code, "note", message, part)


def _level(ppi: float, row: RescanRow) -> str:
    reached = [(least, name) for name, least in row.levels.items() if ppi >= least]
    return f"which reaches {max(reached)[1]}" if reached else "which reaches no level"
