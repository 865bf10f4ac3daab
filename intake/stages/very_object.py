"""Was this very object photographed? What is said of a painting and film of its design, from their difference report.

*Supported* where the brushwork lies on the film place for place and nothing of either is left untold: then neither
another hand (a replica, an unused version painted anew, a copy after the poster) nor a later repainting fits. It is
never proof: a print of the film has it all, too. *Contradicted* where the drawing differs, or the brushwork does
throughout, on film that shows drawing as fine. Else nothing can be said: where the brushwork is the painting's but not
everywhere, it may have been repainted since.
"""

from dataclasses import dataclass
from typing import Literal

from intake.config.very_object import Says, VeryObjectRules
from intake.kin import Difference, Differences, Surface
from intake.model import FILM_KINDS, Box, Screened

VERSION = 1
# Also a photograph of a painting shows its brushwork; what this says of the order of making is in stages/order.py.
PHOTOGRAPHED = FILM_KINDS | {"photographic_proof"}

Verdict = Literal["supported", "contradicted", "cannot say"]
_SAYS_OTHERWISE = ("scaled", "moved", "redrawn")


@dataclass(frozen=True, slots=True)
class VeryObject:
    """The verdict, in words, the regions and the places of the painting (stored pixels) that it rests on."""

    verdict: Verdict
    words: str
    regions: tuple[Difference, ...] = ()
    places: tuple[Box, ...] = ()


def of_painting(kind_a: str, kind_b: str) -> bool:
    """Is one of the two a painting and the other a photograph, on film or paper, that may be of it?"""
    kinds = {kind_a, kind_b}
    return "artwork" in kinds and bool(kinds & PHOTOGRAPHED)


def same_brushwork(surface: Surface, rules: VeryObjectRules) -> bool:
    """Does the brushwork of the painting lie on the other, beyond chance, whatever was done to single places?"""
    return surface.faint >= rules.same_hand and surface.aside <= rules.by_chance


def another_hand(surface: Surface, rules: VeryObjectRules) -> bool:
    """Is the brushwork another one throughout, on a picture that shows drawing as fine?"""
    return surface.faint <= rules.other_hand and surface.plain >= rules.resolved


def very_object(
    kind_a: str, kind_b: str, report: Differences, rules: VeryObjectRules, screened: Screened | None
) -> VeryObject | None:
    """What may be said of a painting and film; None for a pair of other kinds. ``screened``: how the painting was
    looked at for a printing screen. Repainting hides: what is covered or added contradicts nothing, other drawing does.
    """
    if not of_painting(kind_a, kind_b) or "photographic_proof" in (kind_a, kind_b):
        return None
    surface = report.surface

    def said(verdict: Verdict, says: Says, places: tuple[tuple[Box, Box], ...] = ()) -> VeryObject:
        figures = {"faint": surface.faint, "plain": surface.plain, "aside": surface.aside} if surface else {}
        limit = screened.limit_lpi if screened else None
        figures |= {"other_hand": rules.other_hand, "limit": limit or 0.0, "least": rules.least_lpi}
        words = rules.words[says].format(**figures)
        return VeryObject(verdict, words, against, tuple(on_art for on_art, _ in places))

    against = tuple(r for r in report.regions if r.kind in _SAYS_OTHERWISE and r.certainty >= rules.drawn_otherwise)
    same = surface is not None and same_brushwork(surface, rules)
    if against and not same:
        return said("contradicted", "drawn")
    if surface is None:
        return said("cannot say", "untold")
    if is_printed(screened):
        return said("cannot say", "screened")
    if another_hand(surface, rules):
        return said("contradicted", "other_hand", surface.unlike)
    if not same:
        return said("cannot say", "unclear", surface.alike)
    if _lacks(surface, rules):
        return said("cannot say", "partly", surface.unlike)
    if any(r.kind != "cropped" for r in report.regions):
        return said("cannot say", "differs", surface.alike)
    if screened is None or screened.limit_lpi is None or screened.limit_lpi < rules.least_lpi:
        return said("cannot say", "coarse", surface.alike)
    return said("supported", "supported", surface.alike)


def is_printed(screened: Screened | None) -> bool:
    """Was a printing screen seen?"""
    return screened is not None and screened.tone in ("screened", "rescreened")


def _lacks(surface: Surface, rules: VeryObjectRules) -> bool:
    """Has some place of one what the other lacks?"""
    untold = surface.untold_film > rules.untold_on_film or surface.untold_art > rules.untold_on_art
    return untold or surface.strange > rules.most_strange
