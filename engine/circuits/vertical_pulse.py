# SPDX-License-Identifier: MIT
"""The pulse of a blocking oscillator, step by step: what it leaves on the grid and on the sawtooth capacitor.

While the grid conducts, its current is held by the leakage inductance of the transformer, so that at each moment
there is one plate voltage at which the currents add up.  When it has died away the tube still conducts until the
loop can no longer feed the transformer.
Limits: no saturation of the core; the flip itself takes no time.
Sources: derived here; checked against circuit simulation (see tests/benchmarks/reference_table/vertical.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.elementwise import absolute, clip, every, least, lone_first, most, no, where
from backporch.engine.circuits.quick_root import lone_root
from backporch.engine.circuits.tube_curves import TubeModel, currents, grid_current

__all__ = ["Loop", "Pulse", "pulse"]

_STEPS = 85
_PER_HALF_WAVE = 16
"""Steps in half a wave of grid capacitor and leakage inductance."""
_FINEST = 0.25
"""Shortest step, while the grid current dies away and the end of the pulse draws near, over the longest."""
_GROWTH = 1.4
"""Growth of the step once the grid current has died away."""
_NEWTON = 3
_WEIGHT = 0.55
"""Of the end of a step against its beginning; a half would be exact for a wave, more damps what is too fast."""
_SPREAD_V = 0.13


@dataclass(frozen=True)
class Loop:
    """The parts with the leaks folded in."""

    supply: Array
    charging: Array
    sawtooth: Array
    peaking: Array
    inductance: Array
    plate_ohm: Array
    turns: Array
    leakage: Array
    """Leakage inductance, seen from the grid."""
    winding: Array
    loss: Array
    stray: Array
    grid: Array
    """Grid capacitor."""
    grid_ohm: Array
    rest: Array


@dataclass(frozen=True)
class Pulse:
    """What the pulse leaves behind."""

    time: Array
    stored: Array
    """Voltage of the grid capacitor."""
    low: Array
    """Voltage of the sawtooth capacitor."""
    peak: Array
    """Highest grid voltage."""
    magnetizing: Array
    """Current of the plate winding when the tube lets go."""
    took: NDArray[np.bool_]
    """Whether there was a pulse at all."""


class _State(NamedTuple):
    stored: Array
    saw: Array
    magnetizing: Array
    into: Array
    """Grid current."""
    push: Array
    """Voltage left for the leakage inductance."""
    step: Array


class _Trial(NamedTuple):
    """The end of a step for an assumed grid voltage."""

    into: Array
    stored: Array
    across: Array
    """Voltage of the plate winding."""
    saw: Array
    plate: Array
    plate_slope: Array
    demand: Array
    excess: Array
    """Plate current of the tube over what the loop asks for."""
    slope: Array


def pulse(loop: Loop, tube: TubeModel, grid: Array, high: Array, current: Array) -> Pulse:
    """Follow the pulse that begins at a grid voltage, a sawtooth voltage and a plate current.

    Args:
        loop: The parts as arrays, see :class:`Loop`; not checked here.
        tube: The tube.
        grid: Grid voltage [V], an array.
        high: Voltage of the sawtooth capacitor [V], an array.
        current: Magnetizing current of the plate winding [A], an array.
    Returns:
        :class:`Pulse`, time [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: puckle-1951 for the circuit; followed in steps here.
    Example: in microseconds.
        >>> tube = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = (250.0, 1e-3, 1e-6, 1e-3, 8.0, 300.0, 4.0, 0.5, 300.0, 60e3, 100e-12, 0.01e-6, 1e6, 0.0)
        >>> made = pulse(Loop(*map(np.array, parts)), tube, np.array(-12.0), np.array(250.0), np.array(1e-3))
        >>> round(float(made.time) * 1e6), bool(made.took)
        (501, True)
    """
    given = (*vars(loop).values(), *vars(tube).values(), grid, high, current)
    shapes = [np.shape(value) for value in given]

    def alone() -> Pulse:
        plain = [float(np.ravel(value)[0]) for value in given]
        count, last = len(vars(loop)), len(plain) - 3
        lone: Any = (Loop(*plain[:count]), TubeModel(*plain[count:last]), *plain[last:])  # type: ignore[arg-type]
        made = vars(_followed(*lone)).values()
        return Pulse(*(np.reshape(np.asarray(value), np.broadcast_shapes(*shapes)) for value in made))

    single = all(np.prod(shape) == 1 for shape in shapes)
    return lone_first(alone, lambda: _followed(loop, tube, grid, high, current), single)


def _followed(loop: Loop, tube: TubeModel, grid: Array, high: Array, current: Array) -> Pulse:
    """Follow the pulse step by step, a batch in arrays or a single set in plain numbers."""
    step = np.pi * (loop.leakage * loop.grid) ** 0.5 / _PER_HALF_WAVE
    state = _State(-grid, high, current, 0.0 * grid, loop.turns * 0.95 * high + grid, step)
    top = most(_grid_at(tube, step * loop.turns * high / loop.leakage), 1.0) + 1.0
    start = most(grid, -2.0) + 0.0 * top
    now = lone_root(lambda v: _trial(loop, tube, state, v).excess, start, top, steps=20, within=1e-4)
    trial = _trial(loop, tube, state, now)
    took = trial.slope < 0.0
    ended, time, peak, largest = no(took), 0.0 * step, now, trial.into
    for _ in range(_STEPS):
        time = time + where(ended, 0.0, state.step)
        peak, largest = where(ended, peak, most(peak, now)), most(largest, trial.into)
        state = _moved(loop, state, trial, now, (ended, largest, step))
        if every(ended):
            break
        now = _next(loop, tube, state, now)
        trial = _trial(loop, tube, state, now)
        quiet = trial.into < least(1e-5, 0.01 * largest)
        ended = ended | (quiet & ((trial.slope >= 0.0) | (now < -6.0) | _astray(trial)))
    return Pulse(time, state.stored, most(state.saw, 0.0), peak, state.magnetizing, took)


def _astray(trial: _Trial) -> NDArray[np.bool_]:
    return cast("NDArray[np.bool_]", absolute(trial.excess) > 1e-4 + 0.2 * absolute(trial.demand))


def _grid_at(tube: TubeModel, current: Array) -> Array:
    """Return the grid voltage that drives a grid current."""
    scale = most(tube.grid_perv * tube.emission_share, 1e-12)
    excess = most(current / scale, 1e-14) ** (2.0 / 3.0) / _SPREAD_V
    plain = type(excess) is float
    rest = math.log(-math.expm1(-excess)) if plain else np.log(-np.expm1(-excess))
    return cast(Array, _SPREAD_V * (excess + rest) - tube.grid_contact_v)


def _trial(loop: Loop, tube: TubeModel, state: _State, grid: Array) -> _Trial:
    """Return the end of a step at which the grid stands at ``grid``."""
    n, h, late, early = loop.turns, state.step, _WEIGHT, 1.0 - _WEIGHT
    into = grid_current(tube, grid)
    stored = state.stored + h * (late * into.current + early * state.into) / loop.grid
    needed = (loop.leakage * (into.current - state.into) / h - early * state.push) / late
    across = (needed + loop.winding * into.current + grid + stored) / n
    by_across = (loop.leakage / (h * late) + loop.winding + h * late / loop.grid) * into.slope + 1.0
    across_slope = by_across / n
    demand = state.magnetizing + (h / loop.inductance + 1.0 / loop.loss) * across + n * into.current
    demand_slope = (h / loop.inductance + 1.0 / loop.loss) * across_slope + n * into.slope
    held = 1.0 / (1.0 + h / (loop.charging * loop.sawtooth))
    saw = (state.saw + h * (loop.supply / loop.charging - demand) / loop.sawtooth) * held
    series = loop.peaking + loop.plate_ohm
    plate = saw - series * demand - across
    plate_slope = -(h / loop.sawtooth * held + series) * demand_slope - across_slope
    now = currents(tube, plate, grid)
    slope = now.by_grid + now.by_plate * plate_slope - demand_slope
    return _Trial(into.current, stored, across, saw, plate, plate_slope, demand, now.plate - demand, slope)


def _next(loop: Loop, tube: TubeModel, state: _State, grid: Array) -> Array:
    """Return the grid voltage at the end of the next step."""
    guess = state.into + state.step * state.push / loop.leakage
    grid = where(guess > 1e-4, _grid_at(tube, most(guess, 1e-9)), grid)
    for _ in range(_NEWTON):
        trial = _trial(loop, tube, state, grid)
        within = -trial.excess / where(trial.slope < 0.0, trial.slope, -1e9)
        below = (0.02 * loop.supply - trial.plate) / trial.plate_slope
        grid = grid + clip(where(trial.plate > 0.0, within, below), -8.0, 8.0)
    return grid


def _moved(
    loop: Loop, state: _State, trial: _Trial, grid: Array, course: tuple[NDArray[np.bool_], Array, Array]
) -> _State:
    """Return the state at the end of a step; where the pulse has ended it stays as it was.

    The course tells which have ended, the largest grid current so far and the longest step.
    """
    ended, largest, longest = course

    def kept(new: Array, old: Array) -> Array:
        return cast(Array, where(ended, old, new))

    stored, into = kept(trial.stored, state.stored), kept(trial.into, 0.0 * trial.into)
    push = loop.turns * trial.across - stored - loop.winding * into - grid
    falls = into < 0.8 * state.into
    closely = where(falls & (state.step > _FINEST * longest), 0.5, 1.0)
    more = where(into < 0.03 * largest, _GROWTH, closely)
    return _State(
        stored,
        kept(trial.saw, state.saw),
        kept(state.magnetizing + state.step * trial.across / loop.inductance, state.magnetizing),
        into,
        push,
        state.step * more,
    )
