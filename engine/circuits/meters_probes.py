# SPDX-License-Identifier: MIT
"""Oscilloscope and high-voltage probes: what their capacitance and resistance do to a point.

Limits: a probe is a resistance and a capacitance at the tip.
Caution: a probe is rated for a voltage that falls with frequency; line pulses go far beyond an ordinary 10x probe.
High voltage is measured with a probe made for it and by nothing else: return clip first, one hand, somebody else
by; on a test rig or with the tube out the return is the coating's bond, not the chassis.
Sources: probe-note, loading-note (keys in kb/sources/meters.yaml); Ohm's law.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "ProbeReading",
    "high_voltage_probe",
    "multiplier_ohm",
    "probe_corner_hz",
    "probe_impedance_ohm",
    "probed_share",
]


@dataclass(frozen=True)
class ProbeReading:
    """A high-voltage probe on a point."""

    point_v: Number
    """What is left at the point."""
    shown_v: Number
    """What the scale says, multiplied."""
    current_a: Number
    """What the probe draws."""


@formula("1 / (2 * pi * probe_f * source_ohm * probe_ohm / (source_ohm + probe_ohm))")
def probe_corner_hz(source_ohm: Number, probe_f: Number, probe_ohm: Number = 10e6) -> Number:
    r"""Return the frequency above which a probe's capacitance pulls a point down.

    .. math:: f = \frac{1}{2\pi C (R_s \| R_p)}

    Args:
        source_ohm: Resistance of the point [ohm], > 0.
        probe_f: Capacitance at the tip, with that of the point itself where it counts [F], > 0.
        probe_ohm: Resistance of the probe [ohm], > 0.
    Returns:
        Half-power frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: probe-note for 10 M and about 12 pF; textbook.
    Example: 12 pF on a node of 100 k, in kilohertz; by hand 133 without the 10 M.
        >>> round(probe_corner_hz(100e3, 12e-12) / 1e3)
        134
    """
    source, capacitance, probe = positive(source_ohm=source_ohm, probe_f=probe_f, probe_ohm=probe_ohm)
    return plain((1.0 / source + 1.0 / probe) / (2.0 * math.pi * capacitance))


@formula("1 / abs(1 / probe_ohm + 2j * pi * frequency_hz * probe_f)")
def probe_impedance_ohm(frequency_hz: Number, probe_f: Number, probe_ohm: Number = 10e6) -> Number:
    r"""Return the impedance with which a probe loads a point.

    .. math:: |Z| = \left|\frac{1}{R_p} + j 2\pi f C\right|^{-1}

    Args:
        frequency_hz: Frequency [Hz], > 0.
        probe_f: Capacitance at the tip [F], > 0.
        probe_ohm: Resistance of the probe [ohm], > 0.
    Returns:
        Impedance [ohm], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: probe-note; textbook.
    Example: 12 pF at 15,750 Hz, worked by hand: 842 k for the capacitance alone.
        >>> round(probe_impedance_ohm(15750.0, 12e-12, 1e12))
        842090
    """
    rate, capacitance, probe = positive(frequency_hz=frequency_hz, probe_f=probe_f, probe_ohm=probe_ohm)
    return plain(1.0 / np.abs(1.0 / probe + 2j * math.pi * rate * capacitance))


@formula("1 / abs(1 + source_ohm * (1 / probe_ohm + 2j * pi * frequency_hz * probe_f))")
def probed_share(frequency_hz: Number, source_ohm: Number, probe_f: Number, probe_ohm: Number = 10e6) -> Number:
    r"""Return what is left of a sine at a point when a probe hangs on it.

    .. math:: s = \left|1 + R_s (1/R_p + j 2\pi f C)\right|^{-1}

    Args:
        frequency_hz: Frequency [Hz], > 0.
        source_ohm: Resistance of the point [ohm], >= 0.
        probe_f: Capacitance at the tip [F], > 0.
        probe_ohm: Resistance of the probe [ohm], > 0.
    Returns:
        Amplitude with the probe over amplitude without, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: probe-note; textbook.
    Example: 12 pF on 100 k at its corner of 133 kHz.
        >>> round(probed_share(132.63e3, 100e3, 12e-12, 1e12), 3)
        0.707
    """
    (source,) = not_negative(source_ohm=source_ohm)
    rate, capacitance, probe = positive(frequency_hz=frequency_hz, probe_f=probe_f, probe_ohm=probe_ohm)
    return plain(1.0 / np.abs(1.0 + source * (1.0 / probe + 2j * math.pi * rate * capacitance)))


@formula("(factor - 1) * meter_ohm")
def multiplier_ohm(meter_ohm: Number, factor: Number) -> Number:
    r"""Return the resistance inside a high-voltage probe that makes a meter read one part in so many.

    .. math:: R = (k - 1) R_m

    A figure for understanding a bought probe; a string of resistors in a tube is no substitute for one.

    Args:
        meter_ohm: Input resistance of the meter [ohm], > 0.
        factor: By how much the reading is to be multiplied, > 1.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: Ohm's law.
    Example: a hundredfold probe for 11 M, in megohms, worked by hand.
        >>> multiplier_ohm(11e6, 100.0) / 1e6
        1089.0
    """
    meter, times = positive(meter_ohm=meter_ohm, factor=factor)
    (above,) = not_negative(factor=times - 1.0)
    return plain(above * meter)


@formula(
    "current_a = true_v / (source_ohm + probe_ohm + meter_ohm), point_v = true_v - current_a * source_ohm,"
    " shown_v = factor * current_a * meter_ohm"
)
def high_voltage_probe(
    true_v: Number, source_ohm: Number, probe_ohm: Number, meter_ohm: Number, factor: Number
) -> ProbeReading:
    r"""Return what a high-voltage probe leaves at a point and what its meter says.

    .. math:: I = \frac{V}{R_s + R_p + R_m}, \quad V_p = V - I R_s, \quad V_r = k I R_m

    A probe made for one input resistance reads wrong on a meter with another.

    Args:
        true_v: Voltage with no probe there [V], either sign.
        source_ohm: Source resistance of the supply [ohm], >= 0.
        probe_ohm: Resistance in the probe [ohm], > 0.
        meter_ohm: Input resistance of the meter behind it [ohm], > 0.
        factor: Factor by which the scale is multiplied, > 0.
    Returns:
        :class:`ProbeReading`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: loading-note for about 1000 M; Ohm's law.
    Example: 15 kV behind 5 M, probe of 1000 M in all; then a probe for 11 M on a meter of 10 M, worked by hand.
        >>> found = high_voltage_probe(15e3, 5e6, 989e6, 11e6, 1000.0 / 11.0)
        >>> round(found.current_a * 1e6, 1), round(found.point_v), round(found.shown_v)
        (14.9, 14925, 14925)
        >>> round(high_voltage_probe(15e3, 0.0, 1089e6, 10e6, 100.0).shown_v)
        13649
    """
    (volts,) = any_sign(true_v=true_v)
    (source,) = not_negative(source_ohm=source_ohm)
    probe, meter, times = positive(probe_ohm=probe_ohm, meter_ohm=meter_ohm, factor=factor)
    current = volts / (source + probe + meter)
    return ProbeReading(*map(plain, (volts - current * source, times * current * meter, current)))
