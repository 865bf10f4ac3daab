"""What puts a family at the head of the queue."""

from pydantic import field_validator

from intake.config.section import Section


class Reason(Section):
    """One reason: its weight and its words. ``{...}`` fields are filled by the queue stage; ``short`` names it."""

    weight: float
    words: str
    short: str


class SearchRules(Section):
    """How much "no finished sheet seen" counts by how complete the search was, as shares of its weight."""

    unread_takes: float
    least_share: float
    source_adds: float
    most_sources: int


class QueueRules(Section):
    """All reasons that the queue stage knows, by name."""

    reasons: dict[str, Reason]
    weak_probability: float
    speaks_against: float
    search: SearchRules

    @field_validator("reasons")
    @classmethod
    def _all_there(cls, value: dict[str, Reason]) -> dict[str, Reason]:
        wanted = {"hazard", "art_and_film", "no_sheet", "one_weak_link", "many_members", "differs", "news", "against"}
        wanted |= {"regions_differ", "sheet_elsewhere", "signature_differs", "clash", "only_one"}
        if set(value) != wanted:
            raise ValueError(f"reasons must be exactly {sorted(wanted)}; odd: {sorted(set(value) ^ wanted)}")
        return value
