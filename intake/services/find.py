"""Find what in all consignments matches a picture that is not part of any."""

import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from intake.config.check import CheckRules
from intake.config.fingerprint import FingerprintRules
from intake.config.load import Config
from intake.config.match import AskedRules, MatchRules
from intake.errors import UsageError
from intake.imaging.candidates import CandidateIndex
from intake.imaging.features import Features
from intake.imaging.original import Unreadable, open_original
from intake.kin import Match, Relation
from intake.model import PartFound, PartKey, Stamps
from intake.services.dossiers import dossiers_of
from intake.services.hazards import box_hazards
from intake.services.home import Home
from intake.services.receive import digest_of
from intake.services.searching import load_features, open_index
from intake.stages.fingerprint import fingerprint
from intake.stages.match import verify
from intake.store import families, learnt, runs, scans


@dataclass(frozen=True, slots=True)
class Hit:
    """One part that matches. ``polarity_flip`` and ``mirror`` say how the picture differs from the scan."""

    scan: str
    part: int
    piece: str
    family: str
    relation: Relation
    probability: float
    inliers: int
    polarity_flip: bool
    mirror: bool


@dataclass(frozen=True, slots=True)
class Found:
    """The answer: hits, the best first, and how much was searched. No hits is an answer too.

    ``holds`` are the boxes of the hits in which pieces are held as possible nitrate, with how many.
    """

    hits: tuple[Hit, ...]
    scans_searched: int
    boxes_unread: tuple[str, ...]
    holds: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Offered:
    """A picture that is not part of any consignment: (h, w, 3) uint8 sRGB, and its size in stored pixels."""

    key: PartKey
    working: NDArray[np.uint8]
    width: int
    height: int

    @property
    def stored_per_working(self) -> float:
        """Stored pixels per working pixel."""
        return max(self.width, self.height) / max(self.working.shape[:2])


@dataclass(frozen=True, slots=True)
class Searched:
    """The parts that match an offered picture, the best first, and how much was searched."""

    matches: tuple[tuple[PartKey, Match], ...]
    scans_searched: int
    boxes_unread: tuple[str, ...]


def find(home: Home, config: Config, image: Path, top: int) -> Found:
    """Search every consignment for the picture ``image``.

    Raises UsageError when the picture cannot be opened or is damaged.
    """
    try:
        offered = take_in(home, image, PartKey(_digest(image), 1), config.check)
    except Unreadable as error:
        raise UsageError(f"{image}: {error.finding.message}") from error
    searched = search_all(home, config, offered)
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
    hits, holds = _hits(home, stamps, searched.matches[:top])
    return Found(hits, searched.scans_searched, searched.boxes_unread, holds)


def take_in(home: Home, image: Path, key: PartKey, rules: CheckRules) -> Offered:
    """Open the picture ``image`` within ``rules``. Raises Unreadable."""
    with (
        tempfile.TemporaryDirectory(dir=home.scratch) as scratch,
        open_original(image, rules, Path(scratch)) as original,
    ):
        whole = original.leaves[0].whole
        page = original.page(key, PartFound(1, original.leaves[0].number, whole))
    return Offered(key, page.working, whole.width, whole.height)


def search_all(home: Home, config: Config, offered: Offered) -> Searched:
    """Search every consignment for a picture."""
    key = offered.key
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        received = scans.all_scans(connection)
    opened = open_index(home, stamps, config.match.candidates)
    index, seen = opened or (None, frozenset())
    unread = sorted({f"{s.consignment} / {s.box}" for s in received if s.digest not in seen})
    matches: list[tuple[PartKey, Match]] = []
    if index is not None:
        stamp = stamps.stages["fingerprint"]

        def load(other: PartKey) -> Features:
            return load_features(home.features(other, stamp))

        looks = looks_at(offered.working, offered.stored_per_working, config.fingerprint, config.match.asked)
        first = next(looks)
        matches = search(key, chain([first], looks), index, load, config.match)
        mates = _mates(home, matches, config.match) & set(index.keys)
        matches = _with(sorted(mates)[: config.match.asked.mates], key, first, matches, load, config.match)
    with home.database.read() as connection:
        holds = learnt.adopted(connection)
    if holds:
        matches = _ranked({other: holds.applied(match) for other, match in matches})
    return Searched(tuple(matches), len(seen), tuple(unread))


