# SPDX-License-Identifier: MIT
"""What a leak between two points does: the current that it takes, what the stages make of it, the two readings.

Source: Ohm's law between two sources, each with the resistance that a meter finds behind its point.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.node_leaks import GROUND, INTO_GRID, LOADED
from backporch.engine.chassis.parts import Batch
from backporch.engine.chassis.simulator.bench import Result
from backporch.engine.errors import BadInput

__all__ = ["moved_readings", "with_currents"]

Floats = NDArray[np.float64]


def with_currents(batch: Batch, dry: Result) -> Batch:
    """Return the sets with the currents of their leaks laid on grids and rails.

    Args:
        batch: Sets with leaks.
        dry: What the same sets show without them.
    """
    found = dict(batch.faults)
    for point, into in _currents(batch, dry):
        if point in INTO_GRID:
            _add(found, batch, (*INTO_GRID[point], "injected_a"), np.maximum(into, 0.0))
        elif point in LOADED:
            volts = np.maximum(dry.values[f"{point}.dc"], 1.0)
            _add(found, batch, (*LOADED[point], "leakage_ohm"), volts / np.maximum(-into, 1e-12))
    return replace(batch, faults=found)


def moved_readings(result: Result, batch: Batch, dry: Result) -> Result:
    """Return the result with the readings moved at those points that no stage has followed."""
    values = dict(result.values)
    for point, into in _currents(batch, dry):
        key = f"{point}.dc"
        if point not in INTO_GRID and point not in LOADED and point != GROUND:
            values[key] = values[key] + into * result.source_ohm[key]
    return replace(result, values=values)


def _currents(batch: Batch, dry: Result) -> Iterator[tuple[str, Floats]]:
    """Give each end of each leak with the current into it."""
    for (first, second), ohms in batch.leaks.items():
        (first_v, first_ohm), (second_v, second_ohm) = (_source(dry, end) for end in (first, second))
        current = (first_v - second_v) / (ohms + first_ohm + second_ohm)
        yield first, -current
        yield second, current


def _source(dry: Result, point: str) -> tuple[Floats, Floats]:
    if point == GROUND:
        return np.zeros(dry.draws), np.zeros(dry.draws)
    key = f"{point}.dc"
    if key not in dry.values:
        raise BadInput(f"{point} has no direct voltage, so nothing leaks from it; name another point.")
    return dry.values[key], dry.source_ohm[key]


def _add(found: dict[tuple[int, str], Floats], batch: Batch, place: tuple[str, str, str], value: Floats) -> None:
    """Lay a current or a leak over what is there; nothing where the chassis has no such part."""
    stage, role, name = place
    index = batch.names.by_role.get((stage, role))
    if index is None:
        return
    before = found.get((index, name))
    if before is None:
        found[index, name] = value
    else:
        found[index, name] = before + value if name == "injected_a" else 1.0 / (1.0 / before + 1.0 / value)
