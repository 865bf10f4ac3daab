"""Open the reading models, after their digest was compared with the one in config/engines.toml."""

import hashlib
from collections.abc import Mapping

import onnxruntime

from intake.errors import SetupError
from intake.setup import ModelFile, find_model

_AGAIN = "run ./kinfold check-setup, which says how to get it"


def open_model(name: str, models: Mapping[str, ModelFile]) -> onnxruntime.InferenceSession:
    """Return a session of one thread for the model file ``name``.

    Raises SetupError when it is not listed in ``models`` (by file name), missing, or not the file listed.
    """
    if name not in models:
        raise SetupError(f"config/engines.toml has no row for the reading model {name}: add it")
    path = find_model(models[name])
    if path is None:
        raise SetupError(f"the reading model {name} is missing ({models[name].wheel} brings it): {_AGAIN}")
    data = path.read_bytes()
    if hashlib.sha256(data).hexdigest() != models[name].sha256:
        raise SetupError(f"the reading model {path} is not the one listed in config/engines.toml: {_AGAIN}")
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    options.enable_cpu_mem_arena = False  # the arena keeps the peak of the largest picture for ever
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(data, options, providers=["CPUExecutionProvider"])
