"""Records as LIDO 1.1 (ICOM CIDOC): names and their order are those of its schema, where attributes have its prefix."""

from collections.abc import Iterator
from xml.etree import ElementTree as ET

from intake.config.records import RecordRules
from intake.services.handover.flat import identifier, said
from intake.services.handover.jsonld import piece_iri, scan_iri
from intake.services.handover.record import PieceRecord, Records, Source, Stated
from intake.services.handover.sound import sound

NAMESPACE = "http://www.lido-schema.org"
# Terms of the LIDO terminology and of CIDOC CRM, by their published addresses.
_PRODUCTION = "http://terminology.lido-schema.org/lido00007"
_ITEM = "http://terminology.lido-schema.org/lido00141"
_LOCAL = "http://terminology.lido-schema.org/lido00100"
_URI = "http://terminology.lido-schema.org/lido00099"


def lido(records: Records, rules: RecordRules) -> Iterator[str]:
    """The document in pieces of text: one ``lido`` a piece."""
    yield f'<?xml version="1.0" encoding="UTF-8"?>\n<lido:lidoWrap xmlns:lido="{NAMESPACE}">\n'
    for p in records.pieces:
        yield ET.tostring(_lido(p, rules), encoding="unicode") + "\n"
    yield "</lido:lidoWrap>\n"


def _add(parent: ET.Element, name: str, text: str | None = None, **attributes: str) -> ET.Element:
    made = ET.SubElement(parent, f"lido:{name}", {f"lido:{k}": sound(v) for k, v in attributes.items()})
    if text is not None:
        made.text = sound(text)
    return made


def _concept(parent: ET.Element, name: str, term: str, address: str = "") -> None:
    made = _add(parent, name)
    if address:
        _add(made, "conceptID", address, type=_URI)
    _add(made, "term", term)


def _lido(p: PieceRecord, rules: RecordRules) -> ET.Element:
    root = ET.Element("lido:lido")
    _add(root, "lidoRecID", p.identifier, type=_LOCAL)
    _add(root, "objectPublishedID", piece_iri(rules.base, p.name), type=_URI)
    told = _add(root, "descriptiveMetadata")
    told.set("xml:lang", "en")
    _concept(_add(_add(told, "objectClassificationWrap"), "objectWorkTypeWrap"), "objectWorkType", p.kind.words)
    _identification(_add(told, "objectIdentificationWrap"), p)
    _production(told, p, rules)
    _related(told, p, rules)
    kept = _add(root, "administrativeMetadata")
    kept.set("xml:lang", "en")
    record = _add(kept, "recordWrap")
    _add(record, "recordID", p.identifier, type=_LOCAL)
    _concept(record, "recordType", "item-level record", _ITEM)
    _add(_add(_add(record, "recordSource"), "legalBodyName"), "appellationValue", f"consignment {p.name[0]}")
    resources = _add(kept, "resourceWrap")
    for i in p.images:
        resource = _add(resources, "resourceSet")
        _add(resource, "resourceID", scan_iri(i.key.digest), type=_URI)
        _add(_add(resource, "resourceRepresentation"), "linkResource", scan_iri(i.key.digest))
        _add(resource, "resourceDescription", f"{i.path}, {i.side}")
    return root


def _identification(at: ET.Element, p: PieceRecord) -> None:
    title = _add(_add(at, "titleWrap"), "titleSet")
    if p.title:
        _add(title, "appellationValue", p.title.words)
        _add(title, "sourceAppellation", f"{p.title.certainty}: {said(p.title.source)}")
    else:
        _add(title, "appellationValue", f"[{p.kind.words}, title not stated]")
    if p.marks or p.inscribed:
        marks = _add(at, "inscriptionsWrap")
        if p.inscribed:
            inscription = _add(marks, "inscriptions")
            _add(inscription, "inscriptionTranscription", p.inscribed.words)
            note = f"title as inscribed ({p.inscribed.certainty})"
            _note(_add(inscription, "inscriptionDescription"), note, p.inscribed.source)
        for m in p.marks:
            inscription = _add(marks, "inscriptions")
            _add(inscription, "inscriptionTranscription", m.text)
            _note(_add(inscription, "inscriptionDescription"), f"{m.kind}: {m.value}", m.source)
    place = _add(_add(at, "repositoryWrap"), "repositorySet")
    _add(place, "workID", p.identifier, type=_LOCAL)
    _add(_add(_add(place, "repositoryLocation"), "namePlaceSet"), "appellationValue", p.location)
    said_of_it = [*([p.description] if p.description else []), *p.remarks, *p.condition, *p.hazards]
    if said_of_it:
        notes = _add(at, "objectDescriptionWrap")
        for s in said_of_it:
            _note(_add(notes, "objectDescriptionSet"), s.said, s.source)
    if p.measurements:
        measured = _add(_add(at, "objectMeasurementsWrap"), "objectMeasurementsSet")
        for length in p.measurements:
            _add(
                measured,
                "displayObjectMeasurements",
                f"{length.what}: {length.value_mm} mm ({length.how}; {said(length.source)})",
            )
        if p.format:
            shown = f"format: {p.format.said}; {said(p.format.source)}"
            _add(measured, "displayObjectMeasurements", shown)
        sets = _add(measured, "objectMeasurements")
        for length in p.measurements:
            one = _add(sets, "measurementsSet")
            _concept(one, "measurementType", length.what.split()[0])
            _concept(one, "measurementUnit", "mm")
            _add(one, "measurementValue", f"{length.value_mm}")
    if p.materials:
        _materials(at, p.materials)


def _materials(at: ET.Element, made: Stated) -> None:
    of = _add(_add(at, "objectMaterialsTechWrap"), "objectMaterialsTechSet")
    _add(of, "displayMaterialsTech", made.said)
    terms = _add(of, "materialsTech")
    _concept(terms, "termMaterialsTech", made.words)
    _add(terms, "sourceMaterialsTech", said(made.source))


def _note(at: ET.Element, words: str, source: Source) -> None:
    _add(at, "descriptiveNoteValue", words)
    _add(at, "sourceDescriptiveNote", said(source))


def _production(told: ET.Element, p: PieceRecord, rules: RecordRules) -> None:
    makers = [m for m in p.marks if m.kind in rules.makers]
    if not makers and not p.date:
        return
    event = _add(_add(_add(told, "eventWrap"), "eventSet"), "event")
    _concept(event, "eventType", "production", _PRODUCTION)
    for m in makers:
        role = _add(_add(event, "eventActor"), "actorInRole")
        _add(_add(_add(role, "actor"), "nameActorSet"), "appellationValue", m.value)
        _concept(role, "roleActor", rules.makers[m.kind])
        _add(role, "attributionQualifierActor", "as marked on the piece; a copy bears the mark too")
    if p.date:
        date = _add(event, "eventDate")
        _add(date, "displayDate", p.date.words)
        first, _, last = p.date.edtf.partition("/")
        span = _add(date, "date")
        _add(span, "earliestDate", first, type="EDTF")
        _add(span, "latestDate", last or first, type="EDTF")


def _related(told: ET.Element, p: PieceRecord, rules: RecordRules) -> None:
    if not p.relations:
        return
    works = _add(_add(told, "objectRelationWrap"), "relatedWorksWrap")
    for r in p.relations:
        at = _add(works, "relatedWorkSet")
        work = _add(at, "relatedWork")
        _add(work, "displayObject", f"{identifier(r.other)} ({r.certainty}: {said(r.source)})")
        _add(_add(work, "object"), "objectID", piece_iri(rules.base, r.other), type=_URI)
        _concept(at, "relatedWorkRelType", r.word)
