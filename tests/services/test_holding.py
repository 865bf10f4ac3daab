"""The weakest link of the strongest tree, by small families drawn by hand."""

from intake.kin import Match
from intake.model import Evidence, PartKey
from intake.services.holding import weakest_link

A, B, C, D = (PartKey(letter * 64, 1) for letter in "abcd")
PIECES = {A: "a", B: "b", C: "c", D: "d"}


def link(a: PartKey, b: PartKey, weight: float) -> Match:
    evidence = (Evidence("places", "", weight),)
    return Match(a, b, "same_design", 0.9, 40, 1, 1, False, False, 0, 1, (1, 0, 0, 0, 1, 0, 0, 0, 1), evidence)


def test_a_bridge_between_two_pairs_is_named_with_its_smaller_side() -> None:
    links = [link(A, B, 5), link(C, D, 4), link(B, C, 1)]
    held = weakest_link({A, B, C, D}, links, PIECES)
    assert held is not None and held.link == links[2] and held.side == {A, B}


def test_a_weak_link_beside_stronger_ones_holds_nothing() -> None:
    links = [link(A, B, 5), link(B, C, 4), link(A, C, 0.5)]
    held = weakest_link({A, B, C}, links, PIECES)
    assert held is not None and held.link == links[1] and held.side == {C}


def test_scans_of_one_piece_need_no_link() -> None:
    assert weakest_link({A, B}, [], {A: "one", B: "one"}) is None
    held = weakest_link({A, B, C}, [link(B, C, 2)], {A: "one", B: "one", C: "c"})
    assert held is not None and held.side == {C}
