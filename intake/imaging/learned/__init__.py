"""Two small networks that tests/bench/train made, and the only place that opens them. CARD.md says what they are."""

from functools import cache
from pathlib import Path
from typing import Any

import onnxruntime

_FOLDER = Path(__file__).parent


@cache
def session(name: str) -> Any:
    """The network ``name``, opened once a process, with one thread."""
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    options.enable_cpu_mem_arena = False
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(str(_FOLDER / f"{name}.onnx"), options, providers=["CPUExecutionProvider"])
