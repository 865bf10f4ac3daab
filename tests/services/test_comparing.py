"""Pairs compared from the files of a home: closer where the first look is undecided and the pictures are there."""

from pathlib import Path

import numpy as np
import pytest

from intake.config.load import load_config
from intake.imaging.encode import jpeg_bytes
from intake.kin import Match
from intake.model import PartKey
from intake.services.comparing import Pictured, Task, compare
from intake.stages.fingerprint import fingerprint
from tests.bench import treatments as families
from tests.stages.test_match import muted

CONFIG = load_config(Path(__file__).parents[2] / "config")
ALWAYS = CONFIG.match.model_copy(update={"second": CONFIG.match.second.model_copy(update={"least": 0.0, "sure": 1.1})})


@pytest.fixture(scope="module")
def task(tmp_path_factory: pytest.TempPathFactory) -> Task:
    """A picture and its negative, as a run leaves them: the fingerprint and the working image of each."""
    folder, art = tmp_path_factory.mktemp("home"), muted(31)
    pictured, files = [], []
    for n, picture in enumerate((art, families.negative(art, np.random.default_rng(4), False))):
        files.append(folder / f"{n}.kff")
        files[-1].write_bytes(fingerprint(picture, 1.0, (), "unknown", CONFIG.fingerprint)[1].to_bytes())
        working = folder / f"{n}.jpg"
        working.write_bytes(jpeg_bytes(picture))
        pictured.append(Pictured(working, 1.0, 0, 0, (), (picture.shape[1], picture.shape[0])))
    keys = PartKey("a" * 64, 1), PartKey("b" * 64, 1)
    return Task(keys, (files[0], files[1]), frozenset(), (pictured[0], pictured[1]))


def names(match: Match | None) -> set[str]:
    assert match is not None
    return {e.name for e in match.evidence}


def test_what_is_undecided_is_looked_at_closer_from_its_working_image(task: Task) -> None:
    sure, asked = (compare([task], rules, CONFIG.fingerprint)[0] for rules in (CONFIG.match, ALWAYS))
    assert "closer" not in names(sure.match) and "closer" in names(asked.match)


def test_a_working_image_that_is_gone_leaves_the_first_look(task: Task, tmp_path: Path) -> None:
    gone = Pictured(tmp_path / "gone.jpg", 1.0, 0, 0, (), (1, 1))
    for pictured in ((gone, task.pictured[1]), (None, task.pictured[1])):
        without = Task(task.pair, task.features, task.variants, pictured)
        assert "closer" not in names(compare([without], ALWAYS, CONFIG.fingerprint)[0].match)


def test_features_of_a_closer_look_are_taken_once_a_chunk(task: Task, monkeypatch: pytest.MonkeyPatch) -> None:
    from intake.services import comparing

    taken = []

    def counted(*given: object, **more: object) -> object:
        taken.append(given)
        return fingerprint(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(comparing, "fingerprint", counted)
    compare([task, task], ALWAYS, CONFIG.fingerprint)
    assert len(taken) == 2
