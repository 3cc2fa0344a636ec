# SPDX-License-Identifier: MIT
"""What charges the sawtooth capacitor: the height control's resistor, less what a leak draws off to the next grid.

A coupling capacitor that leaks draws its direct current from the sawtooth; how much depends on where the grid of
the output tube comes to stand, which its own grid current decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import parallel_ohm
from backporch.engine.chassis.simulator.bench import Places, Run

__all__ = ["Charge", "charge", "drawn_charge", "leaky_rows"]

_SAW = "vertical-sawtooth"
_OUTPUT = "vertical-output"
_NO_LEAK_OHM = 3e8
"""A leak of more takes less than a hundredth of what charges the capacitor."""


@dataclass(frozen=True)
class Charge:
    """A source and the resistance that it charges through."""

    supply_v: Value
    ohms: Value


def charge(run: Run, at: Value | None = None) -> Charge:
    """Return what charges the sawtooth capacitor, with the height control at a position or as it stands."""
    place = run.position(_SAW, "height") if at is None else at
    boosted = "boosted-b-plus" in run.chassis.stages[_SAW].rails
    supply = run.inner["boosted_v"] if boosted else run.inner["rail:vertical"]
    return _less_leak(run, Charge(supply, _charging_ohm(run, place)))


def drawn_charge(run: Run) -> Charge:
    """Return the same of the set as drawn, its rail at its nominal voltage."""
    boosted = "boosted-b-plus" in run.chassis.stages[_SAW].rails
    nominal = run.chassis.rails.get("boosted-b-plus" if boosted else "rail-vertical")
    supply = nominal.nominal_v if nominal is not None else 300.0
    return Charge(supply, _charging_ohm(run, run.position(_SAW, "height")))


def leaky_rows(run: Run) -> Places:
    """Return the sets whose coupling capacitor to the output grid leaks."""
    return np.flatnonzero(np.asarray(run.full(run.batch.leak(_OUTPUT, "coupling"))) < _NO_LEAK_OHM)


def _charging_ohm(run: Run, position: Value) -> Value:
    batch = run.batch
    return batch.ohms(_SAW, "charging") + batch.ohms(_SAW, "height") * position + batch.contact(_SAW, "height")


def _less_leak(run: Run, whole: Charge) -> Charge:
    """Return source and resistance behind the leak of the coupling capacitor."""
    leak = run.batch.leak(_OUTPUT, "coupling")
    if not leaky_rows(run).size:
        return whole
    grid: Value = 0.0
    away = leak + run.batch.ohms(_OUTPUT, "grid-leak")
    if "output_grid_v" in run.inner:
        grid, away = run.inner["output_grid_v"], leak
    supply = (whole.supply_v * away + grid * whole.ohms) / (away + whole.ohms)
    return Charge(supply, parallel_ohm(whole.ohms, away))
