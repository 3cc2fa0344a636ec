# SPDX-License-Identifier: MIT
"""The vertical oscillator with its lock, and the sawtooth that it makes.

The oscillator's grid falls by its resistance and capacitance until it fires; sync fires it earlier.
Limits: how far the grid is driven down, over where it fires, is one ratio that emission changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.field_timing import field_period_s, free_running_hz, roll_hz, sawtooth_v

__all__ = ["field_rate", "oscillator", "sawtooth"]

Floats = NDArray[np.float64]

_STAGE = "vertical-oscillator"
_SAW = "vertical-sawtooth"
_DRIVEN_DOWN = 2.65
"""How much further than its firing point a good tube drives its grid down."""
_FIRES_AT = 13.0
"""Supply over firing point."""
_RETRACE_S = 0.7e-3
_PAIRED_AT = 1.0 / 12e-6
"""A second field that fires 12 us early or late, a third of half a line and more, counts as paired."""
_PLACES = {"low": "at its low end", "high": "at its high end", "set": "as it stands"}


@dataclass(frozen=True)
class _Grid:
    """What decides the period."""

    ohms: Value
    farads: Value
    ratio: Value
    """Where the grid starts over where it fires."""
    fires_v: Value


def field_rate(run: Run) -> float:
    """Return the field rate of the standard."""
    return cast(float, run.known("field_hz", 60.0 if run.chassis.standard == "525/60" else 50.0))


def oscillator(run: Run) -> None:
    """Free-running rate at the set place and both ends of the hold control, and the lock."""
    run.keep(field_hz=field_rate(run))
    run.calc(field_period_s, "field period", field_hz=field_rate(run))
    set_at = run.position(_STAGE, "hold")
    places = {"low": 1.0, "high": 0.0, "set": set_at}
    rates = {name: _free_rate(run, _grid(run, at), _PLACES[name]) for name, at in places.items()}
    grid, alive, free = _grid(run, set_at), _alive(run), rates["set"]
    fires = np.maximum(run.inner["vertical_pulse_v"], 0.0) * run.figure("vertical_sync_share", 0.35)
    locked = alive & (free <= field_rate(run) * 1.002) & (free >= _lowest_locked(run, grid, fires))
    rolling = run.calc(roll_hz, "roll, up positive", field_hz=field_rate(run), free_hz=np.maximum(free, 1e-3))
    actual = np.where(locked, field_rate(run), free)
    run.keep(vertical_alive=alive, field_free_hz=free, field_actual_hz=np.where(alive, actual, 0.0))
    run.show(
        roll_hz=np.where(locked | ~alive, 0.0, rolling),
        hold_low_hz=np.where(alive, rates["low"], 0.0),
        hold_high_hz=np.where(alive, rates["high"], 0.0),
        vertical_sync=fires,
        vertical_jitter=_jitter(run, fires) * alive * locked,
        interlace_error=np.clip(run.inner["interlace_error_s"] * _PAIRED_AT, 0, 1),
    )
    _points(run, grid, alive)


def _grid(run: Run, position: Value) -> _Grid:
    batch = run.batch
    series = batch.ohms(_STAGE, "grid-resistor") + batch.ohms(_STAGE, "hold") * position
    leak = parallel_ohm(batch.leak(_STAGE, "grid-capacitor"), batch.leak(_STAGE, "transformer") * 0.3)
    ohms = parallel_ohm(series + batch.contact(_STAGE, "hold"), leak)
    tube = np.clip(emission(run, _STAGE, "oscillator"), 0.02, 1.2)
    turns = 1.0 - 0.5 * batch.parameter(_STAGE, "transformer", "turns_shorted")
    down = 1.0 + _DRIVEN_DOWN * tube**0.45 * turns
    fire = run.inner["rail:vertical"] / _FIRES_AT
    pushed = 150.0 * ohms / batch.leak("vertical-integrator", "coupling")
    pushed = pushed + batch.parameter(_STAGE, "oscillator", "gas_a") * np.minimum(ohms, 5e6)
    ratio = (down * fire + pushed) / (fire + pushed)
    return _Grid(ohms, batch.farads(_STAGE, "grid-capacitor"), ratio, fire + pushed)


def _free_rate(run: Run, grid: _Grid, place: str) -> Floats:
    rate = run.calc(
        free_running_hz,
        f"free-running rate, hold control {place}",
        grid_ohm=grid.ohms,
        grid_f=grid.farads,
        charge_ratio=grid.ratio,
        pulse_s=run.figure("vertical_retrace_s", _RETRACE_S),
    )
    return run.full(run.trim("vertical-rate") * rate)


def _lowest_locked(run: Run, grid: _Grid, fires: Value) -> Value:
    """Return the lowest free-running rate that this much sync still pulls up to the field rate."""
    whole = np.log(np.maximum(grid.ratio, 1.05))
    triggered = grid.ratio / (1.0 + fires / np.maximum(grid.fires_v, 0.5))
    return field_rate(run) * np.clip(np.log(np.maximum(triggered, 1.02)) / whole, 0.05, 1.0)


def _jitter(run: Run, fires: Value) -> Value:
    """Return the unrest of a locked picture, in raster heights; shares are our judgement."""
    unclean = 0.05 * run.inner["integrator_fast"] + 0.03 * (1 - run.inner["sync_purity"])
    rails = 0.04 * run.inside("undecoupled:vertical") + 0.05 * run.inside("undecoupled:sync")
    ripple = 0.03 * smooth_step(run.inner["rail_ripple:vertical"], 1.0, 6.0)
    weak = 0.05 * smooth_step(-fires, -0.8, -0.1)
    return np.clip(unclean + rails + ripple + weak + 0.03 * run.picture["snow"] ** 2, 0, 0.4)


def _alive(run: Run) -> NDArray[np.bool_]:
    """Return where the oscillator runs at all."""
    batch = run.batch
    resistance = batch.ohms(_STAGE, "grid-resistor") + batch.ohms(_STAGE, "hold") * 0.3
    pushed = 150.0 / batch.leak("vertical-integrator", "coupling") * np.minimum(resistance, 1e7)
    conditions = [
        emission(run, _STAGE, "oscillator") > 0.12,
        run.inner["rail:vertical"] > 40,
        np.asanyarray((resistance < 2.5e7) & (pushed < 90.0)),
        np.asanyarray(batch.farads(_STAGE, "grid-capacitor") > 2e-10),
        np.asanyarray(batch.leak(_STAGE, "grid-capacitor") > 50e3),
        np.asanyarray(batch.opened(_STAGE, "transformer") < 1e4),
        np.asanyarray(batch.parameter(_STAGE, "transformer", "gain") > 0),
        np.asanyarray(batch.parameter(_STAGE, "transformer", "turns_shorted") < 0.42),
        np.asanyarray(batch.parameter(_STAGE, "oscillator", "leakage_ohm") > 1e5),
        np.asanyarray(batch.contact(_STAGE, "oscillator") < 4e5),
        *(_loop(run) if run.circuit(_STAGE) == "plate-coupled" else []),
    ]
    whole = np.logical_and.reduce([np.broadcast_to(c, (batch.draws,)) for c in conditions])
    return np.asanyarray(whole, dtype=bool)


def _loop(run: Run) -> list[NDArray[np.bool_]]:
    """Return what a multivibrator that uses the output tube as its second half needs on top."""
    batch, output = run.batch, "vertical-output"
    return [
        emission(run, output, "output") > 0.15,
        np.asanyarray(batch.farads(_STAGE, "feedback-capacitor", 1e-6) > 3e-10),
        np.asanyarray(batch.leak(_STAGE, "feedback-capacitor") > 1e5),
        np.asanyarray(batch.ohms(_STAGE, "feedback-resistor", 1.0) < 5e6),
        np.asanyarray(batch.opened(output, "transformer") < 1e4),
        np.asanyarray(batch.parameter(output, "transformer", "gain") > 0),
        np.asanyarray(batch.parameter(output, "transformer", "turns_shorted") < 0.5),
        np.asanyarray(batch.farads(output, "coupling") > 1e-9),
        np.asanyarray(batch.ohms(output, "cathode") < 1e5),
    ]


def _points(run: Run, grid: _Grid, alive: NDArray[np.bool_]) -> None:
    mean = -grid.fires_v * (grid.ratio - 1) / np.log(np.maximum(grid.ratio, 1.05))
    run.put("vertical-oscillator-grid", "dc", np.where(alive, mean, -0.3), grid.ohms)
    run.put("vertical-oscillator-grid", "pp", np.where(alive, 1.25 * grid.fires_v * grid.ratio, 0.0))


def sawtooth(run: Run) -> None:
    """Charge the sawtooth capacitor from its rail."""
    position = run.position(_SAW, "height")
    alive = run.inner["vertical_alive"] > 0.5
    height = run.calc(sawtooth_v, "sawtooth", **_charging(run, position))
    saw = np.where(alive, height, 0.0) * run.trim("height")
    charging = _charging(run, position)
    final, slope_s = charging["supply_v"], charging["charging_ohm"] * charging["sawtooth_f"]
    rest = np.where(alive, 0.08 * final + saw / 2, 0.5 * final)
    least, middle, most = (np.asanyarray(sawtooth_v(**_charging(run, at))) for at in (1.0, 0.3, 0.0))
    run.keep(
        saw_v=saw,
        saw_slope=np.exp(-charging["trace_s"] / slope_s),
        saw_dc_v=rest,
        height_range=np.abs(most - least) / np.maximum(middle, 0.1),
        peaking_share=_peaking(run),
    )
    run.put("vertical-sawtooth", "pp", saw)
    run.put("vertical-oscillator-plate", "dc", rest, np.minimum(charging["charging_ohm"], 1e8))
    run.put("vertical-oscillator-plate", "pp", saw * 1.4)


def _charging(run: Run, at: Value) -> dict[str, Value]:
    """Return what charges the sawtooth capacitor with the height control at a place."""
    batch = run.batch
    boosted = "boosted-b-plus" in run.chassis.stages[_SAW].rails
    supply = run.inner["boosted_v"] if boosted else run.inner["rail:vertical"]
    series = batch.ohms(_SAW, "charging") + batch.ohms(_SAW, "height") * at + batch.contact(_SAW, "height")
    leak = batch.leak(_SAW, "capacitor")
    period = 1.0 / np.clip(run.inner["field_actual_hz"], 15.0, 300.0)
    return {
        "supply_v": np.maximum(supply, 0.0) * leak / (leak + series),
        "charging_ohm": parallel_ohm(series, leak),
        "sawtooth_f": batch.farads(_SAW, "capacitor"),
        "trace_s": period - run.figure("vertical_retrace_s", _RETRACE_S),
    }


def _peaking(run: Run) -> Value:
    design = run.batch.value(_SAW, "peaking", 3.3e3)
    return np.minimum(run.batch.ohms(_SAW, "peaking", 3.3e3) / design, 40.0)
