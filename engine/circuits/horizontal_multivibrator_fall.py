# SPDX-License-Identifier: MIT
"""The fall of the sawtooth in a cathode-coupled multivibrator, followed until the first triode takes over again.

The steps behind :mod:`horizontal_multivibrator`; a batch as arrays, a single set as plain numbers.
Limits: see there.
Sources: koren-triode-form (key in kb/sources/horizontal.yaml); the rest is derived here.
"""

from __future__ import annotations

from typing import Any, NamedTuple, cast

import numpy as np

from backporch.engine.circuits.arguments import Array
from backporch.engine.circuits.elementwise import cosine, every, least, most, no, where
from backporch.engine.circuits.horizontal_multivibrator_cycle import (
    Circuit,
    Fall,
    Fire,
    Rest,
    Ring,
    current_alone,
    plate_current,
)
from backporch.engine.circuits.quick_root import lone_root

__all__ = ["discharge"]

_TRIES = 17
"""Strides along the fall of the sawtooth; a stride over its end is halved and tried again."""

_LAG = 0.1
"""How much longer than to its tipping point the fall lasts; found by circuit simulation of many sets of parts."""

_NODE_WITHIN = 0.008
"""Share of the interval to which the cathodes are sought before one Newton step settles them."""


class _Node(NamedTuple):
    """A point on the fall of the sawtooth."""

    plate: Array
    stored: Array
    cathode: Array
    rate: Array
    """How fast the second plate falls."""
    margin: Array
    """How far the loop is from running back; negative when it does."""
    through: Array
    """Current through the coupling capacitor."""


def discharge(circuit: Circuit, state: Rest, wave: Ring, fired: Fire) -> Fall:
    """Follow the fall of the sawtooth until the first triode takes over again.

    Args:
        circuit: Both tubes and the parts as arrays, see :class:`Circuit`; not checked here.
        state: What :func:`rest` gives.
        wave: What :func:`ring` gives.
        fired: What :func:`recharge` gives.
    Returns:
        :class:`Fall`, time [s] and voltages [V], arrays.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: the loop of both tubes, followed in steps here.
    Example: in microseconds.
        >>> from backporch.engine.circuits.horizontal_multivibrator_cycle import TriodeFit, recharge, rest, ring
        >>> tube = TriodeFit(22.01, 1.32, 1294.0, 119.8, 1041.0)
        >>> parts = (250.0, 0.0, 10e3, 470e-12, 1e3, 1e3, 150e3, 150e3, 0.0, 1e12, 250.0, 100e3, 390e-12, 20e-12)
        >>> circuit = Circuit(tube, tube, *map(np.array, (*parts, 1e-9, 1e-9, 1e-3)))
        >>> state, gap = rest(circuit), np.array(8e-6)
        >>> wave = ring(circuit, state, np.array(63e-6), gap)
        >>> fired = recharge(circuit, state, wave, np.array(60.0), state.plate + 20.0, gap)
        >>> fall = discharge(circuit, state, wave, fired)
        >>> round(float(fall.time) * 1e6, 1), bool(fall.stays)
        (3.4, False)
    """
    supply = circuit.supply + wave.amplitude * cosine(wave.angle)
    stored = state.plate - fired.grid
    bounds = _bracket(circuit, supply, fired.plate, stored, fired.plate, 0.0 * stored + 0.8, 16)
    node = _node(circuit, supply, fired.plate, stored, *bounds)
    stays = stored < -np.inf
    time, stride = 0.0 * node.plate, fired.plate / 10.0
    for _ in range(_TRIES):
        after, step = _stride(circuit, supply, node, stride)
        holds = (after.margin > 0.0) & (after.rate > 1.0)
        time = time + where(holds, step, 0.0)
        stride = where(holds, stride, 0.5 * stride)
        stays = (after.rate <= 1.0) & (after.cathode > 0.7 * node.cathode)
        node = _chosen(holds, after, node)
    lag = _LAG * time
    plate = most(node.plate - node.rate * lag, 0.0)
    more = least(lag / circuit.coupling, circuit.load + circuit.grid_slope) * node.through
    return Fall(time + lag, plate, node.stored + more, stays)


def _stride(c: Circuit, supply: Array, node: _Node, stride: Array) -> tuple[_Node, Array]:
    """Return the node one stride lower and the time to it."""
    plate = most(node.plate - stride, 1e-3 * stride)
    after = _node(c, supply, plate, *_ahead(c, supply, node, plate))
    step = 0.5 * (node.plate - plate) * (1.0 / node.rate + 1.0 / after.rate)
    return after, step


