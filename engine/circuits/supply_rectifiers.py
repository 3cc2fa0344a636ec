# SPDX-License-Identifier: MIT
"""Rectifier tubes, selenium stacks and windings as the numbers that the supply circuits take; ripple and hum bars.

Limits: a tube follows the three-halves law at all currents; selenium is a threshold and a resistance.
Sources: 5u4gb-memory, selenium-notes, hum-bar-note, ripple-calculator (keys in kb/sources/supply.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.supply_network import Rectifier

__all__ = [
    "SILICON",
    "HumBars",
    "hum_bars",
    "ripple_bound_v",
    "selenium_rectifier",
    "triangular_ripple_rms_v",
    "tube_rectifier",
    "winding_source_ohm",
]

SILICON = Rectifier(drop_v=0.8)
"""A silicon diode; its drop is common practice, no source."""


@dataclass(frozen=True)
class HumBars:
    """Dark and light bars that ripple lays across the picture."""

    count: Number
    """Bars on the screen: 1 at field rate, 2 at twice field rate."""
    drift_hz: Number
    """How far the ripple is from a whole number of field rates."""
    screen_s: Number
    """Time in which the pattern drifts through one bar spacing; 1e12 where it stands still."""


@formula("at_a / drop_v**1.5")
def tube_rectifier(drop_v: Number, at_a: Number) -> Rectifier:
    r"""Return a rectifier tube from one point of its data sheet.

    .. math:: P = I / V^{3/2}

    Args:
        drop_v: Voltage from plate to cathode of one section [V], > 0.
        at_a: Plate current at that voltage [A], > 0.
    Returns:
        :class:`Rectifier` with the tube's perveance.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: space charge; a worn tube gives less at high peaks than a share of emission says.
    Source: langmuir-child-law (kb/sources/horizontal.yaml); the point from 5u4gb-memory, to verify.
    Example: 5U4GB, 44 V at 225 mA a section, in milliamperes at 1 V, worked by hand.
        >>> round(tube_rectifier(44.0, 0.225).perveance_perv * 1e3, 3)
        0.771
    """
    drop, current = positive(drop_v=drop_v, at_a=at_a)
    return Rectifier(perveance_perv=plain(current / drop**1.5))


@formula("drop = 0.5 V * plates, series = 0.2 V * plates * ageing / rated_a")
def selenium_rectifier(plates: Number, rated_a: Number, ageing: Number = 1.0) -> Rectifier:
    r"""Return a selenium stack.

    .. math:: u = 0.5\,n + 0.2\,n\,a\, i / I_0

    Age raises the forward drop until the stack runs hot.  Caution: a failing stack gives off poisonous fumes:
    switch off, ventilate, replace; a silicon diode in its place raises B+, see supply_filters.dropper.

    Args:
        plates: Plates in series, about one for each 26 V of rated RMS, > 0.
        rated_a: Rated direct current [A], > 0.
        ageing: Resistance over that of a new stack, > 0; 3 is a tired one.
    Returns:
        :class:`Rectifier`.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: an estimate.
    Source: from memory, to verify: about 1 V a plate and 5 to 10 V for a new stack under load; selenium-notes says
        that the forward drop rises with age.
    Example: five plates, 350 mA, at four times the rated current, worked by hand.
        >>> stack = selenium_rectifier(5.0, 0.35)
        >>> round(stack.drop_v + stack.series_ohm * 1.4, 2)
        6.5
    """
    count, current, age = positive(plates=plates, rated_a=rated_a, ageing=ageing)
    return Rectifier(drop_v=plain(0.5 * count), series_ohm=plain(0.2 * count * age / current))


@formula("secondary_ohm + turns_ratio**2 * primary_ohm")
def winding_source_ohm(secondary_ohm: Number, primary_ohm: Number, turns_ratio: Number) -> Number:
    r"""Return the source resistance of a transformer, seen from the winding that feeds the rectifier.

    .. math:: R_s = R_2 + n^2 R_1

    Args:
        secondary_ohm: Resistance of the winding, of one half of a centre-tapped one [ohm], >= 0.
        primary_ohm: Resistance of the primary [ohm], >= 0.
        turns_ratio: Turns of that winding or half over turns of the primary, > 0.
    Returns:
        Resistance [ohm], float or array; add the surge resistor if there is one.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook.
    Example: 60 ohm a half, 5 ohm primary, 325 V from 117 V, worked by hand.
        >>> round(winding_source_ohm(60.0, 5.0, 325.0 / 117.0), 1)
        98.6
    """
    secondary, primary = not_negative(secondary_ohm=secondary_ohm, primary_ohm=primary_ohm)
    (ratio,) = positive(turns_ratio=turns_ratio)
    return plain(secondary + ratio**2 * primary)


@formula("load_a / (ripple_hz * reservoir_f)")
def ripple_bound_v(load_a: Number, reservoir_f: Number, ripple_hz: Number) -> Number:
    r"""Return the most ripple that a reservoir can have: the charge of a whole period taken from it.

    .. math:: V_{pp} < \frac{I}{f C}

    Args:
        load_a: Load current [A], >= 0.
        reservoir_f: Reservoir [F], > 0.
        ripple_hz: Charges per second: mains rate, or twice that for full wave [Hz], > 0.
    Returns:
        Upper bound of the ripple, peak to peak [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: an upper bound; over-reads by 24 to 81 % on supply-check-cases, as it leaves the charging time out.
    Source: textbook; ripple-calculator for twice the rate with full wave.
    Example: 0.25 A, 80 uF, 120 Hz, worked by hand.
        >>> round(ripple_bound_v(0.25, 80e-6, 120.0), 1)
        26.0
    """
    (current,) = not_negative(load_a=load_a)
    capacitance, rate = positive(reservoir_f=reservoir_f, ripple_hz=ripple_hz)
    return plain(current / (rate * capacitance))


@formula("ripple_v / (2 * sqrt(3))")
def triangular_ripple_rms_v(ripple_v: Number) -> Number:
    r"""Return the RMS of a triangular ripple, near enough for what a reservoir shows.

    .. math:: V = V_{pp} / 2\sqrt3

    Args:
        ripple_v: Ripple, peak to peak [V], >= 0.
    Returns:
        RMS [V], float or array.
    Raises:
        OutOfRange: The ripple is negative.
    Source: textbook.
    Example: 26 V peak to peak, worked by hand.
        >>> round(triangular_ripple_rms_v(26.0), 2)
        7.51
    """
    (ripple,) = not_negative(ripple_v=ripple_v)
    return plain(ripple / (2.0 * math.sqrt(3.0)))


@formula("count = round(ripple_hz / field_hz), drift_hz = abs(ripple_hz - count * field_hz)")
def hum_bars(ripple_hz: Number, field_hz: Number) -> HumBars:
    r"""Return how many hum bars a ripple lays across the picture, and how fast they drift.

    .. math:: n = \mathrm{round}(f_r / f_V), \quad \Delta f = |f_r - n f_V|

    Args:
        ripple_hz: Rate of the ripple [Hz], > 0.
        field_hz: Field rate of the picture [Hz], > 0.
    Returns:
        :class:`HumBars`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: a synchronized picture.
    Source: hum-bar-note for one and two bars; the drift is derived.
    Example: 60 Hz mains under a 59.94 Hz field, worked by hand.
        >>> bars = hum_bars(60.0, 59.94)
        >>> bars.count, round(bars.screen_s, 1)
        (1.0, 16.7)
    """
    ripple, field = positive(ripple_hz=ripple_hz, field_hz=field_hz)
    count = np.maximum(np.round(ripple / field), 1.0)
    drift = np.abs(ripple - count * field)
    return HumBars(plain(count), plain(drift), plain(1.0 / np.maximum(drift, 1e-12)))
