"""The order and number of parts that PREMIS 3.0 and METS 1.12 lay down for the elements that we write.

Written by hand from the published schemas, premis-v3-0.xsd and mets.xsd of the Library of Congress, as no registry's
package of general use holds them; read as xml_parts.py says. For METS also what its identifiers promise.
"""

from xml.etree import ElementTree as ET

from tests.services.handover.xml_parts import wrong_parts

PREMIS, METS = "http://www.loc.gov/premis/v3", "http://www.loc.gov/METS/"
XSI, XLINK = "{http://www.w3.org/2001/XMLSchema-instance}", "{http://www.w3.org/1999/xlink}"
PREMIS_PARTS = {
    "premis": "object+ event* agent* rights*",
    "object": "objectIdentifier+ preservationLevel* significantProperties* objectCharacteristics+ originalName?",
    "objectCharacteristics": "compositionLevel? fixity* size? format+",
    "fixity": "messageDigestAlgorithm messageDigest messageDigestOriginator?",
    "format": "formatDesignation",
    "formatDesignation": "formatName formatVersion?",
    "event": "eventIdentifier eventType eventDateTime eventDetailInformation* eventOutcomeInformation* "
    "linkingAgentIdentifier* linkingObjectIdentifier*",
    "eventDetailInformation": "eventDetail?",
    "eventOutcomeInformation": "eventOutcome?",
    "agent": "agentIdentifier+ agentName* agentType?",
    **{f"{n}Identifier": f"{n}IdentifierType {n}IdentifierValue" for n in ("object", "event", "agent")},
    **{
        f"linking{n}Identifier": f"linking{n}IdentifierType linking{n}IdentifierValue linking{n}Role*"
        for n in ("Agent", "Object")
    },
    **{f"{n}Identifier{part}": "#" for n in ("object", "event", "agent") for part in ("Type", "Value")},
    **{f"linking{n}Identifier{part}": "#" for n in ("Agent", "Object") for part in ("Type", "Value")},
    **dict.fromkeys(
        ("originalName", "size", "messageDigestAlgorithm", "messageDigest", "formatName", "eventType", "eventDateTime",
         "eventDetail", "eventOutcome", "agentName", "agentType"), "#",
    ),
}  # fmt: skip
METS_PARTS = {
    "mets": "metsHdr? dmdSec* amdSec* fileSec? structMap+",
    "metsHdr": "agent* altRecordID* metsDocumentID?",
    "agent": "name note*",
    "dmdSec": "mdRef?",
    "amdSec": "techMD* rightsMD* sourceMD* digiprovMD*",
    "digiprovMD": "mdRef?",
    "fileSec": "fileGrp+",
    "fileGrp": "file*",
    "file": "FLocat*",
    "structMap": "div",
    "div": "mptr* fptr* div*",
    **dict.fromkeys(("mdRef", "FLocat", "fptr", "mptr"), ""),
    "name": "#",
}
# Attributes that the schema requires of an element.
METS_NEEDS = {"mdRef": ("LOCTYPE", "MDTYPE"), "FLocat": ("LOCTYPE",), "file": ("ID",), "dmdSec": ("ID",)}
METS_NEEDS |= {"digiprovMD": ("ID",), "fptr": ("FILEID",), "agent": ("ROLE",)}


def premis_complaints(at: ET.Element, path: str = "") -> list[str]:
    """What is against the rules of PREMIS in this element and below it."""
    name = at.tag.removeprefix(f"{{{PREMIS}}}")
    path = f"{path}/{name}"
    found = wrong_parts(at, PREMIS, PREMIS_PARTS, path)
    if name == "premis" and at.get("version") != "3.0":
        found.append(f"{path}: version")
    if name == "object" and at.get(f"{XSI}type") not in ("file", "premis:file"):
        found.append(f"{path}: no type")
    return found + [c for child in at for c in premis_complaints(child, path)]


def mets_complaints(root: ET.Element) -> list[str]:
    """What is against the rules of METS, and names in it that stand for nothing or for two things."""
    found, names, asked = [], [], set()
    for at in root.iter():
        name = at.tag.removeprefix(f"{{{METS}}}")
        found += wrong_parts(at, METS, METS_PARTS, name)
        found += [f"{name}: no {need}" for need in METS_NEEDS.get(name, ()) if need not in at.attrib]
        names += [at.attrib["ID"]] if "ID" in at.attrib else []
        asked |= {word for key in ("FILEID", "DMDID", "ADMID") for word in at.get(key, "").split()}
        if name in ("mdRef", "FLocat") and not at.get(f"{XLINK}href"):
            found.append(f"{name}: points nowhere")
    found += [f"{name} stands for two things" for name in sorted({n for n in names if names.count(n) > 1})]
    return found + [f"{name} stands for nothing" for name in sorted(asked - set(names))]
