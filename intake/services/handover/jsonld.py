"""Records as JSON-LD: DCMI Metadata Terms, W3C PROV-O; relations as RDF statements with certainty and source.

A scan is named by its digest (RFC 6920), a piece and a family below the address in config/records.toml.
"""

import base64
import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

from intake.services.clearing import PieceName
from intake.services.handover.flat import identifier, said
from intake.services.handover.record import PROGRAM, FamilyRecord, PieceRecord, Records, Source
from intake.services.handover.sound import sound

Node = dict[str, Any]

CONTEXT: Node = {
    "dcterms": "http://purl.org/dc/terms/",
    "prov": "http://www.w3.org/ns/prov#",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "kf": "urn:x-kinfold:terms:",
    "edtf": "http://id.loc.gov/datatypes/edtf/EDTF",
}
# The term of DCMI that says the same as our word, where one does.
_TERMS = {"is part of": "dcterms:isPartOf", "has part": "dcterms:hasPart", "is reproduction of": "dcterms:isFormatOf",
          "is reproduced in": "dcterms:hasFormat"}  # fmt: skip


def jsonld(records: Records, base: str, made_at: str, other_design: str) -> Iterator[str]:
    """The document in pieces of text: a graph with one node a line.

    ``made_at`` is the stated time, ``other_design`` the word for two families of one campaign.
    """
    yield '{"@context": ' + _text(CONTEXT) + ',\n"@graph": [\n'
    yield _text(
        {
            "@id": f"{base}handover",
            "@type": "prov:Activity",
            "prov:endedAtTime": {"@value": made_at, "@type": "xsd:dateTime"},
            "prov:wasAssociatedWith": {"@id": f"{base}agent/kinfold"},
        }
    )
    yield ",\n" + _text({"@id": f"{base}agent/kinfold", "@type": "prov:SoftwareAgent", "dcterms:title": "Kinfold"})
    for p in records.pieces:
        for node in (_piece(p, base), *_scans(p, base), *_marks(p, base), *_relations(p, base)):
            yield ",\n" + _text(node)
    for f in records.families:
        for node in (_family(f, base), *_designs(f, base, other_design)):
            yield ",\n" + _text(node)
    yield "\n]}\n"


def piece_iri(base: str, name: PieceName) -> str:
    """The address of a piece: nothing in it but what a path segment may hold."""
    return f"{base}piece/" + "/".join(quote(sound(part), safe="") for part in name)


def scan_iri(digest: str) -> str:
    """A file named by its SHA-256 (RFC 6920, section 3)."""
    return "ni:///sha-256;" + base64.urlsafe_b64encode(bytes.fromhex(digest)).decode().rstrip("=")


def _piece(p: PieceRecord, base: str) -> Node:
    node: Node = {
        "@id": piece_iri(base, p.name),
        "@type": ["dcterms:PhysicalResource", "prov:Entity"],
        "dcterms:identifier": p.identifier,
        "dcterms:type": p.kind.words,
        "kf:kindCertainty": f"{p.kind.certainty}, {p.kind.source.on}",
        "dcterms:dateAccepted": {"@value": p.received, "@type": "xsd:dateTime"},
        "dcterms:spatial": p.location,
    }
    if p.title:
        node |= {"dcterms:title": p.title.words, "kf:titleCertainty": p.title.certainty}
    if p.inscribed:
        node |= {"kf:titleAsInscribed": p.inscribed.words, "kf:titleAsInscribedBy": said(p.inscribed.source)}
        node["kf:titleAsInscribedCertainty"] = p.inscribed.certainty
    if p.description:
        node |= {"dcterms:description": p.description.words, "kf:descriptionBy": said(p.description.source)}
    if p.materials:
        node |= {"dcterms:medium": p.materials.words, "kf:materialsCertainty": p.materials.certainty}
        node["kf:materialsBy"] = said(p.materials.source)
    if p.date:
        node["dcterms:date"] = [{"@value": p.date.edtf, "@type": "edtf"}, p.date.words]
        node["kf:dateRestsOn"] = list(p.date.rests_on)
    if p.measurements:
        node["dcterms:extent"] = [f"{m.what}: {m.value_mm} mm ({m.how})" for m in p.measurements]
    if p.format:
        node |= {"dcterms:format": p.format.words, "kf:formatCertainty": p.format.certainty}
        node["kf:formatBy"] = said(p.format.source)
    if p.condition:
        node["kf:condition"] = [c.said for c in p.condition]
    if p.remarks:
        node["kf:remark"] = [f"{r.said}: {said(r.source)}" for r in p.remarks]
    if p.hazards:
        node["kf:hazard"] = [h.words for h in p.hazards]
    if p.family:
        node["kf:family"] = {"@id": _family_iri(base, p.family)}
        node["kf:familyStatus"] = p.family_status
    return node


