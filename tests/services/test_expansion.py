"""Mates of mates: proposed once, with the right variant, never through what is unsure or only shared."""

from dataclasses import replace

import pytest

from intake.imaging.permute import Variant
from intake.kin import Match, Relation
from intake.model import PartKey
from intake.services.expansion import through_mates

A, B, C, D = (PartKey(letter * 64, 1) for letter in "abcd")


def match(
    a: PartKey,
    b: PartKey,
    probability: float = 0.99,
    relation: Relation = "same_design",
    *,
    flip: bool = False,
    mirror: bool = False,
) -> Match:
    return Match(a, b, relation, probability, 40, 1, 1, flip, mirror, 0, 1, (1, 0, 0, 0, 1, 0, 0, 0, 1), ())


def test_a_negative_of_a_mirrored_negative_is_a_mirrored_positive() -> None:
    found = through_mates([match(A, B, flip=True), match(B, C, flip=True, mirror=True)], {(A, B), (B, C)}, 10)
    assert found == {(A, C): Variant(False, True)}


def test_what_was_compared_is_not_proposed_again() -> None:
    assert through_mates([match(A, B), match(B, C)], {(A, B), (B, C), (A, C)}, 10) == {}


@pytest.mark.parametrize("weak", [match(B, C, 0.6), match(B, C, relation="shared_element")])
def test_unsure_or_shared_links_lead_nowhere(weak: Match) -> None:
    assert through_mates([match(A, B), weak], {(A, B), (B, C)}, 10) == {}


def test_order_does_not_matter_and_the_surest_come_first() -> None:
    links = [match(A, B, 0.95), match(B, C, 0.99), match(B, D, 0.97)]
    pairs = {(m.a, m.b) for m in links}
    assert through_mates(links, pairs, 10) == through_mates(links[::-1], pairs, 10)
    assert set(through_mates([replace(m, probability=0.99) for m in links], pairs, 10)) == {(A, C), (A, D), (C, D)}
