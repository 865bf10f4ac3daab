"""How a run uses the machine."""

from intake.config.section import Section


class RunRules(Section):
    """Sizes of the work and limits of the machine."""

    workers: int
    chunk_scans: int
    scan_limit_s: float
    pair_chunk: int
    help_from_chunks: int
    niceness: int
    memory_mb: int
    scan_mb: float
    reserve_mb: float
    database_patience_s: float
    source_patience_s: float
    budget_cpu_s: dict[str, float]
