"""What a family's place in the queue rests on beside its pieces: what was told to differ between them."""

from collections.abc import Collection

from intake.config.load import Config
from intake.kin import QueueEntry
from intake.model import PartKey
from intake.stages.queue import differing
from intake.store import differences
from intake.store.database import Connection


def with_differing(
    connection: Connection, entry: QueueEntry, members: Collection[PartKey], config: Config
) -> QueueEntry:
    """The entry with how many regions differ between the family's pieces among its reasons."""
    regions = [r for d in differences.differences_among(connection, members) for r in d.regions if r.kind != "cropped"]
    return differing(entry, regions, config.queue)
