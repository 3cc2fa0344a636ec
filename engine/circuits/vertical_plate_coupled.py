# SPDX-License-Identifier: MIT
"""Half a cycle of a plate-coupled multivibrator: one tube has just fired, the other is cut off and recovers.

The grid of the tube that conducts is held by its own grid current while the other plate recovers; its plate
current dwindles with it, and the rise of its plate helps the cut-off grid up.
Limits: see :mod:`vertical_multivibrator`.
Sources: derived here; checked against circuit simulation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import TubeModel, currents, grid_current
from backporch.engine.circuits.tube_grid import settled_grid

__all__ = ["HalfCycle", "Side", "half_cycle"]

_PLACES = np.array([0.0, 0.35, 0.8, 1.4, 2.2, 3.2, 4.5, 6.5, 10.0])
"""Moments at which the conducting tube is looked at, in time constants of the other plate's recovery."""

_INPUT_F = 10e-12
"""Of a grid and its wiring: an open coupling capacitor hands on no more than its share."""

_HASTE = 0.9
"""How far the tail of the curve hastens the firing, in the time the grid takes for a fold of e of current."""


@dataclass(frozen=True)
class Side:
    """One tube with its parts; ``coupling`` goes from its plate to the other's grid."""

    tube: TubeModel
    supply: Array
    load: Array
    coupling: Array
    grid_ohm: Array
    rest: Array
    """Where its grid would come to rest without grid current."""


@dataclass(frozen=True)
class HalfCycle:
    """How the half cycle ends."""

    time: Array
    fire: Array
    lowest: Array
    """Grid of the tube that was cut off, at the beginning."""
    stored_on: Array
    """Voltage of the capacitor at the conducting plate."""
    stored_off: Array
    """Voltage of the capacitor at the other plate."""
    plate: Array
    """Plate of the tube that conducts, at the end."""
    bottom: Array
    """The same at the beginning."""
    high: Array
    """Plate of the tube that is cut off, at the end."""
    alive: NDArray[np.bool_]


@dataclass(frozen=True)
class _Track:
    """Recovery of the plate that is cut off, and with it of the conducting tube."""

    end: Array
    swing: Array
    unit: Array
    times: Array
    plates: Array
    slopes: Array
    """Internal resistance of the conducting stage."""


def half_cycle(on: Side, off: Side, stored_on: Array, stored_off: Array, guess: Array) -> HalfCycle:
    """Return the half cycle in which ``on`` conducts; ``guess`` is about how long it lasts.

    Args:
        on: The tube that conducts, with its parts as arrays, see :class:`Side`; not checked here.
        off: The tube that is cut off.
        stored_on: Voltage of the capacitor at the conducting plate when it begins [V], an array.
        stored_off: Voltage of the other capacitor then [V], an array.
        guess: About how long it lasts [s], an array.
    Returns:
        :class:`HalfCycle`, time [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: puckle-1951 for the circuit; exponentials and the loop gain derived here.
    Example: in milliseconds.
        >>> tube = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> side = Side(tube, *map(np.array, (250.0, 47e3, 0.01e-6, 1e6, 0.0)))
        >>> half = half_cycle(side, side, np.array(60.0), np.array(200.0), np.array(0.01))
        >>> round(float(half.time) * 1e3, 2), round(float(half.fire), 1)
        (0.23, -20.1)
    """
    track = _track(on, off, stored_off)
    held, plate, high = _moment(on, off, track, guess)
    fire, alive = _fire(on, off, held, plate, high)
    first = track.plates[0] - stored_on - off.rest

    def below(time: Array) -> Array:
        return np.asarray(fire - off.rest - _recovered(on, off, track, first, time))

    unit = (off.grid_ohm + track.slopes[-1]) * on.coupling
    time = quick_root(below, 0.0 * unit, 12.0 * unit, within=1e-6)
    time = time - np.minimum(_HASTE * unit * _fold(off, high, fire), 0.5 * time)
    held, plate, high = _moment(on, off, track, time)
    level = _recovered(on, off, track, first, time)
    plate = plate - level * track.slopes[-1] / off.grid_ohm
    gone = np.exp(-time / track.unit)
    lowest = off.rest + first / (1.0 + track.slopes[0] / off.grid_ohm)
    stored = plate - off.rest - level
    return HalfCycle(
        time,
        fire,
        lowest,
        stored,
        track.end - track.swing * gone,
        plate,
        track.plates[0],
        high,
        alive & (lowest < fire),
    )


