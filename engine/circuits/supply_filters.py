# SPDX-License-Identifier: MIT
"""Filter sections, droppers and decoupled rails behind a rectifier: direct voltage and what is left of the ripple.

Ripple is taken one component at a time, as its peak-to-peak value and rate; SupplyOutput gives the components at
mains rate and at twice mains rate.  Faults are values: an open capacitor has few farads, a leaky one a leak,
a choke with shorted turns less inductance, a risen resistor more ohms.
Limits: sine components; the load is a resistance; a choke keeps its inductance at all currents.
Sources: textbook circuit theory; leak-rule-of-thumb (keys in kb/sources/supply.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "Dropper",
    "FilterSection",
    "Rail",
    "choke_section",
    "decoupled_rail",
    "dropper",
    "least_leak_ohm",
    "rail_impedance_ohm",
    "rc_section",
]


@dataclass(frozen=True)
class FilterSection:
    """What a filter section passes on."""

    dc_v: Number
    ripple_v: Number
    """Peak to peak, of the component that went in."""
    ripple_share: Number
    """Ripple out over ripple in; above 1 at a resonance."""
    series_a: Number
    """Direct current through the series element: load and leak."""
    series_w: Number
    """Power in the series element."""


@dataclass(frozen=True)
class Dropper:
    """A resistor that drops a voltage."""

    resistance_ohm: Number
    power_w: Number
    """Power that it turns into heat; fit at least twice this rating."""


@dataclass(frozen=True)
class Rail:
    """A rail behind its own resistor and decoupling capacitor."""

    dc_v: Number
    ripple_v: Number
    feed_a: Number
    """Current through the feed resistor: load and leak."""
    feed_w: Number
    impedance_ohm: Number
    """What a stage on the rail works against at the lowest frequency that matters to it."""


@formula(
    "dc_v = input_v * load / (series_ohm + load), load = load_ohm in parallel with leak_ohm; ripple_share ="
    " abs(z / (series_ohm + z)), z = load in parallel with 1 / (2j * pi * ripple_hz * capacitance_f)"
)
def rc_section(
    input_v: Number,
    ripple_v: Number,
    ripple_hz: Number,
    series_ohm: Number,
    capacitance_f: Number,
    load_ohm: Number,
    leak_ohm: Number = 1e12,
) -> FilterSection:
    r"""Return what a resistor and a capacitor pass on.

    .. math::
        V = V_i \frac{R_L}{R + R_L}, \quad \frac{r}{r_i} = \left|\frac{Z}{R + Z}\right|, \quad
        Z = R_L \| 1/j\omega C

    Args:
        input_v: Direct voltage at the input [V], >= 0.
        ripple_v: One component of the ripple at the input, peak to peak [V], >= 0.
        ripple_hz: Its rate [Hz], > 0.
        series_ohm: Series resistor [ohm], > 0.
        capacitance_f: Capacitor of the section [F], > 0.
        load_ohm: Load behind the section [ohm], > 0.
        leak_ohm: Leak of the capacitor [ohm], > 0; 1e-3 is a short.
    Returns:
        :class:`FilterSection`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook voltage divider.
    Example: 300 V with 10 V at 120 Hz, 1 k, 40 uF, 10 k; by hand 300 / 1.1 and 1 / (w R C) = 0.0332.
        >>> found = rc_section(300.0, 10.0, 120.0, 1e3, 40e-6, 10e3)
        >>> round(found.dc_v, 1), round(found.ripple_v, 2), round(found.series_w, 2)
        (272.7, 0.33, 0.74)
    """
    (resistance,) = positive(series_ohm=series_ohm)
    return _section(input_v, ripple_v, ripple_hz, resistance, 0.0 * resistance, capacitance_f, load_ohm, leak_ohm)


@formula(
    "dc_v = input_v * load / (choke_ohm + load), load = load_ohm in parallel with leak_ohm; ripple_share ="
    " abs(z / (choke_ohm + 2j * pi * ripple_hz * choke_h + z)), z = load in parallel with"
    " 1 / (2j * pi * ripple_hz * capacitance_f)"
)
def choke_section(
    input_v: Number,
    ripple_v: Number,
    ripple_hz: Number,
    choke_h: Number,
    choke_ohm: Number,
    capacitance_f: Number,
    load_ohm: Number,
    leak_ohm: Number = 1e12,
) -> FilterSection:
    r"""Return what a choke and a capacitor pass on.

    .. math:: \frac{r}{r_i} = \left|\frac{Z}{R + j\omega L + Z}\right| \approx \frac{1}{\omega^2 L C}

    Args:
        input_v: Direct voltage at the input [V], >= 0.
        ripple_v: One component of the ripple at the input, peak to peak [V], >= 0.
        ripple_hz: Its rate [Hz], > 0.
        choke_h: Inductance at the current that flows, less with shorted turns [H], >= 0.
        choke_ohm: Its resistance; 1e9 for an open one [ohm], > 0.
        capacitance_f: Capacitor of the section [F], > 0.
        load_ohm: Load behind the section [ohm], > 0.
        leak_ohm: Leak of the capacitor [ohm], > 0.
    Returns:
        :class:`FilterSection`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a capacitor that dries out may bring choke and capacitor into resonance, with more ripple than without.
    Source: textbook voltage divider.
    Example: 300 V with 16 V at 120 Hz, 2 H and 60 ohm, 80 uF, 1.5 k; by hand 1/(w w L C - 1) = 0.0111.
        >>> found = choke_section(300.0, 16.0, 120.0, 2.0, 60.0, 80e-6, 1.5e3)
        >>> round(found.dc_v, 1), round(found.ripple_share, 4), round(found.ripple_v, 3)
        (288.5, 0.0111, 0.178)
    """
    (resistance,) = positive(choke_ohm=choke_ohm)
    (inductance,) = not_negative(choke_h=choke_h)
    return _section(input_v, ripple_v, ripple_hz, resistance, inductance, capacitance_f, load_ohm, leak_ohm)


def _section(
    input_v: Number,
    ripple_v: Number,
    ripple_hz: Number,
    resistance: Array,
    inductance: Array,
    capacitance_f: Number,
    load_ohm: Number,
    leak_ohm: Number,
) -> FilterSection:
    volts, ripple = not_negative(input_v=input_v, ripple_v=ripple_v)
    rate, capacitance, load, leak = positive(
        ripple_hz=ripple_hz, capacitance_f=capacitance_f, load_ohm=load_ohm, leak_ohm=leak_ohm
    )
    omega, shunt = 2.0 * math.pi * rate, 1.0 / load + 1.0 / leak
    current = volts * shunt / (1.0 + resistance * shunt)
    passed = 1.0 / np.abs(1.0 + (resistance + 1j * omega * inductance) * (shunt + 1j * omega * capacitance))
    power = current**2 * resistance
    return FilterSection(*map(plain, (current / shunt, ripple * passed, passed, current, power)))


@formula("resistance_ohm = drop_v / current_a, power_w = drop_v * current_a")
def dropper(drop_v: Number, current_a: Number) -> Dropper:
    r"""Return the resistor that drops a voltage, for a dropper or after a selenium stack gave way to silicon.

    .. math:: R = V / I, \quad P = V I

    Args:
        drop_v: Voltage to be dropped [V], >= 0.
        current_a: Current [A], > 0.
    Returns:
        :class:`Dropper`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: direct current through a steady load; in the path of the charging pulses the heat is that of their
        RMS, SupplyOutput.source_a.
    Source: Ohm's law.
    Example: 15 V at 0.25 A after a silicon swap, worked by hand.
        >>> dropper(15.0, 0.25)
        Dropper(resistance_ohm=60.0, power_w=3.75)
    """
    (volts,) = not_negative(drop_v=drop_v)
    (current,) = positive(current_a=current_a)
    return Dropper(plain(volts / current), plain(volts * current))


@formula("1 / (1 / feed_ohm + 1 / load_ohm + 1 / leak_ohm + 2j * pi * frequency_hz * capacitance_f)")
def rail_impedance_ohm(
    feed_ohm: Number,
    capacitance_f: Number,
    frequency_hz: Number,
    load_ohm: Number = 1e12,
    leak_ohm: Number = 1e12,
) -> Number:
    r"""Return the impedance of a rail: what couples the stages on it, and its own stage with itself.

    .. math:: |Z| = \left| \frac{1}{R} + \frac{1}{R_L} + j\omega C \right|^{-1}

    Args:
        feed_ohm: Feed resistor [ohm], > 0.
        capacitance_f: Decoupling capacitor; strays where it is open [F], > 0.
        frequency_hz: Frequency [Hz], > 0.
        load_ohm: Load [ohm], > 0.
        leak_ohm: Leak of the capacitor [ohm], > 0.
    Returns:
        Impedance [ohm], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: a B+ that is itself no impedance.
    Source: textbook.
    Example: 3.3 k with 40 uF at the field rate of 60 Hz, then with the capacitor open, worked by hand.
        >>> round(rail_impedance_ohm(3.3e3, 40e-6, 60.0), 1), round(rail_impedance_ohm(3.3e3, 1e-9, 60.0))
        (66.3, 3300)
    """
    feed, capacitance, rate, load, leak = positive(
        feed_ohm=feed_ohm,
        capacitance_f=capacitance_f,
        frequency_hz=frequency_hz,
        load_ohm=load_ohm,
        leak_ohm=leak_ohm,
    )
    admittance = 1.0 / feed + 1.0 / load + 1.0 / leak + 2j * math.pi * rate * capacitance
    return plain(1.0 / np.abs(admittance))


@formula(
    "dc_v = supply_v * load / (feed_ohm + load), load = load_ohm in parallel with leak_ohm; ripple and impedance"
    " as rc_section and rail_impedance_ohm give them"
)
def decoupled_rail(
    supply_v: Number,
    supply_ripple_v: Number,
    ripple_hz: Number,
    feed_ohm: Number,
    capacitance_f: Number,
    load_ohm: Number,
    leak_ohm: Number = 1e12,
    lowest_hz: Number = 60.0,
) -> Rail:
    r"""Return a rail that is fed through a resistor and decoupled by a capacitor, whole, leaky or open.

    .. math:: V = V_s \frac{R_p}{R + R_p}, \quad R_p = R_L \| R_{leak}

    Args:
        supply_v: Supply that feeds it [V], >= 0.
        supply_ripple_v: One component of the ripple of that supply, peak to peak [V], >= 0.
        ripple_hz: Its rate [Hz], > 0.
        feed_ohm: Feed resistor; 1e9 open [ohm], > 0.
        capacitance_f: Decoupling capacitor; 1e-9 dried out [F], > 0.
        load_ohm: Stages on the rail, as a resistance [ohm], > 0.
        leak_ohm: Leak of the capacitor; 1e-3 shorted [ohm], > 0.
        lowest_hz: Lowest frequency that a stage on the rail works with: the field rate as a rule [Hz], > 0.
    Returns:
        :class:`Rail`, its fields floats or arrays; feed_w tells whether the feed resistor burns.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: small ripple.  A rail with its capacitor open takes its own stage's currents back to its other stages.
    Source: textbook voltage divider.
    Example: 280 V through 10 k into 20 k; then with a leak of 20 k, worked by hand.
        >>> [round(decoupled_rail(280.0, 0.2, 120.0, 10e3, 10e-6, 20e3, leak).dc_v, 1) for leak in (1e12, 20e3)]
        [186.7, 140.0]
    """
    passed = rc_section(supply_v, supply_ripple_v, ripple_hz, feed_ohm, capacitance_f, load_ohm, leak_ohm)
    impedance = rail_impedance_ohm(feed_ohm, capacitance_f, lowest_hz, load_ohm, leak_ohm)
    return Rail(passed.dc_v, passed.ripple_v, passed.series_a, passed.series_w, impedance)


@formula("20 * fed_ohm")
def least_leak_ohm(fed_ohm: Number) -> Number:
    r"""Return the leak that a bypass capacitor may have before it pulls its rail down by a twentieth.

    .. math:: R_{leak} \ge 20\,R

    Args:
        fed_ohm: Resistance through which the rail is fed [ohm], > 0.
    Returns:
        Least leak resistance [ohm], float or array.
    Raises:
        OutOfRange: The resistance is not positive.
    Source: leak-rule-of-thumb.
    Example: a screen fed through 100 k.
        >>> least_leak_ohm(100e3)
        2000000.0
    """
    (resistance,) = positive(fed_ohm=fed_ohm)
    return plain(20.0 * resistance)