def _mates(home: Home, matches: Iterable[tuple[PartKey, Match]], rules: MatchRules) -> set[PartKey]:
    """Other members of the families that were surely found."""
    matches = list(matches)
    sure = [other for other, match in matches if _rank(match)[0] >= rules.asked.sure]
    with home.database.read() as connection:
        return set(families.members_with(connection, sure)) - {other for other, _ in matches}


def _with(
    mates: Iterable[PartKey],
    key: PartKey,
    look: Features,
    matches: Iterable[tuple[PartKey, Match]],
    load: Callable[[PartKey], Features],
    rules: MatchRules,
) -> list[tuple[PartKey, Match]]:
    """The matches with those of the ``mates`` that match too."""
    known = dict(matches)
    for mate in mates:
        match = verify(key, look, mate, load(mate), (), rules)
        if match is not None:
            known[mate] = match
    return _ranked(known)


def _hits(
    home: Home, stamps: Stamps, matches: Sequence[tuple[PartKey, Match]]
) -> tuple[tuple[Hit, ...], tuple[tuple[str, int], ...]]:
    with home.database.read() as connection:
        keys = [key for key, _ in matches]
        known, family = dossiers_of(connection, stamps, keys), families.codes_of(connection, keys)
        boxes = {(d.scan.consignment, d.scan.box) for d in known.values()}
        held = [b for b in box_hazards(connection, stamps, boxes) if b.held]
    hits = tuple(
        Hit(
            known[other].scan.path,
            other.part,
            known[other].title,
            family.get(other, ""),
            match.relation,
            round(match.probability, 3),
            match.inliers,
            match.polarity_flip,
            match.mirror,
        )
        for other, match in matches
        if other in known
    )
    return hits, tuple((" / ".join(b.name), len(b.held)) for b in held)


def looks_at(
    working: NDArray[np.uint8], stored_per_working: float, rules: FingerprintRules, asked: AskedRules
) -> Iterator[Features]:
    """The fingerprints to ask with, made as they are wanted."""
    for look in asked.looks:
        grid_px = rules.grid_px * look.frame_px // rules.frame_px
        so = rules.model_copy(update={"frame_px": look.frame_px, "keypoints": look.keypoints, "grid_px": grid_px})
        yield fingerprint(working, stored_per_working, (), "unknown", so)[1]


def search(
    key: PartKey,
    looks: Iterable[Features],
    index: CandidateIndex,
    load: Callable[[PartKey], Features],
    rules: MatchRules,
) -> list[tuple[PartKey, Match]]:
    """The parts that match a picture asked for, the best first: the best match of all looks for each.

    No more is looked at once a match is sure.
    """
    best: dict[PartKey, Match] = {}
    for features in looks:
        for candidate in index.query(features, rules.candidates.top):
            match = verify(key, features, candidate.key, load(candidate.key), [candidate.variant], rules)
            held = best.get(candidate.key)
            if match is not None and (held is None or _rank(match) > _rank(held)):
                best[candidate.key] = match
        if any(_rank(match)[0] >= rules.asked.sure for match in best.values()):
            break
    return _ranked(best)


def _ranked(matches: Mapping[PartKey, Match]) -> list[tuple[PartKey, Match]]:
    """The best first."""
    return sorted(matches.items(), key=lambda m: (*(-x for x in _rank(m[1])), m[0]))


def _rank(match: Match) -> tuple[float, float]:
    """What is surer of one design goes first; a shared element says less than any of these."""
    return (0.0 if match.relation == "shared_element" else match.probability, match.weight)


def _digest(image: Path) -> str:
    try:
        return digest_of(image)
    except OSError as error:
        raise UsageError(f"{image}: the picture cannot be opened ({error.strerror}).") from error
