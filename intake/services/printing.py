"""What the desk says of how a piece was printed."""

from intake.model import InkScreen, Screened


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
