# SPDX-License-Identifier: MIT
"""The blocking oscillator, with or without the sawtooth capacitor that its tube discharges.

Plate winding in the plate lead, grid winding through the grid capacitor to the grid, grid leak with the hold
control to ground or to a positive return.  The long part of the cycle is the recharge of the grid capacitor up to
the point where the tube's conductance first outweighs what loads the transformer, which lies volts before the
cut-off; the pulse is followed in :mod:`vertical_pulse`.
Of the winding's voltage only the coupled part reaches the grid, and its kick back after the pulse takes as many
volt-seconds from the grid capacitor as the pulse has left in the core.
Limits: the transformer does not saturate; its ringing after the pulse has gone before the tube fires again.
Sources: puckle-1951, sawtooth-check-values (keys in kb/sources/vertical.yaml); derived here otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import TubeModel, currents, grid_current
from backporch.engine.circuits.tube_grid import settled_grid
from backporch.engine.circuits.tubes import checked_tube
from backporch.engine.circuits.vertical_pulse import Loop, Pulse, pulse

__all__ = ["BlockingOscillator", "BlockingParts", "HoldRange", "blocking_oscillator", "hold_range"]

_OUTRUN = 2.6
"""Conductance above the balance at which the pulse breaks out, in units of sqrt(stray / inductance) of the
winding: at two, growth is no longer a ringing; the rest found by circuit simulation."""

_INPUT_F = 10e-12
"""Of the grid and its wiring; an open grid capacitor hands on no more than its share of the winding's voltage."""

_OPEN_OHM = 1e5
"""A winding of more than this is open."""

_LEAST_BLOCKING = 1.1
"""A pulse that leaves less than this many times the firing voltage on the grid does not block."""

_TRIALS = 5
"""Trials for the voltage that the sawtooth capacitor has reached when the tube fires."""


@dataclass(frozen=True)
class BlockingParts:
    """The parts of the oscillator; every field may be a float or an array."""

    grid_ohm: Number
    """From the grid to its return, hold control included."""
    grid_f: Number
    """Grid capacitor."""
    plate_winding_h: Number
    turns_ratio: Number = 1.0
    """Turns of the grid winding over those of the plate winding."""
    coupling: Number = 0.98
    """Of the two windings, 0 to 1: shorted turns lower it, the inductance and the loss resistance; from memory."""
    plate_winding_ohm: Number = 200.0
    grid_winding_ohm: Number = 300.0
    loss_ohm: Number = 100e3
    """Losses of the core and damping resistor, across the plate winding; from memory, to verify."""
    stray_f: Number = 200e-12
    """Capacitance across the plate winding; from memory, to verify."""
    charging_ohm: Number = 1.0
    """From the supply to the plate winding; with the next two at their defaults the plate is fed directly."""
    sawtooth_f: Number = 1e-4
    peaking_ohm: Number = 1e-3
    """In series with the sawtooth capacitor."""
    sawtooth_leak_ohm: Number = 1e12
    grid_return_v: Number = 0.0
    grid_capacitor_leak_ohm: Number = 1e12
    sync_leak_ohm: Number = 1e12
    """Leak of the capacitor that brings the sync to the grid."""
    sync_leak_from_v: Number = 0.0
    gas_a: Number = 0.0
    """Current out of the grid by gas or grid emission."""


@dataclass(frozen=True)
class BlockingOscillator:
    """What the oscillator does; frequency 0 where it stands still."""

    frequency_hz: Number
    pulse_s: Number
    fire_v: Number
    """Grid voltage at which it fires."""
    lowest_v: Number
    """Grid voltage right after the pulse, ringing left out."""
    rest_v: Number
    """Where the grid would come to rest."""
    peak_v: Number
    """Highest grid voltage in the pulse."""
    mean_grid_v: Number
    """What a meter of very high resistance shows at the grid."""
    plate_high_v: Number
    """Foot of the plate winding when it fires."""
    plate_low_v: Number
    """Foot of the plate winding after the pulse."""
    sawtooth_v: Number
    mean_plate_v: Number


@dataclass(frozen=True)
class HoldRange:
    """Rates at both ends of the hold control."""

    lowest_hz: Number
    highest_hz: Number


@dataclass(frozen=True)
class _Fire:
    grid: Array
    current: Array
    drained: Array
    """By how much the tube has drawn down the sawtooth capacitor before it fires."""
    alive: NDArray[np.bool_]


@dataclass(frozen=True)
class _Cycle:
    fire: _Fire
    after: Pulse
    recharge: Array
    reached: Array
    """Voltage of the sawtooth capacitor after the recharge."""


