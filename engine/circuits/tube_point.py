# SPDX-License-Identifier: MIT
"""Where a stage settles without a signal: voltages and currents of a tube among its resistors.

Cathode bias, fixed bias and the bias that a grid makes for itself are one circuit: a source behind the grid leak,
a resistor in the cathode, a load, a supply, and for a pentode a dropper to the screen.
Limits: no signal; grid current does not flow through the cathode resistor in the account.
Sources: derived from the curves of the tube; koren-1996 (key in kb/sources/tubes.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import Currents, TubeModel, currents, grid_current
from backporch.engine.circuits.tube_grid import settled_grid
from backporch.engine.circuits.tubes import checked_tube

__all__ = ["OperatingPoint", "operating_point"]


@dataclass(frozen=True)
class OperatingPoint:
    """Where a stage settles; voltages against the foot of the cathode resistor."""

    plate_v: Number
    screen_v: Number
    cathode_v: Number
    grid_v: Number
    bias_v: Number
    """Grid against cathode."""
    plate_a: Number
    screen_a: Number
    grid_a: Number
    """Current into the grid; negative where gas drives it out."""
    transconductance_a_per_v: Number
    plate_resistance_ohm: Number


@dataclass(frozen=True)
class _Stage:
    tube: TubeModel
    supply: Array
    load: Array
    cathode: Array
    source: Array
    leak: Array
    screen_supply: Array
    dropper: Array
    gas: Array


@dataclass(frozen=True)
class _State:
    """The stage for an assumed current."""

    plate: Array
    screen: Array
    cathode: Array
    grid: Array
    now: Currents


@formula(
    "plate_a = curve(supply_v - plate_a * load_ohm - cathode_v, grid_v - cathode_v, screen_v - cathode_v) with"
    " cathode_v = (plate_a + screen_a) * cathode_ohm, screen_v = screen_supply_v - screen_a * screen_ohm and"
    " grid_v = grid_source_v + (gas_a - grid_a) * grid_leak_ohm"
)
def operating_point(
    tube: TubeModel,
    supply_v: Number,
    load_ohm: Number = 0.0,
    cathode_ohm: Number = 0.0,
    grid_source_v: Number = 0.0,
    grid_leak_ohm: Number = 0.0,
    screen_supply_v: Number = 0.0,
    screen_ohm: Number = 0.0,
    gas_a: Number = 0.0,
) -> OperatingPoint:
    r"""Return where a stage settles.

    .. math:: I_a = F(V_b - I_a R_a - V_k,\; V_g - V_k,\; V_{g2} - V_k), \quad V_k = (I_a + I_{g2}) R_k

    Leaks are put in as the sources and resistors that they make: a leaky coupling capacitor moves
    ``grid_source_v`` and lies across ``grid_leak_ohm`` (:func:`tube_grid.grid_source`), one from heater to cathode
    lies across ``cathode_ohm``.

    Args:
        tube: The tube, see :class:`TubeModel`, its emission included.
        supply_v: Supply of the plate [V], >= 0.
        load_ohm: Plate load for direct current [ohm], >= 0.
        cathode_ohm: Cathode resistor [ohm], >= 0.
        grid_source_v: Where the grid leak returns to, or the fixed bias [V], any sign.
        grid_leak_ohm: Grid leak [ohm], >= 0.
        screen_supply_v: Supply of the screen [V], >= 0; left out for a triode.
        screen_ohm: Screen dropper [ohm], >= 0.
        gas_a: Current out of the grid by gas or grid emission [A], >= 0.
    Returns:
        :class:`OperatingPoint`, its fields floats or arrays.
    Raises:
        OutOfRange: A part, a supply or a number of the tube is out of its bounds.
    Valid: 5 % of a circuit simulation with the same tube curves (reached: 0.1 %).
    Source: derived here; koren-1996 for the curves.
    Example: 12AU7 with 820 ohm in the cathode, sized by hand for 8.5 V at 10.5 mA.
        >>> triode = TubeModel(mu=22.02, exponent=1.31, kg1=1259.0, kp=68.9, kvb=493.0)
        >>> found = operating_point(triode, supply_v=258.6, cathode_ohm=820.0)
        >>> round(1e3 * found.plate_a, 1), round(found.cathode_v, 1)
        (10.4, 8.6)
    """
    supply, load, cathode, leak, screen_supply, dropper, gas = not_negative(
        supply_v=supply_v,
        load_ohm=load_ohm,
        cathode_ohm=cathode_ohm,
        grid_leak_ohm=grid_leak_ohm,
        screen_supply_v=screen_supply_v,
        screen_ohm=screen_ohm,
        gas_a=gas_a,
    )
    (source,) = any_sign(grid_source_v=grid_source_v)
    kind = checked_tube(tube)
    stage = _Stage(kind, supply, load, cathode, source, leak, screen_supply, dropper, gas)
    solve = _pentode if kind.screened else _triode
    return _shown(stage, solve(stage))


def _triode(stage: _Stage) -> _State:
    """Return the state in which the curve gives the current that made it."""

    def state(current: Array) -> _State:
        foot = current * stage.cathode
        grid = _grid(stage, foot)
        plate = stage.supply - current * stage.load - foot
        return _State(plate, 0.0 * plate, foot, grid, currents(stage.tube, plate, grid))

    most = np.maximum(state(0.0 * stage.supply).now.plate, 1e-15)
    share = quick_root(
        lambda u: _fourth(state(most * u**4).now.plate / most) - u, 0.0 * most, 1.0 + 0.0 * most, within=1e-8
    )
    return state(most * share**4)


def _pentode(stage: _Stage) -> _State:
    """Return the state in which curve and current agree; the unknown is the current in units of the perveance."""
    tube = stage.tube
    gain = tube.emission_share / np.asarray(tube.kg1)
    rest, back = tube.emission_share / np.asarray(tube.kg2), gain * tube.returned_share
    knee = np.asarray(tube.kvb)

    def state(space: Array) -> _State:
        fixed = space * stage.cathode * (rest + 0.5 * np.pi * back)
        fall = space * (gain * stage.load + (gain - back) * stage.cathode)
        plate = _above_knee(stage.supply - fixed, fall, knee)
        angle = np.arctan(np.maximum(plate, 0.0) / knee)
        screen_a = space * (rest + back * (0.5 * np.pi - angle))
        foot = (space * gain * angle + screen_a) * stage.cathode
        grid = _grid(stage, foot)
        screen = stage.screen_supply - screen_a * stage.dropper - foot
        return _State(plate, screen, foot, grid, currents(tube, plate, grid, screen))

    def drawn(found: _State) -> Array:
        angle = np.arctan(np.maximum(found.plate, 0.0) / knee)
        return np.asarray(found.now.screen / np.maximum(rest + back * (0.5 * np.pi - angle), 1e-30))

    most = np.maximum(drawn(state(0.0 * stage.supply)), 1e-12)
    share = quick_root(
        lambda u: _fourth(drawn(state(most * u**4)) / most) - u, 0.0 * most, 1.0 + 0.0 * most, within=1e-8
    )
    return state(most * share**4)


def _above_knee(reach: Array, fall: Array, knee: Array) -> Array:
    """Return the plate voltage at which it and a load carrying an arc tangent of it add up to ``reach``."""
    plate = np.where(reach > 0.0, reach / (1.0 + fall / knee), reach)
    for _ in range(6):
        miss = plate + fall * np.arctan(np.maximum(plate, 0.0) / knee) - reach
        slope = 1.0 + np.where(plate > 0.0, fall * knee / (knee * knee + plate * plate), 0.0)
        plate = plate - miss / slope
    return np.asarray(plate)


def _grid(stage: _Stage, foot: Array) -> Array:
    return settled_grid(stage.tube, stage.source + stage.gas * stage.leak - foot, stage.leak)


def _fourth(ratio: Array) -> Array:
    return np.asarray(np.maximum(ratio, 0.0) ** 0.25)


def _shown(stage: _Stage, found: _State) -> OperatingPoint:
    now = found.now
    into = grid_current(stage.tube, found.grid).current - stage.gas
    values = (
        found.plate + found.cathode,
        found.screen + found.cathode if stage.tube.screened else 0.0,
        found.cathode,
        found.grid + found.cathode,
        found.grid,
        now.plate,
        now.screen,
        into,
        now.by_grid,
        1.0 / np.maximum(now.by_plate, 1e-12),
    )
    return OperatingPoint(*(plain(value) for value in np.broadcast_arrays(*values)))
