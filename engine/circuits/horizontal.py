# SPDX-License-Identifier: MIT
"""The phase detector of the horizontal AFC, and whether the oscillator locks.

The detector is the two-diode kind that samples a sawtooth from the flyback with two sync pulses of opposite
polarity; its diodes are resistances that conduct while the pulses last.
Sources: wendt-fredendall-1943, gruen-1953 (keys in kb/sources/horizontal.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula

__all__ = [
    "LineLock",
    "PhaseDetector",
    "detector_slope",
    "hold_range_hz",
    "line_lock",
    "phase_detector",
    "sawtooth_at_sync_v",
    "static_phase_s",
]


@dataclass(frozen=True)
class PhaseDetector:
    """The two-diode detector, averaged over a line."""

    output_v: Number
    """Control voltage at the joint of the two load resistors."""
    first_v: Number
    """Voltage at the diode that gets the positive pulse."""
    second_v: Number
    """Voltage at the diode that gets the negative pulse."""
    source_ohm: Number
    """Resistance behind the output."""


@dataclass(frozen=True)
class LineLock:
    """Whether the picture locks, and what rate the oscillator then has."""

    pulls_in: Number
    """1 where it locks by itself after switch-on or a change of channel."""
    holds: Number
    """1 where it stays locked once it is."""
    rate_hz: Number
    """Rate of the oscillator after switch-on."""


@formula(
    "sawtooth_v / 2 * phase_rad / (pi * retrace_share) within the retrace,"
    " sawtooth_v / 2 * (pi - phase_rad) / (pi * (1 - retrace_share)) beyond"
)
def sawtooth_at_sync_v(sawtooth_v: Number, phase_rad: Number, retrace_share: Number) -> Number:
    r"""Return what the comparison sawtooth stands at when the sync pulse comes.

    .. math:: v = \frac{V_{pp}}{2} \frac{\varphi}{\pi \rho} \quad (|\varphi| \le \pi\rho), \qquad
        v = \pm\frac{V_{pp}}{2} \frac{\pi - |\varphi|}{\pi (1 - \rho)} \quad \text{beyond}

    Args:
        sawtooth_v: Sawtooth at the detector, peak to peak [V], >= 0.
        phase_rad: Time from the middle of the retrace to the sync pulse, one line being 2 pi [rad].
        retrace_share: Retrace of the sawtooth over the line, > 0, < 1.
    Returns:
        Voltage [V], 0 in lock without correction, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: wendt-fredendall-1943 for the method; geometry of the sawtooth.
    Example: 20 V peak to peak, an eighth of a radian off, retrace a tenth of the line, worked by hand.
        >>> round(sawtooth_at_sync_v(20.0, 0.125, 0.1), 2)
        3.98
    """
    (height,) = not_negative(sawtooth_v=sawtooth_v)
    (phase,) = any_sign(phase_rad=phase_rad)
    back, forth = positive(retrace_share=retrace_share, trace_share=1.0 - np.asarray(retrace_share))
    turned = np.mod(phase + math.pi, 2.0 * math.pi) - math.pi
    steep = turned / (math.pi * back)
    slow = np.sign(turned) * (math.pi - np.abs(turned)) / (math.pi * forth)
    return plain(0.5 * height * np.where(np.abs(turned) <= math.pi * back, steep, slow))


@formula("sawtooth_v / (2 * pi * retrace_share)")
def detector_slope(sawtooth_v: Number, retrace_share: Number) -> Number:
    r"""Return the slope of the phase detector on the retrace of its sawtooth.

    .. math:: K_d = V_{pp} / (2 \pi \rho)

    Args:
        sawtooth_v: Sawtooth at the detector, peak to peak [V], >= 0.
        retrace_share: Retrace of the sawtooth over the line, > 0.
    Returns:
        Slope [V/rad], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: both diodes sound and their load resistors equal.
    Source: wendt-fredendall-1943 for the method; slope of :func:`sawtooth_at_sync_v`.
    Example: 20 V peak to peak, retrace a tenth of the line, worked by hand.
        >>> round(detector_slope(20.0, 0.1), 1)
        31.8
    """
    (height,) = not_negative(sawtooth_v=sawtooth_v)
    (back,) = positive(retrace_share=retrace_share)
    return plain(height / (2.0 * math.pi * back))


@formula(
    "first + (second - first) * (first_load_ohm + first_diode_ohm / duty)"
    " / (first_load_ohm + second_load_ohm + (first_diode_ohm + second_diode_ohm) / duty), duty = sync_s * line_hz,"
    " first = min(sawtooth_now_v - first_sync_v, -sawtooth_v / 2) + duty * first_sync_v,"
    " second = max(sawtooth_now_v + second_sync_v, sawtooth_v / 2) - duty * second_sync_v"
)
def phase_detector(
    sawtooth_now_v: Number,
    first_sync_v: Number,
    second_sync_v: Number,
    first_load_ohm: Number,
    second_load_ohm: Number,
    *,
    sync_s: Number,
    line_hz: Number,
    sawtooth_v: Number = 0.0,
    first_diode_ohm: Number = 1000.0,
    second_diode_ohm: Number = 1000.0,
    output_load_ohm: Number = 1e12,
    first_leak_ohm: Number = 1e12,
    second_leak_ohm: Number = 1e12,
    splitter_v: Number = 0.0,
) -> PhaseDetector:
    r"""Return the control voltage of a two-diode phase detector.

    .. math:: V = E_1 + (E_2 - E_1) \frac{R_1 + \rho_1}{R_1 + R_2 + \rho_1 + \rho_2}, \quad \rho = r / d

        E_1 = \min(v - S_1, -\tfrac12 V_{pp}) + d S_1, \qquad E_2 = \max(v + S_2, \tfrac12 V_{pp}) - d S_2

    without load and leaks: the sawtooth at the moment of the sync pulse, and near half the difference of two
    unequal pulses.  A diode that conducts for a share d of the line acts like a resistance r / d all the time;
    one without its pulse finds the tip of the sawtooth.

    Args:
        sawtooth_now_v: Sawtooth at the sync pulse, see :func:`sawtooth_at_sync_v` [V].
        first_sync_v: Positive sync pulse at the first diode [V], >= 0.
        second_sync_v: Negative sync pulse at the second diode, its size [V], >= 0.
        first_load_ohm: Load resistor from the first diode to the output [ohm], > 0.
        second_load_ohm: Load resistor from the second diode to the output [ohm], > 0.
        sync_s: Sync pulse [s], > 0.
        line_hz: Line rate [Hz], > 0.
        sawtooth_v: Whole sawtooth, peak to peak [V], >= 0; it counts where a pulse is missing.
        first_diode_ohm: First diode with its pulse source, conducting [ohm], > 0; 1e9 is a dead diode.
        second_diode_ohm: Second diode with its pulse source [ohm], > 0.
        output_load_ohm: What the output feeds, leakage of the filter included [ohm], > 0.
        first_leak_ohm: Leak of the first coupling capacitor [ohm], > 0.
        second_leak_ohm: Leak of the second coupling capacitor [ohm], > 0.
        splitter_v: Direct voltage behind the leaks [V].
    Returns:
        :class:`PhaseDetector`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: coupling capacitors that hold their charge over a line; 1 % against a circuit simulation, 5 % with a
        pulse missing.
    Source: wendt-fredendall-1943 for the method; network averaged here.
    Example: 4 V of sawtooth under 30 V pulses, and the same with the first diode dead.
        >>> parts = dict(sync_s=4.76e-6, line_hz=15750.0, output_load_ohm=10e6)
        >>> round(phase_detector(4.0, 30.0, 30.0, 470e3, 470e3, **parts).output_v, 2)
        3.91
        >>> round(phase_detector(4.0, 30.0, 30.0, 470e3, 470e3, first_diode_ohm=1e9, **parts).output_v, 1)
        30.3
    """
    (saw, splitter) = any_sign(sawtooth_now_v=sawtooth_now_v, splitter_v=splitter_v)
    up, down, whole = not_negative(first_sync_v=first_sync_v, second_sync_v=second_sync_v, sawtooth_v=sawtooth_v)
    width, rate, load = positive(sync_s=sync_s, line_hz=line_hz, output_load_ohm=output_load_ohm)
    one = positive(first_load_ohm=first_load_ohm, first_diode_ohm=first_diode_ohm, first_leak_ohm=first_leak_ohm)
    two = positive(
        second_load_ohm=second_load_ohm, second_diode_ohm=second_diode_ohm, second_leak_ohm=second_leak_ohm
    )
    (duty,) = share(sync_share=plain(np.minimum(width * rate, 1.0)))
    low = np.minimum(saw - up, -0.5 * whole) + duty * up
    high = np.maximum(saw + down, 0.5 * whole) - duty * down
    first_v, first_ohm = _arm(low, one[1] / duty, splitter, one[2])
    second_v, second_ohm = _arm(high, two[1] / duty, splitter, two[2])
    left, right = 1.0 / (first_ohm + one[0]), 1.0 / (second_ohm + two[0])
    output = (first_v * left + second_v * right) / (left + right + 1.0 / load)
    first_end = first_v + (output - first_v) * first_ohm * left
    second_end = second_v + (output - second_v) * second_ohm * right
    fields = np.broadcast_arrays(output, first_end, second_end, 1.0 / (left + right))
    return PhaseDetector(*(plain(np.array(field)) for field in fields))


def _arm(level: Array, diode: Array, leak_from: Array, leak: Array) -> tuple[Array, Array]:
    """Return voltage and resistance of one diode with its leak, seen from its load resistor."""
    return (level * leak + leak_from * diode) / (diode + leak), diode * leak / (diode + leak)


@formula("control_v * abs(oscillator_slope)")
def hold_range_hz(control_v: Number, oscillator_slope: Number) -> Number:
    r"""Return how far either side of the line rate the free-running oscillator may lie and stay locked.

    .. math:: \Delta f = V_{max} |K_o|

    Args:
        control_v: Largest control voltage of either sign that reaches the oscillator: half the sawtooth, times
            what the filter lets through for direct voltage [V], >= 0.
        oscillator_slope: Change of rate with control voltage [Hz/V].
    Returns:
        Hold range, one side [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: gruen-1953 (hold-in range of an AFC loop).
    Example: 8 V and 60 Hz for a volt, worked by hand.
        >>> hold_range_hz(8.0, -60.0)
        480.0
    """
    (control,) = not_negative(control_v=control_v)
    (slope,) = any_sign(oscillator_slope=oscillator_slope)
    return plain(control * np.abs(slope))


@formula("abs(free_run_hz - line_hz) <= pull_in_hz; abs(free_run_hz - line_hz) <= hold_hz")
def line_lock(free_run_hz: Number, line_hz: Number, hold_hz: Number, pull_in_hz: Number) -> LineLock:
    r"""Return whether an oscillator with AFC locks.

    .. math:: |f_0 - f_H| \le \Delta f_{pull-in}, \qquad |f_0 - f_H| \le \Delta f_{hold}

    Args:
        free_run_hz: Rate without control voltage [Hz], >= 0.
        line_hz: Rate of the sync [Hz], > 0.
        hold_hz: Hold range, see :func:`hold_range_hz` [Hz], >= 0.
        pull_in_hz: Pull-in range, see :func:`horizontal_loop.pull_in_range_hz` [Hz], >= 0.
    Returns:
        :class:`LineLock`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: gruen-1953.
    Example: 300 Hz slow with 480 Hz of hold and 200 Hz of pull-in: stays, but does not catch.
        >>> lock = line_lock(15450.0, 15750.0, 480.0, 200.0)
        >>> lock.holds, lock.pulls_in, lock.rate_hz
        (1.0, 0.0, 15450.0)
    """
    free, hold, pull = not_negative(free_run_hz=free_run_hz, hold_hz=hold_hz, pull_in_hz=pull_in_hz)
    (line,) = positive(line_hz=line_hz)
    error = np.abs(free - line)
    catches = error <= np.minimum(pull, hold)
    return LineLock(plain(1.0 * catches), plain(1.0 * (error <= hold)), plain(np.where(catches, line, free)))


@formula("(free_run_hz - line_hz) / (2 * pi * detector_slope * oscillator_slope * line_hz)")
def static_phase_s(
    free_run_hz: Number, line_hz: Number, detector_slope: Number, oscillator_slope: Number
) -> Number:
    r"""Return how far a locked picture stands to one side because the free-running rate is off.

    .. math:: t = \frac{f_0 - f_H}{2 \pi K_d K_o f_H}

    The picture of a set with AFC moves sideways as the hold control is turned, before it tears.

    Args:
        free_run_hz: Rate without control voltage [Hz], >= 0.
        line_hz: Rate of the sync [Hz], > 0.
        detector_slope: Slope of the detector, its filter's division for direct voltage included [V/rad], > 0.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], > 0.
    Returns:
        Displacement in time [s]; fast oscillator positive, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: within the hold range.
    Source: gruen-1953.
    Example: 100 Hz fast, 30 V/rad, 60 Hz/V, worked by hand, in nanoseconds.
        >>> round(static_phase_s(15850.0, 15750.0, 30.0, 60.0) * 1e9)
        561
    """
    (free,) = not_negative(free_run_hz=free_run_hz)
    line, first, second = positive(
        line_hz=line_hz, detector_slope=detector_slope, oscillator_slope=oscillator_slope
    )
    return plain((free - line) / (2.0 * math.pi * first * second * line))
