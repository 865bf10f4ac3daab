"""What was done with each file, as PREMIS 3 events; types are those of the vocabulary of the Library of Congress."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from intake.services.handover.sound import sound
from intake.services.xml_text import element

NAMESPACE = "http://www.loc.gov/premis/v3"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_TYPES = "http://id.loc.gov/vocabulary/preservation/eventType/"
# The codes of that vocabulary.
CODES = {
    "capture": "cap", "message digest calculation": "mes", "fixity check": "fix", "validation": "val",
    "metadata extraction": "mee", "ingestion": "ing", "appraisal": "app", "replication": "rep",
}  # fmt: skip


class File(NamedTuple):
    """A file as an object: its digests, size and format."""

    sha256: str
    sha512: str
    size: int
    format: str
    name: str


class Event(NamedTuple):
    """One thing done: what, when (ISO 8601), by whom, with which outcome, on which files (by SHA-256).

    ``agent_type`` is software, person or hardware.
    """

    type: str
    at: str
    agent: str
    agent_type: str
    detail: str
    outcome: str
    files: tuple[str, ...]


def premis(files: Iterable[File], events: Iterable[Event]) -> Iterator[str]:
    """The document in pieces of text: objects, events in their order, then the agents that the events name."""
    yield f'<?xml version="1.0" encoding="UTF-8"?>\n<premis xmlns="{NAMESPACE}" xmlns:xsi="{_XSI}" version="3.0">\n'
    yield from map(_object, files)
    agents = {"Kinfold": "software"}
    for number, event in enumerate(events, start=1):
        agents[event.agent] = event.agent_type
        yield _event(number, event)
    for agent, kind in agents.items():
        yield _agent(agent, kind)
    yield "</premis>\n"


def _object(f: File) -> str:
    fixity = "".join(
        f"<fixity>{_of('messageDigestAlgorithm', name)}{_of('messageDigest', value)}</fixity>"
        for name, value in (("SHA-256", f.sha256), ("SHA-512", f.sha512))
    )
    called = f"<formatDesignation>{_of('formatName', f.format or 'not told')}</formatDesignation>"
    return (
        f'<object xsi:type="file">{_identifier("objectIdentifier", "SHA-256", f.sha256)}'
        f"<objectCharacteristics>{fixity}<size>{f.size}</size><format>{called}</format></objectCharacteristics>"
        f"{_of('originalName', f.name)}</object>\n"
    )


def _event(number: int, e: Event) -> str:
    return (
        f"<event>{_identifier('eventIdentifier', 'local', f'event-{number}')}"
        f'<eventType authority="eventType" valueURI="{_TYPES + CODES[e.type]}">{e.type}</eventType>'
        f"{_of('eventDateTime', e.at)}"
        f"<eventDetailInformation>{_of('eventDetail', e.detail)}</eventDetailInformation>"
        f"<eventOutcomeInformation>{_of('eventOutcome', e.outcome)}</eventOutcomeInformation>"
        f"{_identifier('linkingAgentIdentifier', 'name', e.agent)}"
        f"{''.join(_identifier('linkingObjectIdentifier', 'SHA-256', digest) for digest in e.files)}</event>\n"
    )


def _agent(name: str, kind: str) -> str:
    said = f"{_identifier('agentIdentifier', 'name', name)}{_of('agentName', name)}{_of('agentType', kind)}"
    return f"<agent>{said}</agent>\n"


def _identifier(name: str, kind: str, value: str) -> str:
    return f"<{name}>{_of(f'{name}Type', kind)}{_of(f'{name}Value', value)}</{name}>"


def _of(name: str, text: str) -> str:
    return element(name, sound(text))