def _ahead(c: Circuit, supply: Array, node: _Node, plate: Array) -> tuple[Array, Array, Array]:
    """Return the charge that the coupling capacitor will have taken, and bounds of the cathode voltage there.

    The cathode is taken to fall with the sawtooth, the current through the capacitor with both.
    """
    left = plate / node.plate
    step = 0.5 * (node.plate - plate) / node.rate * (1.0 + 1.0 / most(left, 0.2))
    path = c.load + c.grid_slope
    half = step / (2.0 * path * c.coupling)
    ending = (node.through * (1.0 - half) + node.cathode * (1.0 - left) / path) / (1.0 + half)
    stored = node.stored + 0.5 * (node.through + ending) * step / c.coupling
    bounds = _bracket(c, supply, plate, stored, 1.001 * node.cathode, 1.0 - 0.6 * (1.0 - left), 4)
    return stored, *bounds


def _chosen(take: Any, first: _Node, other: _Node) -> _Node:
    if type(take) is bool:
        return first if take else other
    return _Node(*(np.where(take, a, b) for a, b in zip(first, other, strict=True)))


def _bracket(
    c: Circuit, supply: Array, plate: Array, stored: Array, top: Array, factor: Array, trials: int
) -> tuple[Array, Array]:
    """Return bounds of the highest cathode voltage at which the currents add up, looking down from ``top``."""
    low, high, found = 0.0 * top, 1.0 * top, top < -np.inf
    trial = top
    for _ in range(trials):
        above, trial = trial, trial * factor
        here = no(found) & (_excess(c, supply, plate, stored, trial) > 0.0)
        low, high = where(here, trial, low), where(here, above, high)
        found = found | here
        if every(found):
            break
    return low, high


def _node(c: Circuit, supply: Array, plate: Array, stored: Array, low: Array, high: Array) -> _Node:
    """Return the node with both cathodes where the sum of the currents puts them."""

    def excess(cathode: Array) -> Array:
        return _excess(c, supply, plate, stored, cathode)

    cathode = lone_root(excess, low, high, within=_NODE_WITHIN)
    now = _currents(c, supply, plate, stored, cathode)
    held = where(now.slack > 0.0, 1.0 / c.grid_slope, 0.0) + now.first_slope / c.first.mu
    losing = 1.0 / c.cathode + now.first_slope + now.slope / c.second.mu
    margin = losing - (now.slope + held) * (now.first_slope - 1.0 / c.load) / (1.0 / c.load + held)
    rate = most((now.second - (c.charge_from - plate) / c.charging) / c.sawtooth, 1.0)
    return _Node(plate + 0.0 * rate, stored, cathode, rate, margin, now.through)


class _Currents(NamedTuple):
    first: Array
    first_slope: Array
    second: Array
    slope: Array
    slack: Array
    """Current left for the second grid; where there is none the grid floats below its cathode."""
    into: Array
    """Grid current of the second triode."""
    through: Array
    """Current through the coupling capacitor."""


def _excess(c: Circuit, supply: Array, plate: Array, stored: Array, cathode: Array) -> Array:
    """Return how much more current reaches the cathodes than their resistor takes."""
    first = current_alone(c.first, stored + cathode, least(c.control - cathode, 0.0))
    slack = (supply - stored - cathode) / c.load - first - cathode / c.grid_leak + c.grid_return_a
    both = 1.0 / c.load + 1.0 / c.grid_leak
    into = most(slack, 0.0) / (1.0 + c.grid_slope * both)
    grid = where(slack > 0.0, into * c.grid_slope, slack / both)
    return cast(Array, first + current_alone(c.second, plate - cathode, grid) + into - cathode / c.cathode)


def _currents(c: Circuit, supply: Array, plate: Array, stored: Array, cathode: Array) -> _Currents:
    """Return all currents with both cathodes at a voltage."""
    first, first_slope = plate_current(c.first, stored + cathode, least(c.control - cathode, 0.0))
    slack = (supply - stored - cathode) / c.load - first - cathode / c.grid_leak + c.grid_return_a
    both = 1.0 / c.load + 1.0 / c.grid_leak
    into = most(slack, 0.0) / (1.0 + c.grid_slope * both)
    grid = where(slack > 0.0, into * c.grid_slope, slack / both)
    second, slope = plate_current(c.second, plate - cathode, grid)
    through = into + (cathode + grid) / c.grid_leak - c.grid_return_a - stored / c.coupling_leak
    return _Currents(first, first_slope, second, slope, slack, into, through)
