"""The throw-away server is real, is not root's, and is gone afterwards."""

import psycopg
import pytest
import sqlalchemy

from tests.postgres import running_postgres

pytestmark = pytest.mark.postgres


def test_server_runs_for_the_block_only() -> None:
    with running_postgres() as address:
        engine = sqlalchemy.create_engine(address)
        with engine.connect() as connection:
            version = connection.execute(sqlalchemy.text("select version()")).scalar_one()
        engine.dispose()
        assert version.startswith("PostgreSQL ")
    with pytest.raises(psycopg.OperationalError, match="refused"):
        psycopg.connect(address.replace("+psycopg", ""), connect_timeout=5)
