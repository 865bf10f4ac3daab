"""`kinfold export copies`: a picture of each scan to hand out, which says in itself what it is of (XMP, IPTC)."""

from collections.abc import Iterator
from pathlib import Path

from intake.config.load import Config
from intake.errors import HomeError
from intake.model import Stamps
from intake.services.handover.embedded import Caption, embed
from intake.services.handover.files import whole_file
from intake.services.handover.record import ImageRecord, PieceRecord, Wanted
from intake.services.handover.records import records
from intake.services.handover.sound import file_name
from intake.services.home import Home, picture_path
from intake.services.pictures import NoPicture, upright_jpeg
from intake.store import runs

_MIND = "A copy, made from a scan. What is suggested says so; no attribution and no date follows from this picture."


def export_copies(home: Home, config: Config, to: Path, wanted: Wanted) -> int:
    """Write a JPEG of each scan of the pieces asked for into ``to``, set upright; returns how many."""
    found = records(home, config, wanted)
    with home.database.read() as connection:
        stamp = (runs.current_stamps(connection) or Stamps({}, "", "")).stages.get("render", "")
    count = 0
    for p in found.pieces:
        for name, i in _named(p):
            try:
                made = upright_jpeg(
                    picture_path(home.folder, i.key, "working", stamp), i.turn.rotation, i.turn.mirrored
                )
            except NoPicture:
                continue
            except OSError as error:
                raise HomeError(f"{home.folder}: a picture cannot be read ({error.strerror}).") from error
            with whole_file(to / name) as file:
                file.write(embed(made, caption(p, i)))
            count += 1
    return count


def caption(p: PieceRecord, i: ImageRecord) -> Caption:
    """What the copy of one scan says of itself: what is on record, each with how sure it is."""
    side = f", {i.side}" if i.side != "recto" else ""
    said = [f"{p.kind.said}{side}", f"piece {p.identifier}"]
    said += [f"the list says: {p.description.words}"] if p.description else []
    said += [p.materials.said] if p.materials else []
    said += [r.said for r in p.remarks]
    said += [f"date by accepted marks: {p.date.edtf}"] if p.date else []
    title = p.title.said if p.title else ""
    mind = " ".join((_MIND, *(f"Caution: {h.words}" for h in p.hazards)))
    return Caption(p.identifier, title, "; ".join(said), mind, tuple(k for k in (p.kind.words, p.family) if k))


def _named(p: PieceRecord) -> Iterator[tuple[str, ImageRecord]]:
    stem = file_name(p.identifier)
    for number, i in enumerate(p.images, start=1):
        yield f"{stem}-{number}.jpg", i
