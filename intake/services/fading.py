"""Cyan that copies of one design have lost against the family's best copy of their kind, where that can be told."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from intake.config.fading import FadingRules
from intake.config.load import Config
from intake.imaging.fade import Kept, kept_ink
from intake.kin import Match
from intake.model import Box, PartKey
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.home import Home
from intake.services.shown import FamilyView
from intake.services.upright import Matrix, inverse, registration, times
from intake.store import desk, pairs

Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Fading:
    """One copy beside the best of its kind: ``loss`` of cyan (0 to 1), None where it cannot be told, and in words."""

    key: PartKey
    best: PartKey
    loss: float | None
    words: str


def family_fading(home: Home, config: Config, view: FamilyView) -> list[tuple[str, str, Fading]]:
    """(place, the best copy's place, what is told) of the members of a family that may be shown together."""
    shown = {m.key: m.place for m in view.members if not m.withheld}
    with home.database.read() as connection:
        stamps = desk.shown_stamps(connection)
        if stamps is None or "render" not in stamps.stages or len(shown) < 2:
            return []
        have = dossiers_of(connection, stamps, shown)
        matches = pairs.matches_among(connection, stamps.match, sorted(shown))
    told = fading(home, stamps.stages["render"], have, matches, config.fading)
    return [(shown[f.key], shown[f.best], f) for f in told]


def fading(
    home: Home, stamp: str, have: Mapping[PartKey, Dossier], matches: Sequence[Match], rules: FadingRules
) -> list[Fading]:
    """Compare the fronts of each kind among ``have``; ``stamp`` is that under which their small pictures lie."""
    kinds: dict[str, list[Dossier]] = {}
    for d in sorted(have.values(), key=lambda d: (d.scan.path, d.key)):
        is_front = d.scan.side not in ("verso", "detail") and d.rendered is not None
        if is_front and d.kind in rules.kinds and d.classified and d.classified.polarity == "positive":
            kinds.setdefault(d.kind, []).append(d)
    made = []
    for copies in kinds.values():
        if len(copies) > 1:
            made += _of_kind(home, stamp, copies[: rules.most_copies], matches, rules)
    return made


def _of_kind(
    home: Home, stamp: str, copies: Sequence[Dossier], matches: Sequence[Match], rules: FadingRules
) -> list[Fading]:
    first, *others = copies
    reference = _small(home, first, stamp)
    if not reference.at.is_file():
        return []
    told: dict[PartKey, Kept | None] = {first.key: Kept((1.0, 1.0, 1.0), 0.0, 1.0)}
    for d in others:
        way, small = registration(d.key, first.key, matches), _small(home, d, stamp)
        if way is not None and small.at.is_file():
            told[d.key] = _compared(small, reference, way[0], rules)
    sure = {k: t for k, t in told.items() if t and t.alike >= rules.least_alike and t.spread <= rules.most_spread}
    best = max(sure, key=lambda k: (_cyan(sure[k]), k))
    made = []
    for key in told:
        if key == best:
            continue
        if key not in sure:
            made.append(Fading(key, best, None, "fading not told: the two seem to be printed otherwise"))
            continue
        loss = _loss(sure[key], sure[best])
        if loss >= rules.least_loss:
            spread = max(sure[key].spread, sure[best].spread)
            words = (
                f"cyan about {loss:.0%} weaker than on the best copy of its kind here, against the ink that kept best; "
                f"from place to place it differs by {spread:.0%}. Compared as scanned: see both in one light."
            )
            made.append(Fading(key, best, round(loss, 3), words))
    return made


def _cyan(kept: Kept) -> float:
    """Cyan kept against magenta and yellow: the exposure of the scan falls out."""
    red, green, blue = (max(share, 1e-3) for share in kept.shares)
    return red / float(np.sqrt(green * blue))


def _loss(kept: Kept, best: Kept) -> float:
    """Cyan lost beside the best copy, against the ink that kept best between the two."""
    beside = [max(a, 0.0) / max(b, 1e-3) for a, b in zip(kept.shares, best.shares, strict=True)]
    return 1 - beside[0] / max(max(beside), 1e-3)


@dataclass(frozen=True, slots=True)
class _Small:
    """A small picture: its file, whose name changes with its content, and the stored pixels that it shows."""

    at: Path
    box: Box


def _small(home: Home, d: Dossier, stamp: str) -> _Small:
    assert d.rendered is not None
    return _Small(home.picture(d.key, "thumb", stamp), d.rendered.box)


@lru_cache(2048)  # asked anew whenever the family is opened
def _compared(copy: _Small, first: _Small, onto: Matrix, rules: FadingRules) -> Kept | None:
    """``copy`` laid onto ``first``; ``onto`` leads from the stored pixels of the one to those of the other."""
    small, reference = _read(copy.at), _read(first.at)
    if small is None or reference is None:
        return None
    try:
        warp = times(inverse(_to_stored(reference, first.box)), times(onto, _to_stored(small, copy.box)))
    except ZeroDivisionError:
        return None
    matrix = np.array(warp, np.float64).reshape(3, 3)
    size = (reference.shape[1], reference.shape[0])
    laid = np.asarray(cv2.warpPerspective(small, matrix, size, flags=cv2.INTER_LINEAR), np.uint8)
    whole = np.full(small.shape[:2], 255, np.uint8)
    seen = cv2.erode(cv2.warpPerspective(whole, matrix, size), np.ones((9, 9), np.uint8), borderValue=0) > 254
    if int(seen.sum()) < rules.least_places:
        return None
    return kept_ink(laid, reference, np.asarray(seen), rules.least_places)


def _read(path: Path) -> Picture | None:
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR_RGB)
    return None if picture is None else np.asarray(picture, np.uint8)


def _to_stored(small: Picture, box: Box) -> Matrix:
    return (box.width / small.shape[1], 0, box.left, 0, box.height / small.shape[0], box.top, 0, 0, 1)
