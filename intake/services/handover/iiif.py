"""Pictures as IIIF Presentation 3 manifests, one a family or a box, with physical scale; images lie beside them.

Static files: every image is our working image, a copy; of each accepted mark and each differing region there is a crop.
Addresses are below the one in config/records.toml, so that the folder can be put on any server as it is.
"""

import json
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote

from intake.config.load import Config
from intake.model import Box, PartKey, Stamps
from intake.services.handover.crops import Cutter, Region, regions_of
from intake.services.handover.files import whole_file, write_text
from intake.services.handover.flat import said
from intake.services.handover.light import light_view
from intake.services.handover.record import ImageRecord, PieceRecord, Wanted
from intake.services.handover.records import records
from intake.services.handover.sound import file_name, sound
from intake.services.home import Home, picture_path
from intake.store import runs, scans

PRESENTATION = "http://iiif.io/api/presentation/3/context.json"
PHYSICAL = "http://iiif.io/api/annex/services/physdim"
Node = dict[str, Any]


def export_iiif(home: Home, config: Config, to: Path, wanted: Wanted) -> int:
    """Write manifests of the families and boxes asked for, and their images, into ``to``; returns how many."""
    known = light_view(home, config)
    found = records(home, config, wanted, known)
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        folders = {c.code: c.folder for c in scans.consignments(connection)}
    stamp = stamps.stages.get("render", "")
    cutter = Cutter(home, config, to / "images/crops", known.by_key, folders, stamp)
    regions = regions_of(found.pieces, known.differences)
    writer = _Writer(home, f"{config.records.base}iiif/", to, stamp, cutter, regions)
    by_name = {p.name: p for p in found.pieces}
    groups: list[tuple[str, str, list[PieceRecord]]] = []
    for f in found.families:
        title = f.title.words if f.title else f.code
        groups.append((f"family-{file_name(f.code)}", title, [by_name[n] for n in f.pieces if n in by_name]))
    boxes: dict[tuple[str, str], list[PieceRecord]] = {}
    for p in found.pieces:
        boxes.setdefault(p.name[:2], []).append(p)
    if not wanted.family:
        groups += [(f"box-{file_name('/'.join(b))}", f"{b[0]}, box {b[1]}", of) for b, of in sorted(boxes.items())]
    return sum(writer.manifest(name, label, of) for name, label, of in groups)


class _Writer:
    def __init__(
        self, home: Home, base: str, to: Path, stamp: str, cutter: Cutter, regions: Mapping[PartKey, list[Region]]
    ) -> None:
        self.home, self.base, self.to, self.stamp, self.cutter, self.regions = home, base, to, stamp, cutter, regions
        self.copied: set[str] = set()

    def manifest(self, name: str, label: str, pieces: Iterable[PieceRecord]) -> int:
        """Write one; returns 1, or 0 where none of its pieces has a picture."""
        address = f"{self.base}{name}/"
        canvases = [c for p in pieces for n, i in enumerate(p.images, start=1) if (c := self._canvas(address, p, i, n))]
        if not canvases:
            return 0
        made = {
            "@context": PRESENTATION,
            "id": f"{self.base}{name}.json",
            "type": "Manifest",
            "label": _said(label),
            "items": canvases,
        }
        write_text(self.to / f"{name}.json", [json.dumps(made, ensure_ascii=False, indent=1) + "\n"])
        return 1

    def _canvas(self, address: str, p: PieceRecord, i: ImageRecord, number: int) -> Node | None:
        name = self._image(i)
        if name is None:
            return None
        width, height = i.working_px
        canvas = f"{address}{quote(file_name(p.identifier), safe='')}-{number}"
        facts = [("Kind", p.kind.said), ("Family", p.family), ("Where it is", p.location)]
        facts += [("The list says", p.description.words)] if p.description else []
        facts += [("Caution", h.words) for h in p.hazards]
        made: Node = {
            "id": canvas,
            "type": "Canvas",
            "label": _said(f"{p.identifier}, {i.side}"),
            "width": width,
            "height": height,
            "metadata": [{"label": _said(k), "value": _said(v)} for k, v in facts if v],
            "items": [
                {
                    "id": f"{canvas}/page",
                    "type": "AnnotationPage",
                    "items": [
                        {
                            "id": f"{canvas}/picture",
                            "type": "Annotation",
                            "motivation": "painting",
                            "target": canvas,
                            "body": {
                                "id": f"{self.base}images/{name}", "type": "Image", "format": "image/jpeg",
                                "width": width, "height": height,
                            },
                        }
                    ],
                }
            ],
        }  # fmt: skip
        if mm := _mm_per_px(i, width):
            made["service"] = [
                {"@context": f"{PHYSICAL}/1/context.json", "@id": f"{canvas}/scale", "@type": "PhysicalDimensions",
                 "profile": PHYSICAL, "physicalScale": mm, "physicalUnits": "mm"}
            ]  # fmt: skip
        if pages := self._notes(canvas, p, i):
            made["annotations"] = pages
        return made

    def _notes(self, canvas: str, p: PieceRecord, i: ImageRecord) -> list[Node]:
        """Pages of annotations: marks that a person accepted, and what differs from other pieces of the design."""
        if not i.box.width or not i.box.height:
            return []
        marks = [(m.box, f"{m.kind}: {m.value} (accepted by {said(m.source)})") for m in p.marks if m.key == i.key]
        regions = [(r.box, r.words) for r in self.regions.get(i.key, ())]
        pages = []
        for name, places in (("marks", marks), ("differences", regions)):
            items = [self._note(canvas, f"{name}/{n}", i, b, words) for n, (b, words) in enumerate(places, start=1)]
            if items:
                pages.append({"id": f"{canvas}/{name}", "type": "AnnotationPage", "items": items})
        return pages

    def _note(self, canvas: str, name: str, i: ImageRecord, box: Box, words: str) -> Node:
        """Words on a place of the canvas, and its crop."""
        width, height = i.working_px
        across, down = width / i.box.width, height / i.box.height
        x, y = (box.left - i.box.left) * across, (box.top - i.box.top) * down
        place = ",".join(str(max(0, round(v))) for v in (x, y, max(1, box.width * across), max(1, box.height * down)))
        body: list[Node] = [{"type": "TextualBody", "value": sound(words), "format": "text/plain", "language": "en"}]
        if crop := self.cutter.cut(i.key, box):
            body.append({"id": f"{self.base}images/crops/{crop}", "type": "Image", "format": "image/jpeg"})
        return {
            "id": f"{canvas}/{name}", "type": "Annotation", "motivation": "commenting", "body": body,
            "target": f"{canvas}#xywh={place}",
        }  # fmt: skip

    def _image(self, i: ImageRecord) -> str | None:
        """The copy's name; pictures lie as they were scanned, not turned. None where there is none."""
        name = f"{i.key.digest}-{i.key.part}.jpg"
        source = picture_path(self.home.folder, i.key, "working", self.stamp)
        if name not in self.copied:
            if not source.is_file() or not all(i.working_px):
                return None
            with source.open("rb") as file, whole_file(self.to / "images" / name) as out:
                shutil.copyfileobj(file, out)
            self.copied.add(name)
        return name


def _mm_per_px(i: ImageRecord, width: int) -> float | None:
    """Millimetres that a pixel of the canvas stands for; None where the scan's resolution is not known."""
    if not i.ppi or not width or not i.box.width:
        return None
    return float(f"{25.4 / i.ppi * i.box.width / width:.6g}")


def _said(text: str) -> Node:
    return {"en": [sound(text)]}
