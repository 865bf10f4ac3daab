"""The tables. Every row about a picture carries scan digest and part; only derived ones name a family's code.

Derived tables (`pair`, `difference`, `family`, `member`, `campaign`, `campaign_family`, `several`, `queue_entry`,
`ruled_reading`, `waiting_reading`, `piece_fact`, `family_fact`, `looked_at`) can be dropped and made again from the
ledger and the decisions; `consignment`, `scan`, `listed`, `receipt_finding`, `decision`, `move`, `move_reason`,
`withdrawal`, `piece_relation` and `outbox` cannot.
"""

import hashlib
from typing import Any

from sqlalchemy import BigInteger, Boolean, Column, Float, ForeignKey, Index, Integer, MetaData, String, Table, Text

metadata = MetaData()


def _name_key(context: Any) -> str:
    path: str = context.get_current_parameters()["path"]
    return hashlib.sha256(path.encode()).hexdigest()


def _path_key() -> Column[str]:
    """Stands for the path in keys: PostgreSQL takes no more than about 2,700 bytes into an index, paths have 4,095."""
    return Column("path_key", String(64), primary_key=True, default=_name_key)


# Named and shaped as alembic wants it.
schema_version = Table("alembic_version", metadata, Column("version_num", String(32), primary_key=True))

consignment = Table(
    "consignment",
    metadata,
    Column("code", String(120), primary_key=True),
    Column("folder", Text, nullable=False),
    Column("received_at", String(32), nullable=False),
    Column("has_list", Boolean, nullable=False),
    # May its pieces be shown beside another owner's? An owner's word, so the default is no.
    Column("shown_to_others", Boolean, nullable=False, default=False),
)

