# SPDX-License-Identifier: MIT
"""The sine-wave line oscillator with its reactance tube.

A tuned circuit sets the rate; the reactance tube adds a capacitance that its control grid changes.
The stabilized multivibrator has a module of its own.
Sources: terman-radio-engineering (key in kb/sources/horizontal.yaml).
"""

from __future__ import annotations

import math

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = ["reactance_tube_f", "sine_oscillator_hz", "sine_oscillator_slope"]


@formula("transconductance * feed_ohm * feed_f")
def reactance_tube_f(transconductance: Number, feed_ohm: Number, feed_f: Number) -> Number:
    r"""Return the capacitance that a reactance tube stands for.

    .. math:: C = g_m R C_f

    A small capacitor from plate to grid and a resistor from grid to ground make the grid voltage lead
    by nearly a quarter turn.

    Args:
        transconductance: Mutual conductance at the working point [A/V], >= 0; 0 is a dead tube.
        feed_ohm: Resistor from grid to ground for line rate [ohm], > 0.
        feed_f: Capacitor from plate to grid [F], > 0.
    Returns:
        Capacitance [F], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: feed_ohm a fifth of the reactance of feed_f or less.
    Source: terman-radio-engineering, from memory, to verify; the formula follows from the divider.
    Example: 2 mA/V, 10 k, 100 pF in nanofarads, worked by hand.
        >>> round(reactance_tube_f(2e-3, 10e3, 100e-12) * 1e9, 3)
        2.0
    """
    (slope,) = not_negative(transconductance=transconductance)
    resistance, capacitance = positive(feed_ohm=feed_ohm, feed_f=feed_f)
    return plain(slope * resistance * capacitance)


@formula("1 / (2 * pi * sqrt(coil_h * (tank_f + tube_f)))")
def sine_oscillator_hz(coil_h: Number, tank_f: Number, tube_f: Number = 0.0) -> Number:
    r"""Return the rate of a sine-wave line oscillator.

    .. math:: f = \frac{1}{2 \pi \sqrt{L (C + C_t)}}

    Args:
        coil_h: Oscillator coil with its core where it stands [H], > 0.
        tank_f: Capacitor across it [F], > 0.
        tube_f: Capacitance of the reactance tube, see :func:`reactance_tube_f` [F], >= 0.
    Returns:
        Rate [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: lightly loaded coil.
    Source: textbook resonance.
    Example: 20 mH with 4.1 nF and 1 nF of the tube, worked by hand.
        >>> round(sine_oscillator_hz(20e-3, 4.1e-9, 1.0e-9))
        15759
    """
    coil, tank = positive(coil_h=coil_h, tank_f=tank_f)
    (tube,) = not_negative(tube_f=tube_f)
    return plain(1.0 / (2.0 * math.pi * np.sqrt(coil * (tank + tube))))


@formula("-rate * feed_ohm * feed_f * slope_change / (2 * (tank_f + tube_f))")
def sine_oscillator_slope(
    coil_h: Number,
    tank_f: Number,
    transconductance: Number,
    slope_change: Number,
    feed_ohm: Number,
    feed_f: Number,
) -> Number:
    r"""Return how much the rate of a sine-wave oscillator changes with the reactance tube's grid voltage.

    .. math:: K_o = -\frac{f}{2} \frac{R C_f}{C + C_t} \frac{dg_m}{dV}

    Args:
        coil_h: Oscillator coil [H], > 0.
        tank_f: Capacitor across it [F], > 0.
        transconductance: Mutual conductance of the reactance tube at its working point [A/V], >= 0.
        slope_change: Change of the mutual conductance with grid voltage [A/V for a volt].
        feed_ohm: Resistor from grid to ground for line rate [ohm], > 0.
        feed_f: Capacitor from plate to grid [F], > 0.
    Returns:
        Slope [Hz/V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: derivative of :func:`sine_oscillator_hz`.
    Example: 1 nF of 5.1 nF in all, mutual conductance of 1 mA/V that rises by 0.3 mA/V for a volt, by hand.
        >>> round(sine_oscillator_slope(20e-3, 4.1e-9, 1e-3, 0.3e-3, 10e3, 100e-12))
        -463
    """
    tube = np.asarray(reactance_tube_f(transconductance, feed_ohm, feed_f))
    (change,) = any_sign(slope_change=slope_change)
    rate = np.asarray(sine_oscillator_hz(coil_h, tank_f, plain(tube)))
    grown = np.asarray(feed_ohm) * np.asarray(feed_f) * change
    return plain(-rate * grown / (2.0 * (np.asarray(tank_f) + tube)))
