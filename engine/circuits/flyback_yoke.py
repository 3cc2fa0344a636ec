# SPDX-License-Identifier: MIT
"""Yoke current, deflection and width.

The yoke is an inductance with its copper; the correction that a flat screen needs is left out.
Sources: schade-1947, horizontal-deflection-note, fcc-73-682-line-rate, wireless-world-1957 (keys in
kb/sources/flyback.yaml).
"""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "DEFLECTION_ENERGY",
    "NECK_M",
    "deflection_current_a",
    "folded_share",
    "full_scan_a",
    "scan_voltage_v",
    "width_share",
    "yoke_current_a",
    "yoke_energy_j",
]

DEFLECTION_ENERGY = 11.8e-6
"""Energy in the yoke at the edge of the picture for each volt of the anode and metre of neck [J/(V m)]."""

NECK_M = MappingProxyType({70: 36.5e-3, 90: 36.5e-3, 110: 28.6e-3})
"""Neck of the usual tubes by deflection angle in degrees [m]: 1 7/16, 1 1/8 inch; common practice, no source."""


@formula("yoke_h * yoke_pp_a / trace_s")
def scan_voltage_v(yoke_pp_a: Number, yoke_h: Number, trace_s: Number) -> Number:
    r"""Return the steady voltage that must lie across the yoke during the trace.

    .. math:: V_s = L I_{pp} / t_s

    Args:
        yoke_pp_a: Yoke current from edge to edge of the raster [A], >= 0.
        yoke_h: Inductance of the horizontal yoke [H], > 0.
        trace_s: Trace, line period less retrace [s], > 0.
    Returns:
        Scan voltage [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: resistance of the yoke small against its reactance: yoke_h / yoke_ohm well above trace_s.
    Source: horizontal-deflection-note (same relation for half a trace).
    Example: a yoke for 70 degrees, 10.3 mH and 1.04 A in 54 us, worked by hand.
        >>> round(scan_voltage_v(1.04, 10.3e-3, 54e-6))
        198
    """
    (current,) = not_negative(yoke_pp_a=yoke_pp_a)
    inductance, trace = positive(yoke_h=yoke_h, trace_s=trace_s)
    return plain(inductance * current / trace)


@formula("2 * scan_v / yoke_ohm * tanh(yoke_ohm * trace_s / (2 * yoke_h))")
def yoke_current_a(scan_v: Number, yoke_h: Number, trace_s: Number, yoke_ohm: Number = 0.0) -> Number:
    r"""Return the peak-to-peak yoke current that a steady scan voltage drives.

    .. math:: I_{pp} = \frac{2 V_s}{R} \tanh \frac{R t_s}{2 L}

    which is :math:`V_s t_s / L` without resistance.

    Args:
        scan_v: Voltage across the yoke during the trace [V], >= 0.
        yoke_h: Inductance of the yoke [H], > 0.
        trace_s: Trace [s], > 0.
        yoke_ohm: Resistance of the yoke with its leads [ohm], >= 0; 1e9 is an open yoke.
    Returns:
        Peak-to-peak current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the retrace turns the current round without loss, so that it runs as far below zero as above.
    Source: schade-1947 for the circuit; the closed form follows from v = L di/dt + R i.
    Example: 198 V on 10.3 mH for 54 us; then with 14 ohm of copper.
        >>> round(yoke_current_a(198.0, 10.3e-3, 54e-6), 2), round(yoke_current_a(198.0, 10.3e-3, 54e-6, 14.0), 3)
        (1.04, 1.038)
    """
    voltage, resistance = not_negative(scan_v=scan_v, yoke_ohm=yoke_ohm)
    inductance, trace = positive(yoke_h=yoke_h, trace_s=trace_s)
    turns = np.maximum(resistance * trace / (2.0 * inductance), 1e-12)
    return plain(voltage * trace / inductance * np.tanh(turns) / turns)


@formula("yoke_h * (yoke_pp_a / 2)**2 / 2")
def yoke_energy_j(yoke_pp_a: Number, yoke_h: Number) -> Number:
    r"""Return the energy in the yoke at either edge of the raster.

    .. math:: W = \tfrac12 L (I_{pp}/2)^2

    Args:
        yoke_pp_a: Peak-to-peak yoke current [A], >= 0.
        yoke_h: Inductance of the yoke [H], > 0.
    Returns:
        Energy [J], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: horizontal-deflection-note (energy in the coil equals energy in the capacitor).
    Example: 12 mH and 1.35 A peak to peak, worked by hand.
        >>> round(yoke_energy_j(1.35, 12e-3) * 1e3, 2)
        2.73
    """
    (current,) = not_negative(yoke_pp_a=yoke_pp_a)
    (inductance,) = positive(yoke_h=yoke_h)
    return plain(inductance * (current / 2.0) ** 2 / 2.0)


@formula("rated_pp_a * sqrt(anode_v / rated_anode_v)")
def deflection_current_a(rated_pp_a: Number, anode_v: Number, rated_anode_v: Number) -> Number:
    r"""Return the yoke current that just fills the screen at an anode voltage.

    .. math:: I = I_0 \sqrt{V_a / V_0}

    Args:
        rated_pp_a: Current that fills the screen at the rated anode voltage [A], >= 0.
        anode_v: Anode voltage [V], > 0.
        rated_anode_v: Anode voltage for which the current is rated [V], > 0.
    Returns:
        Peak-to-peak current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: physics of magnetic deflection (electron speed goes with the root of the voltage); schade-1947.
    Example: from 14 kV to 12 kV, worked by hand.
        >>> round(deflection_current_a(1.0, 12e3, 14e3), 3)
        0.926
    """
    (current,) = not_negative(rated_pp_a=rated_pp_a)
    anode, rated = positive(anode_v=anode_v, rated_anode_v=rated_anode_v)
    return plain(current * np.sqrt(anode / rated))


