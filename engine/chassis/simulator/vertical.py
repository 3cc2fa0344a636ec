# SPDX-License-Identifier: MIT
"""Vertical oscillator with its lock, sawtooth, output stage and yoke.

The oscillator's grid falls by its resistance and capacitance until it fires; sync fires it earlier.  The
output tube is followed at seven moments of the trace along its load line.
Limits: magnetizing current of the transformer is taken as corrected by the shape of the drive.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.basics import Value, leak_rise_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.power import emission
from backporch.engine.circuits.field_timing import field_period_s, free_running_hz, roll_hz, sawtooth_v

__all__ = ["oscillator", "output", "sawtooth"]

Floats = NDArray[np.float64]


def field_rate(run: Run) -> float:
    """Return the field rate of the standard."""
    return 60.0 if run.chassis.standard == "525/60" else 50.0


def oscillator(run: Run) -> None:
    """Free-running rate at the set place and both ends of the hold control, and the lock."""
    run.keep(field_hz=field_rate(run))
    run.calc(field_period_s, "field period", field_hz=field_rate(run))
    ends = {name: _free_rate(run, position, name) for name, position in _holds(run).items()}
    alive = _alive(run)
    free = ends["set"]
    fires = np.maximum(run.inner["vertical_pulse_v"], 0.0) * run.figure("vertical_sync_share", 0.35)
    ratio, fire_v = run.inner["vertical_charge_ratio"], run.inner["vertical_fire_v"]
    full = np.log(np.maximum(ratio, 1.05))
    triggered_share = np.log(np.maximum(ratio / (1.0 + fires / np.maximum(fire_v, 0.5)), 1.02)) / full
    lowest = field_rate(run) * np.clip(triggered_share, 0.05, 1.0)
    locked = alive & (free <= field_rate(run) * 1.002) & (free >= lowest)
    actual = np.where(locked, field_rate(run), free)
    run.keep(
        vertical_alive=alive,
        vertical_locked=locked,
        field_free_hz=free,
        field_actual_hz=np.where(alive, actual, 0.0),
    )
    jitter = (
        0.05 * run.inner["integrator_fast"]
        + 0.03 * (1 - run.inner["sync_purity"])
        + 0.03 * run.picture["snow"] ** 2
    )
    jitter = (
        jitter
        + 0.04 * run.inside("undecoupled:vertical")
        + 0.05 * run.inside("undecoupled:sync")
        + 0.03 * smooth_step(run.inner["rail_ripple:vertical"], 1.0, 6.0)
    )
    rolling = run.calc(roll_hz, "roll, up positive", field_hz=field_rate(run), free_hz=np.maximum(free, 1e-3))
    run.show(
        roll_hz=np.where(locked | ~alive, 0.0, rolling),
        hold_low_hz=np.where(alive, ends["low"], 0.0),
        hold_high_hz=np.where(alive, ends["high"], 0.0),
        vertical_sync=fires,
        vertical_jitter=np.clip(jitter + 0.05 * smooth_step(-fires, -0.8, -0.1), 0, 0.4) * alive * locked,
        interlace_error=np.clip(0.9 * run.inner["integrator_fast"], 0, 1),
    )
    _oscillator_points(run, alive)


_PLACES = {"low": "at its low end", "set": "as it stands", "high": "at its high end"}


def _holds(run: Run) -> dict[str, Value]:
    return {"low": 1.0, "set": run.position("vertical-oscillator", "hold"), "high": 0.0}


def _free_rate(run: Run, position: Value, place: str) -> Floats:
    stage, batch = "vertical-oscillator", run.batch
    hold = batch.ohms(stage, "hold")
    resistance = batch.ohms(stage, "grid-resistor") + hold * position + batch.contact(stage, "hold")
    leak = parallel_ohm(batch.leak(stage, "grid-capacitor"), batch.leak(stage, "transformer") * 0.3)
    grid = parallel_ohm(resistance, leak)
    farads = batch.farads(stage, "grid-capacitor")
    tube = np.minimum(emission(run, stage, "oscillator"), 1.2)
    ratio = 1.0 + 2.65 * np.maximum(tube, 0.02) ** 0.45
    ratio = 1.0 + (ratio - 1.0) * (1.0 - 0.5 * batch.parameter(stage, "transformer", "turns_shorted"))
    rail = run.inner["rail:vertical"]
    fire = rail / 13.0
    push = 150.0 * grid / batch.leak("vertical-integrator", "coupling")
    push = push + batch.parameter(stage, "oscillator", "gas_a") * np.minimum(grid, 5e6)
    charge_ratio = (ratio * fire + push) / (fire + push)
    rate = run.calc(
        free_running_hz,
        f"free-running rate, hold control {_PLACES[place]}",
        grid_ohm=grid,
        grid_f=farads,
        charge_ratio=charge_ratio,
        pulse_s=run.figure("vertical_retrace_s", 0.7e-3),
    )
    run.keep(vertical_charge_ratio=charge_ratio, vertical_fire_v=fire + push)
    return np.asarray(run.trim("vertical-rate") * rate, dtype=float)


def _alive(run: Run) -> NDArray[np.bool_]:
    stage, batch = "vertical-oscillator", run.batch
    tube = emission(run, stage, "oscillator")
    resistance = batch.ohms(stage, "grid-resistor") + batch.ohms(stage, "hold") * 0.3
    push = 150.0 / batch.leak("vertical-integrator", "coupling") * np.minimum(resistance, 1e7)
    looped = run.full(_loop_closed(run) if run.circuit(stage) == "plate-coupled" else 1.0) > 0.5
    return np.asarray(
        (tube > 0.12)
        & looped
        & (run.inner["rail:vertical"] > 40)
        & (resistance < 2.5e7)
        & (push < 90.0)
        & (batch.farads(stage, "grid-capacitor") > 2e-10)
        & (batch.leak(stage, "grid-capacitor") > 50e3)
        & (batch.opened(stage, "transformer") < 1e4)
        & (batch.parameter(stage, "transformer", "gain") > 0)
        & (batch.parameter(stage, "oscillator", "leakage_ohm") > 1e5)
        & (batch.contact(stage, "oscillator") < 4e5)
        & (batch.parameter(stage, "transformer", "turns_shorted") < 0.42),
        dtype=bool,
    )


def _loop_closed(run: Run) -> Value:
    """Say whether a multivibrator that uses the output tube as its second half gets its feedback."""
    stage, batch = "vertical-oscillator", run.batch
    back = batch.farads(stage, "feedback-capacitor", 1e-6)
    return (
        (emission(run, "vertical-output", "output") > 0.15)
        & (back > 3e-10)
        & (batch.leak(stage, "feedback-capacitor") > 1e5)
        & (batch.ohms(stage, "feedback-resistor", 1.0) < 5e6)
        & (batch.opened("vertical-output", "transformer") < 1e4)
        & (batch.parameter("vertical-output", "transformer", "gain") > 0)
        & (batch.parameter("vertical-output", "transformer", "turns_shorted") < 0.5)
        & (batch.farads("vertical-output", "coupling") > 1e-9)
        & (batch.ohms("vertical-output", "cathode") < 1e5)
    )


def _oscillator_points(run: Run, alive: NDArray[np.bool_]) -> None:
    fire, ratio = run.inner["vertical_fire_v"], run.inner["vertical_charge_ratio"]
    batch, stage = run.batch, "vertical-oscillator"
    source = batch.ohms(stage, "grid-resistor") + batch.ohms(stage, "hold") * 0.5
    run.put(
        "vertical-oscillator-grid",
        "dc",
        np.where(alive, -fire * (ratio - 1) / np.log(np.maximum(ratio, 1.05)), -0.3),
        source,
    )
    run.put("vertical-oscillator-grid", "pp", np.where(alive, 1.25 * fire * ratio, 0.0))


def sawtooth(run: Run) -> None:
    """Charge the sawtooth capacitor from the boosted rail."""
    batch, stage = run.batch, "vertical-sawtooth"
    supply = (
        run.inner["boosted_v"]
        if "boosted-b-plus" in run.chassis.stages[stage].rails
        else run.inner["rail:vertical"]
    )
    track = batch.ohms(stage, "height")
    position = run.position(stage, "height")
    fixed = batch.ohms(stage, "charging")
    capacity = batch.farads(stage, "capacitor")
    leak = batch.leak(stage, "capacitor")
    seconds = 1.0 / np.clip(run.inner["field_actual_hz"], 15.0, 300.0) - run.figure("vertical_retrace_s", 0.7e-3)

    def height(at: Value, label: str = "") -> Floats:
        series = fixed + track * at + batch.contact(stage, "height")
        compute = partial(run.calc, sawtooth_v, label) if label else sawtooth_v
        saw = compute(
            supply_v=supply * leak / (leak + series),
            charging_ohm=parallel_ohm(series, leak),
            sawtooth_f=capacity,
            trace_s=seconds,
        )
        return np.asarray(saw, dtype=float)

    alive = run.inner["vertical_alive"] > 0.5
    saw = np.where(alive, height(position, "sawtooth"), 0.0) * run.trim("height")
    series = fixed + track * position + batch.contact(stage, "height")
    slope = np.exp(-seconds / (parallel_ohm(series, leak) * capacity))
    rest = np.where(alive, 0.08 * supply * leak / (leak + series) + saw / 2, supply * leak / (leak + series) * 0.5)
    run.keep(
        saw_v=saw,
        saw_slope=slope,
        saw_dc_v=rest,
        height_range=np.abs(height(0.0) - height(1.0)) / np.maximum(height(0.3), 0.1),
    )
    run.put("vertical-sawtooth", "pp", saw)
    run.put("vertical-oscillator-plate", "dc", rest, parallel_ohm(series, leak))
    run.put("vertical-oscillator-plate", "pp", saw * 1.4)
    peak = batch.ohms(stage, "peaking", 3.3e3)
    run.keep(peaking_share=np.minimum(peak / batch.value(stage, "peaking", 3.3e3), 40.0))


def output(run: Run) -> None:
    """Turn the sawtooth into yoke current; height, linearity and fold-over follow."""
    batch, stage = run.batch, "vertical-output"
    grid_leak = batch.ohms(stage, "grid-leak")
    coupling = batch.farads(stage, "coupling")
    low_cut = 1.0 - np.exp(-np.minimum(grid_leak * coupling / 6e-3, 30.0))
    swing = (
        run.inner["saw_v"] * low_cut * coupling / (coupling + 2e-10) / (1 + batch.contact(stage, "output") / 1e6)
    )
    short = batch.parameter(stage, "output", "leakage_ohm")
    swing = swing * short / (short + 3e4)
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=run.inner["saw_dc_v"],
        grid_ohm=grid_leak,
        leak_ohm=batch.leak(stage, "coupling"),
    )
    rise = rise + batch.parameter(stage, "output", "gas_a") * np.minimum(grid_leak, 6e6)
    rise = np.minimum(rise, 12.0 + 0.1 * rise)
    current, mean, cathode = _along_the_trace(run, swing, rise)
    _shape(run, current, mean, swing, rise)
    run.put("vertical-output-grid", "dc", rise, np.minimum(grid_leak, 5e6))
    run.put("vertical-output-grid", "pp", swing * (1 + 0.3 * run.inner["peaking_share"]))
    run.put("vertical-output-cathode", "dc", mean * cathode, cathode)
    feed = run.figure("vertical_primary_ohm", 420.0) + batch.opened(stage, "transformer")
    run.put("vertical-output-plate", "dc", np.maximum(run.inner["rail:vertical"] - mean * feed, 0.5))


def _cathode_ohm(run: Run) -> tuple[Value, Value]:
    """Return the cathode resistance for direct current, and for the field rate."""
    batch, stage = run.batch, "vertical-output"
    dc = batch.ohms(stage, "cathode") + batch.ohms(stage, "linearity", 0.0) * run.position(stage, "linearity")
    dc = parallel_ohm(dc, batch.leak(stage, "cathode-bypass"))
    if not batch.has(stage, "cathode-bypass"):
        return dc, dc
    farads = batch.farads(stage, "cathode-bypass")
    return dc, dc / np.sqrt(1.0 + (2 * np.pi * field_rate(run) * dc * farads) ** 2)


def _screen(run: Run) -> Value:
    """Return the screen voltage of an output pentode."""
    stage, batch = "vertical-output", run.batch
    tube = np.maximum(emission(run, stage, "output"), 1e-4)
    lower = parallel_ohm(run.figure("vertical_screen_ohm", 40e3) / tube, batch.leak(stage, "screen-bypass"))
    supply = run.inner["rail:vertical"]
    screen = supply * lower / (lower + batch.ohms(stage, "screen-dropper"))
    run.put("vertical-output-screen", "dc", screen)
    return screen


def _along_the_trace(run: Run, swing: Floats, rise: Floats) -> tuple[list[Floats], Floats, Value]:
    """Return plate current at seven moments of the trace, its mean, and the cathode resistance."""
    stage, batch = "vertical-output", run.batch
    tube = emission(run, stage, "output")
    cathode, cathode_ac = _cathode_ohm(run)
    load = run.figure("vertical_transformer_ratio", 12.0) ** 2 * _secondary_ohm(run)
    supply = run.inner["rail:vertical"]
    open_plate = batch.opened(stage, "transformer") > 1e4
    pentode = run.circuit(stage) == "pentode-transformer"
    screen = _screen(run) if pentode else 0.0
    mu, perveance = run.figure("vertical_mu", 16.5), run.figure("vertical_perveance", 1.31e-3)
    moments = [-1.0, -0.667, -0.333, 0.0, 0.333, 0.667, 1.0]
    slope = run.inner["saw_slope"]
    bend = 0.25 * (1.0 - slope)
    mean = np.full(batch.draws, 0.02)
    currents: list[Floats] = []
    pull = 0.2 if pentode else 0.5
    for _ in range(12 if pentode else 7):
        currents = []
        for x in moments:
            drive = swing * 0.5 * (x + bend * (1 - x * x))
            guess = mean if not currents else currents[-1]
            grid = np.minimum(drive + rise, cathode * mean + 1.5) - (cathode - cathode_ac) * mean
            if pentode:
                fixed, slope_ohm = grid + screen / mu, cathode_ac + 0.0 * load
            else:
                fixed, slope_ohm = grid + (supply - 420 * mean + load * mean) / mu, cathode_ac + load / mu
            for _ in range(4):
                over = np.maximum(fixed - slope_ohm * guess, 1e-3)
                found = tube * perveance * over**1.5
                steep = -1.5 * tube * perveance * over**0.5 * slope_ohm - 1.0
                guess = np.maximum(guess - (found - guess) / steep, 0.0)
            if pentode:
                guess = np.minimum(guess, np.maximum(mean + (supply - 420 * mean - 25.0) / load, 0.0))
            currents.append(np.where(open_plate, 0.0, guess))
        mean = mean + pull * (sum(currents) / len(currents) - mean)
    contact = 1.0 / (1.0 + batch.contact(stage, "output") / 5e4)
    return [c * contact for c in currents], np.asarray(mean * contact), cathode


def _secondary_ohm(run: Run) -> Value:
    stage, batch = "vertical-yoke", run.batch
    short = batch.parameter(stage, "winding", "turns_shorted")
    opened = batch.opened(stage, "winding") + batch.contact(stage, "connector")
    yoke = run.figure("vertical_yoke_ohm", 50.0) * (1 - 0.5 * short)
    damping = batch.ohms(stage, "damping-a", 1e9) + batch.ohms(stage, "damping-b", 1e9)
    run.keep(vertical_yoke_open=np.minimum(opened, 1e9), vertical_yoke_short=short)
    half = np.where(opened > 1e5, damping * 0.5 + yoke * 0.5, opened)
    run.put("vertical-yoke-resistance", "ohm", np.minimum(yoke + opened, 1e9))
    return yoke + half


def _shape(run: Run, currents: list[Floats], mean: Floats, swing: Floats, rise: Floats) -> None:
    batch, stage = run.batch, "vertical-output"
    ratio = run.figure("vertical_transformer_ratio", 12.0)
    turns = batch.parameter(stage, "transformer", "turns_shorted")
    short, opened = run.inner["vertical_yoke_short"], run.inner["vertical_yoke_open"]
    passed = (1.0 - turns) ** 1.5 * (1.0 - 0.75 * short) * 50.0 / (50.0 + np.minimum(opened, 1e7))
    passed = np.where(opened > 1e5, 0.06, passed)
    yoke = [c * ratio * passed for c in currents]
    pp = yoke[-1] - yoke[0]
    top, bottom = np.abs(yoke[1] - yoke[0]), np.abs(yoke[-1] - yoke[-2])
    middle = np.maximum(np.abs(yoke[4] - yoke[2]) / 2, 1e-6)
    linear = run.trim("vertical-linearity") + run.figure("vertical_linearity_set", 0.0)
    uneven = (top - bottom) / np.maximum(top + bottom, 1e-5) - (linear - 1.0)
    ok = pp > 0.01
    grid_end = swing / 2 + rise - mean * _cathode_ohm(run)[0]
    run.keep(
        vertical_pp_a=np.maximum(pp, 0.0),
        vertical_a=mean,
        linearity_range=np.where(ok & (_cathode_ohm(run)[0] > 20), 0.3, 0.0),
    )
    run.put("vertical-yoke", "pp", np.maximum(pp, 0.0) * run.figure("vertical_yoke_ohm", 50.0) * 2.1)
    retrace_s = (
        run.figure("vertical_retrace_s", 0.7e-3)
        * (1 + 2.2 * turns)
        * (1 + 0.25 * np.maximum(run.inner["peaking_share"] ** -0.5 - 1, 0))
    )
    run.show(
        vertical_nonlinearity=np.where(ok, np.clip(uneven, -1, 1), 0.0),
        fold_bottom=np.where(ok, smooth_step(grid_end, 1.0, 8.0) * 0.25 * (bottom < 0.35 * middle), 0.0),
        fold_top=np.where(ok, smooth_step(retrace_s, 1.25e-3, 2.2e-3) * 0.15, 0.0),
        keystone_vertical=np.clip(0.35 * short, 0, 0.5),
        shift_vertical=0.0,
    )
