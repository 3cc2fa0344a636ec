# SPDX-License-Identifier: MIT
"""Sawtooth, trapezoid and lock of the vertical deflection.

Limits: the sync pulse is taken as short, with one height at the grid; hum and noise are left out.
Sources: sawtooth-check-values, puckle-1951 (keys in kb/sources/vertical.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = [
    "Sawtooth",
    "Trapezoid",
    "VerticalLock",
    "charged_sawtooth",
    "ideal_peaking_ohm",
    "trapezoid",
    "vertical_lock",
]

_SWEEPS = 96
"""Sweeps over which an unlocked oscillator is followed under its sync pulses."""


@dataclass(frozen=True)
class Sawtooth:
    """The sawtooth of a charged capacitor."""

    amplitude_v: Number
    slope_ratio: Number
    """Slope at the end over slope at the beginning."""
    linearity_error: Number
    """What is missing of that ratio to one."""
    start_v: Number
    mean_v: Number
    """Mean over the trace: what a meter shows, with the retrace left out."""


@dataclass(frozen=True)
class Trapezoid:
    """A sawtooth with a pulse."""

    ramp_v: Number
    pulse_v: Number
    """Depth of the pulse during retrace, below the beginning of the ramp."""
    total_v: Number
    """Peak to peak."""


@dataclass(frozen=True)
class VerticalLock:
    """Whether a picture stands, and how it rolls."""

    locked: Number
    """1 where it stands, 0 where it rolls."""
    rate_hz: Number
    """Sweeps a second, in the mean."""
    roll_hz: Number
    """Pictures a second that roll by; up, with an oscillator slower than the signal, is positive."""
    lowest_free_hz: Number
    """Slowest free-running rate that this sync still locks."""


@formula("(supply_v - start_v) * (1 - exp(-trace_s / (charging_ohm * sawtooth_f)))")
def charged_sawtooth(
    supply_v: Number,
    charging_ohm: Number,
    sawtooth_f: Number,
    trace_s: Number,
    leak_ohm: Number = 1e12,
    start_v: Number = 0.0,
) -> Sawtooth:
    r"""Return the sawtooth of a capacitor charged through a resistor, with a leak across it.

    .. math:: v = (E' - v_0)(1 - e^{-t/\tau}), \quad E' = E\frac{R_l}{R + R_l},\ \tau = C\frac{R R_l}{R + R_l}

    Args:
        supply_v: Supply of the charging resistor, B+ or boosted B+ [V], >= 0.
        charging_ohm: Charging resistor with the height control [ohm], > 0.
        sawtooth_f: Sawtooth capacitor [F], > 0.
        trace_s: Time of the trace [s], > 0.
        leak_ohm: Leak of the capacitor [ohm], > 0.
        start_v: Voltage to which the retrace discharges it [V].
    Returns:
        :class:`Sawtooth`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: loads on the sawtooth beyond the leak counted into it by the caller.
    Source: sawtooth-check-values: charging of a capacitor.
    Example: worked by hand there: 500 V, 2.2 M, 0.047 uF and 15.9 ms; the slope falls to 85.7 %.
        >>> found = charged_sawtooth(500.0, 2.2e6, 0.047e-6, 15.9e-3)
        >>> round(found.amplitude_v, 1), round(found.slope_ratio, 3)
        (71.3, 0.857)
    """
    (supply,) = not_negative(supply_v=supply_v)
    series, farads, trace, leak = positive(
        charging_ohm=charging_ohm, sawtooth_f=sawtooth_f, trace_s=trace_s, leak_ohm=leak_ohm
    )
    (start,) = any_sign(start_v=start_v)
    kept = leak / (leak + series)
    folds = trace / (series * kept * farads)
    reach, ratio = supply * kept - start, np.exp(-np.minimum(folds, 700.0))
    amplitude = reach * (1.0 - ratio)
    mean = start + reach * (1.0 - (1.0 - ratio) / folds)
    values = (amplitude, ratio + 0.0 * amplitude, 1.0 - ratio + 0.0 * amplitude, start + 0.0 * amplitude, mean)
    return Sawtooth(*(plain(value) for value in values))


@formula("(yoke_h / yoke_ohm) / sawtooth_f")
def ideal_peaking_ohm(yoke_h: Number, yoke_ohm: Number, sawtooth_f: Number) -> Number:
    r"""Return the peaking resistor that makes the trapezoid a yoke needs from a source of no resistance.

    .. math:: R_p = \frac{L / R}{C}

    Args:
        yoke_h: Inductance of the yoke [H], > 0.
        yoke_ohm: Resistance of yoke and feed [ohm], > 0.
        sawtooth_f: Sawtooth capacitor [F], > 0.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: an upper bound: a pentode, a current source, needs less.
    Source: sawtooth-check-values: the step over the ramp is L di/dt over R i.
    Example: worked by hand there: 50 mH, 60 ohm and 0.047 uF.
        >>> round(ideal_peaking_ohm(50e-3, 60.0, 0.047e-6), -2)
        17700.0
    """
    inductance, resistance, farads = positive(yoke_h=yoke_h, yoke_ohm=yoke_ohm, sawtooth_f=sawtooth_f)
    return plain(inductance / resistance / farads)


@formula("ramp_v = sawtooth_v, pulse_v = min(peaking_ohm * sawtooth_f * sawtooth_v / retrace_s, start_v)")
def trapezoid(
    sawtooth_v: Number, sawtooth_f: Number, peaking_ohm: Number, retrace_s: Number, start_v: Number
) -> Trapezoid:
    r"""Return the trapezoid that a peaking resistor in series with the sawtooth capacitor makes.

    .. math:: v_p = R_p \frac{C v}{t_r} \le v_0

    The discharge of the capacitor flows through the resistor; the oscillator's plate cannot pull its foot below
    the chassis.

    Args:
        sawtooth_v: Sawtooth across the capacitor [V], >= 0.
        sawtooth_f: Sawtooth capacitor [F], > 0.
        peaking_ohm: Peaking resistor [ohm], >= 0.
        retrace_s: Time in which the capacitor is discharged [s], > 0.
        start_v: Voltage to which the capacitor is discharged [V], >= 0.
    Returns:
        :class:`Trapezoid`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the mean of the pulse; its peak is higher where the discharge is uneven.
    Source: charge over time, derived here.
    Example: worked by hand: 70 V on 0.047 uF through 4.7 k within 0.7 ms.
        >>> round(trapezoid(70.0, 0.047e-6, 4.7e3, 0.7e-3, 40.0).pulse_v, 1)
        22.1
    """
    saw, peaking, start = not_negative(sawtooth_v=sawtooth_v, peaking_ohm=peaking_ohm, start_v=start_v)
    farads, retrace = positive(sawtooth_f=sawtooth_f, retrace_s=retrace_s)
    pulse = np.minimum(peaking * farads * saw / retrace, start)
    return Trapezoid(plain(saw + 0.0 * pulse), plain(pulse), plain(saw + pulse))


@formula(
    "locked where lowest_free_hz <= free_hz <= field_hz, lowest_free_hz = field_hz * ln((rest_v - lowest_v) /"
    " (rest_v - fire_v + sync_v)) / ln((rest_v - lowest_v) / (rest_v - fire_v)); else roll_hz = field_hz - rate_hz"
)
def vertical_lock(
    free_hz: Number,
    field_hz: Number,
    sync_v: Number,
    lowest_v: Number,
    fire_v: Number,
    rest_v: Number = 0.0,
    short_s: Number = 0.0,
) -> VerticalLock:
    r"""Return whether a triggered oscillator locks, and the mean rate at which the picture rolls if not.

    .. math:: f_V \ge f_0 \ge f_V \frac{\ln\frac{V_r - V_0}{V_r - V_f + s}}{\ln\frac{V_r - V_0}{V_r - V_f}}

    A sync pulse can only fire the oscillator early; so it holds an oscillator that runs slower than the field
    rate, down to a bound, and one that runs faster rolls down.  An oscillator that rolls is followed from pulse to
    pulse, since each pulse that meets it nearly ready shortens a sweep.

    Args:
        free_hz: Free-running rate [Hz], >= 0; 0 for an oscillator that stands still.
        field_hz: Field rate of the signal [Hz], > 0.
        sync_v: Height of the sync at the timing grid, towards firing [V]; zero or less for none.
        lowest_v: Timing grid at the beginning of its recovery [V].
        fire_v: Timing grid when it fires [V], above the lowest.
        rest_v: Where the grid would come to rest [V], above ``fire_v``.
        short_s: Part of the cycle in which the grid does not recover [s], >= 0.
    Returns:
        :class:`VerticalLock`, its fields floats or arrays.
    Raises:
        OutOfRange: A rate is out of its bounds or a voltage no finite number.
    Valid: sync pulses short against the field.
    Source: sawtooth-check-values; rolling followed here; its direction is common practice, no source.
    Example: worked by hand there: -80 V, firing at -14.7 V, 5 V of sync lock 49.6 to 60 Hz.
        >>> found = vertical_lock(55.0, 60.0, 5.0, -80.0, -14.7)
        >>> without = vertical_lock(58.0, 60.0, 0.0, -80.0, -14.7)
        >>> found.locked, round(found.lowest_free_hz, 1), round(without.roll_hz, 1)
        (1.0, 49.6, 2.0)
    """
    (field,) = positive(field_hz=field_hz)
    free, short = not_negative(free_hz=free_hz, short_s=short_s)
    sync, low, fire, rest = any_sign(sync_v=sync_v, lowest_v=lowest_v, fire_v=fire_v, rest_v=rest_v)
    alive, ready = free > 0.0, np.maximum(rest - fire, 1e-9)
    whole = np.log(np.maximum((rest - low) / ready, 1.0 + 1e-9))
    early = np.log(np.maximum((rest - low) / (ready + np.maximum(sync, 0.0)), 1.0))
    period, tail = 1.0 / np.where(alive, free, 1.0), np.minimum(short * free, 0.9)
    window = period * (tail + (1.0 - tail) * early / whole)
    slowest = field * window / period
    locked = alive & (free <= field) & (free >= slowest)
    rate = np.where(locked, field, np.where(alive, _unlocked_rate(period, window, 1.0 / field), 0.0))
    values = (locked, rate, np.where(alive & ~locked, field - rate, 0.0), np.where(alive, slowest, 0.0))
    return VerticalLock(*(plain(value) for value in values))


def _unlocked_rate(period: Array, window: Array, field: Array) -> Array:
    """Return the mean rate of an oscillator fired by any pulse between ``window`` and ``period``."""
    period, window, field = np.broadcast_arrays(period, window, field)
    wait, total = 0.31 * field, 0.0 * field
    for _ in range(_SWEEPS):
        missed = np.ceil(np.maximum(window - wait, 0.0) / field)
        pulse = wait + missed * field
        lasts = np.minimum(pulse, period)
        total = total + lasts
        after = np.mod(lasts - wait, field)
        wait = np.where(pulse <= period, field, field - after)
    return np.asarray(_SWEEPS / total)
