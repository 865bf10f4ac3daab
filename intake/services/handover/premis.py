"""What was done with each file, as PREMIS 3 events; types are those of the vocabulary of the Library of Congress."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple
from xml.etree import ElementTree as ET

from intake.services.handover.sound import sound

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
    for f in files:
        yield _text(_object(f))
    agents = {"Kinfold": "software"}
    for number, event in enumerate(events, start=1):
        agents[event.agent] = event.agent_type
        yield _text(_event(number, event))
    for agent, kind in agents.items():
        yield _text(_agent(agent, kind))
    yield "</premis>\n"


def _object(f: File) -> ET.Element:
    made = ET.Element("object", {"xsi:type": "file"})
    _identifier(made, "objectIdentifier", "SHA-256", f.sha256)
    told = ET.SubElement(made, "objectCharacteristics")
    for name, value in (("SHA-256", f.sha256), ("SHA-512", f.sha512)):
        fixity = ET.SubElement(told, "fixity")
        _add(fixity, "messageDigestAlgorithm", name)
        _add(fixity, "messageDigest", value)
    _add(told, "size", str(f.size))
    _add(ET.SubElement(ET.SubElement(told, "format"), "formatDesignation"), "formatName", f.format or "not told")
    _add(made, "originalName", f.name)
    return made


def _event(number: int, e: Event) -> ET.Element:
    made = ET.Element("event")
    _identifier(made, "eventIdentifier", "local", f"event-{number}")
    kind = _add(made, "eventType", e.type)
    kind.set("authority", "eventType")
    kind.set("valueURI", _TYPES + CODES[e.type])
    _add(made, "eventDateTime", e.at)
    _add(ET.SubElement(made, "eventDetailInformation"), "eventDetail", e.detail)
    _add(ET.SubElement(made, "eventOutcomeInformation"), "eventOutcome", e.outcome)
    _identifier(made, "linkingAgentIdentifier", "name", e.agent)
    for digest in e.files:
        _identifier(made, "linkingObjectIdentifier", "SHA-256", digest)
    return made


def _agent(name: str, kind: str) -> ET.Element:
    made = ET.Element("agent")
    _identifier(made, "agentIdentifier", "name", name)
    _add(made, "agentName", name)
    _add(made, "agentType", kind)
    return made


def _identifier(at: ET.Element, name: str, kind: str, value: str) -> None:
    made = ET.SubElement(at, name)
    _add(made, f"{name}Type", kind)
    _add(made, f"{name}Value", value)


def _add(at: ET.Element, name: str, text: str) -> ET.Element:
    made = ET.SubElement(at, name)
    made.text = sound(text)
    return made


def _text(element: ET.Element) -> str:
    return ET.tostring(element, encoding="unicode") + "\n"
