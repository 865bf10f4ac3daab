"""Was this very object photographed? What a difference report lets one say of a piece of artwork and a film of its
design.

Nothing here ever supports it: that takes brush edges, drips, pinholes and board edges compared at full resolution by
eye. An original repainted since, an unused version, a replica and a copy after the poster may all look like the
painting on film.
"""

from dataclasses import dataclass
from typing import Literal

from intake.kin import Difference, Differences
from intake.model import FILM_KINDS

Verdict = Literal["contradicted", "cannot say"]
_SAYS_OTHERWISE = ("scaled", "moved", "redrawn")
_SURE = 0.9


@dataclass(frozen=True, slots=True)
class VeryObject:
    """The verdict, in words, and the regions that it rests on."""

    verdict: Verdict
    words: str
    regions: tuple[Difference, ...] = ()


def very_object(kind_a: str, kind_b: str, report: Differences) -> VeryObject | None:
    """What may be said of artwork and film; None for a pair of other kinds. Repainting hides: what is covered or added
    since contradicts nothing, other drawing does."""
    if {kind_a, kind_b} & {"artwork"} == set() or not {kind_a, kind_b} & FILM_KINDS:
        return None
    against = tuple(r for r in report.regions if r.kind in _SAYS_OTHERWISE and r.certainty >= _SURE)
    if against:
        words = (
            "The painting as it is now is not drawn as the film shows it: it was repainted since, or the film shows "
            "another version, a replica or the printed sheet."
        )
        return VeryObject("contradicted", words, against)
    return VeryObject(
        "cannot say",
        "Nothing seen tells this painting from a replica or a copy of it. Compare brush edges and marks by eye.",
    )
