# SPDX-License-Identifier: MIT
"""What the stages draw from each rail, for the next round of the supply.

A rail that has broken down counts with an ordinary load, so that an open feed cannot float it up.
"""

from __future__ import annotations

import numpy as np

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission

__all__ = ["stage_currents"]

_ORDINARY_A = 0.02


def stage_currents(run: Run) -> dict[str, Value]:
    """Return what the stages drew from each rail, referred to the rail's nominal voltage [A]."""
    tuner = run.figure("tuner_current_a", 0.026) * np.minimum(emission(run, "tuner", "rf"), 1.2)
    tuner = tuner * np.asarray(run.batch.ohms("tuner", "plate-feed") < 1e5)
    strip = tuner + run.figure("sound_if_current_a", 0.009) * emission(run, "sound", "limiter")
    strip = strip + sum(run.inside(f"if_{n}_a") for n in (1, 2, 3))
    direct = run.inner["branch_a"] + run.inner["sound_output_a"] + run.figure("b_plus_steady_a", 0.003)
    nominal = run.chassis.rails["b-plus"].nominal_v
    return {
        "tuner": _at_nominal(run, strip, "tuner"),
        "video": _at_nominal(run, run.inner["video_a"], "video"),
        "sync": _at_nominal(run, run.inside("sync_a", 0.009), "sync"),
        "horizontal": _at_nominal(run, run.inside("oscillator_a", 0.009), "horizontal"),
        "vertical": _at_nominal(run, run.inside("vertical_a", 0.024), "vertical"),
        "b-plus": np.clip(direct * nominal / np.maximum(run.inner["b_plus_volts"], 20.0), 0.0, 3.0),
    }


def _at_nominal(run: Run, current: Value, rail: str) -> Value:
    name = f"rail-{rail}"
    nominal = run.chassis.rails[name].nominal_v if name in run.chassis.rails else 200.0
    actual = run.inner[f"rail:{rail}"]
    asked = np.clip(current * nominal / np.maximum(actual, 0.05 * nominal), 1e-6, 1.0)
    return np.where(actual < 0.2 * nominal, _ORDINARY_A, asked)
