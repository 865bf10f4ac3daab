"""The acceptance sampling plan of a batch of scans."""

from itertools import pairwise
from typing import Literal, NamedTuple

from pydantic import Field, model_validator

from intake.config.section import Section

Aql = Literal["0.65", "1.0", "1.5", "2.5", "4.0"]
Cell = int | Literal["up", "down"]


class Plan(NamedTuple):
    """Look at ``n`` of the lot; accept at most ``accept`` bad ones. Where ``n`` is the whole lot, none is accepted."""

    lot: int
    letter: str
    n: int
    accept: int
    why: str

    @property
    def reject(self) -> int:
        """So many bad ones are too many."""
        return self.accept + 1


class PlanRow(Section):
    """One code letter: its sample size, the lots it is for, and the acceptance number by limit, or the arrow."""

    letter: str
    n: int = Field(gt=0)
    lot: tuple[int, int]
    accept: dict[Aql, Cell] = Field(default_factory=dict)


class SamplingRules(Section):
    """config/sampling.toml. The sources stand there."""

    source: str
    aql: Aql
    rows: tuple[PlanRow, ...]

    @model_validator(mode="after")
    def _lots_meet(self) -> "SamplingRules":
        for above, below in pairwise(self.rows):
            if above.lot[1] + 1 != below.lot[0] or above.n >= below.n:
                raise ValueError(f"rows {above.letter} and {below.letter}: lots must meet and sizes grow")
        return self

    def plan(self, lot: int, aql: Aql | None = None) -> Plan:
        """The plan for a lot of so many scans; the whole lot where the table is silent or asks for as many."""
        limit = aql or self.aql
        at = next((i for i, row in enumerate(self.rows) if row.lot[0] <= lot <= row.lot[1]), None)
        for _ in self.rows:  # an arrow leads to the next row, never in a ring
            if at is None or not 0 <= at < len(self.rows):
                break
            row = self.rows[at]
            cell = row.accept.get(limit)
            if cell is None:
                break
            if isinstance(cell, int):
                if row.n >= lot:
                    break
                return Plan(lot, row.letter, row.n, cell, f"{self.source}, AQL {limit}")
            at += 1 if cell == "down" else -1
        return Plan(lot, "", lot, 0, "every scan is looked at: the table gives no smaller sample for this lot")
