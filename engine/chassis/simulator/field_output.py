# SPDX-License-Identifier: MIT
"""The vertical output stage and its yoke: height, linearity, fold-over.

The output tube, triode or pentode, is followed at seven moments of the trace along its load line.
Limits: the magnetizing current of the transformer is taken as corrected by the shape of the drive.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.chassis.simulator.basics import divided_v, leak_rise_v, parallel_ohm, smooth_step
from backporch.engine.chassis.simulator.bench import Run
from backporch.engine.chassis.simulator.field_oscillator import field_rate
from backporch.engine.chassis.simulator.power import emission

__all__ = ["output"]

Floats = NDArray[np.float64]

_STAGE = "vertical-output"
_YOKE = "vertical-yoke"
_MOMENTS = (-1.0, -0.667, -0.333, 0.0, 0.333, 0.667, 1.0)
_RETRACE_S = 0.7e-3


@dataclass(frozen=True)
class _Tube:
    """The output tube with what stands round it."""

    pentode: bool
    perveance: Value
    mu: float
    cathode_ohm: Value
    """For direct current."""
    cathode_ac_ohm: Value
    """What the bypass leaves of it at field rate."""
    load_ohm: Value
    supply_v: Floats
    screen_v: Value
    feed_ohm: float

    def without_load(self, grid_v: Value, mean: Value) -> tuple[Value, Value]:
        """Return the control voltage at no current, and how it falls with current."""
        grid = np.minimum(grid_v, self.cathode_ohm * mean + 1.5) - (self.cathode_ohm - self.cathode_ac_ohm) * mean
        if self.pentode:
            return grid + self.screen_v / self.mu, self.cathode_ac_ohm + 0.0 * self.load_ohm
        plate = self.supply_v - self.feed_ohm * mean + self.load_ohm * mean
        return grid + plate / self.mu, self.cathode_ac_ohm + self.load_ohm / self.mu

    def current(self, grid_v: Value, mean: Value, guess: Value) -> Value:
        """Return the plate current for a grid voltage, by four steps of Newton's method."""
        fixed, slope = self.without_load(grid_v, mean)
        for _ in range(4):
            over = np.maximum(fixed - slope * guess, 1e-3)
            error = self.perveance * over**1.5 - guess
            steep = -1.5 * self.perveance * np.sqrt(over) * slope - 1.0
            guess = np.maximum(guess - error / steep, 0.0)
        if self.pentode:
            room = (self.supply_v - self.feed_ohm * mean - 25.0) / self.load_ohm
            guess = np.minimum(guess, np.maximum(mean + room, 0.0))
        return guess


@dataclass(frozen=True)
class _Yoke:
    """What is left of the vertical yoke."""

    ohms: Value
    short: Value
    opened: Value


def output(run: Run) -> None:
    """Turn the sawtooth into yoke current; height, linearity and fold-over follow."""
    batch = run.batch
    swing, rise = _drive(run)
    yoke = _yoke(run)
    tube = _tube(run, yoke)
    currents, mean = _along_the_trace(run, tube, swing, rise)
    mean = run.full(_told(run, tube, swing, mean, "mean plate current"))
    _shape(run, tube, yoke, currents, mean, swing, rise)
    leak = batch.ohms(_STAGE, "grid-leak")
    run.put("vertical-output-grid", "dc", rise, np.minimum(leak, 5e6))
    run.put("vertical-output-grid", "pp", swing * (1 + 0.3 * run.inner["peaking_share"]))
    run.put("vertical-output-cathode", "dc", mean * tube.cathode_ohm, tube.cathode_ohm)
    feed = tube.feed_ohm + batch.opened(_STAGE, "transformer")
    run.put("vertical-output-plate", "dc", np.maximum(run.inner["rail:vertical"] - mean * feed, 0.5))


