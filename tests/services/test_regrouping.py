"""What a ruling makes anew is what making everything anew would give; and what a person said is never lost."""

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from intake.config.load import Config, load_config
from intake.kin import Verb
from intake.services import piecework, review
from intake.services.relate import regroup
from intake.services.review import RulingRefused
from intake.services.shown import untitled
from intake.store import campaigns, facts, families
from tests.bench.desk_store import Filled, desk_store
from tests.made import CONFIG, STAMPS

VERBS: tuple[Verb, ...] = ("confirm", "join", "part_off", "divide", "same_campaign", "name_design")


@pytest.fixture(scope="module")
def config() -> Config:
    return load_config(CONFIG)


@pytest.fixture
def filled(tmp_path: Path, config: Config) -> Iterator[Filled]:
    made = desk_store(tmp_path / "home", config, families=14, seed=7)
    yield made
    made.home.database.close()


def snapshot(made: Filled) -> tuple[Any, ...]:
    with made.home.database.read() as connection:
        entries = {e.family: (round(e.weight, 6), e.reasons) for e in families.queue(connection)}
        known = families.all_families(connection)
        members = facts.facts_of(connection, [m.key for f in known for m in f.members])
        return known, entries, members, facts.facts_of_singles(connection)


def ruled(made: Filled, config: Config, chance: random.Random) -> None:
    """One ruling or taking back by somebody, as chance will have it; what is refused is refused."""
    with made.home.database.read() as connection:
        known = families.all_families(connection)
    one, other = (([m.key for m in f.members]) for f in chance.sample(known, 2))
    verb = chance.choice((*VERBS, "set_role", "undo"))
    try:
        if verb == "undo":
            review.undo(made.home, config, "Ida", chance.randrange(1, 12))
        elif verb == "set_role":
            kind = chance.choice(("document", "artwork", "finished_sheet"))
            piecework.rule_on_pieces(made.home, config, "Ida", "set_role", [(one[0], "")], kind)
        elif verb in ("join", "same_campaign"):
            review.decide(made.home, config, "Ida", verb, [*one, *other], {"first": len(one)})
        else:
            shown = {"first": 2 if verb == "divide" else 1, "text": f"NAME {chance.randrange(9)}"}
            review.decide(made.home, config, "Ida", verb, one, shown)  # type: ignore[arg-type]
    except RulingRefused:
        pass


@pytest.mark.parametrize("seed", range(4))
def test_what_a_ruling_changes_is_what_making_all_anew_gives(filled: Filled, config: Config, seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(14):
        ruled(filled, config, chance)
        after = snapshot(filled)
        regroup(filled.home, config, STAMPS)
        assert snapshot(filled) == after


def test_two_designs_of_one_campaign_stay_two_and_are_tied(filled: Filled, config: Config) -> None:
    one, other = filled.families[1], filled.families[3]
    number = review.decide(filled.home, config, "Ida", "same_campaign", [*one, *other], {"first": len(one)})

    def tied() -> bool:
        with filled.home.database.read() as connection:
            of = families.codes_of(connection, [one[0], other[0]])
            campaign = campaigns.campaign_of(connection, of[one[0]])
            assert of[one[0]] != of[other[0]]
        return campaign is not None and of[other[0]] in campaign.families

    assert tied()
    regroup(filled.home, config, STAMPS)
    assert tied()
    review.undo(filled.home, config, "Ida", number)
    assert not tied()


def test_a_design_is_called_what_a_person_named_it(filled: Filled, config: Config) -> None:
    keys = filled.families[2]
    review.decide(filled.home, config, "Ida", "name_design", keys, {"text": " THE  TIDE "})
    review.decide(filled.home, config, "Ida", "part_off", [keys[-1], *keys[:-1]], {})
    with filled.home.database.read() as connection:
        titles = set(families.titles(connection).values())
    assert ("THE TIDE" in titles) == (len(keys) > 2) and untitled([]) == "no title read"


def test_a_later_ruling_is_taken_back_before_the_one_that_it_stands_on(filled: Filled, config: Config) -> None:
    one, other = filled.families[1], filled.families[3]
    first = review.decide(filled.home, config, "Ida", "join", [*one, *other], {})
    second = review.decide(filled.home, config, "Ore", "confirm", [*one, *other], {})
    with pytest.raises(RulingRefused, match=f"Ruling {second} stands on it: Ore said that these belong together"):
        review.undo(filled.home, config, "Ida", first)
    review.undo(filled.home, config, "Ore", second)
    review.undo(filled.home, config, "Ida", first)
