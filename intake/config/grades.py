"""The scales on which people grade, and the lights in which they examine."""

from intake.config.section import Section


class GradeRules(Section):
    """config/grades.toml. The keys are explained there. ``scales``: name -> its grades, the best first."""

    scales: dict[str, tuple[str, ...]]
    lights: tuple[str, ...]