def _told(run: Run, tube: _Tube, swing: Value, value: Value, what: str, **more: Value) -> Value:
    """Return a current of the output tube with the way to it."""
    law = "i along the trace where i = perveance * (grid_v + plate_v / mu - i * cathode_ohm)**1.5"
    told: Value = run.solved(
        value,
        what,
        f"{law}, of the sawtooth swing_v" + (", times ratio" if more else ""),
        swing_v=swing,
        perveance=tube.perveance,
        mu=tube.mu,
        cathode_ohm=tube.cathode_ohm,
        supply_v=tube.supply_v,
        load_ohm=tube.load_ohm,
        **more,
    )
    return told


def _drive(run: Run) -> tuple[Floats, Floats]:
    """Return the swing at the grid and how far a leak or gas pulls it up."""
    batch = run.batch
    leak, coupling = batch.ohms(_STAGE, "grid-leak"), batch.farads(_STAGE, "coupling")
    low_cut = 1.0 - np.exp(-np.minimum(leak * coupling / 6e-3, 30.0))
    short = batch.parameter(_STAGE, "output", "leakage_ohm")
    passed = coupling / (coupling + 2e-10) / (1 + batch.contact(_STAGE, "output") / 1e6) * short / (short + 3e4)
    rise = run.calc(
        leak_rise_v,
        "rise by a leak of the coupling capacitor",
        plate_v=run.inner["saw_dc_v"],
        grid_ohm=leak,
        leak_ohm=batch.leak(_STAGE, "coupling"),
    )
    rise = rise + batch.parameter(_STAGE, "output", "gas_a") * np.minimum(leak, 6e6)
    return run.full(run.inner["saw_v"] * low_cut * passed), run.full(np.minimum(rise, 12.0 + 0.1 * rise))


def _tube(run: Run, yoke: _Yoke) -> _Tube:
    batch = run.batch
    pentode = run.circuit(_STAGE) == "pentode-transformer"
    track = batch.ohms(_STAGE, "linearity", 0.0) * run.position(_STAGE, "linearity")
    cathode = parallel_ohm(batch.ohms(_STAGE, "cathode") + track, batch.leak(_STAGE, "cathode-bypass"))
    left: Value = cathode
    if batch.has(_STAGE, "cathode-bypass"):
        turns = 2 * np.pi * field_rate(run) * cathode * batch.farads(_STAGE, "cathode-bypass")
        left = cathode / np.sqrt(1.0 + turns**2)
    emitted = emission(run, _STAGE, "output")
    return _Tube(
        pentode=pentode,
        perveance=emitted * run.figure("vertical_perveance", 1.31e-3),
        mu=run.figure("vertical_mu", 16.5),
        cathode_ohm=cathode,
        cathode_ac_ohm=left,
        load_ohm=run.figure("vertical_transformer_ratio", 12.0) ** 2 * yoke.ohms,
        supply_v=run.inner["rail:vertical"],
        screen_v=_screen(run, emitted) if pentode else 0.0,
        feed_ohm=run.figure("vertical_primary_ohm", 420.0),
    )


def _screen(run: Run, emitted: Floats) -> Value:
    """Return the screen voltage of an output pentode."""
    inner = run.figure("vertical_screen_ohm", 40e3) / np.maximum(emitted, 1e-4)
    lower = parallel_ohm(inner, run.batch.leak(_STAGE, "screen-bypass"))
    upper = run.batch.ohms(_STAGE, "screen-dropper")
    screen: Value = run.calc(
        divided_v, "screen", supply_v=run.inner["rail:vertical"], upper_ohm=upper, lower_ohm=lower
    )
    run.put("vertical-output-screen", "dc", screen)
    return screen


def _yoke(run: Run) -> _Yoke:
    batch = run.batch
    short = batch.parameter(_YOKE, "winding", "turns_shorted")
    opened = batch.opened(_YOKE, "winding") + batch.contact(_YOKE, "connector")
    whole = run.figure("vertical_yoke_ohm", 50.0) * (1 - 0.5 * short)
    damping = batch.ohms(_YOKE, "damping-a", 1e9) + batch.ohms(_YOKE, "damping-b", 1e9)
    path = np.where(np.asanyarray(opened) > 1e5, damping * 0.5 + whole * 0.5, opened)
    run.put("vertical-yoke-resistance", "ohm", np.minimum(whole + opened, 1e9))
    return _Yoke(whole + path, short, np.minimum(opened, 1e9))


