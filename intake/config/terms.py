"""Words of the trade in plain ones."""

from typing import Annotated

from pydantic import StringConstraints

from intake.config.section import Section

Plain = Annotated[str, StringConstraints(min_length=12, max_length=240)]


class TermTable(Section):
    """config/terms.toml: the word as the screens write it, in small letters -> what it means.

    ``words`` are explained where they stand as a label, ``within`` also in the middle of a sentence.
    """

    words: dict[str, Plain]
    within: dict[str, Plain]
