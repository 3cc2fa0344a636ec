# SPDX-License-Identifier: MIT
"""Heaters, lamps and thermistors as resistances that depend on their current.

A tungsten wire rises with its heat: a heater is several times lower cold than hot, a lamp more so.  A thermistor
falls with its own heat, which settles where the power that it takes equals what it gives off.
Limits: the settled state; warm-up over time is left out.
Sources: van-de-walle-heaters, heater-inrush-2004, lamp-cold-note, thermistor-note (keys in
kb/sources/heaters.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.errors import OutOfRange

__all__ = [
    "COLD_HEATER_SHARE",
    "COLD_LAMP_SHARE",
    "Lamp",
    "Thermistor",
    "dropper_ohm",
    "heater_current_a",
    "heater_ohm",
    "lamp_ohm",
    "thermistor_ohm",
    "tungsten_ohm",
]

COLD_HEATER_SHARE = 1.0 / 7.0
"""Cold over hot resistance of a heater: 1/5 to 1/8 from memory, to verify; inrush of 2.7 to 7.2 times in
heater-inrush-2004."""
COLD_LAMP_SHARE = 1.0 / 15.0
"""Cold over hot resistance of a mains lamp: 9.5 and 144 ohm for one of 100 W in lamp-cold-note."""

_HEATER_SLOPE = 0.65
_LAMP_SLOPE = 0.82
_KELVIN = 273.15


@dataclass(frozen=True)
class Lamp:
    """A mains lamp."""

    rated_v: Number
    rated_w: Number


@dataclass(frozen=True)
class Thermistor:
    """A thermistor by two points: cold, and hot at its rated current.  The defaults are thermistor-note's."""

    cold_ohm: Number = 5500.0
    hot_ohm: Number = 40.0
    rated_a: Number = 0.3
    hot_c: Number = 250.0
    """Its temperature at the hot point."""
    room_c: Number = 25.0
    """Temperature of the cold point and of the air about it."""


@formula("hot_ohm * (cold_share + (1 - cold_share) * (current_a / rated_a)**(slope / (1 - cold_share)))")
def tungsten_ohm(current_a: Number, rated_a: Number, hot_ohm: Number, cold_share: Number, slope: Number) -> Number:
    r"""Return the settled resistance of a tungsten wire at a current.

    .. math:: R = R_h \left(c + (1 - c) (I / I_0)^{p / (1 - c)}\right)

    Args:
        current_a: RMS current [A], >= 0.
        rated_a: Rated current [A], > 0.
        hot_ohm: Resistance at the rated current [ohm], > 0.
        cold_share: Cold resistance over hot_ohm, above 0 and below 1.
        slope: Relative change of resistance over relative change of current at the rated current, > 0.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: right when cold and about the rated point; a smooth passage in between.
    Source: derived here as the simplest curve through cold value, rated value and slope.
    Example: at rest and at the rated current.
        >>> [round(tungsten_ohm(current, 0.3, 21.0, 1 / 7, 0.65), 6) for current in (0.0, 0.3)]
        [3.0, 21.0]
    """
    (current,) = not_negative(current_a=current_a)
    rated, hot, cold, steep = positive(rated_a=rated_a, hot_ohm=hot_ohm, cold_share=cold_share, slope=slope)
    if np.any(cold >= 1.0):
        raise OutOfRange(f"cold_share is {float(np.max(cold)):g}; expected above 0 and below 1.")
    return plain(hot * (cold + (1.0 - cold) * (current / rated) ** (steep / (1.0 - cold))))


