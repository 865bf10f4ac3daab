"""One consistent view of all that a home holds, from which tables and papers are made."""

from collections.abc import Callable
from dataclasses import dataclass

from intake.config.load import Config
from intake.kin import Differences, Family, Match, NumberedSet, Section
from intake.model import Finding, Listed, PartKey, Stamps
from intake.services.dates import PieceDates, PieceName, piece_dates
from intake.services.dossiers import Dossier, dossiers
from intake.services.hazards import BoxHazards, box_hazards
from intake.services.home import Home
from intake.services.points import Point, points_on
from intake.services.progress import BoxProgress, progress
from intake.store import campaigns, differences, families, moves, pairs, relations, runs, scans, several, withdrawals
from intake.store.database import Connection


@dataclass(frozen=True, slots=True)
class Known:
    """One consistent view of the ledger, from which every table is made."""

    config: Config
    parts: list[Dossier]
    matches: list[Match]
    families: list[Family]
    campaigns: dict[str, str]
    sets: list[NumberedSet]
    sections: list[Section]
    listed: dict[str, list[Listed]]
    receipt: dict[str, list[tuple[str, Finding]]]
    overlays: set[PieceName]
    boxes: tuple[BoxProgress, ...]
    hazards: list[BoxHazards]
    moves: list[moves.Move]
    withdrawals: list[withdrawals.Withdrawal]
    differences: list[Differences]
    points: list[Point]

    @property
    def by_key(self) -> dict[PartKey, Dossier]:
        """Each part once, under its first file."""
        made: dict[PartKey, Dossier] = {}
        for dossier in self.parts:
            made.setdefault(dossier.key, dossier)
        return made

    def finder(self) -> Callable[[PartKey], Dossier]:
        """Finds a part that a match or a family names; where its file was not looked at anew yet, the file's first."""
        by_key, by_digest = self.by_key, {d.key.digest: d for d in reversed(self.parts)}
        return lambda key: by_key.get(key) or by_digest[key.digest]

    def dates(self) -> list[PieceDates]:
        """Every piece with what its marks suggest."""
        return piece_dates(self.parts, self.overlays, self.config)


def view(home: Home, config: Config, parts: Callable[[Connection, Stamps], list[Dossier]] = dossiers) -> Known:
    """Read everything in one transaction, under the stamps of the newest run. ``parts`` reads the dossiers."""
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection) or Stamps({}, "", "")
        codes = [c.code for c in scans.consignments(connection)]
        return Known(
            config,
            parts(connection, stamps),
            pairs.all_matches(connection, stamps.match),
            families.all_families(connection),
            campaigns.campaigns_by_family(connection),
            several.all_sets(connection),
            several.all_sections(connection),
            {code: scans.listed_pieces(connection, code) for code in codes},
            {code: scans.receipt_findings(connection, code) for code in codes},
            relations.overlays(connection),
            progress(home).boxes,
            box_hazards(connection, stamps),
            moves.all_moves(connection),
            withdrawals.all_withdrawals(connection),
            differences.all_differences(connection),
            points_on(connection),
        )
