"""What differs between the pieces of a family: told in the night for families that wait, kept by pair."""

import hashlib
import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from intake.config.differ import DifferRules
from intake.config.load import Config
from intake.config.signature import SignatureRules
from intake.config.very_object import VeryObjectRules
from intake.imaging.derived import read_colour
from intake.imaging.geometry import Matrix, frame_to_stored
from intake.kin import Differences, Match, Member
from intake.model import Box, PartKey, Stamps
from intake.services.dossiers import Dossier, dossiers
from intake.services.home import Home
from intake.services.orient import Orientation, orientations
from intake.services.queued import with_differing
from intake.services.references import chosen_of, chosen_references, reference_of
from intake.services.shown import in_order, opens_with
from intake.services.signed_regions import with_signed
from intake.services.surfaces import surface_of
from intake.services.upright import Upright, registration
from intake.stages import very_object
from intake.stages.differ import VERSION, Lettering, Side, differ
from intake.store import differences, families, pairs
from intake.store.differences import Told
from intake.store.pairs import Pair

# A line that no two readers agree on still shows that lettering stands there.
_LEGIBLE = 0.5


@dataclass(frozen=True, slots=True)
class Shown:
    """One side of a task: its working image and what leads from there to stored pixels, the lines read on it, and how
    it is set upright where a piece of its kind may be signed; its kind."""

    key: PartKey
    path: Path
    stored: tuple[float, float, float]
    lines: tuple[Lettering, ...]
    upright: Upright | None
    kind: str


@dataclass(frozen=True, slots=True)
class Task:
    """Two parts to be compared: how a's stored pixels lie on b, whether light and dark are exchanged."""

    a: Shown
    b: Shown
    transform: tuple[float, ...]
    polarity_flip: bool
    stamp: str


def tasks_left(home: Home, config: Config, stamps: Stamps) -> list[Task]:
    """The pairs of families that wait which have no report yet, as things are now; forgets those no longer asked for.

    Of every family its reference is compared with each other piece, and the two that it is opened with.
    """
    with home.database.read() as connection:
        chosen = chosen_references(connection)
        waiting = {entry.family for entry in families.queue(connection)}
        made = families.all_families(connection)
        matches = pairs.all_matches(connection, stamps.match)
        there = differences.told_pairs(connection)
        by_key: dict[PartKey, Dossier] = {}
        for d in dossiers(connection, stamps):
            by_key.setdefault(d.key, d)
    by_part: dict[PartKey, list[Match]] = {}
    for m in matches:
        by_part.setdefault(m.a, []).append(m)
    wanted: dict[Pair, str] = {}
    tasks: list[Task] = []
    for family in made:
        inside = {m.key for m in family.members}
        own = [m for key in inside for m in by_part.get(key, ()) if m.b in inside and m.relation != "shared_element"]
        picked = chosen_of(family, chosen)
        turned = orientations({k: by_key[k] for k in inside if k in by_key}, own)
        for pair in family_pairs(in_order(family, by_key, config), own, by_key, picked):
            task = _task(home, pair, own, by_key, turned, config, stamps)
            if task is None:
                continue
            wanted[pair] = task.stamp
            # a settled family keeps the reports it has; those that wait are asked for new ones, and what a person chose
            if there.get(pair) != task.stamp and (family.code in waiting or picked in pair):
                tasks.append(task)
    with home.database.write() as connection:
        differences.drop_differences(connection, there.keys() - wanted.keys())
    return tasks


def family_pairs(
    members: Sequence[Member],
    matches: Sequence[Match],
    known: Mapping[PartKey, Dossier],
    chosen: PartKey | None = None,
) -> list[Pair]:
    """The pairs of a family, its members in order, that are worth a report: its reference (``chosen`` by a person, or
    told) with every other piece; and the two that it is opened with, where that is another pair."""

    def piece(key: PartKey) -> object:
        d = known.get(key)
        return (d.scan.consignment, d.scan.box, d.piece) if d else key

    first = opens_with({m.key: m.role for m in members}, matches)
    reference = chosen or reference_of(members, matches)
    asked = [(reference, m.key) for m in members if reference is not None] + ([first] if first else [])
    wanted: dict[Pair, None] = {}
    for one, other in asked:
        pair = pairs.ordered(one, other)
        if piece(one) != piece(other) and registration(*pair, matches):
            wanted[pair] = None
    return list(wanted)


def _task(
    home: Home, pair: Pair, matches: Sequence[Match], known: Mapping[PartKey, Dossier],
    turned: Mapping[PartKey, Orientation], config: Config, stamps: Stamps,
) -> Task | None:  # fmt: skip
    a, b = known.get(pair[0]), known.get(pair[1])
    if a is None or b is None or a.rendered is None or b.rendered is None or a.scan.side == "verso":
        return None
    found = registration(*pair, matches)
    if found is None:
        return None
    direct = next((m for m in matches if (m.a, m.b) == pair), None)
    flip = direct.polarity_flip if direct else _flips(pair, found[1], matches)
    transform = tuple(float(v) for v in found[0])
    shown = _shown(home, a, turned[a.key], config, stamps), _shown(home, b, turned[b.key], config, stamps)
    uprights = [(s.upright.turn, s.upright.mirrored) if s.upright else None for s in shown]
    closely = very_object.of_painting(a.kind, b.kind)
    hang_on = (
        settings_of(config, closely=closely), uprights, [round(v, 9) for v in transform],
        flip, stamps.stages["render"], [[x.text for x in s.lines] for s in shown],
    )  # fmt: skip
    stamp = hashlib.sha256(json.dumps(hang_on, sort_keys=True).encode()).hexdigest()[:16]
    return Task(*shown, transform, flip, stamp)


