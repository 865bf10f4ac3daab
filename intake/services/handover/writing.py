"""`kinfold export records`: what is on record of pieces and families, in four plain formats."""

from pathlib import Path

from intake.config.load import Config
from intake.services.handover.files import write_text
from intake.services.handover.flat import tables
from intake.services.handover.jsonld import jsonld
from intake.services.handover.lido import lido
from intake.services.handover.record import ALL, Records, Wanted
from intake.services.handover.records import records
from intake.services.handover.sheets import csv_text, write_xlsx
from intake.services.home import Home, now


def export_records(
    home: Home, config: Config, to: Path, wanted: Wanted = ALL, made_at: str = "", made: Records | None = None
) -> int:
    """Write the records asked for into the folder ``to``; returns the number of pieces.

    The same ledger gives the same bytes but for ``made_at``, the stated time. Raises UsageError for an unknown
    consignment or family, HomeError when a file cannot be written.
    """
    made, made_at = made or records(home, config, wanted), made_at or now()
    rules = config.records
    write_text(to / "records.jsonld", jsonld(made, rules.base, made_at, rules.other_design))
    write_text(to / "records.lido.xml", lido(made, rules))
    flat = tables(made, rules)
    for name, table in flat.items():
        write_text(to / f"{name}.csv", csv_text(table))
    write_xlsx(to / "records.xlsx", list(flat.items()), made_at)
    return len(made.pieces)
