"""`kinfold learn`: what people's rulings teach the match probability, shown with what it would change, and adopted by a
person as a decision that can be taken back."""

import dataclasses
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from pathlib import Path

from intake.config.load import Config
from intake.errors import UsageError
from intake.kin import Decision, Family, Learnt, Match, QueueEntry
from intake.model import Listed, PartKey
from intake.services.dossiers import Dossier, dossiers
from intake.services.grouping import is_compared, make_families, piece_name
from intake.services.home import Home, now, write_whole
from intake.services.review import RulingRefused, named, one_at_a_time, regroup_all
from intake.services.rulings import GROUPING, Pair, sides, standing
from intake.services.several import numbered_sets, sections, weighed
from intake.stages.learn import Lesson, Ruled, Score, learn
from intake.store import decisions, desk, learnt, pairs, scans

_NAME = re.compile(r"L-[0-9]{4}")


@dataclass(frozen=True, slots=True)
class Change:
    """One family that would change: what it is called, and the places of what would come in and go out."""

    name: str
    gained: tuple[str, ...]
    lost: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Learning:
    """A version that was written: its name, the lesson, and what adopting it would change."""

    name: str
    lesson: Lesson
    families_before: int
    families_after: int
    waiting_before: int
    waiting_after: int
    changes: tuple[Change, ...]


def ruled_pairs(made: Iterable[Decision], matches: Iterable[Match], piece_of: Mapping[PartKey, object]) -> list[Ruled]:
    """Every pair of different pieces that people ruled on and that a match joins; a later ruling stands over an
    earlier one. Pairs without a match teach nothing: matching never gave them a probability."""
    verdict: dict[Pair, tuple[bool, int]] = {}
    for d in standing(made):
        first, rest = sides(d)
        said: list[tuple[Pair, bool]] = []
        if d.verb in ("confirm", "join"):
            said = [(pairs.ordered(*p), True) for p in combinations(d.parts, 2)]
        elif d.verb in ("part_off", "divide", "same_campaign"):
            said = [(pairs.ordered(a, b), False) for a, b in product(first, rest)]
            if d.verb == "divide":
                said += [(pairs.ordered(*p), True) for p in combinations(first, 2)]
        verdict.update({pair: (same, d.id) for pair, same in said})
    return [
        Ruled(m.weight, *verdict[m.a, m.b])
        for m in matches
        if (m.a, m.b) in verdict and m.relation == "same_design" and piece_of.get(m.a) != piece_of.get(m.b)
    ]


def prepare(home: Home, config: Config) -> Learning:
    """Learn from all rulings that stand, write a new version (JSON and its reliability plot) into the home, and say
    what it would change. Nothing is changed. Raises UsageError where there is too little to learn from."""
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None:
            raise UsageError("Nothing was looked at yet: there is nothing to learn from.")
        known = dossiers(connection, stamps)
        as_measured = pairs.all_matches(connection, stamps.match, as_measured=True)
        holds = learnt.adopted(connection)
        ruled = decisions.all_decisions(connection)
        listed = [x for c in scans.consignments(connection) for x in scans.listed_pieces(connection, c.code)]
    piece_of = {d.key: piece_name(d) for d in known}
    told = ruled_pairs([d for d in ruled if d.verb in (*GROUPING, "undo")], as_measured, piece_of)
    rules = config.learn
    lesson = learn(told, rules.least_pairs, rules.folds, rules.bins)
    if lesson is None:
        same = sum(p.same for p in told)
        counted = f"Rulings cover {same} pairs that match and are one design, and {len(told) - same} that are not"
        if min(same, len(told) - same) >= rules.least_pairs:
            raise UsageError(
                f"{counted}; but the surer the match, the less often they say one design. Nothing can be learnt from "
                "that: look through them in the ledger. Nothing was changed."
            )
        raise UsageError(f"{counted}; {rules.least_pairs} of each are needed. Nothing was changed.")
    would = Learnt(lesson.slope, lesson.offset, len(told))
    before = _families(known, as_measured, holds, ruled, listed, config)
    after = _families(known, as_measured, would, ruled, listed, config)
    name = _write(home, lesson, max((d.id for d in ruled), default=0))
    places = {d.key: d.title for d in known}
    changes = _changes(before[0], after[0], places)
    counts = len(before[0]), len(after[0]), len(before[1]), len(after[1])
    return Learning(name, lesson, *counts, tuple(changes))


def adopt(home: Home, config: Config, who: str, name: str) -> int:
    """Let a version hold from now on; families are made anew. Returns the decision's number. Raises UsageError when
    there is no such version, or no name."""
    lesson = _read(home, name)
    try:
        who = named(who)
    except RulingRefused as error:
        raise UsageError(str(error)) from error
    shown = {
        "of": f"version {name}",
        "version": name,
        "slope": lesson["slope"],
        "offset": lesson["offset"],
        "pairs": lesson["same"] + lesson["other"],
        "words": f"log-odds times {lesson['slope']:.3f}, {lesson['offset']:+.3f}",
    }
    with one_at_a_time, home.database.write() as connection:
        number = decisions.add_decision(connection, now(), who, "adopt_learnt", (), shown)
    regroup_all(home, config)
    return number


