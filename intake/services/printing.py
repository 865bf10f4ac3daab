"""What the desk says of how a piece was printed."""

import math
from dataclasses import dataclass

from intake.model import InkScreen, InkShift, Screened


def printing_words(screened: Screened | None) -> str:
    """Tone, ruling and angles in words; what the scan is too coarse to show is said, not guessed."""
    if screened is None:
        return ""
    shows = f"this scan shows screens up to {screened.limit_lpi:.0f} lines an inch" if screened.limit_lpi else ""
    if screened.tone == "":
        return f"no screen seen; {shows}" if shows else ""
    if screened.tone == "continuous":
        return f"continuous tone: no screen seen; {shows}"
    kind = "screen over a screen" if screened.tone == "rescreened" else "screened"
    return f"{kind}: {'; '.join(_screen_words(s) for s in screened.screens)} (angles as scanned)"


def _screen_words(screen: InkScreen) -> str:
    ruling = f"{screen.lpi:.0f} lines an inch" if screen.lpi else f"dots every {screen.period_px:.1f} px"
    return f"{screen.ink + ' ' if screen.ink else ''}{ruling} at {screen.angle_deg:.0f}°"


@dataclass(frozen=True, slots=True)
class Dot:
    """A mark of a plot: place in units of the plot (its middle is 0, 0; x right, y down; reach 1), ink and words."""

    x: float
    y: float
    ink: str
    words: str


@dataclass(frozen=True, slots=True)
class Plot:
    """Dots about a middle; ``reach`` says in words what the outer ring is."""

    dots: tuple[Dot, ...]
    reach: str
    title: str


def shifts_words(screened: Screened | None) -> str:
    """How far each ink lies off black, or why that is not told."""
    if screened is None or not screened.shifts:
        return screened.shifts_words if screened else ""
    each = "; ".join(_shift_words(s) for s in screened.shifts)
    return f"inks against black: {each} (as scanned, {screened.shifts_words})"


def plots(screened: Screened | None) -> tuple[Plot, ...]:
    """The plots of the stored figures: peaks of the spectrum, and inks about black."""
    made: list[Plot] = []
    if screened and screened.screens:
        made.append(_spectrum_plot(screened))
    if screened and screened.shifts:
        reach = max(0.1, max(math.hypot(s.right_mm or 0, s.down_mm or 0) for s in screened.shifts) * 1.15)
        dots = tuple(
            Dot((s.right_mm or 0) / reach, (s.down_mm or 0) / reach, s.ink, _shift_words(s)) for s in screened.shifts
        )
        made.append(Plot((Dot(0, 0, "black", "black"), *dots), f"{reach:.2f} mm", "Inks about black"))
    return tuple(made)


def _spectrum_plot(screened: Screened) -> Plot:
    """Each screen's four peaks: direction of its rows, and dots an inch (or a pixel) from the middle."""
    reach = max(1 / s.period_px for s in screened.screens) * 1.15
    dots = []
    for s in screened.screens:
        far = 1 / s.period_px / reach
        for turn in (0, 90, 180, 270):
            a = math.radians(s.angle_deg + turn)
            dots.append(Dot(far * math.cos(a), -far * math.sin(a), s.ink, _screen_words(s)))
    finest = max(screened.screens, key=lambda s: 1 / s.period_px)
    ring = f"{finest.lpi * 1.15:.0f} lines an inch" if finest.lpi else f"dots every {finest.period_px / 1.15:.1f} px"
    return Plot(tuple(dots), ring, "Peaks of the spectrum")


def _shift_words(shift: InkShift) -> str:
    ways = []
    if shift.right_mm is not None:
        ways.append(f"{abs(shift.right_mm):.2f} mm {'right' if shift.right_mm >= 0 else 'left'}")
    if shift.down_mm is not None:
        ways.append(f"{abs(shift.down_mm):.2f} mm {'down' if shift.down_mm >= 0 else 'up'}")
    return f"{shift.ink} {', '.join(ways)} (± {shift.off_mm:.2f})"
