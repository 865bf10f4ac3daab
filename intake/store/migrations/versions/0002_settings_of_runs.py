"""A run writes down what its stages were told."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Older runs have no settings: what changed since them is not known key by key."""
    op.add_column("run", sa.Column("settings", sa.Text))
