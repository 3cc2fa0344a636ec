# SPDX-License-Identifier: MIT
"""One cycle of a cathode-coupled multivibrator at field rate: recharge with its slow end, and the discharge.

The charging current of a field-rate sawtooth is so small that the second tube takes a good part of it before the
loop gain comes to one; so the end of the recharge is followed step by step.
Limits: see :mod:`vertical_multivibrator`.
Sources: derived here; checked against circuit simulation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import Currents, GridCurrent, TubeModel, currents, grid_current
from backporch.engine.circuits.tube_grid import settled_grid

__all__ = ["Discharge", "Pair", "Recharge", "Rest", "discharge", "recharge", "rest"]

_INPUT_F = 10e-12
"""Of the second grid and its wiring: an open coupling capacitor hands on no more than its share."""

_UP = 16
"""Steps from the first trace of current to a loop gain of one."""
_MOST_UP = 40
_DOWN = 18
"""Strides along the fall of the sawtooth; a stride over its end is halved and tried again."""


@dataclass(frozen=True)
class Pair:
    """Both tubes and the parts with the leaks folded in."""

    first: TubeModel
    second: TubeModel
    supply: Array
    control: Array
    load: Array
    coupling: Array
    grid_ohm: Array
    rest: Array
    """Where the second grid would come to rest."""
    cathode: Array
    charge_from: Array
    charging: Array
    sawtooth: Array


@dataclass(frozen=True)
class Rest:
    """The first tube on, the second off."""

    plate: Array
    cathode: Array
    source: Array
    """Resistance of the first plate as the coupling capacitor sees it."""
    gain: Array
    """Volts between second grid and cathode for each ampere of the second tube."""


@dataclass(frozen=True)
class Recharge:
    """How the recharge ends."""

    time: Array
    grid: Array
    plate: Array
    lowest: Array
    alive: NDArray[np.bool_]


@dataclass(frozen=True)
class Discharge:
    """How the discharge ends."""

    time: Array
    plate: Array
    stored: Array
    """Voltage of the coupling capacitor."""
    ends: NDArray[np.bool_]


@dataclass(frozen=True)
class _Node:
    """Both tubes while the second conducts; ``bias`` is the second grid against the cathode."""

    bias: Array
    cathode: Array
    rate: Array
    """How fast the sawtooth falls."""
    through: Array
    """Current through the coupling capacitor."""
    margin: Array
    """How far the loop is from running back."""


def rest(pair: Pair) -> Rest:
    """Return the state for most of the field.

    Args:
        pair: Both tubes and the parts as arrays, see :class:`Pair`; not checked here.
    Returns:
        :class:`Rest`, arrays in volts and ohms.
    Raises:
        ValueError: The parts do not go together in shape.
    Source: balance of the first stage with its cathode resistor, derived here.
    Example: first plate and cathodes.
        >>> tube = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = (250.0, 0.0, 47e3, 0.01e-6, 1e6, 0.0, 1e3, 300.0, 1.5e6, 0.1e-6)
        >>> pair = Pair(tube, tube, *map(np.array, parts))
        >>> state = rest(pair)
        >>> round(float(state.plate)), round(float(state.cathode), 1)
        (105, 3.1)
    """

    def left(current: Array) -> Array:
        foot = current * pair.cathode
        plate = pair.supply - current * pair.load - foot
        return np.asarray(currents(pair.first, plate, np.minimum(pair.control - foot, 0.0)).plate - current)

    current = quick_root(left, 0.0 * pair.supply, pair.supply / (pair.load + pair.cathode))
    foot, plate = current * pair.cathode, pair.supply - current * pair.load
    now = currents(pair.first, plate - foot, np.minimum(pair.control - foot, 0.0))
    both = now.by_grid + now.by_plate
    source = 1.0 / (1.0 / pair.load + now.by_plate / (1.0 + both * pair.cathode))
    load = 1.0 / (1.0 / pair.load + 1.0 / pair.grid_ohm)
    slope = both / (1.0 + now.by_plate * load)
    handed = pair.coupling / (pair.coupling + _INPUT_F)
    gain = (load * slope * handed - 1.0) * pair.cathode / (1.0 + slope * pair.cathode)
    return Rest(plate, foot, source, np.asarray(gain))


def recharge(pair: Pair, state: Rest, plate: Array, stored: Array) -> Recharge:
    """Return when and where the second tube fires.

    Args:
        pair: Both tubes and the parts as arrays, see :class:`Pair`; not checked here.
        state: What :func:`rest` gives.
        plate: Second plate when the recharge begins [V], an array.
        stored: Voltage of the coupling capacitor then [V], an array.
    Returns:
        :class:`Recharge`, time [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: exponentials of the coupling and the sawtooth, derived here.
    Example: in milliseconds.
        >>> tube = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = (250.0, 0.0, 47e3, 0.01e-6, 1e6, 0.0, 1e3, 300.0, 1.5e6, 0.1e-6)
        >>> pair = Pair(tube, tube, *map(np.array, parts))
        >>> state = rest(pair)
        >>> fired = recharge(pair, state, np.array(40.0), state.plate + 60.0)
        >>> round(float(fired.time) * 1e3, 1), bool(fired.alive)
        (31.7, True)
    """
    unit, rise = pair.coupling * (pair.grid_ohm + state.source), pair.charging * pair.sawtooth
    kept = pair.grid_ohm / (pair.grid_ohm + state.source)
    lowest = pair.rest + (state.plate - stored - pair.rest) * kept

    def grid(time: Array) -> Array:
        return np.asarray(pair.rest + (lowest - pair.rest) * np.exp(-time / unit))

    def saw(time: Array) -> Array:
        return np.asarray(pair.charge_from - (pair.charge_from - plate) * np.exp(-time / rise))

    def early(time: Array) -> Array:
        now = currents(pair.second, saw(time) - state.cathode, grid(time) - state.cathode)
        return np.asarray(0.02 * (pair.charge_from - saw(time)) / pair.charging - now.plate)

    start = quick_root(early, 0.0 * unit, 12.0 * (unit + rise), within=1e-6)
    return _end_of_recharge(pair, state, start, grid(start) - state.cathode, saw(start), lowest)


def _end_of_recharge(pair: Pair, state: Rest, time: Array, bias: Array, plate: Array, lowest: Array) -> Recharge:
    unit, rise = pair.coupling * (pair.grid_ohm + state.source), pair.charging * pair.sawtooth

    def second(v: Array) -> Currents:
        return currents(pair.second, plate - state.cathode, v)

    top = quick_root(lambda v: 1.0 - state.gain * second(v).by_grid, bias, bias * 0.0 + 1.0, within=1e-4)
    step, done = np.maximum((top - bias) / _UP, 1e-3), np.zeros(np.shape(bias), dtype=bool)
    for _ in range(_MOST_UP):
        now = second(bias)
        drift = (pair.rest - (bias + state.cathode - state.gain * now.plate)) / unit
        saw = (pair.charge_from - plate) / rise - now.plate / pair.sawtooth
        open_loop = 1.0 - state.gain * now.by_grid
        done = done | (open_loop <= 0.0) | (drift <= 0.0)
        if np.all(done):
            break
        speed = (drift + state.gain * now.by_plate * saw) / np.maximum(open_loop, 1e-3)
        spent = np.where(done, 0.0, step / np.maximum(speed, 1e-6))
        end = pair.charge_from - now.plate * pair.charging
        plate = end + (plate - end) * np.exp(-np.minimum(spent / rise, 700.0))
        time, bias = time + spent, bias + np.where(done, 0.0, step)
    alive = state.gain * second(bias).by_grid >= 0.95
    return Recharge(time, np.asarray(bias + state.cathode), np.asarray(plate), lowest, np.asarray(alive))


def discharge(pair: Pair, state: Rest, fired: Recharge) -> Discharge:
    """Follow the fall of the sawtooth until the first tube takes over again.

    Args:
        pair: Both tubes and the parts as arrays, see :class:`Pair`; not checked here.
        state: What :func:`rest` gives.
        fired: What :func:`recharge` gives.
    Returns:
        :class:`Discharge`, time [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: the loop of both tubes, followed in steps here.
    Example: in milliseconds.
        >>> tube = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = (250.0, 0.0, 47e3, 0.01e-6, 1e6, 0.0, 1e3, 300.0, 1.5e6, 0.1e-6)
        >>> pair = Pair(tube, tube, *map(np.array, parts))
        >>> state = rest(pair)
        >>> fall = discharge(pair, state, recharge(pair, state, np.array(40.0), state.plate + 60.0))
        >>> round(float(fall.time) * 1e3, 2), bool(fall.ends)
        (0.32, True)
    """
    plate, stored, time = fired.plate * 1.0, state.plate - fired.grid, 0.0 * fired.plate
    node = _first_node(pair, plate, stored)
    stride, stays = plate / 12.0, np.zeros(np.shape(plate), dtype=bool)
    for _ in range(_DOWN):
        lower = np.maximum(plate - stride, 0.01 * stride)
        ahead = stored + (plate - lower) / node.rate * node.through / pair.coupling
        after = _solved(pair, lower, ahead, node.bias, node.cathode)
        stays = (after.rate <= 1.0) & (after.margin > 0.0)
        good = (after.margin > 0.0) & ~stays
        spent = 0.5 * (plate - lower) * (1.0 / node.rate + 1.0 / after.rate)
        time = time + np.where(good, spent, 0.0)
        plate, stored = np.where(good, lower, plate), np.where(good, ahead, stored)
        node = _Node(
            *(np.where(good, a, b) for a, b in zip(vars(after).values(), vars(node).values(), strict=True))
        )
        stride = np.where(good, stride, 0.5 * stride)
    return Discharge(time, plate, stored, np.asarray(~stays & (time > 0.0)))


def _first_node(pair: Pair, plate: Array, stored: Array) -> _Node:
    """Return the state right after firing, the first tube cut off by the cathode."""
    conductance = 1.0 / pair.load + 1.0 / pair.grid_ohm

    def bias(foot: Array) -> Array:
        source = (pair.supply - stored - foot) / pair.load + (pair.rest - foot) / pair.grid_ohm
        return settled_grid(pair.second, source / conductance, 1.0 / conductance + 0.0 * source)

    def left(foot: Array) -> Array:
        v = bias(foot)
        drawn = currents(pair.second, plate - foot, v).plate + grid_current(pair.second, v).current
        return np.asarray(drawn - foot / pair.cathode)

    foot = quick_root(left, 0.0 * plate, plate + 1.0, within=1e-6)
    return _solved(pair, plate, stored, bias(foot), foot)


def _solved(pair: Pair, plate: Array, stored: Array, bias: Array, foot: Array) -> _Node:
    """Return the state for a sawtooth and a coupling capacitor, by Newton's rule from near it."""
    for _ in range(4):
        one, two, into = _tubes(pair, plate, stored, bias, foot)
        at_plate, at_cathode = _sums(pair, stored, bias, foot, one, two, into)
        a = -1.0 / pair.load - one.by_plate - into.slope - 1.0 / pair.grid_ohm
        b = -1.0 / pair.load + one.by_grid - 1.0 / pair.grid_ohm
        c = -one.by_plate - two.by_grid - into.slope
        d = 1.0 / pair.cathode + one.by_grid + two.by_plate
        whole = a * d - b * c
        safe = np.where(np.abs(whole) < 1e-12, -1e-12, whole)
        bias = bias - np.clip((d * at_plate - b * at_cathode) / safe, -5.0, 5.0)
        foot = np.maximum(foot - np.clip((a * at_cathode - c * at_plate) / safe, -10.0, 10.0), 0.0)
    one, two, into = _tubes(pair, plate, stored, bias, foot)
    at_plate, at_cathode = _sums(pair, stored, bias, foot, one, two, into)
    far = np.abs(at_plate) * pair.load + np.abs(at_cathode) * pair.cathode
    rate = np.maximum((two.plate - (pair.charge_from - plate) / pair.charging) / pair.sawtooth, 1.0)
    through = into.current + (bias + foot - pair.rest) / pair.grid_ohm
    margin = np.where(far < 0.05, -whole * pair.load * pair.cathode, -1.0)
    return _Node(*(np.asarray(x) for x in (bias, foot, rate, through, margin)))


def _tubes(
    pair: Pair, plate: Array, stored: Array, bias: Array, foot: Array
) -> tuple[Currents, Currents, GridCurrent]:
    one = currents(pair.first, stored + bias, np.minimum(pair.control - foot, 0.0))
    return one, currents(pair.second, plate - foot, bias), grid_current(pair.second, bias)


def _sums(
    pair: Pair, stored: Array, bias: Array, foot: Array, one: Currents, two: Currents, into: GridCurrent
) -> tuple[Array, Array]:
    """Return the sums of currents at the first plate and at the cathodes, zero where the state is right."""
    second_grid = bias + foot
    at_plate = (pair.supply - stored - second_grid) / pair.load - one.plate - into.current
    at_plate = at_plate - (second_grid - pair.rest) / pair.grid_ohm
    return np.asarray(at_plate), np.asarray(foot / pair.cathode - one.plate - two.plate - into.current)
