"""The order and number of parts that LIDO 1.1 lays down for the elements that we write, to try documents by.

Written by hand from the published schema, lido-v1.1.xsd of 2021-12-20 (ICOM CIDOC LIDO Working Group), as no registry
has it; read as xml_parts.py says.
"""

from xml.etree import ElementTree as ET

from tests.services.handover.xml_parts import wrong_parts

NAMESPACE = "http://www.lido-schema.org"
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
_CONCEPT = "conceptID* term*"
_NAMED = "appellationValue+ sourceAppellation*"
_NOTE = "descriptiveNoteID* descriptiveNoteValue* sourceDescriptiveNote*"
PARTS = {
    "lidoWrap": "lido+",
    "lido": "lidoRecID+ objectPublishedID* category? applicationProfile? descriptiveMetadata+ administrativeMetadata+",
    "descriptiveMetadata": "objectClassificationWrap objectIdentificationWrap eventWrap? objectRelationWrap?",
    "objectClassificationWrap": "objectWorkTypeWrap classificationWrap?",
    "objectWorkTypeWrap": "objectWorkType+",
    "objectIdentificationWrap": "titleWrap inscriptionsWrap? repositoryWrap? displayStateEditionWrap? "
    "objectDescriptionWrap? objectMeasurementsWrap? objectMaterialsTechWrap?",
    "titleWrap": "titleSet+",
    "titleSet": _NAMED,
    "inscriptionsWrap": "inscriptions*",
    "inscriptions": "inscriptionTranscription* inscriptionDescription*",
    "inscriptionDescription": _NOTE,
    "repositoryWrap": "repositorySet*",
    "repositorySet": "displayRepository* repositoryName? workID* repositoryLocation? sourceRepositorySet*",
    "repositoryLocation": "placeID* namePlaceSet*",
    "namePlaceSet": _NAMED,
    "objectDescriptionWrap": "objectDescriptionSet*",
    "objectDescriptionSet": _NOTE,
    "objectMeasurementsWrap": "objectMeasurementsSet*",
    "objectMeasurementsSet": "displayObjectMeasurements* objectMeasurements?",
    "objectMeasurements": "measurementsSet* extentMeasurements* qualifierMeasurements* formatMeasurements*",
    "measurementsSet": "measurementType+ measurementUnit+ measurementValue",
    "objectMaterialsTechWrap": "objectMaterialsTechSet*",
    "objectMaterialsTechSet": "displayMaterialsTech* materialsTech*",
    "materialsTech": "termMaterialsTech* extentMaterialsTech* sourceMaterialsTech*",
    "eventWrap": "eventSet*",
    "eventSet": "displayEvent* event?",
    "event": "eventID* eventType roleInEvent* eventName* eventActor* culture* eventDate? periodName*",
    "eventActor": "displayActorInRole* actorInRole?",
    "actorInRole": "actor roleActor* attributionQualifierActor* extentActor* sourceActorInRole*",
    "actor": "actorID* nameActorSet+",
    "nameActorSet": _NAMED,
    "eventDate": "displayDate* date?",
    "date": "earliestDate? latestDate?",
    "objectRelationWrap": "subjectWrap? relatedWorksWrap?",
    "relatedWorksWrap": "relatedWorkSet*",
    "relatedWorkSet": "displayRelatedWork* relatedWork? relatedWorkRelType? sourceRelatedWorkSet*",
    "relatedWork": "displayObject* object?",
    "object": "objectWebResource* objectID* objectType* objectName* objectNote*",
    "administrativeMetadata": "rightsWorkWrap? recordWrap resourceWrap?",
    "recordWrap": "recordID+ recordType recordSource+ recordRights* recordInfoSet* collection*",
    "recordSource": "legalBodyID* legalBodyName* legalBodyWeblink*",
    "legalBodyName": _NAMED,
    "resourceWrap": "resourceSet*",
    "resourceSet": "resourceID* resourceRepresentation* resourceType? resourceRelType* resourcePerspective* "
    "resourceDescription* resourceDateTaken? resourceSource* rightsResource*",
    "resourceRepresentation": "linkResource resourceMeasurementsSet*",
    **dict.fromkeys(
        ("objectWorkType", "eventType", "roleActor", "measurementType", "measurementUnit", "relatedWorkRelType",
         "recordType", "termMaterialsTech"), _CONCEPT,
    ),
    **dict.fromkeys(
        ("lidoRecID", "objectPublishedID", "conceptID", "term", "appellationValue", "sourceAppellation", "workID",
         "inscriptionTranscription", "descriptiveNoteValue", "sourceDescriptiveNote", "displayObjectMeasurements",
         "measurementValue", "displayMaterialsTech", "sourceMaterialsTech", "attributionQualifierActor", "displayDate",
         "earliestDate", "latestDate", "displayObject", "objectID", "recordID", "resourceID", "linkResource",
         "resourceDescription"), "#",
    ),
}  # fmt: skip
# identifierComplexType: its attribute "type" is required.
TYPED = {"lidoRecID", "objectPublishedID", "conceptID", "objectID", "recordID", "resourceID"}


def complaints(at: ET.Element, path: str = "") -> list[str]:
    """What is against the rules in this element and below it."""
    name = at.tag.removeprefix(f"{{{NAMESPACE}}}")
    path = f"{path}/{name}"
    found = [f"{path}: attribute {a}" for a in at.attrib if not a.startswith(f"{{{NAMESPACE}}}") and a != LANGUAGE]
    if name in TYPED and f"{{{NAMESPACE}}}type" not in at.attrib:
        found.append(f"{path}: no type")
    if name in ("descriptiveMetadata", "administrativeMetadata") and LANGUAGE not in at.attrib:
        found.append(f"{path}: no language")
    found += wrong_parts(at, NAMESPACE, PARTS, path)
    return found + [c for child in at for c in complaints(child, path)] if name in PARTS else found
