"""How to set each part upright: by its own text, or else by a match to a part whose text tells."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from intake.kin import Match
from intake.model import PartKey
from intake.services.dossiers import Dossier


@dataclass(frozen=True, slots=True)
class Orientation:
    """Mirror first (left-right) if ``mirrored``, then turn by ``rotation`` degrees clockwise."""

    rotation: int
    mirrored: bool
    confidence: float
    why: str


def orientations(known: Mapping[PartKey, Dossier], matches: Iterable[Match]) -> dict[PartKey, Orientation]:
    """The orientation of every part: by its text; else carried along matches, the surest first; else as scanned."""
    told = {
        key: Orientation(d.reading.rotation, d.reading.mirrored, d.reading.orientation_confidence, "its own text")
        for key, d in known.items()
        if d.reading and d.reading.orientation_confidence > 0
    }
    links = [m for m in matches if m.relation != "shared_element" and m.a in known and m.b in known]
    links.sort(key=lambda m: (-m.probability, m.a, m.b))
    carried = True
    while carried:
        carried = False
        for match in links:
            for source, goal in ((match.a, match.b), (match.b, match.a)):
                if source in told and goal not in told:
                    told[goal] = _carried(told[source], match, source == match.a, known[source].title)
                    carried = True
    return {key: told.get(key, Orientation(0, False, 0.0, "as scanned")) for key in known}


def _carried(source: Orientation, match: Match, forward: bool, words: str) -> Orientation:
    """The goal's orientation: bring its picture onto the source's, then set that upright.

    A match says b = T(step) M a (mirror, then turn clockwise), and a mirror moved past a turn changes its sense:
    M T(r) = T(-r) M.
    """
    step = round(match.rotation / 90) * 90
    mirrored = source.mirrored != match.mirror
    if forward:
        rotation = source.rotation + (step if mirrored else -step)
    else:
        rotation = source.rotation + (-step if source.mirrored else step)
    return Orientation(rotation % 360, mirrored, source.confidence * match.probability, f"by its match with {words}")