@formula("rated_v / rated_a * (cold_share + (1 - cold_share) * (current_a / rated_a)**(0.65 / (1 - cold_share)))")
def heater_ohm(
    current_a: Number, rated_v: Number, rated_a: Number, cold_share: Number = COLD_HEATER_SHARE
) -> Number:
    r"""Return the resistance of a tube's heater at a current.

    .. math:: R = \frac{V_0}{I_0} \left(c + (1 - c) (I / I_0)^{0.65 / (1 - c)}\right)

    Args:
        current_a: RMS current [A], >= 0.
        rated_v: Rated heater voltage [V], > 0.
        rated_a: Rated heater current [A], > 0.
        cold_share: Cold over hot resistance, above 0 and below 1.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: settled; an estimate below half the rated current.
    Source: van-de-walle-heaters: 5 % more voltage, 3 % more current, hence the slope of 0.65.
    Example: 6.3 V, 0.3 A: hot and cold, and at the current that 5 % more voltage drives.
        >>> round(heater_ohm(0.3, 6.3, 0.3), 1), round(heater_ohm(0.0, 6.3, 0.3), 1)
        (21.0, 3.0)
        >>> round(heater_ohm(0.309, 6.3, 0.3) * 0.309 / 6.3, 2)
        1.05
    """
    volts, current = positive(rated_v=rated_v, rated_a=rated_a)
    return tungsten_ohm(current_a, current, volts / current, cold_share, _HEATER_SLOPE)


@formula("the current at which current * heater_ohm(current, rated_v, rated_a) = heater_v")
def heater_current_a(
    heater_v: Number, rated_v: Number, rated_a: Number, cold_share: Number = COLD_HEATER_SHARE
) -> Number:
    r"""Return the current of a heater at a voltage.

    .. math:: I\, R(I) = V

    Args:
        heater_v: RMS voltage across the heater [V], >= 0.
        rated_v: Rated heater voltage [V], > 0.
        rated_a: Rated heater current [A], > 0.
        cold_share: Cold over hot resistance, above 0 and below 1.
    Returns:
        RMS current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: as heater_ohm.
    Example: 6.3 V, 0.3 A at 5 % more voltage: 3 % more current, as in van-de-walle-heaters.
        >>> round(heater_current_a(6.615, 6.3, 0.3) / 0.3, 2)
        1.03
    """
    (volts,) = not_negative(heater_v=heater_v)
    rated, current, cold = positive(rated_v=rated_v, rated_a=rated_a, cold_share=cold_share)
    most = volts / (rated / current * cold)

    def missing(trial: Array) -> Array:
        return np.asarray(volts - trial * heater_ohm(trial, rated, current, cold))

    return plain(quick_root(missing, 0.0 * most, most))


@formula(
    "rated_v**2 / rated_w * (cold_share + (1 - cold_share) * (current_a * rated_v / rated_w)"
    "**(0.82 / (1 - cold_share)))"
)
def lamp_ohm(current_a: Number, rated_v: Number, rated_w: Number, cold_share: Number = COLD_LAMP_SHARE) -> Number:
    r"""Return the resistance of a mains lamp at a current.

    .. math:: R = \frac{V_0^2}{P_0} \left(c + (1 - c) (I V_0 / P_0)^{0.82 / (1 - c)}\right)

    Args:
        current_a: RMS current [A], >= 0.
        rated_v: Rated voltage [V], > 0.
        rated_w: Rated power [W], > 0.
        cold_share: Cold over hot resistance, above 0 and below 1.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a lamp with a tungsten wire; others are no limiter.
    Source: lamp-cold-note for the cold value; current as the 0.55th power of voltage from memory, to verify.
    Example: 60 W, 230 V: 882 ohm hot, worked by hand.
        >>> round(lamp_ohm(60.0 / 230.0, 230.0, 60.0)), round(lamp_ohm(0.0, 230.0, 60.0))
        (882, 59)
    """
    volts, power = positive(rated_v=rated_v, rated_w=rated_w)
    return tungsten_ohm(current_a, power / volts, volts**2 / power, cold_share, _LAMP_SLOPE)


