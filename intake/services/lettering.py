"""What of a part's text is display lettering, and what is the rest of the printed text."""

from intake.model import Line
from intake.services.dossiers import Dossier

# Display lettering: at least this share of the long edge, this sure, lines within this share of the tallest.
_TITLE_SHARE, _TITLE_CONFIDENCE, _NEARLY, _TITLE_LINES = 0.02, 0.8, 0.6, 4
# Printed pieces bear the title; lettering on others may be a note.
TITLED_KINDS = ("finished_sheet", "printers_proof")


def display_lines(dossier: Dossier) -> list[Line]:
    """The tallest line and the lines nearly as tall, from the top down when set upright; none where all is small."""
    if dossier.reading is None or dossier.rendered is None or dossier.reading.mirrored:
        return []
    least = _TITLE_SHARE * max(dossier.rendered.box.width, dossier.rendered.box.height)
    lines = [(min(x.box.width, x.box.height), x) for x in dossier.reading.lines if x.confidence >= _TITLE_CONFIDENCE]
    tall = [(height, x) for height, x in lines if height >= least and len(x.text) > 1]
    if not tall:
        return []
    top = max(height for height, _ in tall)
    title = [x for height, x in tall if height >= _NEARLY * top]
    down = {0: (0, 1), 90: (1, 0), 180: (0, -1), 270: (-1, 0)}[dossier.reading.rotation]
    title.sort(key=lambda x: x.box.left * down[0] + x.box.top * down[1])
    return title[:_TITLE_LINES]


def display_lettering(dossier: Dossier) -> str:
    """The display lettering as one text in capitals."""
    return " ".join(" ".join(x.text.upper().split()) for x in display_lines(dossier))


def body_lines(dossier: Dossier, least_confidence: float) -> list[str]:
    """The lines that are no print marks, the display lettering among them; of equal lines one."""
    if dossier.reading is None:
        return []
    marks = {m.text for m in dossier.parsed.marks} if dossier.parsed else set()
    lines = dossier.reading.lines
    return sorted({x.text for x in lines if x.confidence >= least_confidence and x.text not in marks})
