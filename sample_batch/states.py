"""The states of the designs: what differs between a negative, the painting, and the printed pieces."""

from sample_batch.art.design import Edits, elements
from sample_batch.campaigns import DESIGNS
from sample_batch.verso import Stamp

STUDIO = Stamp(("ASTERLY & KNOWE", "ADVERTISING", "RETURN TO STUDIO"), 0.32, 0.3, 4.2)


def pick(design: str, *starts: str) -> str:
    """Return the name of the design's first element whose name begins with one of ``starts``, tried in order."""
    d = next(d for d in DESIGNS if d.key == design)
    names = elements(d.seed, d.genre, d.aspect)
    return next(n for s in starts for n in names if n.startswith(s))


# The design of style A of THE SALT MERIDIAN went through three states: as first photographed, as repainted, as printed.
def salt_states() -> tuple[Edits, Edits, Edits]:
    """Return the edits of the copy negative (first state), the painting (repainted) and the printed pieces."""
    first = Edits(scale=(("figure_2", 1.28), ("explosion", 0.75)), move=(("figure_2", -0.04, -0.05),))
    return first, Edits(redraw=("figure_3",)), Edits(redraw=("figure_3",), covered=("signature",))
