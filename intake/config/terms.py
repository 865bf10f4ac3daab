"""Words of the trade in plain ones."""

from typing import Annotated

from pydantic import StringConstraints

from intake.config.section import Section

Plain = Annotated[str, StringConstraints(min_length=12, max_length=240)]


class TermTable(Section):
    """config/terms.toml: the word as the screens write it, in small letters -> what it means."""

    words: dict[str, Plain]