@formula(
    "1 / (grid_ohm * grid_f * ln((rest_v - lowest_v) / (rest_v - fire_v)) + pulse_s), fire_v where, with"
    " n = coupling * turns_ratio, n * transconductance = 1 / loss_ohm + 1 / plate_resistance + n ** 2 / grid_ohm"
    " + 2.6 * sqrt(stray_f / plate_winding_h)"
)
def blocking_oscillator(parts: BlockingParts, tube: TubeModel, supply_v: Number) -> BlockingOscillator:
    r"""Return rate and voltages of a free-running blocking oscillator.

    .. math:: T = R C \ln\frac{V_r - V_0}{V_r - V_f} + t_p, \quad
        n g_m(V_f) = \frac{1}{R_l} + \frac{1}{r_a} + \frac{n^2}{R_g} + 2.6 \sqrt{C_s / L}

    Args:
        parts: The parts, see :class:`BlockingParts`; values > 0 but for return, leak source and gas.
        tube: The tube, see :class:`TubeModel`, its emission included.
        supply_v: Supply of the plate, or of the charging resistor [V], > 0.
    Returns:
        :class:`BlockingOscillator`, its fields floats or arrays; rate and sawtooth 0 where it stands still.
    Raises:
        OutOfRange: A part, the supply or a number of the tube is out of its bounds.
    Valid: 10 % of a circuit simulation with the same tube curves (reached: 0.5 % over 14 sets of parts).
    Source: puckle-1951 for the circuit; firing point and pulse derived here.
    Example: 12AU7 at 250 V, 1.2 M and 0.01 uF, a transformer of 3 H with as many turns on the grid side.
        >>> triode = TubeModel(20.01, 1.238, 1291.0, 89.4, 383.2, contact_v=0.094)
        >>> parts = BlockingParts(grid_ohm=1.2e6, grid_f=0.01e-6, plate_winding_h=3.0)
        >>> round(blocking_oscillator(parts, triode, 250.0).frequency_hz, 0)
        30.0
    """
    loop, kind = _loop(parts, supply_v), checked_tube(tube)
    found = _settled(loop, kind)
    wound = (loop.plate_ohm < _OPEN_OHM) & (loop.winding < _OPEN_OHM)
    blocks = found.after.stored > _LEAST_BLOCKING * np.abs(found.fire.grid)
    alive = found.fire.alive & found.after.took & blocks & wound
    return _shown(loop, kind, found, alive)


@formula("rate at most_ohm and at least_ohm")
def hold_range(rate: Callable[[Number], Number], least_ohm: Number, most_ohm: Number) -> HoldRange:
    r"""Return the rates at both ends of a hold control.

    Args:
        rate: Function that gives the rate [Hz] of the oscillator for a timing resistance.
        least_ohm: Timing resistance with the control at one end [ohm], > 0.
        most_ohm: Timing resistance with the control at the other [ohm], > 0.
    Returns:
        :class:`HoldRange`; the lower rate is 0 where the oscillator stands still at an end.
    Raises:
        OutOfRange: A resistance is not positive.
    Source: definition.
    Example: a rate that goes with the inverse of the resistance.
        >>> hold_range(lambda ohm: 60e6 / ohm, 0.8e6, 1.5e6)
        HoldRange(lowest_hz=40.0, highest_hz=75.0)
    """
    positive(least_ohm=least_ohm, most_ohm=most_ohm)
    ends = np.asarray(rate(least_ohm)), np.asarray(rate(most_ohm))
    return HoldRange(plain(np.minimum(*ends)), plain(np.maximum(*ends)))


def _loop(parts: BlockingParts, supply_v: Number) -> Loop:
    """Check everything and fold the leaks into sources and resistors."""
    values = dict(vars(parts))
    back, from_v = any_sign(
        grid_return_v=values.pop("grid_return_v"), sync_leak_from_v=values.pop("sync_leak_from_v")
    )
    (gas,) = not_negative(gas_a=values.pop("gas_a"))
    (coupling,) = share(coupling=values.pop("coupling"))
    p = dict(zip(values, positive(**values), strict=True))
    (supply,) = positive(supply_v=supply_v)
    grid = 1.0 / (1.0 / p["grid_ohm"] + 1.0 / p["grid_capacitor_leak_ohm"] + 1.0 / p["sync_leak_ohm"])
    rest = grid * (back / p["grid_ohm"] + from_v / p["sync_leak_ohm"] + gas)
    bleed = p["sawtooth_leak_ohm"] / (p["sawtooth_leak_ohm"] + p["charging_ohm"])
    # less than a few microseconds of ringing is nothing to a cycle, and costs the steps that follow the pulse
    leakage = p["plate_winding_h"] * p["turns_ratio"] ** 2 * (1.0 - coupling**2)
    values_ = (
        supply * bleed,
        p["charging_ohm"] * bleed,
        p["sawtooth_f"],
        p["peaking_ohm"],
        p["plate_winding_h"],
        p["plate_winding_ohm"],
        p["turns_ratio"] * coupling,
        np.maximum(leakage, (2e-6) ** 2 / p["grid_f"]),
        p["grid_winding_ohm"],
        p["loss_ohm"],
        p["stray_f"],
        p["grid_f"],
        grid,
        rest,
    )
    return Loop(*(np.array(value) for value in np.broadcast_arrays(*values_)))


