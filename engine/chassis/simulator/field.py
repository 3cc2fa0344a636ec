# SPDX-License-Identifier: MIT
"""The vertical deflection as a whole: oscillator, sawtooth and output stage, and what the last gives back.

Where the coupling capacitor leaks, the grid of the output tube draws on the sawtooth, and the sawtooth decides
where that grid stands; those sets are gone through until both agree.
"""

from __future__ import annotations

from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.field_charge import leaky_rows
from backporch.engine.chassis.simulator.field_oscillator import oscillator, sawtooth
from backporch.engine.chassis.simulator.field_output import output

__all__ = ["vertical"]

_ROUNDS = 2


def vertical(run: Run) -> None:
    """Work out oscillator, sawtooth and output stage."""
    rows = leaky_rows(run)
    if rows.size:
        part = run.of_rows(rows)
        for _ in range(1 if "output_grid_v" in run.inner else _ROUNDS):
            _through(part)
            part.keep(output_grid_v=part.inner["output_grid_mean_v"])
        grid = run.full(0.0).copy()
        grid[rows] = part.inner["output_grid_v"]
        run.keep(output_grid_v=run.given("settled_output_grid_v", grid))
    _through(run)


def _through(run: Run) -> None:
    oscillator(run)
    sawtooth(run)
    output(run)
