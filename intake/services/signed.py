"""Places that look hand-signed on a family's art and film, and what its other pieces show there. Never whose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from intake.config.load import Config
from intake.config.signature import SignatureRules
from intake.imaging.derived import read_colour
from intake.imaging.nearer import middle, settled
from intake.kin import Match
from intake.model import Box, PartKey
from intake.services.dossiers import dossiers_of
from intake.services.home import Home
from intake.services.pictures import set_upright
from intake.services.pointing import Pictures, frame_of
from intake.services.shown import MemberView
from intake.services.upright import IDENTITY, at, inverse, registration
from intake.stages.signature import Seen, SignedPlace, seen_on, signed_places
from intake.store import desk, pairs


@dataclass(frozen=True, slots=True)
class SignedView:
    """A place that looks hand-signed: on which member, where in stored pixels, how certain, and what others show
    there."""

    member: MemberView
    box: Box
    certainty: float
    others: tuple[tuple[MemberView, Seen], ...]


def family_signed(home: Home, config: Config, members: Sequence[MemberView]) -> list[SignedView]:
    """The places on members that may be shown, the surest first. Looks at every picture of art and film: seconds."""
    shown = {m.key: m for m in members if not m.withheld and m.upright and m.side != "verso"}
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            return []
        have = dossiers_of(connection, stamps, shown)
        matches = pairs.matches_among(connection, stamps.match, sorted(shown))
    pictures = Pictures(home, stamps, have)
    made = []
    for key, member in shown.items():
        if member.kind not in config.signature.kinds or member.upright is None:
            continue
        path = home.picture(key, "working", stamps.stages["render"])
        for place in _places(str(path), member.upright.turn, member.upright.mirrored, config.signature):
            box = _stored(place, member)
            others = _others(key, box, shown, pictures, matches, config)
            made.append(SignedView(member, box, place.certainty, others))
    return sorted(made, key=lambda s: (-s.certainty, s.member.key))


def _stored(place: SignedPlace, member: MemberView) -> Box:
    assert member.upright is not None
    back = inverse(member.upright.shares())
    corners = [at(back, place.left + x * place.width, place.top + y * place.height) for x in (0, 1) for y in (0, 1)]
    left, top = (int(min(c[n] for c in corners)) for n in (0, 1))
    right, bottom = (int(max(c[n] for c in corners)) + 1 for n in (0, 1))
    return Box(max(0, left), max(0, top), max(1, right - left), max(1, bottom - top))


def _others(
    key: PartKey,
    box: Box,
    shown: Mapping[PartKey, MemberView],
    pictures: Pictures,
    matches: Sequence[Match],
    config: Config,
) -> tuple[tuple[MemberView, Seen], ...]:
    """What each other member that shows the place shows there; those on which it is too coarse are left out."""
    margin, reach, size, frame = frame_of(box, config.points)
    least = config.points.least_px / max(box.width, box.height)
    own = pictures.plane(key, IDENTITY, frame, size, least)
    if own is None:
        return ()
    made = []
    for other, member in shown.items():
        found = registration(key, other, matches) if other != key else None
        cut = pictures.plane(other, found[0], frame, size, least) if found else None
        if cut is not None:
            made.append((member, seen_on(middle(own, margin), settled(own, cut, margin, reach), config.signature)))
    return tuple(made)


def _places(path: str, turn: int, mirrored: bool, rules: SignatureRules) -> tuple[SignedPlace, ...]:
    """Kept for as long as the settings are the same; a path holds the stamp of what made its picture."""
    return _looked(path, turn, mirrored, rules.model_dump_json())


@lru_cache(maxsize=400)
def _looked(path: str, turn: int, mirrored: bool, settings: str) -> tuple[SignedPlace, ...]:
    rules = SignatureRules.model_validate_json(settings)
    picture = read_colour(Path(path))
    if picture is None:
        return ()
    upright = set_upright(picture, turn, mirrored)
    return tuple(signed_places(upright, rules))
