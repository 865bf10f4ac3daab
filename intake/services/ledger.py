"""The ledger's rows as the desk shows them: each decision with what it was on, and whether it stands."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from intake.kin import Decision
from intake.model import PartKey
from intake.services.home import Home
from intake.services.rulings import standing
from intake.services.whose import Whose
from intake.store import decisions, scans
from intake.store.database import Connection

NAMED = 12  # so many pieces of a ruling are named in a list
_TOLD = ("first", "batch", "verb")  # of a ruling on pieces that may not be shown


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """One decision as the ledger shows it: the first of the pieces that it names, and how ``many`` those are in all.

    ``undone_by`` is the decision that took it back, if any. ``withheld``: it is on pieces that may not be shown here;
    those are named by their consignment alone, and nothing of what lay before the person is told.
    """

    decision: Decision
    pieces: tuple[str, ...]
    stands: bool
    undone_by: int | None
    many: int = 0
    withheld: bool = False


def made_with(connection: Connection, decision: Decision) -> list[Decision]:
    """The decisions that were made in one go with this one, itself among them."""
    batch = decision.shown.get("batch")
    return [d for d in decisions.of_batch(connection, str(batch)) if d.who == decision.who] if batch else [decision]


def ledger_row(home: Home, number: int, whose: Whose | None = None) -> tuple[LedgerRow, int] | None:
    """One decision, and how many were made in one go with it; None when there is none of this number."""
    with home.database.read() as connection:
        found = decisions.decisions_by_number(connection, [number])
        if not found:
            return None
        decision = found[0]
        rows = ledger_rows(connection, found, whose)
        return rows[0], len(made_with(connection, decision))


def ledger_rows(connection: Connection, made: Sequence[Decision], whose: Whose | None = None) -> list[LedgerRow]:
    """These decisions as the ledger shows them, in their order; no more of others' pieces than ``whose`` permits."""
    names = names_of(connection, {k.digest for d in made for k in d.parts[:NAMED]}, whose)
    heads = decisions.heads(connection)
    back = {h.undoes: h.id for h in heads if h.undoes is not None}
    stand = {d.id for d in standing(heads)}
    kept = told(connection, made, whose)
    return [
        LedgerRow(k, piece_names(names, d.parts[:NAMED]), d.id in stand, back.get(d.id), len(d.parts), k is not d)
        for d, k in zip(made, kept, strict=True)
    ]


def told(connection: Connection, made: Sequence[Decision], whose: Whose | None) -> list[Decision]:
    """The decisions as they may be told: of one on a piece that may not be shown, neither what lay there nor words."""
    if whose is None:
        return list(made)
    hidden = _hidden(connection, {k.digest for d in made for k in d.parts}, whose)

    def is_hidden(d: Decision) -> bool:
        code = str(d.shown.get("consignment", ""))
        return any(k.digest in hidden for k in d.parts) or (code in whose.codes and not whose.may_show(code))

    return [replace(d, shown={n: v for n, v in d.shown.items() if n in _TOLD}) if is_hidden(d) else d for d in made]


def _hidden(connection: Connection, digests: Iterable[str], whose: Whose) -> dict[str, str]:
    """Those of these files that may not be shown, and the consignment of each."""
    of: dict[str, list[str]] = {}
    for scan in scans.scans_of(connection, sorted(set(digests))):
        of.setdefault(scan.digest, []).append(scan.consignment)
    return {digest: codes[0] for digest, codes in of.items() if not whose.may_show_any(codes)}


def rulings_on(home: Home, keys: Iterable[PartKey], whose: Whose | None = None) -> list[LedgerRow]:
    """The standing decisions that name any of these parts, the newest first."""
    with home.database.read() as connection:
        made = standing(decisions.later_on(connection, 0, frozenset(keys)))
        return ledger_rows(connection, list(reversed(made)), whose)


def people(home: Home) -> list[str]:
    """Everybody who ever ruled, by name."""
    with home.database.read() as connection:
        return decisions.people(connection)


def names_of(connection: Connection, digests: Iterable[str], whose: Whose | None = None) -> dict[str, str]:
    """Digest -> box and piece of its first file that may be shown; of others, whose piece it is."""
    names: dict[str, str] = {}
    wanted = sorted(set(digests))
    for scan in scans.scans_of(connection, wanted):
        if whose is None or whose.may_show(scan.consignment):
            names.setdefault(scan.digest, f"{scan.box} / {scan.piece}")
    hidden = _hidden(connection, wanted, whose) if whose else {}
    return names | {digest: f"a piece of consignment {code}" for digest, code in hidden.items()}


def piece_names(names: dict[str, str], parts: Iterable[PartKey]) -> tuple[str, ...]:
    """What the parts are called: box and piece, and which picture of it where there are several."""
    return tuple(
        names.get(key.digest, key.digest[:12]) + (f", picture {key.part}" if key.part > 1 else "") for key in parts
    )
