"""Which parts a text may stand on: a first sieve, case left aside, over what the stages made and what people said."""

import json
from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, and_, or_, select

from intake.model import PartKey
from intake.store.schema import decision, listed, scan, work


def parts_with(connection: Connection, stamps: Mapping[str, str], stages: Sequence[str], text: str) -> set[PartKey]:
    """Parts in whose results (of ``stages``, under ``stamps``) the text stands, or in a ruling on them, in their place,
    or in the owner's list. Some may be too many: the text may stand in a name of the results' own.
    """
    of = or_(*(and_(work.c.stage == s, work.c.stamp == stamps[s]) for s in stages if s in stamps))
    query = select(work.c.digest, work.c.part).where(of, work.c.payload.icontains(text, autoescape=True))
    made = {PartKey(digest, part) for digest, part in connection.execute(query)}
    ruled = select(decision.c.parts).where(decision.c.shown.icontains(text, autoescape=True))
    made |= {PartKey(*part) for (parts,) in connection.execute(ruled) for part in json.loads(parts)}
    named = or_(*(column.icontains(text, autoescape=True) for column in (scan.c.path, scan.c.box, scan.c.piece)))
    digests = {digest for (digest,) in connection.execute(select(scan.c.digest).where(named))}
    on_list = listed.c.description.icontains(text, autoescape=True)
    same = and_(listed.c.consignment == scan.c.consignment, listed.c.box == scan.c.box, listed.c.piece == scan.c.piece)
    digests |= {digest for (digest,) in connection.execute(select(scan.c.digest).join(listed, same).where(on_list))}
    checked = select(work.c.digest, work.c.part).where(work.c.stage == "render", work.c.stamp == stamps.get("render"))
    return made | {PartKey(digest, part) for digest, part in connection.execute(checked) if digest in digests}
