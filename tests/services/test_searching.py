"""The index on disk: kept, extended and thinned, it answers as one made anew does."""

from pathlib import Path

import numpy as np
import pytest

from intake.imaging.candidates import Postings, post, without
from intake.imaging.features import Features
from intake.model import PartKey, Stamps
from intake.services.home import Home, write_whole
from intake.services.searching import ask_index, index_over, open_index, refresh_index
from intake.stages.fingerprint import fingerprint
from tests.bench.make_vocabulary import falling_leaves
from tests.bench.pairs import fingerprint_rules, match_rules

RULES = match_rules().candidates
STAMPS = Stamps({"fingerprint": "0123456789abcdef"}, "", "")


def key(number: int) -> PartKey:
    return PartKey(f"{number:064x}", 1)


@pytest.fixture(scope="module")
def made() -> dict[PartKey, Features]:
    rules = fingerprint_rules()
    pictures = {key(n): falling_leaves(np.random.default_rng(70 + n)) for n in range(8)}
    return {k: fingerprint(p, 1.0, (), "unknown", rules)[1] for k, p in pictures.items()}


def same(one: Postings, other: Postings) -> bool:
    arrays = ("begins", "signatures", "owners", "places")
    return one.keys == other.keys and all(np.array_equal(getattr(one, a), getattr(other, a)) for a in arrays)


def test_extended_and_thinned_postings_equal_those_made_anew(made: dict[PartKey, Features]) -> None:
    items = list(made.items())
    whole = post(items)
    assert same(post(items[5:], post(items[:5])), whole)
    assert same(post(items[:3], post(items[3:])), whole)
    assert same(without(whole, {key(2), key(6)}), post((k, f) for k, f in items if k not in (key(2), key(6))))


def test_a_kept_index_is_mapped_and_grows(home: Home, made: dict[PartKey, Features]) -> None:
    for k, f in made.items():
        write_whole(home.features(k, STAMPS.stages["fingerprint"]), f.to_bytes())
    assert open_index(home, STAMPS, RULES) is None
    first = refresh_index(home, [key(n) for n in range(4)], {key(n).digest for n in range(5)}, STAMPS)
    assert refresh_index(home, [key(n) for n in range(4)], {key(n).digest for n in range(5)}, STAMPS) == first
    grown = refresh_index(home, list(made), {k.digest for k in made}, STAMPS)
    assert grown != first and not first.exists()
    opened = open_index(home, STAMPS, RULES)
    assert opened is not None
    index, seen = opened
    assert len(index) == 8 and seen == {k.digest for k in made}
    asked = made[key(3)]
    assert index.query(asked, 5) == index_over(post(made.items()), RULES).query(asked, 5)
    assert index.query(asked, 5)[0].key == key(3)
    (_, found), *_ = ask_index([key(3)], grown, home.folder, STAMPS.stages["fingerprint"], RULES)
    assert key(3) not in [c.key for c in found]


@pytest.mark.parametrize("lost", ["owners.npy", "keys.json"])
def test_a_broken_index_is_made_anew(home: Home, made: dict[PartKey, Features], lost: str) -> None:
    for k, f in made.items():
        write_whole(home.features(k, STAMPS.stages["fingerprint"]), f.to_bytes())
    broken: Path = refresh_index(home, [key(0)], {key(0).digest}, STAMPS)
    (broken / lost).unlink()
    assert open_index(home, STAMPS, RULES) is None
    refresh_index(home, list(made), {k.digest for k in made}, STAMPS)
    opened = open_index(home, STAMPS, RULES)
    assert opened is not None and len(opened[0]) == 8


def test_the_size_that_was_promised(made: dict[PartKey, Features]) -> None:
    """40 KB a scan, index and verification store together (the bound is the house's own, from the issue)."""
    whole = post(made.items())
    index = sum(getattr(whole, a).nbytes for a in ("signatures", "owners", "places")) / len(made)
    store = np.mean([len(f.to_bytes()) for f in made.values()])
    assert index + store < 40_000
