"""Whose is it: the desk is laid for one consignment at a time, and shows a piece of another one only where both owners
have permitted that their pieces be shown beside others'.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from intake.services.home import Home
from intake.services.shown import MemberView
from intake.store import scans
from intake.store.database import Connection


@dataclass(frozen=True, slots=True)
class Whose:
    """The consignment that the desk is laid for (empty before there is one), all others, and which of all are permitted
    to be shown beside others'.
    """

    laid_for: str
    codes: tuple[str, ...]
    permitted: frozenset[str]

    def may_show(self, code: str) -> bool:
        """May a piece of this consignment be shown?"""
        return code == self.laid_for or {code, self.laid_for} <= self.permitted

    @property
    def shown_codes(self) -> list[str]:
        """The consignments whose pieces may be shown."""
        return [code for code in self.codes if self.may_show(code)]

    def may_show_any(self, codes: Iterable[str]) -> bool:
        """May a file be shown that was received with these consignments?"""
        return any(map(self.may_show, codes))

    def seen(self, view: MemberView) -> MemberView:
        """The view, withheld where it may not be shown."""
        return view if self.may_show(view.consignment) else replace(view, withheld=True)


def whose(home: Home, wanted: str = "") -> Whose:
    """The desk laid for the consignment ``wanted``; for the first one where there is no such."""
    with home.database.read() as connection:
        return whose_of(connection, wanted)


def whose_of(connection: Connection, wanted: str = "") -> Whose:
    """As ``whose``, within a view of the ledger."""
    rows = scans.consignments(connection)
    codes = tuple(c.code for c in rows)
    laid_for = wanted if wanted in codes else next(iter(codes), "")
    return Whose(laid_for, codes, frozenset(c.code for c in rows if c.shown_to_others))
