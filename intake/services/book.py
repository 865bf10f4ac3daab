"""The ledger as it is read: sieved, a page at a time, or whole as a table."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import get_args

from intake.kin import Decision, Verb
from intake.services.export import as_csv
from intake.services.home import Home
from intake.services.ledger import LedgerRow, ledger_rows, names_of, piece_names, told
from intake.services.rulings import standing
from intake.services.said import PAST
from intake.services.whose import Whose
from intake.store import decisions, scans
from intake.store.database import Connection

COLUMNS = (
    "number", "made_at", "who", "verb", "ruling", "stands", "undoes", "pieces", "wrote", "family", "evidence",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class BookSieve:
    """What is asked for; empty says nothing. ``since`` and ``until`` are days (YYYY-MM-DD), both among those shown.

    ``stands``: "yes" for rulings in force, "no" for those taken back.
    """

    who: str = ""
    verb: str = ""
    piece: str = ""
    since: str = ""
    until: str = ""
    stands: str = ""


def book_page(
    home: Home, sieve: BookSieve, start: int, count: int, whose: Whose | None = None
) -> tuple[list[LedgerRow], int]:
    """The decisions that pass the sieve, the newest first, from ``start`` on; and how many pass."""
    with home.database.read() as connection:
        numbers = [d.id for d in reversed(_passing(connection, sieve, whose))]
        made = decisions.decisions_by_number(connection, numbers[start : start + count])
        return ledger_rows(connection, list(reversed(made)), whose), len(numbers)


def book_csv(home: Home, sieve: BookSieve, whose: Whose | None = None) -> bytes:
    """The decisions that pass the sieve, the oldest first, each with the evidence that lay there, as CSV."""
    with home.database.read() as connection:
        made = decisions.decisions_by_number(connection, [d.id for d in _passing(connection, sieve, whose)])
        stand = {d.id for d in standing(decisions.heads(connection))}
        names = names_of(connection, {k.digest for d in made for k in d.parts}, whose)
        made = told(connection, made, whose)
    return as_csv(COLUMNS, [_row(d, d.id in stand, names) for d in made])


def book_choices(home: Home) -> tuple[list[str], list[str]]:
    """(everybody who ever ruled, the verbs of what was ruled), each sorted."""
    with home.database.read() as connection:
        heads = decisions.heads(connection)
    return sorted({d.who for d in heads}), sorted({d.verb for d in heads})


def _row(d: Decision, stands: bool, names: dict[str, str]) -> tuple[object, ...]:
    shown = d.shown
    wrote = next((str(shown[n]) for n in ("text", "words", "as", "day") if shown.get(n)), "")
    kept = {n: shown[n] for n in ("matches", "evidence", "readers", "basis", "members") if n in shown}
    evidence = json.dumps(kept, ensure_ascii=False) if kept else ""
    pieces = "; ".join(piece_names(names, d.parts)) or str(shown.get("of", ""))
    family = str(shown.get("name", "")) or "; ".join(map(str, shown.get("families", ())))
    return (
        d.id, d.made_at, d.who, d.verb, PAST[d.verb], stands and d.verb != "undo", d.undoes, pieces, wrote, family,
        evidence,
    )  # fmt: skip


def _passing(connection: Connection, sieve: BookSieve, whose: Whose | None) -> list[Decision]:
    """Without what was shown: of many decisions that is most of the bytes."""
    made: Iterable[Decision] = decisions.slim(connection, get_args(Verb))
    stand = {d.id for d in standing(decisions.heads(connection))} if sieve.stands else set()
    files = _files_called(connection, sieve.piece, whose) if sieve.piece else set()
    return [
        d
        for d in made
        if (not sieve.who or d.who == sieve.who)
        and (not sieve.verb or d.verb == sieve.verb)
        and (not sieve.since or d.made_at[:10] >= sieve.since)
        and (not sieve.until or d.made_at[:10] <= sieve.until)
        and (not sieve.stands or (d.id in stand) == (sieve.stands == "yes"))
        and (not sieve.piece or any(k.digest in files for k in d.parts))
    ]


def _files_called(connection: Connection, text: str, whose: Whose | None) -> set[str]:
    wanted = " ".join(text.casefold().split())
    known = (s for s in scans.all_scans(connection) if whose is None or whose.may_show(s.consignment))
    return {s.digest for s in known if wanted in f"{s.box} / {s.piece}".casefold()}
