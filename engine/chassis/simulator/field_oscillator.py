# SPDX-License-Identifier: MIT
"""The vertical oscillator with its lock, and the sawtooth that it makes.

The oscillator's grid falls by its resistance and capacitance until it fires; sync fires it earlier.  How far it is
driven down and where it fires come from the circuit of a blocking oscillator.
Limits: a multivibrator over the output tube drives its grid down by one ratio that emission changes; its
circuit is solved by :mod:`backporch.engine.circuits.vertical_output_coupled`, which no simulated set uses yet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.field_blocking import Blocking, blocking, grid_ohm
from backporch.engine.chassis.simulator.field_charge import charge
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.field_timing import field_period_s, free_running_hz, roll_hz
from backporch.engine.circuits.vertical import charged_sawtooth

__all__ = ["field_rate", "oscillator", "sawtooth"]

Floats = NDArray[np.float64]

_STAGE = "vertical-oscillator"
_SAW = "vertical-sawtooth"
_DRIVEN_DOWN = 2.65
"""How much further than its firing point a good tube drives its grid down."""
_FIRES_AT = 13.0
"""Supply over firing point."""
_RETRACE_S = 0.7e-3
_FASTEST_HZ = 600.0
"""What squeals faster than this moves the beam no more."""
_PULSE_LAW = (
    "followed until grid_a ends: plate_winding_h * d(magnetizing_a)/dt = supply_v - plate_v,"
    " grid_f * d(grid_v)/dt = -grid_a - grid_v / grid_ohm,"
    " plate_a and grid_a by the curves of the tube times emission"
)
_PAIRED_AT = 1.0 / 12e-6
"""A second field that fires 12 us early or late, a third of half a line and more, counts as paired."""
_PLACES = {"low": "at its low end", "high": "at its high end", "set": "as it stands"}


@dataclass(frozen=True)
class _Grid:
    """What decides the period."""

    ohms: Value
    farads: Value
    ratio: Value
    """Where the grid starts over where it fires, both against where it would come to rest."""
    fires_v: Value
    """From where it fires to where it would come to rest."""
    pulse_s: Value
    found: Blocking | None = None


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
    grid, free = _grid(run, set_at), rates["set"]
    alive = _alive(run, grid) & (free < _FASTEST_HZ)
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
    still = 0.5 * charge(run).supply_v if grid.found is None else grid.found.still_plate_v
    run.keep(vertical_pulse_s=np.maximum(grid.pulse_s, 3e-5), saw_foot_v=_foot(run, grid), saw_still_v=still)
    _points(run, grid, alive)


def _grid(run: Run, position: Value) -> _Grid:
    if run.circuit(_STAGE) == "blocking":
        return _blocking(run, position)
    batch = run.batch
    ohms = grid_ohm(run, position)
    tube = np.clip(emission(run, _STAGE, "oscillator"), 0.02, 1.2)
    down = 1.0 + _DRIVEN_DOWN * tube**0.45
    fire = run.inner["rail:vertical"] / _FIRES_AT
    pushed = 150.0 * ohms / batch.leak("vertical-integrator", "coupling")
    pushed = pushed + batch.parameter(_STAGE, "oscillator", "gas_a") * np.minimum(ohms, 5e6)
    ratio = (down * fire + pushed) / (fire + pushed)
    farads = batch.farads(_STAGE, "grid-capacitor")
    return _Grid(ohms, farads, ratio, fire + pushed, run.figure("vertical_retrace_s", _RETRACE_S))


def _blocking(run: Run, position: Value) -> _Grid:
    """Return what the circuit of a blocking oscillator makes of its grid."""
    ohms, farads = grid_ohm(run, position), run.batch.farads(_STAGE, "grid-capacitor")
    made_from = charge(run)
    found = blocking(run, position, made_from)
    law = (
        "n * transconductance = 1 / loss_ohm + 1 / plate_resistance + n**2 / grid_ohm"
        " + 2.6 * sqrt(stray_f / plate_winding_h), n = coupling * turns_ratio"
    )
    behind = {"supply_v": made_from.supply_v, "grid_ohm": ohms, "grid_f": farads}
    behind |= {"plate_winding_h": run.batch.henries(_STAGE, "transformer", 3.0)}
    behind |= {"emission": emission(run, _STAGE, "oscillator")}
    ready = run.solved(found.ready_v, "firing point below rest", law, **behind)
    driven = run.solved(found.driven_v, "grid after the pulse, below rest", _PULSE_LAW, **behind)
    pulse = run.solved(found.pulse_s, "length of the pulse", _PULSE_LAW, **behind)
    ratio = np.maximum(driven / np.maximum(ready, 1e-3), 1.0)
    titles = {"peak_v": "highest grid voltage in the pulse", "foot_v": "sawtooth capacitor after its discharge"}
    titles |= {"still_grid_v": "grid at rest", "still_plate_v": "plate at rest"}
    told = {name: run.solved(getattr(found, name), title, _PULSE_LAW, **behind) for name, title in titles.items()}
    return _Grid(ohms, farads, ratio, ready, pulse, replace(found, **told))


def _free_rate(run: Run, grid: _Grid, place: str) -> Floats:
    rate = run.calc(
        free_running_hz,
        f"free-running rate, hold control {place}",
        grid_ohm=grid.ohms,
        grid_f=grid.farads,
        charge_ratio=grid.ratio,
        pulse_s=grid.pulse_s,
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


def _alive(run: Run, grid: _Grid) -> NDArray[np.bool_]:
    """Return where the oscillator runs at all."""
    batch = run.batch
    if grid.found is not None:
        whole = [
            grid.found.runs,
            np.asanyarray(batch.leak(_STAGE, "grid-capacitor") > 50e3),
            np.asanyarray(batch.opened(_STAGE, "transformer") < 1e4),
            np.asanyarray(batch.parameter(_STAGE, "transformer", "gain") > 0),
            np.asanyarray(batch.parameter(_STAGE, "oscillator", "leakage_ohm") > 1e5),
            np.asanyarray(batch.contact(_STAGE, "oscillator") < 4e5),
        ]
        return np.asanyarray(
            np.logical_and.reduce([np.broadcast_to(c, (batch.draws,)) for c in whole]), dtype=bool
        )
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


def _foot(run: Run, grid: _Grid) -> Value:
    """Return the sawtooth capacitor after its discharge."""
    if grid.found is None:
        return 0.08 * np.maximum(charge(run).supply_v, 0.0)
    return grid.found.foot_v


def _points(run: Run, grid: _Grid, alive: NDArray[np.bool_]) -> None:
    mean = -grid.fires_v * (grid.ratio - 1) / np.log(np.maximum(grid.ratio, 1.05))
    still: Value = -0.3
    swing = 1.25 * grid.fires_v * grid.ratio
    if grid.found is not None:
        still = np.maximum(grid.found.still_grid_v, -3.0)
        swing = grid.fires_v * grid.ratio + grid.found.peak_v
    run.put("vertical-oscillator-grid", "dc", np.where(alive, mean, still), grid.ohms)
    run.put("vertical-oscillator-grid", "pp", np.where(alive, swing, 0.0))


def sawtooth(run: Run) -> None:
    """Charge the sawtooth capacitor from its rail, from where the oscillator has left it."""
    alive = run.inner["vertical_alive"] > 0.5
    charging = _charging(run, run.position(_SAW, "height"))
    made = run.calc(charged_sawtooth, "sawtooth", **charging)
    saw = np.where(alive, np.maximum(made.amplitude_v, 0.0), 0.0) * run.trim("height")
    kept = charging["leak_ohm"] / (charging["leak_ohm"] + charging["charging_ohm"])
    rest = np.where(
        alive, charging["start_v"] + saw / 2, np.minimum(run.inner["saw_still_v"], kept * charge(run).supply_v)
    )
    least, middle, most = (charged_sawtooth(**_charging(run, at)).amplitude_v for at in (1.0, 0.3, 0.0))
    run.keep(
        saw_v=saw,
        saw_slope=made.slope_ratio,
        saw_dc_v=rest,
        height_range=np.abs(most - least) / np.maximum(middle, 0.1),
        peaking_share=_peaking(run),
    )
    run.put("vertical-sawtooth", "pp", saw)
    run.put("vertical-oscillator-plate", "dc", rest, np.minimum(charging["charging_ohm"], 1e8))
    run.put("vertical-oscillator-plate", "pp", saw * 1.4)


def _charging(run: Run, at: Value) -> dict[str, Value]:
    """Return what charges the sawtooth capacitor with the height control at a place."""
    period = 1.0 / np.clip(run.inner["field_actual_hz"], 15.0, 300.0)
    source = charge(run, at)
    supply = np.maximum(source.supply_v, 0.0)
    return {
        "supply_v": supply,
        "charging_ohm": source.ohms,
        "sawtooth_f": run.batch.farads(_SAW, "capacitor"),
        "trace_s": period - np.clip(run.inner["vertical_pulse_s"], 1e-5, 2e-3),
        "leak_ohm": run.batch.leak(_SAW, "capacitor"),
        "start_v": np.minimum(run.inside("saw_foot_v"), 0.9 * supply),
    }


def _peaking(run: Run) -> Value:
    design = run.batch.value(_SAW, "peaking", 3.3e3)
    return np.minimum(run.batch.ohms(_SAW, "peaking", 3.3e3) / design, 40.0)