def _families(
    known: Sequence[Dossier],
    measured: Sequence[Match],
    would: Learnt | None,
    ruled: Sequence[Decision],
    listed: Sequence[Listed],
    config: Config,
) -> tuple[list[Family], list[QueueEntry]]:
    compared = {d.key for d in known if is_compared(d, config)}
    matches = [m for m in measured if m.a in compared and m.b in compared]
    matches = [would.applied(m) for m in matches] if would else matches
    numbered, divided = numbered_sets(known, config), sections(known, matches, config)
    return make_families(known, weighed(matches, numbered, divided, config), ruled, listed, config)


def _changes(before: Sequence[Family], after: Sequence[Family], places: Mapping[PartKey, str]) -> list[Change]:
    """Families with other members than now, each beside the one that shares most with it."""
    then = {frozenset(m.key for m in f.members): f for f in before}
    now_ = {frozenset(m.key for m in f.members): f for f in after}
    made = []
    for keys, family in then.items():
        if keys in now_:
            continue
        heir = max(now_, key=lambda k: len(k & keys), default=frozenset())
        heir = heir if heir & keys else frozenset()
        made.append(Change(_name(family, places), _places(heir - keys, places), _places(keys - heir, places)))
    for keys, family in now_.items():
        if keys not in then and not any(keys & other for other in then):
            made.append(Change(_name(family, places), _places(keys, places), ()))
    return sorted(made, key=lambda c: (c.name, c.gained, c.lost))


def _name(family: Family, places: Mapping[PartKey, str]) -> str:
    return family.title or f"{places.get(family.members[0].key, 'a piece')} and others"


def _places(keys: Iterable[PartKey], places: Mapping[PartKey, str]) -> tuple[str, ...]:
    return tuple(sorted({places.get(k, "a piece") for k in keys}))


# ---- versions on disk -----------------------------------------------------------------------------------------------


def _folder(home: Home) -> Path:
    return home.folder / "learnt"


def _write(home: Home, lesson: Lesson, upto: int) -> str:
    there = [int(p.stem[2:]) for p in _folder(home).glob("L-*.json") if _NAME.fullmatch(p.stem)]
    name = f"L-{max(there, default=0) + 1:04d}"
    said = {"version": name, "made_at": now(), "rulings_up_to": upto, **dataclasses.asdict(lesson)}
    write_whole(_folder(home) / f"{name}.svg", plot(lesson).encode())
    write_whole(_folder(home) / f"{name}.json", (json.dumps(said, indent=1) + "\n").encode())
    return name


def _read(home: Home, name: str) -> dict[str, float]:
    if not _NAME.fullmatch(name):
        raise UsageError("A version is called L- and four digits, as `kinfold learn` says it.")
    try:
        found = json.loads((_folder(home) / f"{name}.json").read_text(encoding="utf-8"))
        return {k: float(found[k]) for k in ("slope", "offset")} | {k: int(found[k]) for k in ("same", "other")}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise UsageError(f"{name}: there is no such version in this home. Type: kinfold learn") from error


def plot(lesson: Lesson) -> str:
    """The reliability plot as SVG: of pairs called so sure, the share that was one design; dots as large as their
    pairs are many. Open dots as matching has it, full ones as learnt (cross-validated)."""
    side, edge = 400, 50
    whole, below = side + 2 * edge, side + edge
    ticks = [
        f'<text x="{edge + side * t / 4:.0f}" y="{below + 20}" text-anchor="middle">{t / 4:g}</text>'
        f'<text x="{edge - 8}" y="{edge + side * (1 - t / 4) + 4:.0f}" text-anchor="end">{t / 4:g}</text>'
        for t in range(5)
    ]
    words = (
        (edge - 28, f"share that was one design: open as matched (Brier {lesson.before.brier:.4f}),"),
        (edge - 12, f"full as learnt, cross-validated (Brier {lesson.after.brier:.4f})"),
        (below + 40, "probability that was given"),
    )
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}"',
        'font-family="sans-serif" font-size="12">',
        "<title>Reliability of the match probability</title>",
        f'<rect x="{edge}" y="{edge}" width="{side}" height="{side}" fill="none" stroke="#888"/>',
        f'<path d="M{edge} {below}L{below} {edge}" stroke="#888"/>',
        *ticks,
        *(f'<text x="{edge}" y="{y}">{said}</text>' for y, said in words),
        *_dots(lesson.before, side, edge, 'fill="none" stroke="#333"'),
        *_dots(lesson.after, side, edge, 'fill="#333" fill-opacity="0.7"'),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _dots(score: Score, side: int, edge: int, look: str) -> list[str]:
    most = max((b.pairs for b in score.bins), default=1)
    made = []
    for b in score.bins:
        x, y, r = edge + side * b.said, edge + side * (1 - b.was), 3 + 9 * (b.pairs / most) ** 0.5
        title = f"<title>{b.pairs} pairs called {b.said:.2f}: {b.was:.2f} were one design</title>"
        made.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" {look}>{title}</circle>')
    return made
