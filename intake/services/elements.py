"""A campaign's check-list: elements that a person named by an example crop each, looked for on every design of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np

from intake.config.elements import ElementRules
from intake.config.fingerprint import FingerprintRules
from intake.config.load import Config
from intake.config.match import MatchRules
from intake.imaging.derived import read_colour
from intake.imaging.features import Features
from intake.kin import Decision, Family
from intake.model import Box, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home, now
from intake.services.orient import orientations
from intake.services.review import LONGEST_TITLE, RulingRefused, named, one_at_a_time, tidy
from intake.services.rulings import standing
from intake.services.shown import MemberView, member_view, name_of
from intake.services.whose import Whose
from intake.stages.fingerprint import fingerprint
from intake.stages.match import measure
from intake.store import campaigns, decisions, desk, families, pairs
from intake.store.database import Connection

State = Literal["found", "unsure", "not found"]


@dataclass(frozen=True, slots=True)
class Element:
    """An element: the decision's number, the example's part and place in stored pixels, its name, and by whom."""

    number: int
    key: PartKey
    box: Box
    name: str
    who: str


@dataclass(frozen=True, slots=True)
class Carried:
    """Whether one design carries an element: on which of its pictures it was found best, and in words why."""

    state: State
    on: MemberView | None
    words: str


@dataclass(frozen=True, slots=True)
class DesignRow:
    """One design of the campaign, and each element in the order of the check-list."""

    code: str
    name: str
    carried: tuple[Carried, ...]


@dataclass(frozen=True, slots=True)
class CheckList:
    """The elements named for a campaign, each with the member that its example lies on, and its designs."""

    campaign: str
    elements: tuple[tuple[Element, MemberView], ...]
    designs: tuple[DesignRow, ...]


def elements_on(connection: Connection, keys: Iterable[PartKey]) -> list[Element]:
    """The elements whose example lies on any of these parts, the oldest first."""
    wanted = set(keys)
    made = standing(decisions.decisions_of(connection, ("name_element",)))
    return [_element(d) for d in made if d.parts[0] in wanted]


def _element(d: Decision) -> Element:
    return Element(d.id, d.parts[0], Box(*d.shown["box"]), str(d.shown.get("text", "")), d.who)


def name_element(home: Home, config: Config, who: str, key: PartKey, box: Box, name: str) -> int:
    """Name an element by an example; returns the decision's number. Raises RulingRefused when it makes no sense."""
    who, name = named(who), tidy(name, LONGEST_TITLE)
    if not name:
        raise RulingRefused("Say what the element is called.")
    with one_at_a_time, home.database.write() as connection:
        stamps = desk.shown_stamps(connection)
        d = dossiers_of(connection, stamps, [key]).get(key) if stamps else None
        if stamps is None or d is None or d.rendered is None:
            raise RulingRefused("There is no such picture.")
        code = families.codes_of(connection, [key]).get(key)
        of = campaigns.campaign_of(connection, code) if code else None
        if of is None:
            raise RulingRefused("This design is of no campaign: there is no other design to look for it on.")
        inside = [m.key for f in families.families_by_code(connection, of.families) for m in f.members]
        if len(elements_on(connection, inside)) >= config.elements.most:
            raise RulingRefused(f"A campaign has at most {config.elements.most} elements: take one back first.")
        example = _look(home, stamps, d, box, config)
        if example is None or len(example.points) < config.elements.least_keypoints:
            raise RulingRefused("Too little is drawn at this place to know it again: take in more of it.")
        shown = {"text": name, "box": list(box), "of": f"{d.title}: {name}", "families": [code]}
        return decisions.add_decision(connection, now(), who, "name_element", [key], shown)


def check_list(home: Home, config: Config, code: str, whose: Whose) -> CheckList | None:
    """The check-list of the campaign that the family ``code`` is of; None where it is of none. Of designs and pieces
    that may not be shown nothing is said."""
    with home.database.read() as connection:
        of, stamps = campaigns.campaign_of(connection, code), desk.shown_stamps(connection)
        if of is None or stamps is None:
            return None
        every = families.families_by_code(connection, of.families)
        have = dossiers_of(connection, stamps, [m.key for f in every for m in f.members])
        have = {k: d for k, d in have.items() if whose.may_show(d.scan.consignment)}
        upright = orientations(have, pairs.matches_among(connection, stamps.match, sorted(have)))
        named_here = elements_on(connection, have)
    every = [f for f in every if any(m.key in have for m in f.members)]
    views = {k: member_view(d, upright[k], 0.0, "") for k, d in have.items()}
    examples = [(e, _look(home, stamps, have[e.key], e.box, config)) for e in named_here]
    rows = [_row(home, stamps, f, examples, have, views, config) for f in every]
    return CheckList(of.code, tuple((e, views[e.key]) for e in named_here), tuple(rows))


