"""Machines. Local frame: about 1 long, nose to the right, y down, the middle at (0, 0)."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sample_batch.art.aircraft import cable_car, plane, rocket
from sample_batch.art.brush import Part, Rgb
from sample_batch.art.palette import Palette
from sample_batch.art.vehicle import car, locomotive
from sample_batch.art.vessel import crane, ship, submarine


def machine(kind: str, p: Palette, paint: Rgb, shape: np.random.Generator) -> list[Part]:
    """The machine of that kind, touched in with a small brush, so that windows and numbers hold."""
    return [replace(part, stroke=part.stroke * 0.6) for part in MACHINES[kind](p, paint, shape)]


MACHINES: dict[str, Callable[[Palette, Rgb, np.random.Generator], list[Part]]] = {
    "plane": plane,
    "locomotive": locomotive,
    "rocket": rocket,
    "car": car,
    "submarine": submarine,
    "ship": ship,
    "crane": crane,
    "cable_car": cable_car,
}
