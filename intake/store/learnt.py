"""What people adopted from their rulings: the newest adoption that stands."""

from sqlalchemy import Connection, select

from intake.kin import Learnt
from intake.store.decisions import decisions_by_number, undoing
from intake.store.schema import decision


def adopted(connection: Connection) -> Learnt | None:
    """What holds now; None where nothing was adopted, or all of it was taken back."""
    query = select(decision.c.id).where(decision.c.verb == "adopt_learnt").order_by(decision.c.id.desc())
    for number in connection.execute(query).scalars().all():
        back, stands = undoing(connection, number), True
        while back is not None:
            back, stands = undoing(connection, back.id), not stands
        if stands:
            shown = decisions_by_number(connection, [number])[0].shown
            return Learnt(float(shown["slope"]), float(shown["offset"]), int(shown["pairs"]))
    return None
