"""Tables of match.toml: what cannot be read as a table is refused."""

import pytest
from pydantic import ValidationError

from intake.config.match import Table


@pytest.mark.parametrize(
    ("at", "says"), [((), ()), ((0.0, 1.0), (1.0,)), ((1.0, 0.0), (0.0, 1.0)), ((0.5, 0.5), (0.0, 1.0))]
)
def test_a_table_rises_and_pairs_up(at: tuple[float, ...], says: tuple[float, ...]) -> None:
    with pytest.raises(ValidationError, match="must rise"):
        Table(at=at, says=says)
