"""The morning's page: one run on one page of HTML that needs nothing beside it, kept in the home."""

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from intake.config.load import Config
from intake.services import views
from intake.services.cautions import cautions
from intake.services.home import Home, write_whole
from intake.services.progress import progress
from intake.store import ledger, runs
from intake.web import words

_HERE = Path(__file__).parent
_SHOWN = 15


def write_report(home: Home, config: Config, number: int, left: dict[str, str]) -> Path:
    """Write what run ``number`` came to; returns the file. ``left``: scans that could not be had, with the reason."""
    made = Environment(
        loader=FileSystemLoader(_HERE / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    made.filters |= {"plain": words.plain, "moment": words.moment}
    made.globals["several"] = words.several
    text = made.get_template("report.html").render(**_values(home, config, number, left))
    path = home.report(number)
    write_whole(path, text.encode("utf-8", "replace"))
    return path


def newest_report(home: Home) -> Path | None:
    """The page of the newest run that has one."""
    return max(home.report(0).parent.glob("run-*.html"), default=None)


def _values(home: Home, config: Config, number: int, left: dict[str, str]) -> dict[str, Any]:
    found = views.troubles(home)
    waiting, settled = views.queue_counts(home)
    now = progress(home)
    with home.database.read() as connection:
        stamps = runs.current_stamps(connection)
        costs = ledger.stage_costs(connection, stamps.stages) if stamps else {}
    return {
        "number": number,
        "progress": now,
        "scans": sum(b.scans for b in now.boxes),
        "cautions": cautions(home, config),
        "left": sorted(left.items()),
        "rescans": [t for t in found if t.finding.severity == "failure"],
        "attention": [t for t in found if t.finding.severity == "attention"],
        "head": views.queue_items(home, config, 0, _SHOWN),
        "waiting": waiting,
        "settled": settled,
        "off": [b for b in now.boxes if b.adds_up is False],
        "costs": sorted((s, n, seconds) for s, (n, seconds) in costs.items()),
        "shown": _SHOWN,
    }
