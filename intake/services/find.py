"""Find what in all consignments matches a picture that is not part of any."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

from intake.config.load import Config
from intake.errors import UsageError
from intake.imaging.original import Unreadable, open_original
from intake.model import Box, Match, PartFound, PartKey, Relation, Stamps
from intake.services import relate
from intake.services.dossiers import dossiers
from intake.services.home import Home
from intake.services.receive import digest_of
from intake.stages.fingerprint import fingerprint
from intake.stages.match import verify
from intake.store import families, runs


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
    """The answer: hits, the best first, and how much was searched. No hits is an answer too."""

    hits: tuple[Hit, ...]
    scans_searched: int
    boxes_unread: tuple[str, ...]


def find(home: Home, config: Config, image: Path, top: int) -> Found:
    """Search every consignment for the picture ``image``.

    Raises UsageError when the picture cannot be opened or is damaged.
    """
    key = PartKey(_digest(image), 1)
    with tempfile.TemporaryDirectory(dir=home.scratch) as scratch:
        try:
            with open_original(image, config.check, Path(scratch)) as original:
                whole: Box = original.leaves[0].whole
                page = original.page(key, PartFound(1, original.leaves[0].number, whole))
                _, features = fingerprint(page.working, page.stored_per_working, (), "unknown", config.fingerprint)
        except Unreadable as error:
            raise UsageError(f"{image}: {error.finding.message}") from error

    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        known = dossiers(connection, stamps)
        family = {m.key: f.code for f in families.all_families(connection) for m in f.members}
    searched = relate.compared_parts(known, config)
    by_key = {d.key: d for d in reversed(known)}
    matches: list[tuple[PartKey, Match]] = []
    if searched:
        index = relate.open_index(home, searched, stamps, config)
        for candidate in index.query(features, config.match.candidates.top):
            other = relate.load_features(home.features(candidate.key, stamps.stages["fingerprint"]))
            match = verify(key, features, candidate.key, other, [candidate.variant], config.match)
            if match is not None:
                matches.append((candidate.key, match))
    matches.sort(key=lambda m: (-m[1].probability, -m[1].inliers, m[0]))
    hits = tuple(
        Hit(
            by_key[other].scan.path,
            other.part,
            by_key[other].title,
            family.get(other, ""),
            match.relation,
            round(match.probability, 3),
            match.inliers,
            match.polarity_flip,
            match.mirror,
        )
        for other, match in matches[:top]
    )
    unread = sorted({f"{d.scan.consignment} / {d.scan.box}" for d in known if d.checked is None})
    return Found(hits, len({d.scan.digest for d in known if d.checked is not None}), tuple(unread))


def _digest(image: Path) -> str:
    try:
        return digest_of(image)
    except OSError as error:
        raise UsageError(f"{image}: the picture cannot be opened ({error.strerror}).") from error
