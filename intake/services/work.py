"""What runs inside a worker process: made ready once, then one scan after another."""

import os
import resource
from functools import cache
from pathlib import Path

from intake.config.load import Config, load_config
from intake.model import PartKey
from intake.services.home import features_path, picture_path
from intake.services.look import Looked, ScanJob, Tools, look_at

_folders: list[Path] = []


def make_ready(home: Path, config: Path, memory_mb: int) -> None:
    """Note where home and config are, and bound this process; what is heavy is loaded with the first scan.

    The bound is on what it asks for (RLIMIT_DATA: heap and private mappings), so it is never above what it holds.
    """
    _folders[:] = [home, config]
    bound = memory_mb * 1_000_000
    resource.setrlimit(resource.RLIMIT_DATA, (bound, bound))


def look(job: ScanJob) -> Looked:
    """Look at one scan. One that needs more memory than there is ends this worker, as the system itself would."""
    try:
        return look_at(job, _tools())
    except MemoryError:
        os._exit(1)


@cache
def _tools() -> Tools:
    from intake.ocr.engines import load_engines
    from intake.ocr.recorded import RecordedEngines
    from intake.setup import load_engines as listed_engines

    home, folder = _folders
    config: Config = load_config(folder)
    if config.read.recording:
        engines = RecordedEngines(Path(config.read.recording)).engines
    else:
        engines = load_engines(config.read, {m.file: m for m in listed_engines(folder)[0]})

    def picture(key: PartKey, name: str, stamp: str) -> Path:
        return picture_path(home, key, name, stamp)

    def features(key: PartKey, stamp: str) -> Path:
        return features_path(home, key, stamp)

    return Tools(config, engines, home / "scratch", picture, features)