def settings_of(config: Config, *, closely: bool = True) -> str:
    """All settings that a report hangs on, with their versions, as text; ``closely``: of a painting and its film."""
    told = (VERSION, config.differ.model_dump(), config.signature.model_dump())
    painting = (very_object.VERSION, config.very_object.model_dump()) if closely else ()
    return json.dumps((*told, *painting), sort_keys=True)


def _flips(pair: Pair, by: Sequence[PartKey], matches: Sequence[Match]) -> bool:
    """Are light and dark exchanged along a chain of matches?"""
    chain = [pair[0], *by, pair[1]]
    steps = {frozenset((m.a, m.b)): m.polarity_flip for m in sorted(matches, key=lambda m: m.probability)}
    return sum(steps.get(frozenset(step), False) for step in pairwise(chain)) % 2 == 1


def _shown(home: Home, d: Dossier, turned: Orientation, config: Config, stamps: Stamps) -> Shown:
    assert d.rendered is not None
    r = d.rendered
    scale = r.stored_per_working
    lines = tuple(
        Lettering(
            line.text,
            tuple(((x - r.box.left) / scale, (y - r.box.top) / scale) for x, y in line.corners),
        )
        for line in (d.reading.lines if d.reading else ())
        if line.agreed or line.confidence >= _LEGIBLE
    )
    path = home.picture(d.key, "working", stamps.stages["render"])
    upright = Upright(r.box, turned.rotation, turned.mirrored) if d.kind in config.signature.kinds else None
    return Shown(d.key, path, (scale, r.box.left, r.box.top), lines, upright, d.kind)


def tell(tasks: Sequence[Task], rules: DifferRules, signature: SignatureRules, closely: VeryObjectRules) -> list[Told]:
    """Compare pairs by their working images; a comparison that breaks says so on its pair, and never loses a run.

    Runs in a worker and knows no database.
    """
    made = []
    for task in tasks:
        started = time.process_time()
        try:
            report = _told(task, rules, signature, closely)
        except MemoryError:
            raise
        except Exception as error:
            why_not = f"the comparison broke off ({type(error).__name__}: {str(error)[:200]}); look at the two by eye"
            report = Differences(task.a.key, task.b.key, (), why_not)
        made.append(Told(report, task.stamp, time.process_time() - started))
    return made


def _told(task: Task, rules: DifferRules, signature: SignatureRules, closely: VeryObjectRules) -> Differences:
    sides = [_side(s) for s in (task.a, task.b)]
    if sides[0] is None or sides[1] is None:
        missing = "a working image is not there: run again to have it made anew"
        return Differences(task.a.key, task.b.key, (), missing)
    to_a, to_b = (_to_stored(s) for s in (task.a, task.b))
    a_to_b = np.linalg.inv(to_b) @ np.array(task.transform, np.float64).reshape(3, 3) @ to_a
    report = differ(sides[0], sides[1], a_to_b, rules, polarity_flip=task.polarity_flip)
    looked = [
        (side.pixels, s.upright) if side and s.upright else None
        for side, s in zip(sides, (task.a, task.b), strict=True)
    ]
    report = with_signed(report, looked, signature)
    if report.why_not or not very_object.of_painting(task.a.kind, task.b.kind):
        return report
    one, other = (sides[0], sides[1]) if task.a.kind == "artwork" else (sides[1], sides[0])
    onto = a_to_b if one is sides[0] else np.asarray(np.linalg.inv(a_to_b), np.float64)
    return replace(report, surface=surface_of(one, other, onto, rules, closely, polarity_flip=task.polarity_flip))


def _to_stored(shown: Shown) -> Matrix:
    scale, left, top = shown.stored
    return frame_to_stored(Box(int(left), int(top), 0, 0), scale)


def _side(shown: Shown) -> Side | None:
    picture = read_colour(shown.path)
    return None if picture is None else Side(shown.key, picture, shown.lines, shown.stored)


def record(home: Home, told: Sequence[Told]) -> None:
    """Write a chunk of reports in one transaction."""
    with home.database.write() as connection:
        differences.record_differences(connection, told)


def note_in_queue(home: Home, config: Config) -> None:
    """Put what differs into the reasons of the families that wait; all is told then."""
    with home.database.write() as connection:
        members = families.members_of(connection, [e.family for e in families.queue(connection)])
        for entry in families.queue(connection):
            changed = with_differing(connection, entry, members.get(entry.family, []), config)
            if changed != entry:
                families.change_entry(connection, changed)
        differences.mark_told(connection)
