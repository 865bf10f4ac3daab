"""The brushwork of a painting laid on film of it: told in the night, beside what differs."""

from intake.config.differ import DifferRules
from intake.config.very_object import VeryObjectRules
from intake.imaging.geometry import Matrix, Points
from intake.imaging.overlay import lay
from intake.imaging.surface import brushwork
from intake.imaging.untold import set_side_by_side
from intake.kin import Surface
from intake.model import Box
from intake.stages.differ import Side


def surface_of(
    art: Side, film: Side, art_to_film: Matrix, differ: DifferRules, rules: VeryObjectRules, *, polarity_flip: bool
) -> Surface | None:
    """How far the brushwork of ``art`` lies on ``film``; ``art_to_film`` leads from pixels of the one to those of the
    other. None where they cannot be laid over one another closely."""
    over = lay(art.pixels, film.pixels, art_to_film, differ.frame_px)
    ground = set_side_by_side(over, differ, polarity_flip=polarity_flip) if over else None
    if ground is None or ground.untold > differ.most_usual:
        return None
    made = brushwork(art.pixels, film.pixels, ground, rules, polarity_flip=polarity_flip)
    if made is None:
        return None

    def boxes(places: Points) -> tuple[tuple[Box, Box], ...]:
        pairs = [(art.box(made.over.on_a(c)), film.box(made.over.on_b(c))) for c in places]
        return tuple((one, other) for one, other in pairs if one is not None and other is not None)

    return Surface(
        round(made.faint, 4),
        round(made.plain, 4),
        round(made.aside, 4),
        round(made.untold_film, 2),
        round(made.untold_art, 2),
        round(made.strange, 3),
        boxes(made.alike),
        boxes(made.unlike),
    )