def _row(
    home: Home,
    stamps: Stamps,
    family: Family,
    examples: Sequence[tuple[Element, Features | None]],
    have: Mapping[PartKey, Dossier],
    views: Mapping[PartKey, MemberView],
    config: Config,
) -> DesignRow:
    order: dict[str, int] = {kind: n for n, kind in enumerate(config.elements.kinds)}
    fronts = [have[m.key] for m in family.members if m.key in have and have[m.key].scan.side != "verso"]
    fronts = sorted((d for d in fronts if d.kind in order), key=lambda d: (order[d.kind], d.scan.path, d.key))
    fronts = fronts[: config.elements.most_pictures]
    inside = {m.key for m in family.members}
    carried = []
    for element, example in examples:
        if element.key in inside:
            carried.append(Carried("found", views[element.key], "the example is of this design"))
            continue
        looks = ((d, _look(home, stamps, d, None, config)) for d in fronts)
        told = [(carries(example, look, config), d) for d, look in looks if example is not None and look is not None]
        best = max(told, key=lambda t: t[0][1], default=None)
        if best is None:
            carried.append(Carried("unsure", None, "no picture of this design can be looked at"))
        else:
            (state, _, words), d = best
            carried.append(Carried(state, views[d.key] if state != "not found" else None, words))
    return DesignRow(family.code, name_of(family, have), tuple(carried))


def carries(example: Features, picture: Features, config: Config) -> tuple[State, tuple[int, float], str]:
    """Whether a picture carries the example, in either polarity, mirrored or not, at another size or turned; with what
    ranks it (2 found, 1 unsure, 0 not; then how far edges run alike), and in words why."""
    rules: ElementRules = config.elements
    match_rules: MatchRules = config.match
    if len(example.points) < rules.least_keypoints:
        return "unsure", (1, 0.0), "too little is drawn on the example"
    found = measure(example, picture, (), match_rules)
    if found is None:
        return "not found", (0, 0.0), "no arrangement of its places was met"
    m = found[2]
    edges = m.edges_area / max(1e-6, m.seen_area)
    words = f"{m.places} of its places met, edges run alike on {min(1.0, edges):.0%} of them"
    alike = m.places >= rules.found_places and edges >= rules.found_edges
    if (alike or (m.places >= rules.many_places and edges >= rules.many_edges)) and m.coverage_a >= rules.found_covered:
        return "found", (2, edges), words
    if m.places >= rules.unsure_places and edges >= rules.unsure_edges:
        return "unsure", (1, edges), words
    return "not found", (0, edges), words


def _look(home: Home, stamps: Stamps, d: Dossier, box: Box | None, config: Config) -> Features | None:
    """The fingerprint of a part's working image, or of a place on it; None where it is not there."""
    if d.rendered is None:
        return None
    path = home.picture(d.key, "working", stamps.stages["render"])
    place = None
    if box is not None:
        r = d.rendered
        scale = r.stored_per_working
        left, top = (box.left - r.box.left) / scale, (box.top - r.box.top) / scale
        place = Box(int(left), int(top), max(1, int(box.width / scale)), max(1, int(box.height / scale)))
    rules = config.elements
    size = (
        (rules.frame_px, rules.keypoints)
        if place is None
        else (config.fingerprint.frame_px, config.fingerprint.keypoints)
    )
    return _looked(str(path), place, *size, config.fingerprint)


@lru_cache(maxsize=160)
def _looked(path: str, place: Box | None, frame_px: int, keypoints: int, rules: FingerprintRules) -> Features | None:
    picture = read_colour(Path(path))
    if picture is None:
        return None
    if place is not None:
        picture = picture[max(0, place.top) : place.top + place.height, max(0, place.left) : place.left + place.width]
        if min(picture.shape[:2]) < 24:
            return None
    grid_px = rules.grid_px * frame_px // rules.frame_px
    so = rules.model_copy(update={"frame_px": frame_px, "keypoints": keypoints, "grid_px": grid_px})
    return fingerprint(np.ascontiguousarray(picture), 1.0, (), "unknown", so)[1]
