"""The comparison points of a family, cut out of every member at equal scale, with what each is nearer to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.load import Config
from intake.config.points import PointRules
from intake.imaging.derived import read_grey
from intake.imaging.nearer import Plane, alike, middle, nearer, settled
from intake.kin import Match
from intake.model import Box, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.pictures import Crops, NoPicture, encoded, set_upright
from intake.services.points import Point, points_on
from intake.services.shown import MemberView
from intake.services.upright import IDENTITY, Matrix, Upright, at, inverse, registration, times
from intake.store import desk, families, pairs
from intake.store.database import Connection

CUT_PX = 320
Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class PlaceView:
    """A point on one member: ``alike`` (0 to 1) with the proven piece, the suggestion, and why none is made."""

    member: MemberView
    is_proven: bool
    is_copy: bool
    alike: float | None
    says: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class PointView:
    """A point, the proven piece first and then every other member that shows the place."""

    point: Point
    places: tuple[PlaceView, ...]

    @property
    def proven(self) -> MemberView:
        """The proven piece."""
        return self.places[0].member

    @property
    def has_copies(self) -> bool:
        """Was a piece of the design ruled a reproduction, so that there is something to set the others beside?"""
        return any(p.is_copy for p in self.places)


def family_points(home: Home, config: Config, members: Sequence[MemberView]) -> list[PointView]:
    """The points on members that may be shown, each on all of these; the oldest point first."""
    shown = {m.key: m for m in members if not m.withheld and m.upright and m.side != "verso"}
    with home.database.read() as connection:
        points = points_on(connection, shown)
        stamps = desk.shown_stamps(connection)
        if not points or stamps is None:
            return []
        have = dossiers_of(connection, stamps, shown)
        matches = pairs.matches_among(connection, stamps.match, sorted(shown))
    copies = {key for key, d in have.items() if d.ruled.reproduction}
    pictures = Pictures(home, stamps, have)
    return [PointView(p, tuple(_places(p, shown, copies, pictures, matches, config.points))) for p in points]


def _places(
    point: Point,
    shown: Mapping[PartKey, MemberView],
    copies: set[PartKey],
    pictures: "Pictures",
    matches: Sequence[Match],
    rules: PointRules,
) -> list[PlaceView]:
    cuts: dict[PartKey, Plane | None] = {}
    margin, reach, size, frame = frame_of(point.box, rules)
    for key in shown:
        found = (IDENTITY, ()) if key == point.key else registration(point.key, key, matches)
        if found is None:
            continue
        cuts[key] = pictures.plane(key, found[0], frame, size, rules.least_px / max(point.box.width, point.box.height))
    proven = cuts.get(point.key)
    if proven is None:
        return [PlaceView(shown[point.key], True, False, None, "", "its picture is too coarse here, or not there")]
    own = middle(proven, margin)
    known = [settled(proven, c, margin, reach) for k, c in cuts.items() if k in copies and c is not None]
    made = [PlaceView(shown[point.key], True, False, None, "")]
    for key, cut in cuts.items():
        if key == point.key:
            continue
        if cut is None:
            why = "this place is not on its picture, or too coarse there to be told"
            made.append(PlaceView(shown[key], False, key in copies, None, rules.says.unsure, why))
            continue
        place = settled(proven, cut, margin, reach)
        says, why = ("", "ruled a reproduction") if key in copies else _says(own, known, place, rules)
        made.append(PlaceView(shown[key], False, key in copies, alike(own, place).share, says, why))
    return sorted(made, key=lambda p: (not p.is_proven, p.is_copy))


def _says(own: Plane, known: Sequence[Plane], place: Plane, rules: PointRules) -> tuple[str, str]:
    """The suggestion, and why none is made. Several known reproductions must all speak one way."""
    if not known:
        return rules.says.unsure, ""
    told = [n for copy in known if (n := nearer(own, copy, place)).differ >= rules.differ]
    if not told:
        return rules.says.unsure, "the proven piece and the known reproductions look alike here"
    if min(n.told for n in told) < rules.told:
        return rules.says.unsure, "it shows something else here, or its tones hide the place"
    if all(n.share >= rules.near for n in told):
        return rules.says.original, ""
    if any(n.share <= 1 - rules.near for n in told) and not any(n.share >= rules.near for n in told):
        return rules.says.copy_, ""
    return rules.says.unsure, "it lies between the two"


def frame_of(box: Box, rules: PointRules) -> tuple[int, int, tuple[int, int], Matrix]:
    """(margin, reach, size) of a place in its own frame, in pixels, and what leads from stored pixels to that frame."""
    longest = max(box.width, box.height)
    scale = min(1.0, rules.frame_px / longest)
    wide = round(rules.margin * longest)
    around = Box(box.left - wide, box.top - wide, box.width + 2 * wide, box.height + 2 * wide)
    size = max(8, round(around.width * scale)), max(8, round(around.height * scale))
    return (
        round(wide * scale),
        max(1, round(rules.reach * longest * scale)),
        size,
        Upright(around, 0, False).from_stored(scale),
    )


class Pictures:
    """Working images of members, each opened once."""

    def __init__(self, home: Home, stamps: Stamps, have: Mapping[PartKey, Dossier]) -> None:
        self._home, self._stamps, self._have = home, stamps, have
        self._open: dict[PartKey, Plane | None] = {}

    def plane(
        self, key: PartKey, from_proven: Matrix, frame: Matrix, size: tuple[int, int], least: float
    ) -> Plane | None:
        """The place as grey, (h, w) of ``size``; None where it is not on the picture, or has fewer than ``least``
        working pixels a stored pixel of the proven piece."""
        d = self._have.get(key)
        if d is None or d.rendered is None:
            return None
        if key not in self._open:
            path = self._home.picture(key, "working", self._stamps.stages["render"])
            read = read_grey(path)
            self._open[key] = None if read is None else read.astype(np.float32)
        grey = self._open[key]
        if grey is None:
            return None
        r = d.rendered
        shown: Matrix = (r.stored_per_working, 0, r.box.left, 0, r.stored_per_working, r.box.top, 0, 0, 1)
        return _laid(grey, shown, from_proven, frame, size, least)


def _laid(
    picture: NDArray[np.float32],
    to_stored: Matrix,
    from_proven: Matrix,
    frame: Matrix,
    size: tuple[int, int],
    least: float = 0.0,
    corners_inside: int = 2,
) -> NDArray[np.float32] | None:
    """A picture of a member laid in the frame of a place of the proven piece; None where it is not all there."""
    try:
        warp = times(frame, times(inverse(from_proven), to_stored))
        back = inverse(warp)
        corners = [at(back, x, y) for x, y in ((0, 0), (size[0], 0), size, (0, size[1]))]
        middle_ = at(back, size[0] / 2, size[1] / 2)
        aside = at(back, size[0] / 2 + 1, size[1] / 2)
    except ZeroDivisionError:
        return None
    h, w = picture.shape[:2]
    if not (0 <= middle_[0] < w and 0 <= middle_[1] < h):
        return None
    inside = sum(-0.02 * w <= x <= 1.02 * w and -0.02 * h <= y <= 1.02 * h for x, y in corners)
    per_frame = float(np.hypot(aside[0] - middle_[0], aside[1] - middle_[1]))  # pixels of the picture a frame pixel
    scale = float(np.hypot(frame[0], frame[3]))
    if inside < corners_inside or per_frame * scale < least:
        return None
    if per_frame > 1:  # finer than the frame: softened first, so that nothing folds back
        picture = cv2.GaussianBlur(picture, (0, 0), 0.5 * per_frame)
    matrix = np.array(warp, np.float64).reshape(3, 3)
    return np.asarray(
        cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )


# ---- as it is looked at ---------------------------------------------------------------------------------------------


def place_cut(
    connection: Connection,
    home: Home,
    config: Config,
    crops: Crops,
    place: tuple[PartKey, Box],
    key: PartKey,
    upright: tuple[int, bool],
    folders: Mapping[str, str],
) -> bytes:
    """One member at a ``place`` of another (its part, and stored pixels of it), as that one lies and at its scale, then
    turned and mirrored as told, as JPEG: cut from the received file where it is there. Raises NoPicture."""
    stamps = desk.shown_stamps(connection)
    of, box = place
    if stamps is None:
        raise NoPicture
    code = families.codes_of(connection, [of]).get(of)
    inside = families.members_of(connection, [code])[code] if code else [of]
    if key not in inside:
        raise NoPicture
    matches = pairs.matches_among(connection, stamps.match, sorted(inside))
    found = (IDENTITY, ()) if key == of else registration(of, key, matches)
    d = dossiers_of(connection, stamps, [key]).get(key)
    if found is None or d is None or d.rendered is None:
        raise NoPicture
    working = home.picture(key, "working", stamps.stages["render"])
    cut = _cut(d, found[0], box, crops, folders[d.scan.consignment], working, config)
    return encoded(set_upright(cut, *upright))


def point_place(connection: Connection, number: int) -> tuple[PartKey, Box]:
    """Where the point of this number lies. Raises NoPicture when there is none (any more)."""
    point = next((p for p in points_on(connection) if p.number == number), None)
    if point is None:
        raise NoPicture
    return point.key, point.box


def _cut(
    d: Dossier, from_proven: Matrix, place: Box, crops: Crops, folder: str, working: Path, config: Config
) -> Picture:
    wide = round(config.points.margin * max(place.width, place.height))
    around = Box(place.left - wide, place.top - wide, place.width + 2 * wide, place.height + 2 * wide)
    scale = CUT_PX / max(around.width, around.height)
    size = max(1, round(around.width * scale)), max(1, round(around.height * scale))
    try:
        corners = [
            at(from_proven, x, y)
            for x in (around.left, around.left + around.width)
            for y in (around.top, around.top + around.height)
        ]
    except ZeroDivisionError as error:
        raise NoPicture from error
    left, top = (int(min(c[n] for c in corners)) for n in (0, 1))
    right, bottom = (int(max(c[n] for c in corners)) + 1 for n in (0, 1))
    assert d.rendered is not None
    part = d.rendered.box
    box = Box(max(left, part.left), max(top, part.top), 0, 0)
    box = Box(
        box.left, box.top, min(right, part.left + part.width) - box.left, min(bottom, part.top + part.height) - box.top
    )
    if box.width < 2 or box.height < 2:
        raise NoPicture
    picture, to_stored = crops.place(d, folder, box, working)
    frame = Upright(around, 0, False).from_stored(scale)
    laid = _laid(picture.astype(np.float32), to_stored, from_proven, frame, size, corners_inside=0)
    if laid is None:
        raise NoPicture
    if d.classified and d.classified.polarity == "negative":
        laid = 255 - laid
    return np.clip(laid, 0, 255).astype(np.uint8)
