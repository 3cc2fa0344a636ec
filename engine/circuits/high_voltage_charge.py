# SPDX-License-Identifier: MIT
"""What a picture tube stores, how long a bleeder takes to drain it, and how that compares with published limits.

Caution: no value computed here makes a point harmless.  A tube holds charge for days, gives part of it
back after a discharge, and is to be met as charged: plug out, high-voltage-rated resistor string from anode
to the tube's outer coating, hold, wait, repeat, confirm with a high-voltage probe.  On a test rig or with the
tube out of its cabinet the chassis is not the coating.  Local codes and qualified practice come first.
Sources: iec-60335-1-excerpt, crt-discharge-note (keys in kb/sources/high_voltage.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula

__all__ = [
    "Discharge",
    "TouchComparison",
    "discharge",
    "returned_v",
    "stored_charge_c",
    "stored_energy_j",
    "touch_comparison",
]


@dataclass(frozen=True)
class Discharge:
    """A discharge through a resistor."""

    time_s: Number
    """Time to the voltage asked for; 0 where it starts below."""
    peak_a: Number
    """Current at the start."""
    peak_w: Number
    """Power in the resistor at the start."""
    energy_j: Number
    """Energy that goes into the resistor."""


@dataclass(frozen=True)
class TouchComparison:
    """Stored charge beside the published limit for parts that may be touched."""

    charge_c: Number
    energy_j: Number
    limit_share: Number
    """What counts at this voltage over its limit; above 1 it is exceeded."""


@formula("capacitance_f * anode_v")
def stored_charge_c(capacitance_f: Number, anode_v: Number) -> Number:
    r"""Return the charge in a capacitance.

    .. math:: Q = C V

    Args:
        capacitance_f: Capacitance [F], >= 0.
        anode_v: Voltage across it [V], >= 0.
    Returns:
        Charge [C], float or array.
    Raises:
        OutOfRange: An argument is negative.
    Source: textbook.
    Example: 2 nF at 18 kV in microcoulombs, worked by hand.
        >>> round(stored_charge_c(2e-9, 18e3) * 1e6, 3)
        36.0
    """
    capacitance, voltage = not_negative(capacitance_f=capacitance_f, anode_v=anode_v)
    return plain(capacitance * voltage)


@formula("capacitance_f * anode_v**2 / 2")
def stored_energy_j(capacitance_f: Number, anode_v: Number) -> Number:
    r"""Return the energy in a capacitance.

    .. math:: W = \tfrac12 C V^2

    Args:
        capacitance_f: Capacitance [F], >= 0.
        anode_v: Voltage across it [V], >= 0.
    Returns:
        Energy [J], float or array.
    Raises:
        OutOfRange: An argument is negative.
    Source: textbook.
    Example: 1.5 nF at 16 kV, worked by hand.
        >>> round(stored_energy_j(1.5e-9, 16e3), 3)
        0.192
    """
    capacitance, voltage = not_negative(capacitance_f=capacitance_f, anode_v=anode_v)
    return plain(capacitance * voltage**2 / 2.0)


@formula("bleeder_ohm * capacitance_f * ln(anode_v / down_to_v)")
def discharge(anode_v: Number, down_to_v: Number, capacitance_f: Number, bleeder_ohm: Number) -> Discharge:
    r"""Return how a resistor discharges the tube, for planning the string of resistors.

    .. math:: t = R C \ln \frac{V_a}{V_1}, \quad I = V_a / R, \quad P = V_a^2 / R

    The formula knows nothing of a broken clip or an open resistor, nor of the charge that the glass
    gives back, see :func:`returned_v`.  Hold far longer than it says, repeat, and measure with a
    proved high-voltage probe.

    Args:
        anode_v: Voltage at the start [V], >= 0.
        down_to_v: Voltage asked for [V], > 0.
        capacitance_f: Capacitance from anode to outer coating [F], > 0.
        bleeder_ohm: Resistor string, rated for the voltage [ohm], > 0.
    Returns:
        :class:`Discharge`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook exponential.
    Example: 2 nF from 18 kV to 50 V through 1 Mohm: milliseconds and milliamperes, worked by hand.
        >>> drained = discharge(18e3, 50.0, 2e-9, 1e6)
        >>> round(drained.time_s * 1e3, 1), round(drained.peak_a * 1e3)
        (11.8, 18)
    """
    (voltage,) = not_negative(anode_v=anode_v)
    stop, capacitance, bleeder = positive(
        down_to_v=down_to_v, capacitance_f=capacitance_f, bleeder_ohm=bleeder_ohm
    )
    time = bleeder * capacitance * np.log(np.maximum(voltage, stop) / stop)
    energy = capacitance * (voltage**2 - np.minimum(voltage, stop) ** 2) / 2.0
    return Discharge(*map(plain, (time, voltage / bleeder, voltage**2 / bleeder, energy)))


@formula("anode_v * absorbed_share")
def returned_v(anode_v: Number, absorbed_share: Number) -> Number:
    r"""Return the voltage that dielectric absorption brings back after a short discharge.

    .. math:: V = V_0\, \delta

    A tube that has been discharged charges itself again in minutes to days: the glass and the inner coating give
    back what they had soaked up.  This is why a discharge is held and repeated.

    Args:
        anode_v: Voltage at which the tube has long stood [V], >= 0.
        absorbed_share: Share that comes back, 0 to 1; a property of the glass for which no figure for
            picture tubes was found.
    Returns:
        Voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: crt-discharge-note (that it happens); definition of dielectric absorption, textbook.
    Example: a share of 2 % of 15 kV, worked by hand.
        >>> returned_v(15e3, 0.02)
        300.0
    """
    (voltage,) = not_negative(anode_v=anode_v)
    (absorbed,) = share(absorbed_share=absorbed_share)
    return plain(voltage * absorbed)


@formula(
    "capacitance_f / 0.1 uF up to 450 V; capacitance_f * anode_v / 45 uC up to 15 kV;"
    " capacitance_f * anode_v**2 / 2 / 350 mJ above"
)
def touch_comparison(anode_v: Number, capacitance_f: Number) -> TouchComparison:
    r"""Return the stored charge beside the limit published for parts of appliances that may be touched.

    .. math::
        \frac{C}{0.1\,\mu F} \;(V \le 450), \quad \frac{C V}{45\,\mu C} \;(V \le 15\,000), \quad
        \frac{C V^2 / 2}{350\,mJ} \;(V > 15\,000)

    A share below 1 is no leave to touch: the limit supposes a healthy adult and a part behind a
    protective impedance, and the start that a shock gives has broken tubes and bones.

    Args:
        anode_v: Voltage [V], >= 0; up to 42.4 V the limit is not counted and the share is 0.
        capacitance_f: Capacitance [F], >= 0.
    Returns:
        :class:`TouchComparison`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is negative.
    Valid: a comparison for putting a number in its place, not an assessment.
    Source: iec-60335-1-excerpt, clause 8.1.4 as quoted there.
    Example: 2 nF at 18 kV and 2.5 nF at 20 kV, worked by hand.
        >>> [round(touch_comparison(*tube).limit_share, 2) for tube in ((18e3, 2e-9), (20e3, 2.5e-9))]
        [0.93, 1.43]
    """
    voltage, capacitance = not_negative(anode_v=anode_v, capacitance_f=capacitance_f)
    charge, energy = capacitance * voltage, capacitance * voltage**2 / 2.0
    bands = [voltage <= 42.4, voltage <= 450.0, voltage <= 15e3]
    shares = [0.0 * charge, capacitance / 0.1e-6 + 0.0 * voltage, charge / 45e-6]
    return TouchComparison(plain(charge), plain(energy), plain(np.select(bands, shares, energy / 0.35)))
