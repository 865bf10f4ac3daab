"""The tables a page at a time, for other programs: those of `kinfold export`, without what may not be shown."""

import threading
from collections import OrderedDict
from dataclasses import dataclass

from intake.config.load import Config
from intake.services.home import Home
from intake.services.known import view
from intake.services.narrowed import narrowed
from intake.services.tables import TABLES, Row
from intake.services.whose import Whose
from intake.store.mark import ledger_mark

_HELD = 4


@dataclass(frozen=True, slots=True)
class TablePage:
    """Some rows of one table, how many it has in all, and the mark of the ledger that it was made of."""

    columns: tuple[str, ...]
    rows: list[Row]
    in_all: int
    mark: str


class TablePages:
    """Makes tables and holds the last few for as long as the ledger is the same: paging makes each of them once."""

    def __init__(self, home: Home, config: Config) -> None:
        self._home, self._config = home, config
        self._one_at_a_time = threading.Lock()
        self._made: OrderedDict[tuple[str, Whose, str], list[Row]] = OrderedDict()

    def page(self, name: str, whose: Whose, start: int, count: int) -> TablePage:
        """Rows ``start`` to ``start + count`` of table ``name``. Raises KeyError when there is no such table."""
        columns, rows_of = TABLES[name]
        with self._one_at_a_time:
            with self._home.database.read() as connection:
                mark = ledger_mark(connection)
            asked = (name, whose, mark)
            if asked not in self._made:
                self._made[asked] = list(rows_of(narrowed(view(self._home, self._config), whose.may_show)))
            self._made.move_to_end(asked)
            while len(self._made) > _HELD:
                self._made.popitem(last=False)
            rows = self._made[asked]
        return TablePage(columns, rows[start : start + count], len(rows), mark)
