"""How a run uses the machine."""

from intake.config.section import Section


class RunRules(Section):
    """Sizes of the work and limits of the machine."""

    workers: int
    chunk_scans: int
    scan_limit_s: float
    pair_chunk: int
    niceness: int
    budget_cpu_s: dict[str, float]
