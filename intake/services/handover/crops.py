"""Crops of marks and of differing regions, beside the manifests that name them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from intake.config.load import Config
from intake.kin import Differences
from intake.model import Box, PartKey
from intake.services.dossiers import Dossier
from intake.services.handover.files import whole_file
from intake.services.handover.record import PieceRecord, crop_name, share
from intake.services.home import Home, picture_path
from intake.services.pictures import Crops, NoPicture


@dataclass(frozen=True, slots=True)
class Region:
    """A place of one picture that differs from another piece of the design, and what is said of it."""

    box: Box
    words: str


def regions_of(pieces: Iterable[PieceRecord], told: Iterable[Differences]) -> dict[PartKey, list[Region]]:
    """Part -> where it differs from the other pieces that are handed out; of pieces that are not, nothing is said."""
    names = {i.key: p.identifier for p in pieces for i in p.images}
    made: dict[PartKey, list[Region]] = {}
    for report in told:
        if report.a in names and report.b in names:
            for d in report.regions:
                for key, box, other in ((report.a, d.a, report.b), (report.b, d.b, report.a)):
                    if box:
                        words = f"{d.words} (suggested, {share(d.certainty)}; beside {names[other]})"
                        made.setdefault(key, []).append(Region(box, words))
    return made


class Cutter:
    """Writes crops, once each: of a mark from the received file where it is there, else from our working image.

    They lie as they were scanned, not turned, as the images of the manifests do.
    """

    def __init__(
        self, home: Home, config: Config, to: Path, parts: Mapping[PartKey, Dossier], folders: Mapping[str, str],
        stamp: str,
    ) -> None:  # fmt: skip
        self._home, self._to, self._parts, self._folders, self._stamp = home, to, parts, folders, stamp
        self._crops = Crops(home, config)
        self._written: set[str] = set()

    def cut(self, key: PartKey, box: Box) -> str | None:
        """The crop's name; None where there is no picture to cut it from."""
        name, d = crop_name(key, box), self._parts.get(key)
        if d is None:
            return None
        if name not in self._written:
            working = picture_path(self._home.folder, key, "working", self._stamp)
            try:
                made = self._crops.jpeg(d, self._folders[d.scan.consignment], box, working, 0, False)
            except NoPicture:
                return None
            with whole_file(self._to / name) as file:
                file.write(made)
            self._written.add(name)
        return name
