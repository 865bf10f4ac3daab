"""What campaign.toml says."""

from pydantic import Field

from intake.config.section import Section
from intake.model import Kind


class CampaignRules(Section):
    """When families are of one campaign. Weights are log-odds (natural logarithm); counts are of families."""

    prior: float = Field(lt=0)
    untold: float = Field(lt=0)
    element: float = Field(gt=0)
    title: float = Field(gt=0)
    names: float = Field(gt=0)
    title_letters: int = Field(ge=1)
    enough_names: int = Field(ge=1)
    few: int = Field(ge=2)
    most: int = Field(ge=3)
    shortest_word: int = Field(ge=2)
    longest_word: int = Field(ge=8, le=60)
    longest_text: int = Field(ge=40, le=1000)
    most_words: int = Field(ge=4, le=200)
    least_confidence: float = Field(ge=0, le=1)
    worded_kinds: frozenset[Kind]
    stock_words: frozenset[str]
