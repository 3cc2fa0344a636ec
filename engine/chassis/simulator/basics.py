# SPDX-License-Identifier: MIT
"""Sums that every stage needs: dividers, parallel resistances, leaks, roll-offs, heater against emission.

Sources: Ohm's and Kirchhoff's laws; the curve of emission against heater volts is common practice.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.parts import Value
from backporch.engine.circuits.formula import formula

__all__ = [
    "Value",
    "divided_v",
    "drop_v",
    "emission_at_heater",
    "high_pass_share",
    "leak_rise_v",
    "low_pass_share",
    "ohms_law_v",
    "parallel_ohm",
    "smooth_step",
]

Floats = NDArray[np.float64]


@formula("supply_v * lower_ohm / (upper_ohm + lower_ohm)")
def divided_v(supply_v: Value, upper_ohm: Value, lower_ohm: Value) -> Value:
    """Return the voltage at the joint of two resistances.

    Source: Ohm's law.
    """
    return supply_v * (lower_ohm / (upper_ohm + lower_ohm))


@formula("current_a * resistance_ohm")
def ohms_law_v(current_a: Value, resistance_ohm: Value) -> Value:
    """Return the voltage across a resistance.

    Source: Ohm's law.
    """
    return current_a * resistance_ohm


@formula("supply_v - current_a * resistance_ohm")
def drop_v(supply_v: Value, current_a: Value, resistance_ohm: Value) -> Value:
    """Return what a resistance leaves of a supply.

    Source: Ohm's law.
    """
    return supply_v - current_a * resistance_ohm


@formula("1 / (1 / first_ohm + 1 / second_ohm)")
def parallel_ohm(first_ohm: Value, second_ohm: Value) -> Value:
    """Return two resistances side by side.

    Source: Ohm's law.
    """
    return 1.0 / (1.0 / np.maximum(first_ohm, 1e-6) + 1.0 / np.maximum(second_ohm, 1e-6))


@formula("plate_v * grid_ohm / (grid_ohm + leak_ohm)")
def leak_rise_v(plate_v: Value, grid_ohm: Value, leak_ohm: Value) -> Value:
    """Return how far a leaky coupling capacitor pulls the next grid up.

    Source: Ohm's law.
    """
    return plate_v * (grid_ohm / (grid_ohm + leak_ohm))


@formula("1 / sqrt(1 + (2 * pi * at_hz * resistance_ohm * capacitance_f)**2)")
def low_pass_share(at_hz: Value, resistance_ohm: Value, capacitance_f: Value) -> Value:
    """Return what a resistance and a capacitance to ground pass of a frequency.

    Source: textbook network.
    """
    return 1.0 / np.sqrt(1.0 + (2 * math.pi * at_hz * resistance_ohm * capacitance_f) ** 2)


@formula("1 / sqrt(1 + 1 / (2 * pi * at_hz * resistance_ohm * capacitance_f)**2)")
def high_pass_share(at_hz: Value, resistance_ohm: Value, capacitance_f: Value) -> Value:
    """Return what a coupling capacitance passes of a frequency into a resistance.

    Source: textbook network.
    """
    turns = 2 * math.pi * at_hz * resistance_ohm * capacitance_f
    return turns / np.sqrt(1.0 + turns**2)


@formula(
    "0 up to 0.45, then straight from point to point: 0.15 at 0.6, 0.55 at 0.75, 0.93 at 0.9, 1 at 1,"
    " 1.04 at 1.15, 1.05 at 2; at heater_share"
)
def emission_at_heater(heater_share: Value) -> Value:
    """Return emission against that at the rated heater volts.

    Source: common practice: little change above nine tenths, half at three quarters, none below a half.
    """
    share = np.interp(
        heater_share, [0.0, 0.45, 0.6, 0.75, 0.9, 1.0, 1.15, 2.0], [0.0, 0.0, 0.15, 0.55, 0.93, 1.0, 1.04, 1.05]
    )
    return np.asanyarray(share, dtype=float)


def smooth_step(value: Value, low: Value, high: Value) -> Value:
    """Return 0 below ``low``, 1 above ``high``, and a straight line between."""
    return np.clip((value - low) / (high - low), 0.0, 1.0)
