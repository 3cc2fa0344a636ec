# SPDX-License-Identifier: MIT
"""Peaking coils and traps by closed forms: shunt coils of a video stage, and the traps that keep the sound out.

Coils have no capacitance of their own here; add it to the circuit's.  For series coils, damping resistors
and both coils together see ``video_network``.
Sources: valley-wallman-1948, lee-1998, staric-margan-2006, fcc-73-682-sound (keys in kb/sources/video.yaml).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "cathode_trap_share",
    "parallel_trap_share",
    "peaking_coil_h",
    "series_trap_share",
    "shunt_overshoot_share",
    "shunt_peaked_upper_hz",
    "trap_hz",
]

Complex = NDArray[np.complex128]


@formula("coil ratio * load_ohm**2 * capacitance_f")
def peaking_coil_h(load_ohm: Number, capacitance_f: Number, ratio: Number = 0.414) -> Number:
    r"""Return the peaking coil for a load and a capacitance.

    .. math:: L = m R^2 C

    Args:
        load_ohm: Plate load [ohm], > 0.
        capacitance_f: Capacitance that the coil works against [F], > 0.
        ratio: Shunt coil alone: 0.25 no overshoot, 0.322 evenest delay, 0.414 flattest, 0.5 a common
            choice with 7 % overshoot.  Series coil alone, all capacitance behind it: 0.333 and 0.5.
    Returns:
        Inductance [H], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: valley-wallman-1948 (from memory, to verify); each ratio is proved by the tests of this module.
    Example: 3.9 k and 20 pF in microhenries, worked by hand.
        >>> round(peaking_coil_h(3900.0, 20e-12) * 1e6)
        126
    """
    load, farads, coil = positive(load_ohm=load_ohm, capacitance_f=capacitance_f, ratio=ratio)
    return plain(coil * load**2 * farads)


@formula(
    "sqrt(u) / (2 * pi * load_ohm * capacitance_f), (1 + m**2 * u) / ((1 - m * u)**2 + u) = 1 / 2,"
    " m = coil_h / (load_ohm**2 * capacitance_f)"
)
def shunt_peaked_upper_hz(load_ohm: Number, capacitance_f: Number, coil_h: Number) -> Number:
    r"""Return the upper half-power frequency of a stage with a shunt coil.

    .. math::
        \frac{1 + m^2 u}{(1 - m u)^2 + u} = \frac12, \quad u = (2 \pi f R C)^2, \quad m = \frac{L}{R^2 C}

    Args:
        load_ohm: Plate load in series with the coil [ohm], > 0.
        capacitance_f: All capacitance across load and coil [F], > 0.
        coil_h: Shunt coil without a damping resistor [H], >= 0; 0 is a shorted coil.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: plate resistance large against the load; else use ``video_network.network_upper_hz``.
    Source: lee-1998 and valley-wallman-1948 for the circuit; solved here.
    Example: the coil of 126 uH widens 2.04 MHz to 3.5 MHz, 1.72 times.
        >>> round(shunt_peaked_upper_hz(3900.0, 20e-12, 126e-6) / 1e6, 2)
        3.51
    """
    load, farads = positive(load_ohm=load_ohm, capacitance_f=capacitance_f)
    (coil,) = not_negative(coil_h=coil_h)
    ratio = coil / (load**2 * farads)
    linear = 1.0 - 2.0 * ratio - 2.0 * ratio**2
    root = np.sqrt(linear**2 + 4.0 * ratio**2)
    # the same written twice: far beyond its best a coil would make the first form a difference of equals
    squared = np.where(
        linear > 0.0,
        2.0 / np.maximum(linear + root, 1e-30),
        (root - linear) / np.maximum(2.0 * ratio**2, 1e-30),
    )
    return plain(np.sqrt(squared) / (2.0 * math.pi * load * farads))


@formula(
    "-exp(-a * t) * (cos(w * t) + (a - 1) / w * sin(w * t)) at the first peak, a = 1 / (2 * m),"
    " w = sqrt(1 / m - a**2), m = coil_h / (load_ohm**2 * capacitance_f)"
)
def shunt_overshoot_share(load_ohm: Number, capacitance_f: Number, coil_h: Number) -> Number:
    r"""Return by how much a step overshoots in a stage with a shunt coil.

    .. math::
        \gamma = -e^{-a t} \left(\cos w t + \frac{a - 1}{w} \sin w t\right), \quad
        a = \frac{1}{2m}, \quad w = \sqrt{\frac1m - a^2}, \quad m = \frac{L}{R^2 C}

    at the first peak, times counted in :math:`R C`; none where :math:`m \le 1/4`.

    Args:
        load_ohm: Plate load [ohm], > 0.
        capacitance_f: Capacitance across load and coil [F], > 0.
        coil_h: Shunt coil without a damping resistor [H], >= 0.
    Returns:
        Overshoot over the step, 0 or above, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as :func:`shunt_peaked_upper_hz`.
    Source: valley-wallman-1948 (3.1 % at 0.414, 6.7 % at 0.5: from memory, to verify); worked out here.
    Example: the two published ratios.
        >>> coil = [m * 3900.0**2 * 20e-12 for m in (0.25, 0.414, 0.5)]
        >>> [round(shunt_overshoot_share(3900.0, 20e-12, c), 3) for c in coil]
        [0.0, 0.031, 0.067]
    """
    load, farads = positive(load_ohm=load_ohm, capacitance_f=capacitance_f)
    (coil,) = not_negative(coil_h=coil_h)
    ratio = np.maximum(coil / (load**2 * farads), 0.25 + 1e-9)
    decay = 0.5 / ratio
    speed = np.sqrt(1.0 / ratio - decay**2)
    slope = (decay - 1.0) / speed
    turn = math.pi - np.arctan2(1.0, decay * slope + speed)
    over = -np.exp(-decay * turn / speed) * (np.cos(turn) + slope * np.sin(turn))
    return plain(np.where(coil <= 0.25 * load**2 * farads, 0.0, np.maximum(over, 0.0)))


@formula("1 / (2 * pi * sqrt(coil_h * capacitance_f))")
def trap_hz(coil_h: Number, capacitance_f: Number) -> Number:
    r"""Return the frequency to which a trap is tuned.

    .. math:: f_0 = \frac{1}{2 \pi \sqrt{L C}}

    Args:
        coil_h: Coil of the trap [H], > 0.
        capacitance_f: Its capacitor with the strays [F], > 0; one open leaves the strays alone.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: textbook resonance; the sound carrier lies 4.5 MHz above the picture carrier (fcc-73-682-sound),
        5.5 MHz in the 625-line system of western Europe (from memory, to verify).
    Example: 25 uH and 50 pF in megahertz, worked by hand.
        >>> round(trap_hz(25e-6, 50e-12) / 1e6, 2)
        4.5
    """
    coil, farads = positive(coil_h=coil_h, capacitance_f=capacitance_f)
    return plain(1.0 / (2.0 * math.pi * np.sqrt(coil * farads)))


@formula("abs(Z / (Z + source_ohm)), Z = w * coil_h / quality + j * (w * coil_h - 1 / (w * capacitance_f))")
def series_trap_share(
    frequency_hz: Number, source_ohm: Number, coil_h: Number, capacitance_f: Number, quality: Number = 50.0
) -> Number:
    r"""Return what a trap of coil and capacitor in series, across the signal, leaves of a frequency.

    .. math::
        h = \left|\frac{Z}{Z + R_s}\right|, \quad
        Z = \frac{\omega L}{Q} + j\left(\omega L - \frac{1}{\omega C}\right)

    Args:
        frequency_hz: Frequency [Hz], > 0.
        source_ohm: Resistance that the signal comes from [ohm], >= 0.
        coil_h: Coil [H], > 0; 1e3 is an open one, and the trap is not there.
        capacitance_f: Capacitor [F], > 0; 1e-15 is an open one.
        quality: Q of the coil, > 0.
    Returns:
        Share that is left, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook divider.
    Example: 25 uH and 50 pF behind 3.9 k, tuned to 4.5 MHz; then the capacitor a tenth high.
        >>> tuned = series_trap_share(4.5e6, 3900.0, 25e-6, 50e-12)
        >>> round(tuned, 4), round(series_trap_share(4.5e6, 3900.0, 25e-6, 55e-12), 3)
        (0.0036, 0.017)
    """
    frequency, coil, farads, q = positive(
        frequency_hz=frequency_hz, coil_h=coil_h, capacitance_f=capacitance_f, quality=quality
    )
    (source,) = not_negative(source_ohm=source_ohm)
    omega = 2.0 * math.pi * frequency
    impedance = omega * coil / q + 1j * (omega * coil - 1.0 / (omega * farads))
    return plain(np.abs(impedance / (impedance + source)))


@formula(
    "abs(load / (load + Z)), 1 / load = 1 / load_ohm + j * w * load_f,"
    " 1 / Z = j * w * capacitance_f + 1 / (w * coil_h / quality + j * w * coil_h)"
)
def parallel_trap_share(
    frequency_hz: Number,
    load_ohm: Number,
    coil_h: Number,
    capacitance_f: Number,
    quality: Number = 50.0,
    load_f: Number = 0.0,
) -> Number:
    r"""Return what a parallel trap in series with the signal leaves of a frequency.

    .. math:: h = \left|\frac{Z_l}{Z_l + Z}\right|, \quad \frac1Z = j\omega C + \frac{1}{\omega L / Q + j \omega L}

    Args:
        frequency_hz: Frequency [Hz], > 0.
        load_ohm: Resistance behind the trap [ohm], > 0.
        coil_h: Coil [H], > 0; 1e-9 is a shorted one, and the trap is not there.
        capacitance_f: Capacitor across it [F], > 0.
        quality: Q of the coil, > 0.
        load_f: Capacitance behind the trap, that of the picture tube [F], >= 0.
    Returns:
        Share that is left, float or array; the load's capacitance can lift it above 1 elsewhere in the band.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook divider.
    Example: 12.5 uH with 100 pF, Q 50, at 4.5 MHz into 3.9 k.
        >>> round(parallel_trap_share(4.5e6, 3900.0, 12.5e-6, 100e-12), 3)
        0.181
    """
    frequency, load, coil, farads, q = positive(
        frequency_hz=frequency_hz, load_ohm=load_ohm, coil_h=coil_h, capacitance_f=capacitance_f, quality=quality
    )
    (across,) = not_negative(load_f=load_f)
    admittance = _tank(frequency, coil, farads, q)
    behind = 1.0 / load + 2j * math.pi * frequency * across
    return plain(np.abs(admittance / (admittance + behind)))


@formula(
    "1 / abs(1 + gm_a_per_v * Z), 1 / Z = j * w * capacitance_f + 1 / (w * coil_h / quality + j * w * coil_h)"
)
def cathode_trap_share(
    frequency_hz: Number, gm_a_per_v: Number, coil_h: Number, capacitance_f: Number, quality: Number = 50.0
) -> Number:
    r"""Return what a parallel trap in the cathode lead of the video tube leaves of a frequency.

    .. math:: h = \frac{1}{|1 + g_m Z|}

    Args:
        frequency_hz: Frequency [Hz], > 0.
        gm_a_per_v: Transconductance [A/V], >= 0.
        coil_h: Coil [H], > 0.
        capacitance_f: Capacitor across it [F], > 0.
        quality: Q of the coil, > 0.
    Returns:
        Share that is left, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: plate resistance large against the load.
    Source: textbook cathode feedback.
    Example: 11 mA/V, 1.25 uH with 1000 pF, Q 50, at 4.5 MHz.
        >>> round(cathode_trap_share(4.5e6, 11e-3, 1.25e-6, 1e-9), 3)
        0.049
    """
    frequency, coil, farads, q = positive(
        frequency_hz=frequency_hz, coil_h=coil_h, capacitance_f=capacitance_f, quality=quality
    )
    (transconductance,) = not_negative(gm_a_per_v=gm_a_per_v)
    admittance = _tank(frequency, coil, farads, q)
    return plain(np.abs(admittance / (admittance + transconductance)))


def _tank(frequency: Array, coil: Array, farads: Array, quality: Array) -> Complex:
    """Return the admittance of a coil with its loss and a capacitor side by side."""
    omega = 2.0 * math.pi * frequency
    return np.asarray(1j * omega * farads + 1.0 / (omega * coil * (1.0 / quality + 1j)))
