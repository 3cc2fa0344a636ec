# SPDX-License-Identifier: MIT
"""Multivibrators at field rate: plate-coupled and cathode-coupled.

The rate is the sum of the times for which each tube is cut off.  A tube does not fire at its cut-off but where the
loop gain comes to one, and the tail of its curve hastens it there.
Limits: capacitances of the tubes are left out, as they matter little at field rate; no sync.  One that is closed
over the output stage and its retrace pulse is followed in time, see :mod:`vertical_output_coupled`.
Sources: puckle-1951, sawtooth-check-values (keys in kb/sources/vertical.yaml); derived here otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tubes import checked_tube
from backporch.engine.circuits.vertical_cathode_coupled import Pair, discharge, recharge, rest
from backporch.engine.circuits.vertical_plate_coupled import HalfCycle, Side, half_cycle

__all__ = [
    "CathodeCoupledParts",
    "PlateCoupledParts",
    "VerticalMultivibrator",
    "cathode_coupled_multivibrator",
    "plate_coupled_multivibrator",
]

_CYCLES = 4


@dataclass(frozen=True)
class PlateCoupledParts:
    """The parts; the first tube is the one with the hold control. Every field may be a float or an array."""

    first_load_ohm: Number
    second_load_ohm: Number
    first_grid_ohm: Number
    """From the first grid to its return, hold control included."""
    second_grid_ohm: Number
    to_first_f: Number
    """From the second plate to the first grid: times the long part of the cycle."""
    to_second_f: Number
    first_return_v: Number = 0.0
    second_return_v: Number = 0.0
    to_first_leak_ohm: Number = 1e12
    to_second_leak_ohm: Number = 1e12
    gas_a: Number = 0.0
    """Current out of the first grid by gas."""


@dataclass(frozen=True)
class CathodeCoupledParts:
    """The parts; the second tube has the hold control and discharges the sawtooth. Floats or arrays."""

    first_load_ohm: Number
    coupling_f: Number
    """From the first plate to the second grid."""
    grid_ohm: Number
    """From the second grid to its return, hold control included."""
    cathode_ohm: Number
    charging_ohm: Number
    sawtooth_f: Number
    grid_return_v: Number = 0.0
    control_v: Number = 0.0
    """First grid, for direct voltage."""
    coupling_leak_ohm: Number = 1e12
    sawtooth_leak_ohm: Number = 1e12
    gas_a: Number = 0.0
    """Current out of the second grid by gas."""


@dataclass(frozen=True)
class VerticalMultivibrator:
    """What the oscillator does; frequency 0 where it stands still."""

    frequency_hz: Number
    long_s: Number
    """Time for which the timing tube is cut off."""
    short_s: Number
    """Time for which it conducts."""
    fire_v: Number
    """Grid of the timing tube at which it fires."""
    lowest_v: Number
    rest_v: Number
    """Where that grid would come to rest."""
    mean_grid_v: Number
    """What a meter of very high resistance shows at that grid."""
    plate_high_v: Number
    """Plate of the timing tube before it fires."""
    plate_low_v: Number
    """The same after it has conducted."""
    sawtooth_v: Number
    """Sawtooth at that plate; 0 where there is no sawtooth capacitor."""


@formula(
    "1 / (long_s + short_s), each grid_ohm * coupling_f * ln((rest_v - lowest_v) / (rest_v - fire_v)),"
    " fire_v where the loop gain of both stages is one"
)
def plate_coupled_multivibrator(
    parts: PlateCoupledParts, first: TubeModel, second: TubeModel, supply_v: Number
) -> VerticalMultivibrator:
    r"""Return rate and voltages of a plate-coupled multivibrator.

    .. math:: T = \sum_{1,2} (R_g + r) C \ln\frac{V_r - V_0}{V_r - V_f}, \quad g_1 Z_1 g_2 Z_2 = 1 \text{ at } V_f

    Args:
        parts: The parts, see :class:`PlateCoupledParts`; values > 0 but for returns and gas.
        first: The tube whose grid has the hold control.
        second: The other tube.
        supply_v: Supply of both plates [V], > 0.
    Returns:
        :class:`VerticalMultivibrator`, its fields floats or arrays; rate 0 where it stands still.
    Raises:
        OutOfRange: A part, the supply or a number of a tube is out of its bounds.
    Valid: 5 % of a circuit simulation with the same tube curves (reached: 2.4 %).
    Source: puckle-1951 for the circuit; derived here.
    Example: a pair of 6SN7 at 250 V, nearly 10 ms of long part for each megohm and 0.01 uF times ln 12.
        >>> triode = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = PlateCoupledParts(100e3, 47e3, 1e6, 100e3, 0.01e-6, 0.01e-6)
        >>> round(plate_coupled_multivibrator(parts, triode, triode, 250.0).frequency_hz, 0)
        41.0
    """
    a, b = _sides(parts, checked_tube(first), checked_tube(second), supply_v)
    at_first, at_second = 0.4 * a.supply, 1.0 * a.supply
    short, long = a.coupling * b.grid_ohm, b.coupling * a.grid_ohm
    for _ in range(_CYCLES):
        on = half_cycle(a, b, at_first, at_second, short)
        short, at_first, at_second = on.time, on.stored_on, on.stored_off
        off = half_cycle(b, a, at_second, at_first, long)
        long, at_second, at_first = off.time, off.stored_on, off.stored_off
    return _plate_shown(a, b, on, off)


@formula(
    "1 / (long_s + short_s), long_s = grid_ohm * coupling_f * ln((rest_v - lowest_v) / (rest_v - fire_v)),"
    " fire_v where the loop gain is one, short_s as the second tube discharges sawtooth_f"
)
def cathode_coupled_multivibrator(
    parts: CathodeCoupledParts,
    first: TubeModel,
    second: TubeModel,
    supply_v: Number,
    charging_supply_v: Number | None = None,
) -> VerticalMultivibrator:
    r"""Return rate, voltages and sawtooth of a cathode-coupled multivibrator.

    .. math:: T = (R_g + r) C \ln\frac{V_r - V_0}{V_r - V_f} + t_d, \quad
        g_2(V_f) \frac{R_k (R_1 s - 1)}{1 + s R_k} = 1, \quad s = \frac{g_1 + 1/r_1}{1 + R_1/r_1}

    Args:
        parts: The parts, see :class:`CathodeCoupledParts`; values > 0 but for return, control and gas.
        first: The tube that conducts for most of the field.
        second: The tube that discharges the sawtooth capacitor.
        supply_v: Supply of the first plate [V], > 0.
        charging_supply_v: Supply of the charging resistor [V], > 0; the same where none is given.
    Returns:
        :class:`VerticalMultivibrator` of the second tube, its fields floats or arrays; rate 0 where it stands
        still.
    Raises:
        OutOfRange: A part, a supply or a number of a tube is out of its bounds.
    Valid: 5 % of a circuit simulation with the same tube curves (reached: 0.9 % in rate, 1.7 % in sawtooth).
    Source: puckle-1951 for the circuit; derived here.
    Example: a pair of 6CG7, charged from 400 V of boosted B+ through 2.2 M.
        >>> triode = TubeModel(20.41, 1.339, 1598.0, 167.3, 407.2)
        >>> parts = CathodeCoupledParts(47e3, 0.01e-6, 1e6, 1e3, 2.2e6, 0.047e-6)
        >>> found = cathode_coupled_multivibrator(parts, triode, triode, 250.0, 400.0)
        >>> round(found.frequency_hz, 0), round(found.sawtooth_v, 0)
        (39.0, 77.0)
    """
    pair = _pair(parts, checked_tube(first), checked_tube(second), supply_v, charging_supply_v)
    state = rest(pair)
    plate, stored = 0.35 * pair.charge_from, 1.5 * state.plate
    for _ in range(_CYCLES):
        fired = recharge(pair, state, plate, stored)
        ended = discharge(pair, state, fired)
        plate, stored = ended.plate, ended.stored
    alive = fired.alive & ended.ends & (fired.lowest < fired.grid)
    values = (fired.time, ended.time, fired.grid, fired.lowest, pair.rest, fired.plate, ended.plate)
    unit = pair.coupling * (pair.grid_ohm + state.source)
    return _shown(alive, unit, *values, saw=1.0)


def _sides(parts: PlateCoupledParts, first: TubeModel, second: TubeModel, supply_v: Number) -> tuple[Side, Side]:
    """Check everything and fold the leaks into the grid resistors."""
    values = dict(vars(parts))
    returns = any_sign(**{name: values.pop(name) for name in ("first_return_v", "second_return_v")})
    (gas,) = not_negative(gas_a=values.pop("gas_a"))
    p = dict(zip(values, positive(**values), strict=True))
    (supply,) = positive(supply_v=supply_v)
    sides = []
    for own, other, back, more in (("first", "second", returns[0], gas), ("second", "first", returns[1], 0.0)):
        grid, leak = p[f"{own}_grid_ohm"], p[f"to_{own}_leak_ohm"]
        both = grid * leak / (grid + leak)
        # the leak comes from the other plate, which spends the cycle between half the supply and all of it
        resting = both * (back / grid + 0.7 * supply / leak + more)
        sides.append((supply, p[f"{own}_load_ohm"], p[f"to_{other}_f"], both, resting))
    flat = np.broadcast_arrays(*sides[0], *sides[1])
    return Side(first, *map(np.array, flat[:5])), Side(second, *map(np.array, flat[5:]))


def _pair(
    parts: CathodeCoupledParts,
    first: TubeModel,
    second: TubeModel,
    supply_v: Number,
    charging_supply_v: Number | None,
) -> Pair:
    """Check everything and fold the leaks into sources and resistors."""
    values = dict(vars(parts))
    back, control = any_sign(**{name: values.pop(name) for name in ("grid_return_v", "control_v")})
    (gas,) = not_negative(gas_a=values.pop("gas_a"))
    p = dict(zip(values, positive(**values), strict=True))
    supply, charge = positive(
        supply_v=supply_v, charging_supply_v=supply_v if charging_supply_v is None else charging_supply_v
    )
    leak, bleed = p["coupling_leak_ohm"], p["sawtooth_leak_ohm"] / (p["sawtooth_leak_ohm"] + p["charging_ohm"])
    grid = p["grid_ohm"] * leak / (p["grid_ohm"] + leak)
    resting = grid * (back / p["grid_ohm"] + 0.5 * supply / leak + gas)
    flat = np.broadcast_arrays(
        supply,
        control,
        p["first_load_ohm"],
        p["coupling_f"],
        grid,
        resting,
        p["cathode_ohm"],
        charge * bleed,
        p["charging_ohm"] * bleed,
        p["sawtooth_f"],
    )
    return Pair(first, second, *map(np.array, flat))


def _plate_shown(first: Side, second: Side, on: HalfCycle, off: HalfCycle) -> VerticalMultivibrator:
    unit = (first.grid_ohm + second.load) * second.coupling
    values = (off.time, on.time, off.fire, off.lowest, first.rest, off.high, on.bottom)
    return _shown(on.alive & off.alive, unit, *values, saw=0.0)


def _shown(
    alive: Any,
    unit: Array,
    long: Array,
    short: Array,
    fire: Array,
    lowest: Array,
    resting: Array,
    high: Array,
    low: Array,
    saw: float,
) -> VerticalMultivibrator:
    period = np.where(alive, long + short, 1.0)
    swing = (resting - lowest) * unit / period * -np.expm1(-long / unit)
    mean = (resting * long - swing * period) / period
    settled = np.minimum(resting, 0.0)
    either = (
        (1.0 / period, 0.0),
        (long, 0.0),
        (short, 0.0),
        (fire, fire),
        (lowest, settled),
        (resting, resting),
        (mean, settled),
        (high, high),
        (low, high),
        (saw * (high - low), 0.0),
    )
    return VerticalMultivibrator(*(plain(np.where(alive, a, b)) for a, b in either))
