"""Where a painting and film of it are to be looked at closely, to see if this very painting was photographed."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from intake.config.load import Config
from intake.imaging.derived import read_grey
from intake.model import FILM_KINDS, Box
from intake.services.dossiers import dossiers_of
from intake.services.home import Home
from intake.services.judging import judged
from intake.services.shown import MemberView
from intake.services.upright import at, registration
from intake.stages.very_object import VeryObject
from intake.store import desk, pairs

_PLACES, _SIDE = 3, 0.04
_APART = 4.0


@dataclass(frozen=True, slots=True)
class ObjectView:
    """A painting, film of its design, what may be said of the two, and places of the painting in stored pixels."""

    art: MemberView
    film: MemberView
    said: VeryObject
    boxes: tuple[Box, ...]


def fine_places(home: Home, config: Config, members: Sequence[MemberView]) -> list[ObjectView]:
    """Every pair of artwork and film that a report tells of, with the places that the verdict rests on, then those of
    finest drawing that both show; the regions that contradict stand first."""
    made = []
    shown = [m for m in members if not m.withheld]
    told = judged(home, config, shown).objects
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        have = dossiers_of(connection, stamps, [m.key for m in shown]) if stamps and told else {}
        matches = pairs.matches_among(connection, stamps.match, sorted(have)) if stamps and told else []
    for one, other, said in told:
        art, film = (one, other) if other.kind in FILM_KINDS else (other, one)
        found = registration(art.key, film.key, matches)
        d, f = have.get(art.key), have.get(film.key)
        if found is None or stamps is None or d is None or f is None or d.rendered is None or f.rendered is None:
            continue
        r, inside = d.rendered, f.rendered.box
        path = home.picture(art.key, "working", stamps.stages["render"])
        boxes = [box for region in said.regions if (box := region.a if art is one else region.b)]
        boxes += said.places
        for x, y, side in _finest(str(path)):
            scale = r.stored_per_working
            box = Box(int(r.box.left + x * scale), int(r.box.top + y * scale), int(side * scale), int(side * scale))
            there = at(found[0], box.left + box.width / 2, box.top + box.height / 2)
            on_film = 0 <= there[0] - inside.left < inside.width and 0 <= there[1] - inside.top < inside.height
            if on_film and box.width > 0 and len(boxes) < _PLACES:
                boxes.append(box)
        made.append(ObjectView(art, film, said, tuple(boxes[: max(_PLACES, len(said.regions))])))
    return made


@lru_cache(maxsize=200)
def _finest(path: str) -> tuple[tuple[int, int, int], ...]:
    """(left, top, side) in pixels of a working image of squares with most fine structure, clear of its edges and of
    one another, the finest first."""
    grey = read_grey(Path(path))
    if grey is None:
        return ()
    plane = grey.astype(np.float32)
    fine = cv2.GaussianBlur(plane, (0, 0), 1.0) - cv2.GaussianBlur(plane, (0, 0), 4.0)
    side = max(8, round(_SIDE * max(grey.shape)))
    energy = cv2.blur(np.minimum(np.abs(fine), 12), (side, side))  # bounded: brush edges, not one hard outline
    rim = 2 * side
    energy[:rim], energy[-rim:], energy[:, :rim], energy[:, -rim:] = 0, 0, 0, 0
    made = []
    for _ in range(4 * _PLACES):
        _, most, _, (x, y) = cv2.minMaxLoc(energy)
        if most <= 0:
            break
        made.append((x - side // 2, y - side // 2, side))
        reach = round(_APART * side)
        energy[max(0, y - reach) : y + reach, max(0, x - reach) : x + reach] = 0
    return tuple(made)