def _settled(loop: Loop, tube: TubeModel) -> _Cycle:
    """Return the cycle whose sawtooth capacitor gets back to where it fired."""
    full = loop.supply * 1.0
    if np.all(loop.charging * loop.sawtooth < 0.1 * loop.grid_ohm * loop.grid):
        return _cycle(loop, tube, full)
    before, now = 0.35 * full, 0.7 * full
    miss = _cycle(loop, tube, before).reached - before
    for _ in range(_TRIALS - 1):
        found = _cycle(loop, tube, now)
        last, miss = miss, found.reached - now
        steep = np.where(np.abs(miss - last) < 1e-9, -1e9, miss - last)
        before, now = now, np.clip(now - miss * (now - before) / steep, 0.02 * full, full)
    return found


def _cycle(loop: Loop, tube: TubeModel, high: Array) -> _Cycle:
    """Return one cycle that begins with the sawtooth capacitor at ``high``."""
    fire = _fire(loop, tube, high)
    after = _let_go(loop, pulse(loop, tube, fire.grid, high, fire.current))
    up, down = loop.rest - fire.grid, loop.rest + after.stored
    recharge = loop.grid_ohm * loop.grid * np.log(np.maximum(down, 1e-9) / np.maximum(up, 1e-9))
    left = np.exp(-np.clip(recharge / (loop.charging * loop.sawtooth), 0.0, 700.0))
    reached = loop.supply - (loop.supply - after.low) * left - fire.drained
    return _Cycle(fire, after, recharge, np.maximum(reached, after.low))


def _let_go(loop: Loop, after: Pulse) -> Pulse:
    """Return the pulse with what the winding's kick back at its end takes from the grid capacitor."""
    kick = loop.turns * loop.inductance * np.maximum(after.magnetizing, 0.0) / (loop.grid_ohm * loop.grid)
    return replace(after, stored=after.stored - np.minimum(kick, 0.3 * np.abs(after.stored)))


def _fire(loop: Loop, tube: TubeModel, high: Array) -> _Fire:
    """Return where the tube fires: gain over loss by so much that the winding grows instead of ringing."""
    n, unit = loop.turns, loop.grid_ohm * loop.grid
    outrun = _OUTRUN * np.sqrt(loop.stray / loop.inductance)
    top, kept = np.minimum(loop.rest, -0.02), loop.grid / (loop.grid + _INPUT_F)

    def loss(grid: Array) -> Array:
        now, into = currents(tube, high, grid), grid_current(tube, grid)
        load = 1.0 / loop.loss + now.by_plate + n * n * (1.0 / loop.grid_ohm + into.slope)
        return np.asarray(load + outrun - n * kept * now.by_grid)

    grid = quick_root(loss, -0.5 * high - 5.0, top + 0.0 * high, within=1e-5)
    now = currents(tube, high, grid)
    folding = unit * now.plate / np.maximum(now.by_grid * (loop.rest - grid), 1e-9)
    drained = np.minimum(now.plate * np.minimum(folding, unit) / loop.sawtooth, 0.3 * high)
    return _Fire(grid, now.plate, drained, loss(top) < 0.0)


def _shown(loop: Loop, tube: TubeModel, found: _Cycle, alive: NDArray[np.bool_]) -> BlockingOscillator:
    period = np.where(alive, found.recharge + found.after.time, 1.0)
    unit = loop.grid_ohm * loop.grid
    swing = np.where(alive, loop.rest + found.after.stored, 0.0)
    mean = loop.rest - swing * unit / period * -np.expm1(-period / unit)
    high = np.where(alive, found.reached, 0.0)
    low = np.where(alive, found.after.low, 0.0)
    still, plate = _still(loop, tube, alive)
    either = (
        (1.0 / period, 0.0),
        (found.after.time, 0.0),
        (found.fire.grid, found.fire.grid),
        (-found.after.stored, still),
        (loop.rest, loop.rest),
        (found.after.peak, still),
        (mean, still),
        (high, plate),
        (low, plate),
        (high - low, 0.0),
        (0.5 * (high + low), plate),
    )
    return BlockingOscillator(*(plain(np.where(alive, a, b)) for a, b in either))


def _still(loop: Loop, tube: TubeModel, alive: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return grid and plate of an oscillator that stands still."""
    if np.all(alive):
        return loop.rest, loop.supply
    grid = settled_grid(tube, loop.rest, loop.grid_ohm)

    def left(plate: Array) -> Array:
        return np.asarray((loop.supply - plate) / loop.charging - currents(tube, plate, grid).plate)

    return grid, quick_root(left, 0.0 * loop.supply, loop.supply)
