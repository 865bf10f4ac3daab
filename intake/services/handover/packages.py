"""What leaves the house as a folder, by name: each takes what is asked for and says in a line what it wrote."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from intake.config.load import Config
from intake.errors import UsageError
from intake.services.handover.bag import export_bag
from intake.services.handover.copies import export_copies
from intake.services.handover.drafts import export_drafts
from intake.services.handover.iiif import export_iiif
from intake.services.handover.papers import export_papers
from intake.services.handover.record import Wanted
from intake.services.handover.writing import export_records
from intake.services.home import Home


class Asked(NamedTuple):
    """Of what, with papers found in boxes or without, on which size of paper; a bag with METS or without."""

    consignment: str = ""
    family: str = ""
    with_documents: bool = False
    paper: str = "a4"
    with_mets: bool = False

    @property
    def wanted(self) -> Wanted:
        """Of what records are asked for."""
        return Wanted(self.consignment, self.family, self.with_documents)


def hand_over(home: Home, config: Config, name: str, to: Path, asked: Asked) -> str:
    """Write package ``name`` into the folder ``to``; returns what was written, in words.

    Raises UsageError where ``to`` is a file, or METS is asked for of what is no bag.
    """
    if to.exists() and not to.is_dir():
        raise UsageError(f"{to}: is a file. Name a folder.")
    if asked.with_mets and name != "bag":
        raise UsageError(f"{name}: --mets is for a bag alone.")
    return PACKAGES[name](home, config, to, asked)


def counted(count: int, one: str, more: str = "") -> str:
    """How many of what."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def _records(home: Home, config: Config, to: Path, asked: Asked) -> str:
    return f"{to}: records of {counted(export_records(home, config, to, asked.wanted), 'piece')}"


def _bag(home: Home, config: Config, to: Path, asked: Asked) -> str:
    bagged = export_bag(home, config, to, asked.wanted, with_mets=asked.with_mets)
    return f"{to}: a bag of {len(bagged.files)} files ({int(bagged.oxum.partition('.')[0]):,} bytes)"


def _papers(home: Home, config: Config, to: Path, asked: Asked) -> str:
    return f"{to}: {counted(export_papers(home, config, to, asked.wanted, asked.paper), 'paper')}"


def _iiif(home: Home, config: Config, to: Path, asked: Asked) -> str:
    return f"{to}: {counted(export_iiif(home, config, to, asked.wanted), 'manifest')}"


def _copies(home: Home, config: Config, to: Path, asked: Asked) -> str:
    return f"{to}: {counted(export_copies(home, config, to, asked.wanted), 'copy', 'copies')}"


def _drafts(home: Home, config: Config, to: Path, asked: Asked) -> str:
    return f"{to}: {counted(export_drafts(home, config, to, asked.wanted), 'draft entry', 'draft entries')}"


PACKAGES: dict[str, Callable[[Home, Config, Path, Asked], str]] = {
    "records": _records,
    "bag": _bag,
    "papers": _papers,
    "iiif": _iiif,
    "copies": _copies,
    "drafts": _drafts,
}
