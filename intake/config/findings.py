"""The register of finding codes: what each means to the person at the desk."""

from intake.config.section import Section


class FindingTable(Section):
    """Code -> meaning. A test fails when a stage uses a code that has no row."""

    codes: dict[str, str]