def _fold(off: Side, high: Array, fire: Array) -> Array:
    """Return the time in which the current grows by e at the firing point, over the time constant of the grid."""
    now = currents(off.tube, high, fire)
    return np.asarray(now.plate / np.maximum(now.by_grid * np.maximum(off.rest - fire, 1e-6), 1e-15))


def _track(on: Side, off: Side, stored: Array) -> _Track:
    """Return how plate and grid of the conducting tube go while the other plate recovers."""
    start = _held(on, off, stored)
    end = off.supply - settled_grid(on.tube, on.rest, on.grid_ohm)
    flow = np.maximum((off.supply - stored - start) / off.load, 1e-9)
    slow = np.maximum(start - (off.supply - end), 0.0) / flow
    unit = (off.load + slow) * off.coupling
    times = _PLACES.reshape((-1,) + (1,) * np.ndim(unit)) * unit
    grids = _held(on, off, end - (end - stored) * np.exp(-times / unit))
    plates = _plate(on, grids)
    slopes = 1.0 / (1.0 / on.load + currents(on.tube, plates, grids).by_plate)
    return _Track(end, end - stored, unit, times, plates, slopes)


def _held(on: Side, off: Side, stored: Array) -> Array:
    """Return the grid of the conducting tube, fed through the capacitor that holds ``stored``."""
    conductance = 1.0 / off.load + 1.0 / on.grid_ohm
    source = ((off.supply - stored) / off.load + on.rest / on.grid_ohm) / conductance
    return settled_grid(on.tube, source, 1.0 / conductance + 0.0 * source)


def _plate(on: Side, grid: Array) -> Array:
    """Return the plate on the load line for a grid voltage."""

    def left(plate: Array) -> Array:
        return np.asarray((on.supply - plate) / on.load - currents(on.tube, plate, grid).plate)

    return quick_root(left, 0.0 * grid, on.supply + 0.0 * grid, within=1e-5)


def _moment(on: Side, off: Side, track: _Track, time: Array) -> tuple[Array, Array, Array]:
    """Return grid and plate of the conducting tube and plate of the other at a time."""
    stored = track.end - track.swing * np.exp(-time / track.unit)
    grid = _held(on, off, stored)
    return grid, _plate(on, grid), np.asarray(stored + grid)


def _fire(on: Side, off: Side, grid: Array, plate: Array, high: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Return the grid voltage at which the loop gain is one, and whether it ever gets there."""
    now = currents(on.tube, plate, grid)
    load = 1.0 / on.load + now.by_plate + 1.0 / off.grid_ohm
    fixed = 1.0 / off.load + 1.0 / on.grid_ohm + grid_current(on.tube, grid).slope
    handed = on.coupling / (on.coupling + _INPUT_F) * off.coupling / (off.coupling + _INPUT_F)

    def lack(other: Array) -> Array:
        found = currents(off.tube, high, other)
        return np.asarray(fixed + found.by_plate - found.by_grid * now.by_grid * handed / load)

    top = np.minimum(off.rest, 0.0) - 0.02 + 0.0 * high
    return quick_root(lack, -0.4 * high - 2.0, top, within=1e-5), np.asarray(lack(top) < 0.0)


def _recovered(on: Side, off: Side, track: _Track, first: Array, time: Array) -> Array:
    """Return the cut-off grid, against where it rests, at a time."""
    begin, length = track.times[:-1], np.diff(track.times, axis=0)
    units = (off.grid_ohm + 0.5 * (track.slopes[1:] + track.slopes[:-1])) * on.coupling
    folds = np.concatenate([0.0 * length[:1], np.cumsum(length / units, axis=0)])
    gone = np.clip(time - begin, 0.0, length)
    last = (off.grid_ohm + track.slopes[-1]) * on.coupling
    total = np.sum(gone / units, axis=0) + np.maximum(time - track.times[-1], 0.0) / last
    middle = np.minimum(0.5 * (folds[1:] + folds[:-1]), 0.5 * (folds[:-1] + total))
    helped = gone / length * np.diff(track.plates, axis=0) * np.exp(np.minimum(middle - total, 0.0))
    level = first * np.exp(-total) + np.sum(helped, axis=0)
    return np.asarray(level / (1.0 + track.slopes[-1] / off.grid_ohm))
