"""Where a piece came from, as far as is on record: plain lines, or one line as the AAM's guide punctuates it.

The guide: Yeide, Akinsha and Walsh, The AAM Guide to Provenance Research (2001). Earliest first; a semicolon where
one handed over to the next, a full stop where that is not known; dealers and agents in parentheses; notes in brackets.
Nobody is named: a consignor's name is given by consent alone, and none is on record. No ownership follows from a box.
"""

from collections.abc import Iterator
from typing import Literal

from intake.services.handover.record import PieceRecord

Style = Literal["plain", "aam"]
_BEFORE = "Owner before the consignor not stated"
_NAME = "The consignor's name is given by consent alone."
_BOX = "Found in a box is not ownership."


def provenance(p: PieceRecord, house: str, style: Style) -> tuple[str, ...]:
    """The lines, in the style asked for."""
    return tuple(_aam(p, house) if style == "aam" else _plain(p, house))


def _plain(p: PieceRecord, house: str) -> Iterator[str]:
    yield f"{_BEFORE}."
    yield f"The consignor of {p.name[0]}. {_NAME}"
    yield f"{house}, on consignment: {_found(p)} {_BOX}"


def _aam(p: PieceRecord, house: str) -> Iterator[str]:
    yield f"{_BEFORE}. The consignor of {p.name[0]} [1]; ({house}, on consignment) [2]."
    yield f"[1] {_NAME}"
    yield f"[2] {_found(p)[0].upper()}{_found(p)[1:]} {_BOX}"


def _found(p: PieceRecord) -> str:
    return f"found in box {p.name[1]}, scans received {p.received[:10]}."