def _along_the_trace(run: Run, tube: _Tube, swing: Floats, rise: Floats) -> tuple[Floats, Floats]:
    """Return plate current at seven moments of the trace, and its mean."""
    bend = 0.25 * (1.0 - run.inner["saw_slope"])
    whole = np.where(np.asanyarray(run.batch.opened(_STAGE, "transformer")) > 1e4, 0.0, 1.0)
    mean = np.full(run.batch.draws, 0.02)
    pull, rounds = (0.2, 12) if tube.pentode else (0.5, 7)
    at = np.array(_MOMENTS)[:, None]
    grid = rise + swing * 0.5 * (at + bend * (1.0 - at * at))
    currents = np.broadcast_to(mean, grid.shape)
    for _ in range(rounds):
        currents = np.asanyarray(tube.current(grid, mean, currents) * whole)
        mean = mean + pull * (currents.mean(axis=0) - mean)
    contact = 1.0 / (1.0 + run.batch.contact(_STAGE, "output") / 5e4)
    return np.asanyarray(currents * contact), np.asanyarray(mean * contact)


def _passed_on(run: Run, yoke: _Yoke) -> Value:
    """Return what transformer and yoke make of the plate current, over what sound ones would."""
    turns = run.batch.parameter(_STAGE, "transformer", "turns_shorted")
    share = (1.0 - turns) ** 1.5 * (1.0 - 0.75 * yoke.short) * 50.0 / (50.0 + np.minimum(yoke.opened, 1e7))
    return np.where(np.asanyarray(yoke.opened) > 1e5, 0.06, share)


def _shape(
    run: Run, tube: _Tube, yoke: _Yoke, currents: Floats, mean: Floats, swing: Floats, rise: Floats
) -> None:
    passed = run.figure("vertical_transformer_ratio", 12.0) * _passed_on(run, yoke)
    top, middle, bottom = (
        np.abs(currents[b] - currents[a]) * passed / (b - a) for a, b in ((0, 1), (2, 4), (5, 6))
    )
    pp = np.maximum((currents[-1] - currents[0]) * passed, 0.0)
    pp = _told(run, tube, swing, pp, "swing of the yoke current", ratio=passed)
    there = pp > 0.01
    set_to = run.trim("vertical-linearity") + run.figure("vertical_linearity_set", 0.0) - 1.0
    uneven = (top - bottom) / np.maximum(top + bottom, 1e-5) - set_to
    end_v = swing / 2 + rise - mean * tube.cathode_ohm
    flat = bottom < 0.35 * np.maximum(middle, 1e-6)
    run.keep(
        vertical_pp_a=pp,
        vertical_a=mean,
        linearity_range=np.where(there & np.asanyarray(tube.cathode_ohm > 20), 0.3, 0.0),
    )
    run.put("vertical-yoke", "pp", pp * run.figure("vertical_yoke_ohm", 50.0) * 2.1)
    run.show(
        vertical_nonlinearity=np.where(there, np.clip(uneven, -1, 1), 0.0),
        fold_bottom=np.where(there & flat, smooth_step(end_v, 1.0, 8.0) * 0.25, 0.0),
        fold_top=np.where(there, smooth_step(_retrace_s(run), 1.25e-3, 2.2e-3) * 0.15, 0.0),
        keystone_vertical=np.clip(0.35 * yoke.short, 0, 0.5),
        shift_vertical=0.0,
    )


def _retrace_s(run: Run) -> Value:
    turns = run.batch.parameter(_STAGE, "transformer", "turns_shorted")
    slow = 0.25 * np.maximum(run.inner["peaking_share"] ** -0.5 - 1, 0)
    return run.figure("vertical_retrace_s", _RETRACE_S) * (1 + 2.2 * turns) * (1 + slow)
