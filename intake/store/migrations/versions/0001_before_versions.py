"""The tables as they were when versions began. Nothing to do: a home without a version is this one."""

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Nothing."""
