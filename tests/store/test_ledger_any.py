"""The ledger under any order of writes, repeats and crashes: the first result of a key stays, and nothing else."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import delete

from intake.model import PartKey, StageResult, Worked
from intake.store import ledger
from intake.store.database import Database, open_database
from intake.store.schema import work
from tests.made import AT, digest

DIGESTS = [digest(str(n)) for n in range(3)]
STAGES, STAMPS = ("check", "read"), ("old", "new")
results = st.builds(
    StageResult,
    st.builds(PartKey, st.sampled_from(DIGESTS), st.integers(0, 2)),
    st.sampled_from(STAGES),
    st.sampled_from(STAMPS),
    st.sampled_from(["done", "failed", "quarantined"]),
    st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8),
    st.floats(0, 10),
)
# A chunk that is written, or cut off in the middle of its transaction.
chunks = st.lists(st.tuples(st.lists(results, max_size=6), st.booleans()), max_size=8)


class PowerCut(Exception):
    """The transaction does not come to its end."""


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    made = open_database(Path(tmp_path_factory.mktemp("ledger")) / "kinfold.db")
    yield made
    made.close()


@settings(max_examples=60)
@given(chunks)
def test_the_first_of_a_key_stays_and_a_cut_chunk_leaves_nothing(
    database: Database, written: list[tuple[list[StageResult], bool]]
) -> None:
    with database.write() as connection:
        connection.execute(delete(work))
    model: dict[tuple[PartKey, str, str], StageResult] = {}
    for chunk, is_cut in written:
        try:
            with database.write() as connection:
                ledger.record(connection, chunk, AT)
                if is_cut:
                    raise PowerCut
        except PowerCut:
            continue
        for one in chunk:
            model.setdefault((one.key, one.stage, one.stamp), one)
    for stamp in STAMPS:
        stamps = dict.fromkeys(STAGES, stamp)
        with database.read() as connection:
            held = ledger.results_of(connection, DIGESTS, stamps)
            costs = ledger.stage_costs(connection, stamps)
            done = {stage: ledger.digests_done(connection, stage, stamp) for stage in STAGES}
        mine = {k: r for k, r in model.items() if k[2] == stamp}
        assert held == {d: {Worked(k, s): r for (k, s, _), r in mine.items() if k.digest == d} for d in DIGESTS}
        assert done == {stage: {k.digest for k, s, _ in mine if s == stage} for stage in STAGES}
        for stage, (count, total) in costs.items():
            each = [r.cpu_s for (_, s, _), r in mine.items() if s == stage]
            assert (count, total) == (len(each), pytest.approx(sum(each)))
