"""The words and the columns of records that leave the house."""

from collections.abc import Iterable
from typing import Literal, get_args

from pydantic import Field, field_validator

from intake.config.section import Section
from intake.model import Kind

TableName = Literal["pieces", "families", "marks", "relations"]
_ANY = "*"


class RelationRow(Section):
    """What a piece of one of the first kinds is to one of the second, of the same design; and the other way round."""

    from_: tuple[str, ...] = Field(alias="from")
    to: tuple[str, ...]
    word: str
    reciprocal: str

    @field_validator("from_", "to")
    @classmethod
    def _known(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        if odd := set(value) - set(get_args(Kind)) - {_ANY}:
            raise ValueError(f"no such kinds: {sorted(odd)}")
        return value

    def fits(self, one: str, other: str) -> bool:
        """Does the row speak of these two kinds, in this direction?"""
        return _in(one, self.from_) and _in(other, self.to)


class RecordRules(Section):
    """config/records.toml. The sources stand there."""

    base: str = Field(pattern=r"^https?://[A-Za-z0-9.:/_-]+/$")
    likely_from: float = Field(gt=0.5, le=1.0)
    private_kinds: tuple[str, ...]
    source: str
    makers: dict[str, str]
    relations: tuple[RelationRow, ...]
    stated: dict[str, tuple[str, str]]
    other_design: str
    columns: dict[TableName, dict[str, str]]

    @field_validator("relations")
    @classmethod
    def _ends_open(cls, value: tuple[RelationRow, ...]) -> tuple[RelationRow, ...]:
        if not value or value[-1].from_ != (_ANY,) or value[-1].to != (_ANY,):
            raise ValueError('the last row is of every kind: from = ["*"], to = ["*"]')
        return value

    def words(self, one: str, other: str) -> tuple[str, str, bool]:
        """(word, reciprocal, swapped) for two pieces of one design: the first row that fits, either way round."""
        for row in self.relations:
            for swapped, (a, b) in enumerate(((one, other), (other, one))):
                if row.fits(a, b):
                    return row.word, row.reciprocal, bool(swapped)
        raise AssertionError("the last row fits all")


def _in(kind: str, kinds: Iterable[str]) -> bool:
    return kind in kinds or _ANY in kinds
