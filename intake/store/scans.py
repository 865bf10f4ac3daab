"""Consignments, the scans in them, what the box list says, and what was found at receipt."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, delete, insert, select, update

from intake.model import Finding, Listed, Received
from intake.store.schema import consignment, listed, receipt_finding, scan

_AT_ONCE = 400
_RECEIVED = (
    scan.c.consignment,
    scan.c.box,
    scan.c.piece,
    scan.c.side,
    scan.c.path,
    scan.c.digest,
    scan.c.size_bytes,
    scan.c.is_reference,
    scan.c.sequence,
)


@dataclass(frozen=True, slots=True)
class ConsignmentRow:
    """One consignment: where its scans lie, and whether its pieces may be shown beside another owner's."""

    code: str
    folder: str
    received_at: str
    has_list: bool
    shown_to_others: bool


@dataclass(frozen=True, slots=True)
class KnownFile:
    """What was written down of a file when it was received."""

    digest: str
    size_bytes: int
    modified_ns: int


def consignments(connection: Connection) -> list[ConsignmentRow]:
    """All consignments, by code."""
    return [ConsignmentRow(*row) for row in connection.execute(select(consignment).order_by(consignment.c.code))]


def put_consignment(connection: Connection, code: str, folder: str, at: str, has_list: bool) -> None:
    """Add a consignment, or note where its folder lies now; a list once given stays given."""
    known = connection.execute(select(consignment.c.has_list).where(consignment.c.code == code)).scalar_one_or_none()
    if known is None:
        connection.execute(
            insert(consignment).values(
                code=code, folder=folder, received_at=at, has_list=has_list, shown_to_others=False
            )
        )
    else:
        connection.execute(
            update(consignment).where(consignment.c.code == code).values(folder=folder, has_list=known or has_list)
        )


def known_files(connection: Connection, code: str) -> dict[str, KnownFile]:
    """Path -> what was received under it."""
    rows = connection.execute(
        select(scan.c.path, scan.c.digest, scan.c.size_bytes, scan.c.modified_ns).where(scan.c.consignment == code)
    )
    return {path: KnownFile(digest, size, int(modified)) for path, digest, size, modified in rows}


def add_scans(connection: Connection, scans: Sequence[tuple[Received, int]], at: str) -> None:
    """Add received files, each with its time of change in nanoseconds."""
    if scans:
        connection.execute(
            insert(scan),
            [
                {
                    "consignment": r.consignment,
                    "path": r.path,
                    "box": r.box,
                    "piece": r.piece,
                    "side": r.side,
                    "digest": r.digest,
                    "size_bytes": r.size_bytes,
                    "modified_ns": str(modified_ns),
                    "received_at": at,
                    "is_reference": r.is_reference,
                    "sequence": r.sequence,
                }
                for r, modified_ns in scans
            ],
        )


def all_scans(connection: Connection, code: str | None = None) -> list[Received]:
    """Every received file, ordered by consignment and path; of one consignment when it is named."""
    query = select(*_RECEIVED).order_by(scan.c.consignment, scan.c.path)
    if code is not None:
        query = query.where(scan.c.consignment == code)
    return [Received(*row) for row in connection.execute(query).all()]  # all at once takes half the time of one by one


def scans_of(connection: Connection, digests: Sequence[str]) -> list[Received]:
    """The received files with these digests; those of one digest are ordered by consignment and path."""
    rows: list[Received] = []
    for start in range(0, len(digests), _AT_ONCE):
        some = scan.c.digest.in_(digests[start : start + _AT_ONCE])
        query = select(*_RECEIVED).where(some).order_by(scan.c.consignment, scan.c.path)
        rows += [Received(*row) for row in connection.execute(query)]
    return rows


def arrivals(connection: Connection, digests: Sequence[str]) -> dict[tuple[str, str], str]:
    """When each file with one of these digests was received (ISO 8601, UTC), by consignment and path."""
    query = select(scan.c.consignment, scan.c.path, scan.c.received_at).where(scan.c.digest.in_(digests))
    return {(code, path): at for code, path, at in connection.execute(query)}


def pieces_like(connection: Connection, code: str, box: str, piece: str) -> list[Received]:
    """The received files of one piece, by path; a piece told apart on a scan (``0029.2``) has that scan's."""
    whole = piece.rpartition(".")[0]
    query = select(*_RECEIVED).where(scan.c.consignment == code, scan.c.box == box, scan.c.piece.in_([piece, whole]))
    return [Received(*row) for row in connection.execute(query.order_by(scan.c.path))]


def scans_in(connection: Connection, code: str, box: str) -> list[Received]:
    """The received files of one box, by path."""
    query = select(*_RECEIVED).where(scan.c.consignment == code, scan.c.box == box).order_by(scan.c.path)
    return [Received(*row) for row in connection.execute(query)]


def digests_of_pieces(connection: Connection, pieces: Iterable[tuple[str, str, str]]) -> set[str]:
    """The files that are of these pieces (consignment, box, piece), by their names."""
    boxes: dict[tuple[str, str], list[str]] = {}
    for code, box, piece in pieces:
        boxes.setdefault((code, box), []).append(piece)
    found: set[str] = set()
    for (code, box), names in boxes.items():
        for start in range(0, len(names), _AT_ONCE):
            at = (scan.c.consignment == code, scan.c.box == box, scan.c.piece.in_(names[start : start + _AT_ONCE]))
            found.update(d for (d,) in connection.execute(select(scan.c.digest).where(*at)))
    return found


def replace_list(connection: Connection, code: str, lines: Iterable[Listed]) -> None:
    """Put the owner's box list in the place of the one before."""
    connection.execute(delete(listed).where(listed.c.consignment == code))
    rows = [
        {
            "consignment": code,
            "line": number,
            "box": line.box,
            "piece": line.piece,
            "description": line.description,
            "sides": line.sides,
            "held": line.held,
            "why": line.why,
        }
        for number, line in enumerate(lines, start=1)
    ]
    if rows:
        connection.execute(insert(listed), rows)


def listed_pieces(connection: Connection, code: str) -> list[Listed]:
    """The box list of a consignment, in its own order."""
    columns = (listed.c.box, listed.c.piece, listed.c.description, listed.c.sides, listed.c.held, listed.c.why)
    query = select(*columns).where(listed.c.consignment == code).order_by(listed.c.line)
    return [Listed(*row) for row in connection.execute(query)]


def replace_receipt_findings(connection: Connection, code: str, found: Iterable[tuple[str, Finding]], at: str) -> None:
    """Put what was found at this receipt, of the folder as it is now, in the place of what was found before."""
    connection.execute(delete(receipt_finding).where(receipt_finding.c.consignment == code))
    rows = [
        {
            "consignment": code,
            "path": path,
            "code": finding.code,
            "severity": finding.severity,
            "message": finding.message,
            "found_at": at,
        }
        for path, finding in {(path, f.code): (path, f) for path, f in found}.values()
    ]
    if rows:
        connection.execute(insert(receipt_finding), rows)


def receipt_findings(connection: Connection, code: str) -> list[tuple[str, Finding]]:
    """(path, finding) of everything found at receipt."""
    columns = (receipt_finding.c.path, receipt_finding.c.code, receipt_finding.c.severity, receipt_finding.c.message)
    query = select(*columns).where(receipt_finding.c.consignment == code).order_by(*columns[:2])
    return [
        (path, Finding("receive", code_, severity, message))
        for path, code_, severity, message in connection.execute(query)
    ]
