"""Settings stamps: a result is kept for as long as nothing that it hangs on has changed.

stamp = digest of (stage, version of its code, its own section of config/, the stamps of the stages before it).
"""

import hashlib
import json

from intake.config.load import Config
from intake.model import WHOLE, Stamps
from intake.setup import engine_versions
from intake.stages import (
    barcode,
    check,
    classify,
    condition,
    fingerprint,
    fold,
    match,
    measure,
    parse,
    read,
    render,
    rescan,
    screen,
    snipe,
    twice,
)

# Stage -> the stages whose results it uses, in the order in which a scan travels.
BEFORE: dict[str, tuple[str, ...]] = {
    "check": (),
    "render": ("check",),
    "classify": ("render",),
    "fold": ("classify",),
    "condition": ("fold",),
    "rescan": ("classify",),
    "read": ("classify",),
    "measure": ("classify", "read"),
    "fingerprint": ("classify",),
    "screen": ("classify",),
    "snipe": ("classify",),
    "barcode": ("classify",),
    "parse": ("read", "barcode"),
}
_VERSIONS = {
    "check": check.VERSION,
    "render": render.VERSION,
    "classify": classify.VERSION,
    "fold": fold.VERSION,
    "read": read.VERSION,
    "measure": measure.VERSION,
    "fingerprint": fingerprint.VERSION,
    "screen": screen.VERSION,
    "snipe": snipe.VERSION,
    "barcode": barcode.VERSION,
    "parse": parse.VERSION,
    "match": match.VERSION,
    "condition": condition.VERSION,
    "rescan": rescan.VERSION,
}


def settings_of(config: Config) -> dict[str, dict[str, str]]:
    """What each stage is told by itself, key by key, as a run writes it down: stage -> (dotted key -> value as JSON).

    Rows of the tables stand as a digest each, under their own names.
    """
    told: dict[str, dict[str, str]] = {}
    for stage, version in _VERSIONS.items():
        section = getattr(config, stage).model_dump()
        told[stage] = {"version": str(version)} | _flat(f"config/{stage}.toml", section)
    told["read"] |= _flat("engine", engine_versions())
    told["measure"] |= {f"config/formats.csv {f.id}": _digest(f.model_dump()) for f in config.formats}
    told["parse"] |= {f"config/patterns.toml {p.name}": _digest(p.model_dump()) for p in config.patterns}
    told["parse"] |= {
        f"config/certificates.csv line {n}": _digest(c.model_dump()) for n, c in enumerate(config.certificates, start=2)
    }
    return told


def _flat(name: str, value: object) -> dict[str, str]:
    if isinstance(value, dict) and value:
        return {k: v for key, inner in value.items() for k, v in _flat(f"{name} {key}", inner).items()}
    return {name: json.dumps(value, sort_keys=True, default=sorted)}


def stamps_of(config: Config) -> Stamps:
    """All stamps under these settings and engines."""
    extra = {
        "read": engine_versions(),
        "measure": [f.model_dump() for f in config.formats],
        "parse": [[p.model_dump() for p in config.patterns], [c.model_dump() for c in config.certificates]],
    }
    made: dict[str, str] = {}
    for stage, before in BEFORE.items():
        section = getattr(config, stage).model_dump()
        made[stage] = _digest(stage, _VERSIONS[stage], section, extra.get(stage), [made[b] for b in before])
    whole = _digest(WHOLE, sorted(made.items()))
    matching = _digest("match", _VERSIONS["match"], twice.VERSION, config.match.model_dump(), made["fingerprint"])
    return Stamps(made, whole, matching)


def _digest(*what: object) -> str:
    # Sets stay sets until here and are sorted: the order in which Python walks them changes from process to process.
    return hashlib.sha256(json.dumps(what, sort_keys=True, default=sorted).encode()).hexdigest()[:16]
