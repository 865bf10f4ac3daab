"""Scans received in any order, in any number of runs, end with the same pairs, matches and families."""

import io
import itertools
import random
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from intake.config.load import load_config
from intake.imaging.candidates import Candidate, Postings
from intake.imaging.features import Features, pack_frame
from intake.imaging.permute import VARIANTS, Variant, bits_of
from intake.kin import Family, Match
from intake.model import FeatureSummary, PartKey, Received
from intake.services import comparing, relate
from intake.services.home import Home, write_whole
from intake.services.searching import ask_index
from intake.services.space import Space
from intake.services.workers import Workers
from intake.stages.fingerprint import fingerprint
from intake.store import families, pairs
from intake.store.pairs import Compared, Pair
from pipelines.across import match_all
from pipelines.night import Night
from pipelines.shift import Shift
from pipelines.stopping import Hands
from tests.bench import treatments
from tests.bench.make_vocabulary import falling_leaves
from tests.made import CONFIG, FRAME, STAMPS, Written, classified, match, received

RULES = load_config(CONFIG)
SPACE = Space(1.0, False, 7.0, 1e6, 0.0)
Call = Callable[..., Any]
Ending = tuple[dict[Pair, int], list[Match], list[Family]]


def ending(batches: Sequence[Sequence[Received]], features: Callable[[Received], Features], call: Call) -> Ending:
    """What a new home holds after each batch was received and matched in a run of its own."""
    with tempfile.TemporaryDirectory() as folder:
        home = Home(Path(folder))
        written = Written(home)
        workers = cast(Workers, SimpleNamespace(call=call))
        shift = Shift(home, RULES, STAMPS, workers, Night(Console(file=io.StringIO())), Hands(), SPACE, 1)
        for batch in batches:
            written.consignment(*batch)
            for scan in batch:
                written.looked(scan, [classified(), FeatureSummary(400, 400, 300, 1.0, FRAME)])
                data = features(scan).to_bytes()
                write_whole(home.features(PartKey(scan.digest, 1), STAMPS.stages["fingerprint"]), data)
            match_all(shift, 1)
            relate.regroup(home, RULES, STAMPS)
        with home.database.read() as connection:
            made = families.all_families(connection)
            tried, matches = (f(connection, STAMPS.match) for f in (pairs.pairs_compared, pairs.all_matches))
        home.database.close()
    return cast(Ending, (tried, matches, made))


def fickle(function: Call, *given_: Any) -> Any:
    """An index that proposes other pairs and variants with every scan more, and matches that hang on the variants."""
    if function is ask_index:
        keys, folder = given_[:2]
        return [(key, proposals(Postings.load(folder).keys, key)) for key in keys]
    assert function is comparing.compare
    return [Compared(t.pair, bits_of(t.variants), drawn(t.pair, t.variants), 0.0) for t in given_[0]]


def proposals(there: Sequence[PartKey], key: PartKey) -> list[Candidate]:
    rng = random.Random(f"{there} {key}")
    return [Candidate(o, rng.choice(VARIANTS), 1.0) for o in there if o != key and rng.random() < 0.4]


def drawn(pair: Pair, variants: frozenset[Variant]) -> Match | None:
    rng = random.Random(f"{pair} {bits_of(variants)}")
    if rng.random() < 0.4:
        return None
    variant = rng.choice(sorted(variants, key=VARIANTS.index))
    probability = rng.choice([0.5, 0.95, 0.99])
    return match(*pair, probability=probability, polarity_flip=variant.polarity_flip, mirror=variant.mirror)


def nothing_seen(_: Received) -> Features:
    blank = pack_frame(np.full((60, 40), 200, np.uint8))
    return Features(np.zeros((0, 4), np.float32), np.zeros((0, 128), np.uint8), *blank, 1.0, FRAME, "unknown")


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(7)), st.sets(st.integers(1, 6), max_size=3))
def test_any_order_and_any_batches_end_the_same(order: list[int], cuts: set[int]) -> None:
    files = [received(f"B/{n}.tif") for n in range(7)]
    edges = [0, *sorted(cuts), 7]
    batches = [[files[n] for n in order[a:b]] for a, b in itertools.pairwise(edges)]
    assert ending(batches, nothing_seen, fickle) == ending([files], nothing_seen, fickle)


@pytest.fixture(scope="module")
def seen() -> dict[str, Features]:
    """Four designs as painting, mirrored negative, proof and mirrored proof."""
    made = {}
    for n in range(4):
        rng = np.random.default_rng(300 + n)
        art = cv2.resize(falling_leaves(rng), (600, 800), interpolation=cv2.INTER_CUBIC)
        pictures = {
            "art": art,
            "film": cv2.flip(treatments.negative(art, rng, True), 1),
            "proof": treatments.proof(art, rng),
            "wrong side": cv2.flip(treatments.proof(art, rng), 1),
        }
        for name, picture in pictures.items():
            found = fingerprint(np.ascontiguousarray(picture), 1.0, (), "unknown", RULES.fingerprint)[1]
            made[f"B/{n} {name}.tif"] = found
    return made


def at_once(function: Call, *given_: Any) -> Any:
    return function(*given_)


def test_real_pictures_in_two_halves_end_as_at_once(seen: dict[str, Features]) -> None:
    files = [received(path) for path in sorted(seen)]

    def features(scan: Received) -> Features:
        return seen[scan.path]

    tried, matches, made = whole = ending([files], features, at_once)
    assert len(matches) >= 12 and len(made) == 4 and tried
    assert {(m.polarity_flip, m.mirror) for m in matches} == {(v.polarity_flip, v.mirror) for v in VARIANTS}
    assert ending([files[:8], files[8:]], features, at_once) == whole
    assert ending([files[::-2], files[::2]], features, at_once) == whole
