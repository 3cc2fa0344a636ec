# SPDX-License-Identifier: MIT
"""The quantities that decide whether a picture stands still: periods, rates, sawtooth.

Each is the closed form that the virtual chassis uses.  Limits: the firing point of the oscillator comes in as a
ratio that is found elsewhere; pulses are taken as rectangular.
"""

from __future__ import annotations

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "field_period_s",
    "free_running_hz",
    "line_period_s",
    "roll_hz",
    "sawtooth_v",
]


@formula("1 / line_hz")
def line_period_s(line_hz: Number) -> Number:
    r"""Return the time of one line.

    .. math:: T_H = 1 / f_H

    Args:
        line_hz: Line rate [Hz], > 0.
    Returns:
        Period [s], float or array.
    Raises:
        OutOfRange: the rate is not positive.
    Source: definition; 15 750 lines a second for 525/60 is given by 47 CFR 73.682.
    Example: 525 lines.
        >>> round(line_period_s(15750.0) * 1e6, 3)
        63.492
    """
    (rate,) = positive(line_hz=line_hz)
    return plain(1.0 / rate)


@formula("1 / field_hz")
def field_period_s(field_hz: Number) -> Number:
    r"""Return the time of one field.

    .. math:: T_V = 1 / f_V

    Args:
        field_hz: Field rate [Hz], > 0.
    Returns:
        Period [s], float or array.
    Raises:
        OutOfRange: the rate is not positive.
    Source: definition.
    Example: 60 fields a second.
        >>> round(field_period_s(60.0) * 1e3, 2)
        16.67
    """
    (rate,) = positive(field_hz=field_hz)
    return plain(1.0 / rate)


@formula("1 / (grid_ohm * grid_f * ln(charge_ratio) + pulse_s)")
def free_running_hz(grid_ohm: Number, grid_f: Number, charge_ratio: Number, pulse_s: Number) -> Number:
    r"""Return the rate of an oscillator whose grid recovers through a resistance until it fires.

    .. math:: f = \frac{1}{R C \ln r + t_p}

    Args:
        grid_ohm: Resistance from grid to where it recovers to [ohm], > 0.
        grid_f: Capacitance at the grid [F], > 0.
        charge_ratio: Voltage right after the pulse over the voltage at which it fires, > 1.
        pulse_s: Length of the pulse itself [s], >= 0.
    Returns:
        Rate [Hz], float or array.
    Raises:
        OutOfRange: an argument is out of bounds.
    Valid: the ratio must come from the tube and its load; with cut-off taken as supply over mu the period is
        tens of per cent long.
    Source: grid-leak blocking oscillator, textbook; derived from the discharge of a capacitor.
    Example: worked by hand: 1 M, 0.01 uF, from -80 V to -14.7 V, pulse neglected.
        >>> round(free_running_hz(1e6, 0.01e-6, 80.0 / 14.7, 0.0), 1)
        59.0
    """
    resistance, farads = positive(grid_ohm=grid_ohm, grid_f=grid_f)
    (ratio,) = positive(charge_ratio=charge_ratio)
    (pulse,) = not_negative(pulse_s=pulse_s)
    return plain(1.0 / (resistance * farads * np.log(np.maximum(ratio, 1.0 + 1e-9)) + pulse))


@formula("field_hz - free_hz")
def roll_hz(field_hz: Number, free_hz: Number) -> Number:
    r"""Return how many screens a second an unlocked picture rolls; up is positive.

    .. math:: r = f_V - f_0

    An oscillator slower than the signal rolls the picture up.

    Args:
        field_hz: Field rate of the signal [Hz], > 0.
        free_hz: Rate of the oscillator [Hz], > 0.
    Returns:
        Screens a second [Hz], float or array.
    Raises:
        OutOfRange: a rate is not positive.
    Source: definition; the direction is common practice.
    Example: an oscillator at 58 Hz under a signal of 60 Hz.
        >>> roll_hz(60.0, 58.0)
        2.0
    """
    field, free = positive(field_hz=field_hz, free_hz=free_hz)
    return plain(field - free)


@formula("supply_v * (1 - exp(-trace_s / (charging_ohm * sawtooth_f)))")
def sawtooth_v(supply_v: Number, charging_ohm: Number, sawtooth_f: Number, trace_s: Number) -> Number:
    r"""Return the height of the sawtooth that a capacitor charged through a resistance reaches in one trace.

    .. math:: v = E (1 - e^{-t/(R C)})

    Args:
        supply_v: Voltage that the capacitor would reach in the end [V].
        charging_ohm: Charging resistance, a leak of the capacitor counted in parallel [ohm], > 0.
        sawtooth_f: Capacitance [F], > 0.
        trace_s: Time of the trace [s], >= 0.
    Returns:
        Height [V], float or array.
    Raises:
        OutOfRange: an argument is out of bounds.
    Source: charging of a capacitor, textbook.
    Example: worked by hand: 500 V, 2.2 M, 0.047 uF, 15.9 ms.
        >>> round(sawtooth_v(500.0, 2.2e6, 0.047e-6, 15.9e-3), 1)
        71.3
    """
    resistance, farads = positive(charging_ohm=charging_ohm, sawtooth_f=sawtooth_f)
    (supply,) = any_sign(supply_v=supply_v)
    (trace,) = not_negative(trace_s=trace_s)
    return plain(supply * -np.expm1(-trace / (resistance * farads)))
