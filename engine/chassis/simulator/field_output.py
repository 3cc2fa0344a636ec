# SPDX-License-Identifier: MIT
"""The vertical output stage and its yoke: height, linearity, fold-over, from the circuit of the stage.

Limits: shorted turns of the yoke weaken the field by a rough share; an open half leaves a trace of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import leak_rise_v
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.field_oscillator import field_rate
from backporch.engine.chassis.simulator.field_stage import output_stage, parts_of
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.vertical import trapezoid

__all__ = ["output"]

Floats = NDArray[np.float64]

_STAGE = "vertical-output"
_YOKE = "vertical-yoke"
_OPEN_OHM = 1e4
_TOLD = (
    "of the field that repeats itself: plate_a = emission * curve(plate_v - cathode_v, grid_v - cathode_v),"
    " plate_v = supply_v - primary_ohm * plate_a - transformer_ratio * v,"
    " plate_a = (magnetizing by primary_h) + (yoke_a + v / damping_ohm) / transformer_ratio,"
    " v = yoke_ohm * yoke_a + yoke_h * d(yoke_a)/dt"
)

_SCREEN = "supply_v - screen_ohm * mean of screen_a over the field, " + _TOLD


@dataclass(frozen=True)
class _Yoke:
    """What is left of the vertical yoke."""

    ohms: Value
    short: Value
    opened: Value


def output(run: Run) -> None:
    """Turn the sawtooth into yoke current; height, linearity and fold-over follow."""
    yoke = _yoke(run)
    given = parts_of(run) | _drive(run) | {"yoke_ohm": yoke.ohms}
    given |= {
        "supply_v": run.inner["rail:vertical"],
        "emission": np.clip(emission(run, _STAGE, "output"), 0.0, 1.0),
    }
    running = np.where(run.inner["vertical_alive"] > 0.5, run.inner["field_actual_hz"], field_rate(run))
    given["field_hz"] = np.clip(running, 20.0, 150.0)
    found = output_stage(run, given)
    names = (
        *("sawtooth_v", "pulse_v", "supply_v", "cathode_ohm", "primary_h", "primary_ohm", "transformer_ratio"),
        *("yoke_ohm", "yoke_h", "damping_ohm", "coupling_f", "sawtooth_f", "screen_ohm", "emission"),
    )
    behind = {name: given[name] for name in names}
    on = _conducts(run)
    mean = (
        run.solved(found["plate_a"] + found["screen_a"], "mean current of the output tube", _TOLD, **behind) * on
    )
    swing = run.solved(found["yoke_pp_a"], "swing of the yoke current", _TOLD, **behind) * on
    run.keep(output_grid_mean_v=found["grid_v"])
    _points(run, found, mean, on, behind)
    _shape(run, yoke, found, swing * _passed_on(yoke), mean)


def _drive(run: Run) -> dict[str, Value]:
    """Return what comes to the grid, and how far a leak or gas pulls it up."""
    batch = run.batch
    leak = batch.ohms(_STAGE, "grid-leak")
    short = batch.parameter(_STAGE, "output", "leakage_ohm")
    passed = short / (short + 3e4) / (1 + batch.contact(_STAGE, "output") / 1e6)
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=run.inner["saw_dc_v"],
        grid_ohm=leak,
        leak_ohm=batch.leak(_STAGE, "coupling"),
    )
    rise = rise + batch.parameter(_STAGE, "output", "gas_a") * np.minimum(leak, 6e6)
    run.keep(output_rise_v=rise)
    pulse = run.calc(
        trapezoid,
        "drive",
        sawtooth_v=np.maximum(run.inner["saw_v"], 0.0),
        sawtooth_f=batch.farads("vertical-sawtooth", "capacitor"),
        peaking_ohm=batch.ohms("vertical-sawtooth", "peaking", 1e-3),
        retrace_s=run.inner["vertical_pulse_s"],
        start_v=np.maximum(run.inner["saw_foot_v"], 0.0),
    )
    return {
        "sawtooth_v": run.inner["saw_v"] * passed,
        "pulse_v": pulse.pulse_v * passed,
        "retrace_s": run.inner["vertical_pulse_s"],
        "slope_ratio": run.inner["saw_slope"],
        "rise_v": np.minimum(rise, 120.0),
    }


def _yoke(run: Run) -> _Yoke:
    batch = run.batch
    short = batch.parameter(_YOKE, "winding", "turns_shorted")
    opened = batch.opened(_YOKE, "winding") + batch.contact(_YOKE, "connector")
    whole = run.figure("vertical_yoke_ohm", 50.0) * (1 - 0.5 * short)
    damping = batch.ohms(_YOKE, "damping-a", 1e9) + batch.ohms(_YOKE, "damping-b", 1e9)
    path = np.where(np.asanyarray(opened) > 1e5, damping * 0.5 + whole * 0.5, opened)
    run.put("vertical-yoke-resistance", "ohm", np.minimum(whole + opened, 1e9))
    return _Yoke(whole + path, short, np.minimum(opened, 1e9))


def _conducts(run: Run) -> Value:
    """Return 1 where the output tube has its plate circuit and its socket, less where a contact is bad."""
    whole = np.where(np.asanyarray(run.batch.opened(_STAGE, "transformer")) > _OPEN_OHM, 0.0, 1.0)
    return whole / (1.0 + run.batch.contact(_STAGE, "output") / 5e4)


def _passed_on(yoke: _Yoke) -> Value:
    """Return what the field of a faulty yoke is over that of a sound one with the same current."""
    return np.where(np.asanyarray(yoke.opened) > 1e5, 0.06, 1.0 - 0.75 * yoke.short)


def _points(run: Run, found: dict[str, Floats], mean: Value, on: Value, behind: dict[str, Value]) -> None:
    batch = run.batch
    alive = run.inner["vertical_alive"] > 0.5
    cathode_ohm = behind["cathode_ohm"]
    rail = run.inner["rail:vertical"]
    grid = np.minimum(found["grid_v"], np.asarray(run.inner["output_rise_v"]))
    grid, swing = (
        run.solved(v, t, _TOLD, **behind)
        for v, t in ((grid, "mean grid"), (found["grid_pp_v"], "drive at the grid"))
    )
    run.put("vertical-output-grid", "dc", grid, np.minimum(batch.ohms(_STAGE, "grid-leak"), 5e6))
    run.put("vertical-output-grid", "pp", np.where(alive, swing, 0.0))
    run.put("vertical-output-cathode", "dc", mean * cathode_ohm, cathode_ohm)
    fed = np.where(np.asanyarray(batch.opened(_STAGE, "transformer")) > _OPEN_OHM, 0.5, 1.0)
    plate = run.solved(found["plate_v"], "mean plate voltage", _TOLD, **behind)
    run.put(
        "vertical-output-plate", "dc", np.where(fed < 1.0, 0.5, np.minimum(plate + (1.0 - on) * 0.03 * rail, rail))
    )
    if run.circuit(_STAGE) == "pentode-transformer":
        screen = parallel_shunt(run, found["screen_v"])
        run.put("vertical-output-screen", "dc", run.solved(screen, "screen", _SCREEN, **behind))
    pp = run.solved(found["yoke_pp_v"], "swing of voltage at the yoke", _TOLD, **behind)
    run.put("vertical-yoke", "pp", np.where(alive, pp, 0.0) * on)


def parallel_shunt(run: Run, screen_v: Value) -> Value:
    """Return the screen voltage behind what its bypass capacitor leaks."""
    leak = run.batch.leak(_STAGE, "screen-bypass")
    return screen_v * leak / (leak + run.batch.ohms(_STAGE, "screen-dropper"))


def _shape(run: Run, yoke: _Yoke, found: dict[str, Floats], pp: Value, mean: Value) -> None:
    pp = pp * np.asanyarray(run.inner["vertical_alive"] > 0.5)
    there = pp > 0.01
    top, bottom = found["top_slope"], found["bottom_slope"]
    set_to = run.trim("vertical-linearity") + run.figure("vertical_linearity_set", 0.0) - 1.0
    uneven = (top - bottom) / np.maximum(np.abs(top) + np.abs(bottom), 0.05) - set_to
    cathode = run.batch.ohms(_STAGE, "cathode")
    run.keep(
        vertical_pp_a=pp,
        vertical_a=mean,
        linearity_range=np.where(there & np.asanyarray(cathode > 20), 0.3, 0.0),
    )
    run.show(
        vertical_nonlinearity=np.where(there, np.clip(uneven, -1, 1), 0.0),
        fold_bottom=np.where(there, np.clip(found["fold_bottom"], 0.0, 0.25), 0.0),
        fold_top=np.where(there, np.clip(found["fold_top"], 0.0, 0.15), 0.0),
        keystone_vertical=np.clip(0.35 * yoke.short, 0, 0.5),
        shift_vertical=0.0,
    )
