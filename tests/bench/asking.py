"""``find`` on a made archive: another version, a photo by hand, and what belongs to nothing."""

import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from intake.imaging.candidates import CandidateIndex, Postings, post, without
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
    postings = post((key_of(n), archive.features[n]) for n in archive.held)
    asked = [n for n, view in enumerate(archive.views) if view.asked]
    _shared.update(archive=archive, postings=postings, index=CandidateIndex(postings, limits_of(match_rules())))
    _shared.update(folder=folder)
    views = archive.views
    film = [n for n in asked if _held(archive, views[n].design, "negative")]
    with ProcessPoolExecutor(2, mp_context=get_context("fork")) as workers:
        made = list(workers.map(_seek, asked, chunksize=4))
        alone = dict(zip(film, workers.map(_seek_alone, film, chunksize=4), strict=True))
    answers = {n: found for n, (found, _) in zip(asked, made, strict=True)}
    spent = [s for _, s in made]
    print(f"find, index open: {np.median(spent):.2f} CPU seconds (median), {np.quantile(spent, 0.95):.2f} (95 %)")
    for sort in SORTS:
        queries = [n for n in asked if views[n].sort == sort and _held(archive, views[n].design, "")]
        right = sum(_first(answers[n], views) == views[n].design for n in queries)
        print(f"find, {sort}: first answer right", wilson(right, len(queries)))
        among = [n for n in queries if n in alone]
        right = sum(_first(alone[n], views) == views[n].design for n in among)
        print("  where of its family negatives alone are held:", wilson(right, len(among)))
        missed = [n for n in among if _first(alone[n], views) != views[n].design]
        print("    missed:", ", ".join(f"{views[n].name} ({_name(views[n])})" for n in missed[:10]) or "none")
    strangers = [n for n in asked if not _held(archive, views[n].design, "")]
    sure = [n for n in strangers if max((p for p, *_ in answers[n]), default=0) >= 0.9]
    print("belong to nothing, answered with p >= .9:", wilson(len(sure), len(strangers)))
    for n in sure[:10]:
        found = views[max(answers[n])[2]]
        print("   ", *(f"{v.name} {v.sort} ({_name(v)})" for v in (views[n], found)), sep=" ... ")


def _name(view: View) -> str:
    return view.art.name if view.art else ""


def _seek(number: int) -> tuple[list[Answer], float]:
    index = _shared["index"]
    assert isinstance(index, CandidateIndex)
    return _ask(number, index)


def _seek_alone(number: int) -> list[Answer]:
    """The answers of an archive that holds nothing of the picture's family but negatives."""
    archive, postings = _shared["archive"], _shared["postings"]
    assert isinstance(archive, Archive) and isinstance(postings, Postings)
    views = archive.views
    design = views[number].design
    gone = {key_of(n) for n in archive.held if views[n].design == design and views[n].sort != "negative"}
    return _ask(number, CandidateIndex(without(postings, gone), limits_of(match_rules())))[0]


def _ask(number: int, index: CandidateIndex) -> tuple[list[Answer], float]:
    archive, folder = _shared["archive"], _shared["folder"]
    assert isinstance(archive, Archive) and isinstance(folder, Path)
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
