# SPDX-License-Identifier: MIT
"""What the stages draw from each rail, for the next round of the supply.

A rail that has broken down counts with an ordinary load, so that an open feed cannot float it up.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission

__all__ = ["stage_currents", "unsettled"]

_ORDINARY_A = 0.02
_SOURCE_SHARE = 0.3
"""Relative change of B+ over that of the whole current; about the drop in a rectifier and its transformer."""
_SETTLED = 0.005
"""Change of a rail below which it needs no second look."""
_BREAKS = ("branch_fuse_blown", "b_plus_short", "plate_starved")
"""What only the next round can follow."""


def stage_currents(run: Run) -> dict[str, Value]:
    """Return what the stages drew from each rail, referred to the rail's nominal voltage [A]."""
    tuner = run.figure("tuner_current_a", 0.026) * np.minimum(emission(run, "tuner", "rf"), 1.2)
    tuner = tuner * np.asanyarray(run.batch.ohms("tuner", "plate-feed") < 1e5)
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


def unsettled(run: Run, taken: Mapping[str, Value], loads: Mapping[str, Value]) -> NDArray[np.bool_]:
    """Return in which sets the currents would move some rail by more than half a per cent."""
    total = sum(loads.values())
    b_plus = run.inner["b_plus_volts"]
    moves = [_SOURCE_SHARE * np.abs(sum(taken.values()) - total) / total]
    for rail in taken:
        if rail != "b-plus":
            volts = np.maximum(run.inner[f"rail:{rail}"], 1.0)
            share = np.maximum(b_plus - volts, 0.0) / volts
            moves.append(np.minimum(share, 20.0) * np.abs(taken[rail] - loads[rail]) / taken[rail])
    used = run.inner["output_screen_used_v"]
    screen = np.abs(run.inner["output_screen_v"] - used) > 2.0 * _SETTLED * used
    broken = np.maximum.reduce([run.inner[name] for name in _BREAKS]) > 0.5
    moved = np.maximum.reduce([run.full(move) for move in moves]) > _SETTLED
    return np.asanyarray(moved | screen | broken, dtype=bool)


def _at_nominal(run: Run, current: Value, rail: str) -> Value:
    name = f"rail-{rail}"
    nominal = run.chassis.rails[name].nominal_v if name in run.chassis.rails else 200.0
    actual = run.inner[f"rail:{rail}"]
    asked = np.clip(current * nominal / np.maximum(actual, 0.05 * nominal), 1e-6, 1.0)
    return np.where(actual < 0.2 * nominal, _ORDINARY_A, asked)
