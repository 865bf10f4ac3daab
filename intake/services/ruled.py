"""What follows from rulings on readings: what they say, which readings still wait, what the queue says of marks."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace

from intake.config.load import Config
from intake.kin import Decision
from intake.model import Mark, PartKey
from intake.ocr.said import said_of, same_value
from intake.services.dossiers import Dossier, dossiers_of
from intake.services.grouping import standing_of
from intake.services.readings import VERBS, bare_mark
from intake.services.rulings import standing
from intake.stages.queue import remarked
from intake.store import decisions, desk, families, readings
from intake.store.database import Connection
from intake.store.readings import Waiting

VERSION = 2


def says(decision: Decision, config: Config) -> Mark:
    """The mark that an accepting or correcting ruling makes: its text parsed as what is printed is."""
    mark, shown = bare_mark(decision), decision.shown
    read, country = str(shown.get("read", mark.value)), str(shown.get("country", ""))
    rules = (config.patterns, config.certificates, config.parse)
    said = said_of(mark.kind, mark.value, mark.text, read, country, *rules)
    if said is None:
        return mark
    return replace(mark, **asdict(said))


def note_all_said(connection: Connection, config: Config) -> None:
    """Parse the text of every ruling anew, under the settings of now."""
    _note_said(connection, decisions.decisions_on_readings(connection, VERBS), config)


def note_all_waiting(connection: Connection, known: Iterable[Dossier], config: Config) -> None:
    """Put down what waits, in the place of all that did."""
    once = {d.key: d for d in known}
    readings.put_waiting(connection, _waiting(once.values(), config))


def follow(connection: Connection, config: Config, keys: Sequence[PartKey]) -> None:
    """Bring everything up with the rulings on readings of these few parts, in the transaction that made them."""
    stamps = desk.shown_stamps(connection)
    _note_said(connection, decisions.decisions_on_readings(connection, VERBS, {k.digest for k in keys}), config)
    if stamps is None:
        return
    codes = set(families.codes_of(connection, keys).values())
    members = families.members_of(connection, codes)
    have = dossiers_of(connection, stamps, {*keys, *(k for inside in members.values() for k in inside)})
    readings.put_waiting(connection, _waiting((have[k] for k in keys if k in have), config), keys)
    for entry in families.entries_of(connection, codes):
        parts = [standing_of(have[k], config) for k in members[entry.family] if k in have]
        families.change_entry(connection, remarked(entry, parts, config.queue))


def _note_said(connection: Connection, made: Iterable[Decision], config: Config) -> None:
    putting = [d for d in standing(made) if d.verb in ("accept_reading", "correct_reading")]
    readings.put_said(connection, {d.id: says(d, config) for d in putting})


def _waiting(known: Iterable[Dossier], config: Config) -> list[Waiting]:
    return [
        Waiting(d.key, same_value(r.mark.kind, r.mark.value, config.parse), r.mark)
        for d in known
        for r in d.readings
        if r.waits
    ]