scan = Table(
    "scan",
    metadata,
    Column("consignment", ForeignKey("consignment.code"), primary_key=True),
    _path_key(),
    Column("path", Text, nullable=False),
    Column("box", Text, nullable=False),
    Column("piece", Text, nullable=False),
    Column("side", String(12), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("size_bytes", BigInteger, nullable=False),
    Column("modified_ns", String(32), nullable=False),
    Column("received_at", String(32), nullable=False),
    Column("is_reference", Boolean, nullable=False),
    Column("sequence", String(12), nullable=False),
    Index("scan_by_digest", "digest"),
    Index("scan_by_box", "consignment", "box").ddl_if(dialect="sqlite"),  # PostgreSQL: see _path_key
)

listed = Table(
    "listed",
    metadata,
    Column("consignment", ForeignKey("consignment.code"), primary_key=True),
    Column("line", Integer, primary_key=True),
    Column("box", Text, nullable=False),
    Column("piece", Text, nullable=False),
    Column("description", Text, nullable=False),
    Column("sides", Integer, nullable=False),
    Column("held", Boolean, nullable=False),
    Column("why", Text, nullable=False),
)

receipt_finding = Table(
    "receipt_finding",
    metadata,
    Column("consignment", ForeignKey("consignment.code"), primary_key=True),
    _path_key(),
    Column("path", Text, nullable=False),
    Column("code", String(60), primary_key=True),
    Column("severity", String(12), nullable=False),
    Column("message", Text, nullable=False),
    Column("found_at", String(32), nullable=False),
)

move = Table(
    "move",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("consignment", ForeignKey("consignment.code"), nullable=False),
    Column("box", Text, nullable=False),
    Column("piece", Text, nullable=False),
    Column("from_place", Text, nullable=False),
    Column("to_place", Text, nullable=False),
    Column("at", String(32), nullable=False),
    Column("who", Text, nullable=False),
)

move_reason = Table(
    "move_reason",
    metadata,
    # Why a piece was moved, where it was said: a table of its own, as homes with moves were there before it.
    Column("move", ForeignKey("move.id"), primary_key=True),
    Column("why", Text, nullable=False),
)

withdrawal = Table(
    "withdrawal",
    metadata,
    # The account of a consignment that was taken back: all that stays of it.
    Column("id", Integer, primary_key=True),
    Column("consignment", String(120), nullable=False),
    Column("at", String(32), nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("account", Text, nullable=False),
)

piece_relation = Table(
    "piece_relation",
    metadata,
    # What a person states of two pieces; n of m where the relation is a set.
    Column("id", Integer, primary_key=True),
    Column("consignment", ForeignKey("consignment.code"), nullable=False),
    Column("box", Text, nullable=False),
    Column("piece", Text, nullable=False),
    Column("relation", String(20), nullable=False),
    Column("other_box", Text, nullable=False),
    Column("other_piece", Text, nullable=False),
    Column("number", Integer),
    Column("of", Integer),
    Column("at", String(32), nullable=False),
    Column("who", Text, nullable=False),
)

work = Table(
    "work",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("part", Integer, primary_key=True),
    Column("stage", String(20), primary_key=True),
    Column("stamp", String(16), primary_key=True),
    Column("state", String(12), nullable=False),
    Column("payload", Text, nullable=False),
    Column("cpu_s", Float, nullable=False),
    Column("made_at", String(32), nullable=False),
    Index("work_by_stage", "stage", "stamp"),
)

pair = Table(
    "pair",
    metadata,
    Column("digest_a", String(64), primary_key=True),
    Column("part_a", Integer, primary_key=True),
    Column("digest_b", String(64), primary_key=True),
    Column("part_b", Integer, primary_key=True),
    Column("stamp", String(16), primary_key=True),
    Column("variants", Integer, nullable=False),  # which of the four were tried, one bit each
    Column("payload", Text),  # none: compared, and nothing found
    Column("cpu_s", Float, nullable=False),
    Index("pair_by_stamp", "stamp"),
    Index("pair_by_second", "digest_b"),
)

difference = Table(
    "difference",
    metadata,
    # What differs between two parts of one design; derived, kept as long as its stamp and the pair's place are.
    Column("digest_a", String(64), primary_key=True),
    Column("part_a", Integer, primary_key=True),
    Column("digest_b", String(64), primary_key=True),
    Column("part_b", Integer, primary_key=True),
    Column("stamp", String(16), nullable=False),
    Column("payload", Text, nullable=False),
    Column("cpu_s", Float, nullable=False),
)

family = Table(
    "family",
    metadata,
    Column("code", String(20), primary_key=True),
    Column("status", String(12), nullable=False),
    Column("title", Text, nullable=False),
    Column("weakest", Text, nullable=False),
)

member = Table(
    "member",
    metadata,
    Column("family", ForeignKey("family.code"), primary_key=True),
    Column("digest", String(64), primary_key=True),
    Column("part", Integer, primary_key=True),
    Column("role", String(30), nullable=False),
    Column("probability", Float, nullable=False),
    Index("member_by_digest", "digest"),
)

campaign = Table(
    "campaign",
    metadata,
    Column("code", String(20), primary_key=True),
    Column("ties", Text, nullable=False),
)

campaign_family = Table(
    "campaign_family",
    metadata,
    # A family is of one campaign at most.
    Column("family", ForeignKey("family.code"), primary_key=True),
    Column("campaign", ForeignKey("campaign.code"), nullable=False),
    Index("campaign_family_by_campaign", "campaign"),
)

several = Table(
    "several",
    metadata,
    # Numbered sets, and pairs of sections of one sheet: `sort` says which, the payload is the model's value.
    Column("id", Integer, primary_key=True),
    Column("sort", String(12), nullable=False),
    Column("payload", Text, nullable=False),
)

queue_entry = Table(
    "queue_entry",
    metadata,
    Column("family", ForeignKey("family.code"), primary_key=True),
    Column("weight", Float, nullable=False),
    Column("reasons", Text, nullable=False),
)

related = Table(
    "related",
    metadata,
    # What was last grouped (1): the same key means that families need not be made again; and of what was grouped so all
    # differences were told (2).
    Column("id", Integer, primary_key=True),
    Column("key", String(64), nullable=False),
)

decision = Table(
    "decision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("made_at", String(32), nullable=False),
    Column("who", Text, nullable=False),
    Column("verb", String(20), nullable=False),
    Column("parts", Text, nullable=False),
    Column("shown", Text, nullable=False),
    Column("undoes", ForeignKey("decision.id"), unique=True),
)

ruled_reading = Table(
    "ruled_reading",
    metadata,
    # The mark that a ruling on a reading makes by itself, parsed from its text under the settings of the last grouping.
    Column("decision", ForeignKey("decision.id"), primary_key=True),
    Column("payload", Text, nullable=False),
)

waiting_reading = Table(
    "waiting_reading",
    metadata,
    # Readings that no two engines agreed on and no person has ruled on; `same` is what spellings of a value share.
    Column("id", Integer, primary_key=True),
    Column("digest", String(64), nullable=False),
    Column("part", Integer, nullable=False),
    Column("kind", String(30), nullable=False),
    Column("same", String(400), nullable=False),
    Column("payload", Text, nullable=False),
    Index("waiting_reading_by_digest", "digest"),
    Index("waiting_reading_by_value", "kind", "same", "digest"),
)

run = Table(
    "run",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("started_at", String(32), nullable=False),
    Column("ended_at", String(32)),
    Column("ending", Text),
    Column("engines", Text, nullable=False),
    Column("stamps", Text, nullable=False),
    Column("report", Text),
    Column("settings", Text),  # what each stage was told, key by key: so that a later run can say what has changed
)

piece_fact = Table(
    "piece_fact",
    metadata,
    # What lists are sieved by, of each part once: derived with the families. `countries` are joined by commas.
    Column("digest", String(64), primary_key=True),
    Column("part", Integer, primary_key=True),
    Column("consignment", Text, nullable=False),
    Column("box", Text, nullable=False),
    Column("piece", Text, nullable=False),
    Column("kind", String(30), nullable=False),
    Column("format", String(60), nullable=False),
    Column("countries", Text, nullable=False),
    Column("year_from", Integer),
    Column("year_to", Integer),
    Column("is_reference", Boolean, nullable=False),
    Column("done", Boolean, nullable=False),
)

family_fact = Table(
    "family_fact",
    metadata,
    # What the queue is sieved by, of each family: its name, and JSON of the sets of what its pieces are.
    Column("code", String(20), primary_key=True),
    Column("name", Text, nullable=False),
    Column("sets", Text, nullable=False),
)

looked_at = Table(
    "looked_at",
    metadata,
    # How many scans there were at the last grouping, and in how many boxes some were not looked at.
    Column("id", Integer, primary_key=True),
    Column("scans", Integer, nullable=False),
    Column("unread", Integer, nullable=False),
)

outbox = Table(
    "outbox",
    metadata,
    # What is told to another program (services/webhooks.py): written with its ruling, kept when it was taken. `name` is
    # its webhook-id, `said` why it was not taken at the last try.
    Column("id", Integer, primary_key=True),
    Column("name", String(40), nullable=False, unique=True),
    Column("made_at", String(32), nullable=False),
    Column("body", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("due", String(32), nullable=False),
    Column("taken_at", String(32)),
    Column("said", Text, nullable=False),
)

on_table = Table(
    "on_table",
    metadata,
    # The one family that each person has before them now. Nothing that anybody decided is in it: it may be lost.
    Column("who", String(60), primary_key=True),
    Column("family", String(20), nullable=False),
    Column("at", String(32), nullable=False),
)

desk_user = Table(
    "desk_user",
    metadata,
    # Who may sit down at the desk. `secret` is a hash by Argon2id, never the secret.
    Column("name", String(60), primary_key=True),
    Column("secret", Text, nullable=False),
    Column("added_at", String(32), nullable=False),
)

desk_session = Table(
    "desk_session",
    metadata,
    # Who is sitting at the desk: SHA-256 of the token that their browser holds, and until when it is good.
    Column("token", String(64), primary_key=True),
    Column("name", ForeignKey("desk_user.name"), nullable=False),
    Column("until", String(32), nullable=False),
)
