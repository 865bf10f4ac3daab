"""``find`` on a made archive: another version, a photo by hand, and what belongs to nothing."""

import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from intake.imaging.candidates import CandidateIndex, post
from intake.model import PartKey
from intake.services.find import looks_at, search
from tests.bench.archive import View
from tests.bench.figures import wilson
from tests.bench.pairs import Archive, fingerprint_rules, key_of, limits_of, match_rules, number_of

SORTS = ("variant", "photo", "photo of a variant")
# (probability, log-odds, number of the view)
Answer = tuple[float, float, int]

_shared: dict[str, object] = {}


def report(archive: Archive, folder: Path) -> None:
    """Ask for every view that is not held, as ``kinfold find`` does, and print how the answers fare."""
    index = CandidateIndex(post((key_of(n), archive.features[n]) for n in archive.held), limits_of(match_rules()))
    asked = [n for n, view in enumerate(archive.views) if view.asked]
    _shared.update(archive=archive, index=index, folder=folder)
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as workers:
        made = list(workers.map(_seek, asked, chunksize=4))
    answers = {n: found for n, (found, _) in zip(asked, made, strict=True)}
    print(f"find, index open: {np.median([s for _, s in made]):.2f} CPU seconds a picture (median)")
    views = archive.views
    for sort in SORTS:
        queries = [n for n in asked if views[n].sort == sort and _held(archive, views[n].design, "")]
        right = sum(_first(answers[n], views) == views[n].design for n in queries)
        print(f"find, {sort}: first answer right", wilson(right, len(queries)))
        film = [n for n in queries if _held(archive, views[n].design, "negative")]
        alone = sum(
            _first([x for x in answers[n] if _counts(views[x[2]], views[n])], views) == views[n].design for n in film
        )
        print("  to the negative alone:", wilson(alone, len(film)))
    strangers = [n for n in asked if not _held(archive, views[n].design, "")]
    confident = sum(max((p for p, *_ in answers[n]), default=0) >= 0.9 for n in strangers)
    print("belong to nothing, answered with p >= .9:", wilson(confident, len(strangers)))


def _seek(number: int) -> tuple[list[Answer], float]:
    archive, index, folder = _shared["archive"], _shared["index"], _shared["folder"]
    assert isinstance(archive, Archive) and isinstance(index, CandidateIndex) and isinstance(folder, Path)
    picture = np.ascontiguousarray(cv2.imread(str(folder / f"{archive.views[number].name}.png"))[..., ::-1])
    started = time.process_time()
    looks = looks_at(picture, 1.0, fingerprint_rules(), match_rules().asked)
    found = search(PartKey("query", 1), looks, index, lambda key: archive.features[number_of(key)], match_rules())
    spent = time.process_time() - started
    designs = [(key, m) for key, m in found if m.relation != "shared_element"]
    return [(m.probability, m.weight, number_of(key)) for key, m in designs], spent


def _first(found: list[Answer], views: list[View]) -> str:
    return views[max(found)[2]].design if found else ""


def _held(archive: Archive, design: str, sort: str) -> bool:
    return any(archive.views[n].design == design and sort in ("", archive.views[n].sort) for n in archive.held)


def _counts(other: View, asked: View) -> bool:
    """Of the picture's own family only negatives, of others all: they must not come first either."""
    return other.design != asked.design or other.sort == "negative"
