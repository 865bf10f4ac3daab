"""What a person's decisions still say: undone ones left out, later ones over earlier ones."""

from hypothesis import given
from hypothesis import strategies as st

from intake.kin import Decision, Verb
from intake.model import PartKey
from intake.services.rulings import Rulings, rulings, standing
from tests.made import AT, key

A, B, C, D = sorted(key(n) for n in "abcd")


def decision(number: int, verb: Verb, *parts: PartKey, undoes: int | None = None) -> Decision:
    return Decision(number, AT, "Ada", verb, parts, {}, undoes)


def ids(decisions: list[Decision]) -> list[int]:
    return [d.id for d in standing(decisions)]


def pairs(*made: tuple[PartKey, PartKey]) -> frozenset[tuple[PartKey, PartKey]]:
    return frozenset(made)


def test_nothing_decided() -> None:
    assert rulings([]) == Rulings(frozenset(), frozenset(), ())


def test_confirm_joins_every_pair_and_is_remembered() -> None:
    made = rulings([decision(1, "confirm", C, A, B)])
    assert made == Rulings(pairs((A, B), (A, C), (B, C)), frozenset(), (frozenset({A, B, C}),), confirmed_at=(AT,))


def test_join_joins_without_confirming() -> None:
    assert rulings([decision(1, "join", B, A)]) == Rulings(pairs((A, B)), frozenset(), ())


def test_part_off_parts_the_first_from_the_others_alone() -> None:
    assert rulings([decision(1, "part_off", B, A, C)]) == Rulings(frozenset(), pairs((A, B), (B, C)), ())
    assert rulings([decision(1, "part_off", B)]) == Rulings(frozenset(), frozenset(), ())


def test_readings_and_the_like_rule_no_pairs() -> None:
    verbs: tuple[Verb, ...] = ("accept_reading", "correct_reading", "reject_reading")
    assert rulings([decision(n, verb, A, B) for n, verb in enumerate(verbs)]) == Rulings(frozenset(), frozenset(), ())


def test_a_later_ruling_on_a_pair_stands_over_an_earlier_one() -> None:
    both = [decision(1, "confirm", A, B, C), decision(2, "part_off", C, A, B)]
    made = rulings(both)
    assert (made.together, made.apart) == (pairs((A, B)), pairs((A, C), (B, C)))
    made = rulings([*both, decision(3, "join", C, A)])
    assert (made.together, made.apart) == (pairs((A, B), (A, C)), pairs((B, C)))


def test_undo_and_undo_of_undo() -> None:
    made = [decision(1, "join", A, B), decision(2, "undo", undoes=1)]
    assert ids(made) == []
    made.append(decision(3, "undo", undoes=2))
    assert ids(made) == [1]
    made.append(decision(4, "undo", undoes=3))
    assert ids(made) == []
    assert ids(made[:1]) == [1]


def test_undoing_a_later_ruling_brings_the_earlier_one_back() -> None:
    made = rulings([decision(1, "join", A, B), decision(2, "part_off", A, B), decision(3, "undo", undoes=2)])
    assert (made.together, made.apart) == (pairs((A, B)), frozenset())


def test_undoing_a_confirmation_lets_it_be_forgotten() -> None:
    made = [decision(1, "confirm", A, B), decision(2, "join", C, D), decision(3, "undo", undoes=1)]
    assert rulings(made) == Rulings(pairs((C, D)), frozenset(), ())


@given(st.data())
def test_what_stands_is_what_its_own_undoings_leave(data: st.DataObject) -> None:
    """A decision stands if and only if no undoing of it stands; each is undone at most once, by a later row."""
    made: list[Decision] = []
    undone: set[int] = set()
    for number in range(1, data.draw(st.integers(1, 12)) + 1):
        free = [d.id for d in made if d.id not in undone]
        if free and data.draw(st.booleans()):
            which = data.draw(st.sampled_from(free))
            undone.add(which)
            made.append(decision(number, "undo", undoes=which))
        else:
            made.append(decision(number, "join", A, B))

    def stands(one: Decision) -> bool:
        return not any(stands(later) for later in made if later.undoes == one.id)

    assert ids(made) == [d.id for d in made if d.verb != "undo" and stands(d)]
