"""Whether a scan is below the house rule for its kind, and what to do differently. A note: it refuses nothing."""

from intake.config.rescan import RescanRow, RescanRules
from intake.model import Checked, Classified, Finding, Rescan

VERSION = 1


def rescan(checked: Checked, classified: Classified, part: int, rules: RescanRules) -> Rescan:
    """Return the findings, none where the kind is unknown or has no rule."""
    row = next((r for r in rules.rows if classified.kind in r.kinds), None)
    if row is None:
        return Rescan()
    short = [
        f"{checked.ppi:.0f} ppi, {_level(checked.ppi, row)}; the rule is {row.ppi:.0f}"
        if checked.ppi is not None and checked.ppi < row.ppi
        else "",
        f"{checked.bits} bits a channel; the rule is {row.bits}" if 0 < checked.bits < row.bits else "",
    ]
    said = "; ".join(s for s in short if s)
    if not said:
        return Rescan()
    message = f"Below the house rule for its kind: {said} (after {row.source}; {row.sure}). {row.how}"
    return Rescan((Finding("rescan", "below_house_rule", "note", message, part),))


def _level(ppi: float, row: RescanRow) -> str:
    reached = [(least, name) for name, least in row.levels.items() if ppi >= least]
    return f"which reaches {max(reached)[1]}" if reached else "which reaches no level"