@formula("yoke_pp_a / (rated_pp_a * sqrt(anode_v / rated_anode_v))")
def width_share(yoke_pp_a: Number, rated_pp_a: Number, anode_v: Number, rated_anode_v: Number) -> Number:
    r"""Return the width of the raster over the width that just fills the screen.

    .. math:: w = \frac{I_{pp}}{I_0} \sqrt{V_0 / V_a}

    Args:
        yoke_pp_a: Peak-to-peak yoke current [A], >= 0.
        rated_pp_a: Current that fills the screen at the rated anode voltage [A], > 0.
        anode_v: Anode voltage [V], > 0; a few volts already count as no picture.
        rated_anode_v: Anode voltage for which the current is rated [V], > 0.
    Returns:
        Width, 1 fills the screen, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: small difference between arc and flat of the screen; above 1 the edges are not seen.
    Source: physics of magnetic deflection; schade-1947.
    Example: full current with the anode voltage down by a tenth widens the raster, worked by hand.
        >>> round(width_share(1.04, 1.04, 12600.0, 14000.0), 3)
        1.054
    """
    (current,) = not_negative(yoke_pp_a=yoke_pp_a)
    rated, anode, rated_anode = positive(rated_pp_a=rated_pp_a, anode_v=anode_v, rated_anode_v=rated_anode_v)
    return plain(current / rated * np.sqrt(rated_anode / anode))


@formula(
    "2 * sin(half) * sqrt(2 * energy_j_per_v_m * anode_v * neck_m / yoke_h), tan(half) = 0.8 * tan(angle_rad / 2)"
)
def full_scan_a(
    yoke_h: Number,
    anode_v: Number,
    angle_rad: Number,
    neck_m: Number,
    energy_j_per_v_m: Number = DEFLECTION_ENERGY,
) -> Number:
    r"""Return the peak-to-peak yoke current that scans the whole width of a tube.

    .. math:: \tfrac12 L (I_{pp}/2)^2 = k V_a d \sin^2\theta, \qquad \tan\theta = 0.8 \tan(\alpha/2)

    The sine of the angle by which a beam bends goes with the field and with one over the root of the anode
    voltage: the energy of the field goes with the anode voltage and the square of the sine.  Coils differ in size
    with the neck, and so does their energy.  A picture of 4 to 3 is 0.8 of its diagonal wide.

    Args:
        yoke_h: Inductance of the horizontal yoke [H], > 0.
        anode_v: Anode voltage [V], > 0.
        angle_rad: Deflection angle of the tube over its diagonal, as it is named [rad], > 0.
        neck_m: Diameter of its neck [m], > 0; see :data:`NECK_M`.
        energy_j_per_v_m: Energy for each volt and metre of neck [J/(V m)], > 0.
    Returns:
        Peak-to-peak current [A], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: rectangular tubes of 70 to 110 degrees with a yoke for that angle; 5 % of the usual classes of yokes.
    Source: physics of magnetic deflection; the constant is the mean of five classes of yokes (70 degrees, 14 kV:
        10.3 mH, 1.04 A; 90 degrees, 16 kV: 12 mH, 1.35 A and 4.2 mH, 2.25 A; 110 degrees, 16 kV: 2.9 mH, 2.9 A
        and 18 mH, 1.2 A), from memory, to verify.  wireless-world-1957: 110 degrees with the narrow neck take only
        slightly more power than 90 with the wide one; here a seventh more.
    Example: 12 mH for 90 degrees at 16 kV.
        >>> round(full_scan_a(12e-3, 16e3, np.radians(90.0), 36.5e-3), 2)
        1.34
    """
    inductance, anode, angle, neck, energy = positive(
        yoke_h=yoke_h, anode_v=anode_v, angle_rad=angle_rad, neck_m=neck_m, energy_j_per_v_m=energy_j_per_v_m
    )
    sine = np.sin(np.arctan(0.8 * np.tan(0.5 * angle)))
    return plain(2.0 * sine * np.sqrt(2.0 * energy * anode * neck / inductance))


@formula("max(0, retrace_s - blanking_s) / (1 / line_hz - blanking_s)")
def folded_share(retrace_s: Number, blanking_s: Number, line_hz: Number) -> Number:
    r"""Return the share of the picture that is folded over because the retrace outlasts the blanking.

    .. math:: w = \max(0, t_r - t_b) / (1/f - t_b)

    Args:
        retrace_s: Retrace [s], > 0.
        blanking_s: Line blanking of the standard [s], > 0.
        line_hz: Line rate [Hz], > 0.
    Returns:
        Share of the picture's width, 0 where the retrace fits, float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: the trace starts its retrace with the blanking; phase errors of the AFC add to it.
    Source: fcc-73-682-line-rate for the blanking; arithmetic derived here.
    Example: 13 us of retrace in 10.5 us of blanking at 15,750 Hz, worked by hand.
        >>> round(folded_share(13e-6, 10.5e-6, 15750.0), 3)
        0.047
    """
    duration, blanking, rate = positive(retrace_s=retrace_s, blanking_s=blanking_s, line_hz=line_hz)
    picture = np.maximum(1.0 / rate - blanking, 1e-9)
    return plain(np.clip((duration - blanking) / picture, 0.0, 1.0))