def _scans(p: PieceRecord, base: str) -> Iterator[Node]:
    for i in p.images:
        yield {
            "@id": scan_iri(i.key.digest),
            "@type": "prov:Entity",
            "prov:wasDerivedFrom": {"@id": piece_iri(base, p.name)},
            "dcterms:title": i.path,
            "kf:side": i.side,
        }


def _marks(p: PieceRecord, base: str) -> Iterator[Node]:
    for n, m in enumerate(p.marks, start=1):
        yield {
            "@id": f"{piece_iri(base, p.name)}#mark-{n}",
            "@type": "prov:Entity",
            "kf:markOn": {"@id": piece_iri(base, p.name)},
            "dcterms:type": m.kind,
            "rdf:value": m.value,
            "kf:inscribed": m.text,
            "kf:place": {"@id": f"{scan_iri(m.key.digest)}#xywh={','.join(map(str, m.box))}"},
            "prov:hadPrimarySource": {"@id": scan_iri(m.key.digest)},
            **_by(m.source),
        }


def _relations(p: PieceRecord, base: str) -> Iterator[Node]:
    for n, r in enumerate(p.relations, start=1):
        node: Node = {
            "@id": f"{piece_iri(base, p.name)}#relation-{n}",
            "@type": ["rdf:Statement", "prov:Entity"],
            "rdf:subject": {"@id": piece_iri(base, p.name)},
            "rdf:predicate": {"@id": _predicate(r.word)},
            "rdf:object": {"@id": piece_iri(base, r.other)},
            "dcterms:description": f"{p.identifier} {r.word} {identifier(r.other)}",
            "kf:certainty": r.certainty,
            **_by(r.source),
        }
        yield node


def _designs(f: FamilyRecord, base: str, word: str) -> Iterator[Node]:
    for n, d in enumerate(f.designs, start=1):
        yield {
            "@id": f"{_family_iri(base, f.code)}#relation-{n}",
            "@type": ["rdf:Statement", "prov:Entity"],
            "rdf:subject": {"@id": _family_iri(base, f.code)},
            "rdf:predicate": {"@id": _predicate(word)},
            "rdf:object": {"@id": _family_iri(base, d.code)},
            "dcterms:description": f"{f.code} {word} {d.code}",
            "kf:certainty": d.certainty,
            **_by(d.source),
        }


def _predicate(word: str) -> str:
    return _TERMS.get(word) or "kf:" + "".join(w.capitalize() for w in word.split())


def _family_iri(base: str, code: str) -> str:
    return f"{base}family/{quote(code, safe='')}"


def _by(source: Source) -> Node:
    kind = "prov:SoftwareAgent" if source.who == PROGRAM else "prov:Agent"
    node: Node = {"prov:wasAttributedTo": {"@type": kind, "dcterms:title": source.who}, "kf:basis": source.on}
    if source.at:
        node["prov:generatedAtTime"] = {"@value": source.at, "@type": "xsd:dateTime"}
    return node


def _family(f: FamilyRecord, base: str) -> Node:
    node: Node = {
        "@id": _family_iri(base, f.code),
        "@type": "prov:Collection",
        "dcterms:identifier": f.code,
        "kf:status": f.status,
        "prov:hadMember": [{"@id": piece_iri(base, n)} for n in f.pieces],
    }
    if f.title:
        node |= {"dcterms:title": f.title.words, "kf:titleCertainty": f.title.certainty}
    if f.confirmed:
        node |= _by(f.confirmed)
    if f.others:
        node["kf:piecesNotHandedOut"] = f.others
    return node


def _text(value: Any) -> str:
    return json.dumps(_sound(value), ensure_ascii=False)


def _sound(value: Any) -> Any:
    if isinstance(value, str):
        return sound(value)
    if isinstance(value, dict):
        return {k: _sound(v) for k, v in value.items()}
    return [_sound(v) for v in value] if isinstance(value, list) else value