@formula(
    "cold_ohm * exp(b * (1 / t - 1 / room)), b from the two points; t where current_a**2 times that ="
    " rated_a**2 * hot_ohm * (t - room) / (hot - room)"
)
def thermistor_ohm(current_a: Number, thermistor: Thermistor) -> Number:
    r"""Return the resistance at which a thermistor settles when a current flows.

    .. math::
        R = R_c e^{B (1/T - 1/T_r)}, \quad I^2 R = \delta (T - T_r), \quad
        B = \frac{\ln(R_c/R_h)}{1/T_r - 1/T_h}, \quad \delta = \frac{I_0^2 R_h}{T_h - T_r}

    Args:
        current_a: RMS current [A], >= 0.
        thermistor: Its two points.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: A current is negative, or the hot point is not hotter, or not lower, than the cold one.
    Valid: settled; still air at room_c.
    Source: thermistor-note for the two points; exponential law and balance of power, textbook.
    Example: cold, at the rated current, and at half of it.
        >>> [round(thermistor_ohm(current, Thermistor())) for current in (0.0, 0.3, 0.15)]
        [5500, 40, 110]
    """
    (current,) = not_negative(current_a=current_a)
    cold, hot, rated = positive(
        cold_ohm=thermistor.cold_ohm, hot_ohm=thermistor.hot_ohm, rated_a=thermistor.rated_a
    )
    rise = np.asarray(thermistor.hot_c, dtype=float) - thermistor.room_c
    if np.any(rise <= 0.0) or np.any(hot >= cold):
        raise OutOfRange("thermistor has a hot point that is not hotter and lower in ohms than its cold point.")
    room = np.asarray(thermistor.room_c, dtype=float) + _KELVIN
    steep = np.log(cold / hot) / (1.0 / room - 1.0 / (room + rise))
    warm = _temperature(current, cold, steep, room, rated**2 * hot / rise)
    return plain(cold * np.exp(steep * (1.0 / warm - 1.0 / room)))


def _temperature(current: Array, cold: Array, steep: Array, room: Array, loss: Array) -> Array:
    """Return where heating meets cooling, by Newton's method in the logarithm of the rise."""
    level = np.log(np.maximum(current, 1e-9) ** 2 * cold / loss)
    rise = np.minimum(level, 5.0)
    for _ in range(12):
        warm = room + np.exp(rise)
        excess = level + steep * (1.0 / warm - 1.0 / room) - rise
        rise = rise + excess / (1.0 + steep * np.exp(rise) / warm**2)
    return np.asarray(room + np.exp(rise))


@formula("(mains_v - heaters_v - thermistor_v) / string_a")
def dropper_ohm(mains_v: Number, heaters_v: Number, string_a: Number, thermistor_v: Number = 0.0) -> Number:
    r"""Return the dropper of a series string.

    .. math:: R = (V - \Sigma V_h - V_t) / I

    Args:
        mains_v: RMS mains [V], > 0.
        heaters_v: Sum of the rated heater voltages [V], >= 0.
        string_a: String current [A], > 0.
        thermistor_v: Voltage across the hot thermistor [V], >= 0.
    Returns:
        Resistance [ohm], float or array; its power is the current squared times it.
    Raises:
        OutOfRange: An argument is out of its bounds, or the heaters need more than the mains.
    Source: Ohm's law.
    Example: 68.75 V of heaters at 0.6 A on 117 V; 158.3 V with 13.2 V in a thermistor at 0.3 A on 230 V.
        >>> round(dropper_ohm(117.0, 68.75, 0.6), 1), round(dropper_ohm(230.0, 158.3, 0.3, 13.2))
        (80.4, 195)
    """
    mains, current = positive(mains_v=mains_v, string_a=string_a)
    heaters, warm = not_negative(heaters_v=heaters_v, thermistor_v=thermistor_v)
    left = mains - heaters - warm
    if np.any(left < 0.0):
        raise OutOfRange(f"heaters_v leaves {float(np.min(left)):g} V for the dropper; expected zero or above.")
    return plain(left / current)
