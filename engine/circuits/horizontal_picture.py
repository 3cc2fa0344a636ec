# SPDX-License-Identifier: MIT
"""What wrong horizontal sync looks like, and the direct sync of sets without AFC.

Rates and times only: the picture is drawn elsewhere.
Sources: puckle-time-bases (key in kb/sources/horizontal.yaml); the rest is arithmetic of scanning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "DiagonalBars",
    "bend_drift_hz",
    "diagonal_bars",
    "direct_sync_lowest_hz",
    "floating_widths_per_s",
    "trigger_jitter_s",
]


@dataclass(frozen=True)
class DiagonalBars:
    """The torn picture of an oscillator that runs at another rate than the sync."""

    count: Number
    """Bars down one field."""
    lean: Number
    """1: bars run down to the right, oscillator fast; -1: down to the left, oscillator slow; 0: upright."""
    shift_per_line: Number
    """Step of a bar from one line to the next, as a share of the line."""


@formula("abs(oscillator_hz - line_hz) / field_hz")
def diagonal_bars(oscillator_hz: Number, line_hz: Number, field_hz: Number) -> DiagonalBars:
    r"""Return number and lean of the bars into which the picture tears when the oscillator is off.

    .. math:: n = |f - f_H| / f_V, \qquad \delta = (f - f_H) / f_H

    Args:
        oscillator_hz: Rate of the oscillator [Hz], > 0.
        line_hz: Rate of the sync [Hz], > 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        :class:`DiagonalBars`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is not positive.
    Source: arithmetic of scanning: the blanking comes earlier in each line of a slow oscillator.
    Example: 300 Hz slow at 60 fields: five bars, down to the left; worked by hand.
        >>> bars = diagonal_bars(15450.0, 15750.0, 60.0)
        >>> bars.count, bars.lean, round(bars.shift_per_line, 4)
        (5.0, -1.0, -0.019)
    """
    rate, line, field = positive(oscillator_hz=oscillator_hz, line_hz=line_hz, field_hz=field_hz)
    error = rate - line
    fields = np.broadcast_arrays(np.abs(error) / field, np.sign(error), error / line)
    return DiagonalBars(*(plain(np.array(value)) for value in fields))


@formula("oscillator_hz - line_hz")
def floating_widths_per_s(oscillator_hz: Number, line_hz: Number) -> Number:
    r"""Return how fast the picture floats sideways when nothing holds its phase.

    .. math:: v = f - f_H

    With the hold control near the line rate and no sync at the oscillator the picture is whole for moments,
    its blanking bar upright at any place, and floats; AFC that locks in a wrong place stands still instead.

    Args:
        oscillator_hz: Rate of the oscillator [Hz], >= 0.
        line_hz: Rate of the transmission [Hz], > 0.
    Returns:
        Whole picture widths in a second, to the right positive, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: arithmetic of scanning.
    Example: half a hertz slow: one width to the left in two seconds, worked by hand.
        >>> floating_widths_per_s(15749.5, 15750.0)
        -0.5
    """
    (rate,) = not_negative(oscillator_hz=oscillator_hz)
    (line,) = positive(line_hz=line_hz)
    return plain(rate - line)


@formula("abs(hum_hz - round(hum_hz / field_hz) * field_hz)")
def bend_drift_hz(hum_hz: Number, field_hz: Number) -> Number:
    r"""Return the rate at which a bend made by hum travels through the picture.

    .. math:: d = |f_h - n f_V|

    Args:
        hum_hz: Rate of the hum [Hz], > 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        Rate [Hz]; 0 stands still, float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: arithmetic of scanning.
    Example: 60 Hz hum on 59.94 fields, seconds for one screen; 50 Hz hum on 60 fields.
        >>> round(1 / bend_drift_hz(60.0, 59.94), 1), bend_drift_hz(50.0, 60.0)
        (16.7, 10.0)
    """
    hum, field = positive(hum_hz=hum_hz, field_hz=field_hz)
    return plain(np.abs(hum - np.maximum(np.round(hum / field), 1.0) * field))


@formula(
    "line_hz * ln((return_v - lowest_v) / (return_v - fire_v + sync_v))"
    " / ln((return_v - lowest_v) / (return_v - fire_v))"
)
def direct_sync_lowest_hz(
    line_hz: Number, sync_v: Number, lowest_v: Number, fire_v: Number, return_v: Number = 0.0
) -> Number:
    r"""Return the lowest free-running rate that sync pulses at the grid still pull up to the line rate.

    .. math:: f_{min} = f_H \frac{\ln \frac{E - V_0}{E - V_f + S}}{\ln \frac{E - V_0}{E - V_f}}

    Without AFC each pulse fires the oscillator by itself.  The oscillator must run slow by itself: one that
    runs fast has fired before the pulse comes.  A pulse of noise fires it as well, so that weak signals tear line
    by line.

    Args:
        line_hz: Rate of the sync [Hz], > 0.
        sync_v: Sync pulse at the grid [V], >= 0.
        lowest_v: Grid voltage from which it comes back [V], below fire_v.
        fire_v: Grid voltage at which it fires [V], below return_v.
        return_v: Voltage to which the grid leak returns [V].
    Returns:
        Rate [Hz]; the highest is the line rate itself; float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the grid comes back by one resistor and one capacitor.
    Source: puckle-time-bases for the circuit; derived here.
    Example: the same arithmetic at 60 Hz: from -80 V to -14.7 V, pulses of 5 V, worked by hand.
        >>> round(direct_sync_lowest_hz(60.0, 5.0, -80.0, -14.7), 1)
        49.6
    """
    (line,) = positive(line_hz=line_hz)
    (sync,) = not_negative(sync_v=sync_v)
    (lowest, fire, back) = any_sign(lowest_v=lowest_v, fire_v=fire_v, return_v=return_v)
    ahead, way = positive(return_v_less_fire_v=plain(back - fire), fire_v_less_lowest_v=plain(fire - lowest))
    whole = ahead + way
    return plain(line * np.log(np.maximum(whole / (ahead + sync), 1.0)) / np.log(whole / ahead))


@formula("time_constant_s * ln((return_v - fire_v + noise_v) / (return_v - fire_v))")
def trigger_jitter_s(noise_v: Number, fire_v: Number, time_constant_s: Number, return_v: Number = 0.0) -> Number:
    r"""Return how much too early a disturbance at the grid fires an oscillator without AFC.

    .. math:: \Delta t = R C \ln \frac{E - V_f + N}{E - V_f}

    Args:
        noise_v: Disturbance at the grid, with the sign that fires [V], >= 0.
        fire_v: Grid voltage at which it fires [V], below return_v.
        time_constant_s: Grid leak times coupling capacitor [s], > 0.
        return_v: Voltage to which the grid leak returns [V].
    Returns:
        Time [s], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: puckle-time-bases for the circuit; derived here.
    Example: 0.5 V of noise at -8 V with 50 us, in microseconds, worked by hand.
        >>> round(trigger_jitter_s(0.5, -8.0, 50e-6) * 1e6, 2)
        3.03
    """
    (noise,) = not_negative(noise_v=noise_v)
    (fire, back) = any_sign(fire_v=fire_v, return_v=return_v)
    (unit,) = positive(time_constant_s=time_constant_s)
    (ahead,) = positive(return_v_less_fire_v=plain(back - fire))
    return plain(unit * np.log1p(noise / ahead))
