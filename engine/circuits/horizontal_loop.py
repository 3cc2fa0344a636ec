# SPDX-License-Identifier: MIT
"""The loop of the horizontal AFC: filter, natural frequency, damping, hunting, pull-in, bending by hum.

The filter is the usual one: a series resistance, a small smoothing capacitor, and across it the anti-hunt
network, a resistor in series with a large capacitor; leakage divides what is left for direct voltage.
Signs are left out: the slopes of detector and oscillator are given by their size.
Limits: linear but for the pull-in; the detector's holding its value for a line counts as half a line of delay.
Sources: gruen-1953, richman-1954 (keys in kb/sources/horizontal.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "AfcFilter",
    "Hunting",
    "damping_ratio",
    "direct_share",
    "hum_shift_s",
    "hunting",
    "natural_frequency_hz",
    "pull_in_range_hz",
    "settling_s",
]


@dataclass(frozen=True)
class AfcFilter:
    """The filter between detector and oscillator; every field may be a float or an array."""

    series_ohm: Number
    """Source resistance of the detector and all that is in series with it."""
    damping_ohm: Number
    """Anti-hunt resistor."""
    damping_f: Number
    """Anti-hunt capacitor."""
    smoothing_f: Number = 1e-15
    """Capacitor straight to ground."""
    leak_ohm: Number = 1e12
    """Everything from the control line to ground, leakage of the capacitors included."""


@dataclass(frozen=True)
class Hunting:
    """How near the loop is to hunting."""

    crossover_hz: Number
    """Rate at which the loop gain is one: the rate at which it hunts or rings."""
    phase_margin_rad: Number
    """Phase left there; none left: it hunts without end; under half a radian: it rings after each disturbance."""
    waves_per_field: Number
    """Waves down the picture that hunting at this rate would draw."""


@formula("leak_ohm / (series_ohm + leak_ohm)")
def direct_share(network: AfcFilter) -> Number:
    r"""Return the share of the detector's direct voltage that reaches the oscillator.

    .. math:: q = R_l / (R_s + R_l)

    Args:
        network: The filter, see :class:`AfcFilter`.
    Returns:
        Share, 0 to 1, float or array.
    Raises:
        OutOfRange: A part is not positive.
    Source: Ohm's law.
    Example: 1 Mohm in series and 2 Mohm of leak, worked by hand.
        >>> round(direct_share(AfcFilter(1e6, 10e3, 0.1e-6, leak_ohm=2e6)), 3)
        0.667
    """
    series, _, _, _, leak = _parts(network)
    return plain(leak / (series + leak))


@formula("sqrt(K / ((1 + series_ohm / leak_ohm) * damping_ohm * damping_f + series_ohm * damping_f)) / (2 * pi)")
def natural_frequency_hz(network: AfcFilter, detector_slope: Number, oscillator_slope: Number) -> Number:
    r"""Return the natural frequency of the loop, the smoothing capacitor left out.

    .. math:: f_n = \frac{1}{2\pi} \sqrt{\frac{K}{(1 + R_s/R_l) R_2 C_2 + R_s C_2}}, \qquad K = 2 \pi K_d K_o

    Args:
        network: The filter, see :class:`AfcFilter`.
        detector_slope: Slope of the detector [V/rad], >= 0.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], >= 0.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: smoothing capacitor a tenth of the anti-hunt capacitor or less.
    Source: gruen-1953 (second-order loop with lag-lead filter); leak added here.
    Example: 30 V/rad, 60 Hz/V, 1 Mohm, 10 k with 0.1 uF, worked by hand.
        >>> round(natural_frequency_hz(AfcFilter(1e6, 10e3, 0.1e-6), 30.0, 60.0), 1)
        53.3
    """
    series, damping, large, _, leak = _parts(network)
    gain = _gain(detector_slope, oscillator_slope)
    return plain(np.sqrt(gain / _inertia(series, damping, large, leak)) / (2.0 * math.pi))


@formula("(1 + series_ohm / leak_ohm + K * damping_ohm * damping_f) / (2 * sqrt(K * inertia))")
def damping_ratio(network: AfcFilter, detector_slope: Number, oscillator_slope: Number) -> Number:
    r"""Return the damping of the loop, the smoothing capacitor left out.

    .. math:: \zeta = \frac{1 + R_s/R_l + K R_2 C_2}{2 \sqrt{K \left[(1 + R_s/R_l) R_2 C_2 + R_s C_2\right]}}

    Args:
        network: The filter, see :class:`AfcFilter`.
        detector_slope: Slope of the detector [V/rad], >= 0.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], >= 0.
    Returns:
        Damping ratio, 1 is critical, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as :func:`natural_frequency_hz`.
    Source: gruen-1953 (second-order loop with lag-lead filter); leak added here.
    Example: 30 V/rad, 60 Hz/V, 1 Mohm, 10 k with 0.1 uF; and with the anti-hunt resistor shorted.
        >>> round(damping_ratio(AfcFilter(1e6, 10e3, 0.1e-6), 30.0, 60.0), 3)
        0.182
        >>> round(damping_ratio(AfcFilter(1e6, 1e-3, 0.1e-6), 30.0, 60.0), 3)
        0.015
    """
    series, damping, large, _, leak = _parts(network)
    gain = np.maximum(_gain(detector_slope, oscillator_slope), 1e-9)
    drag = 1.0 + series / leak + gain * damping * large
    return plain(drag / (2.0 * np.sqrt(gain * _inertia(series, damping, large, leak))))


@formula("K * abs(F(jw)) / w = 1; margin = pi / 2 + arg F(jw) - w / (2 * line_hz)")
def hunting(
    network: AfcFilter, detector_slope: Number, oscillator_slope: Number, line_hz: Number, field_hz: Number
) -> Hunting:
    r"""Return how near the loop is to hunting, with smoothing capacitor and delay.

    .. math:: \frac{K |F(j\omega)|}{\omega} = 1, \qquad
        m = \frac{\pi}{2} + \arg F(j\omega) - \frac{\omega}{2 f_H}, \qquad
        F = \frac{1}{1 + R_s \left(\frac{1}{R_l} + j\omega C_1 + \frac{j\omega C_2}{1 + j\omega R_2 C_2}\right)}

    Hunting draws waves down all vertical lines; a loop that only rings draws them below each disturbance.

    Args:
        network: The filter, see :class:`AfcFilter`.
        detector_slope: Slope of the detector [V/rad], >= 0.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], >= 0.
        line_hz: Line rate [Hz], > 0.
        field_hz: Field rate [Hz], > 0.
    Returns:
        :class:`Hunting`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook criterion of stability; gruen-1953 for the loop.
    Example: 20 V/rad, 60 Hz/V, 470 k, 4.7 k with 0.1 uF, 1 nF of smoothing.
        >>> state = hunting(AfcFilter(470e3, 4.7e3, 0.1e-6, 1e-9), 20.0, 60.0, 15750.0, 60.0)
        >>> round(state.crossover_hz), round(state.phase_margin_rad, 2)
        (64, 0.22)
    """
    parts = _parts(network)
    gain = np.maximum(_gain(detector_slope, oscillator_slope), 1e-9)
    line, field = positive(line_hz=line_hz, field_hz=field_hz)

    def over(power: Array) -> Array:
        omega = np.exp(power)
        return np.asarray(gain * np.abs(_response(parts, omega)) / omega - 1.0)

    omega = np.exp(quick_root(over, np.log(1e-12) + 0.0 * line, np.log(1e9)))
    margin = 0.5 * math.pi + np.angle(_response(parts, omega)) - 0.5 * omega / line
    fields = np.broadcast_arrays(omega / (2.0 * math.pi), margin, omega / (2.0 * math.pi) / field)
    return Hunting(*(plain(np.array(value)) for value in fields))


@formula("min over u > 1 of hold_hz * (r * u + (1 - r) * (u - 1 / atanh(1 / u))), r = Re F(beat) / direct share")
def pull_in_range_hz(network: AfcFilter, hold_hz: Number) -> Number:
    r"""Return how far off the oscillator may run and still be pulled in after switch-on.

    .. math:: \Delta f = \Delta f_{hold} \min_{u>1}
        \left[r u + (1-r) \left(u - \frac{1}{\operatorname{artanh}(1/u)}\right)\right]
        \approx 2 \Delta f_{hold} \sqrt{r / 3}

    While the oscillator slips past the sync the detector's output is a beat, lopsided because the beat itself
    moves the rate by what the filter lets through at its frequency, r of what it lets through for direct voltage.
    The mean of the lopsided beat charges the filter and pulls the oscillator in.

    Args:
        network: The filter, see :class:`AfcFilter`.
        hold_hz: Hold range, see :func:`horizontal.hold_range_hz` [Hz], >= 0.
    Returns:
        Pull-in range, one side [Hz], at most the hold range, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: filter slow against the beat; within 10 % of an integration of the loop with a small smoothing
        capacitor, and an estimate when the anti-hunt branch is open.
    Source: richman-1954 and gruen-1953 for sinusoidal detectors; the straight-sided detector is derived here.
    Example: 480 Hz of hold, 1 Mohm, 10 k with 0.1 uF.
        >>> round(pull_in_range_hz(AfcFilter(1e6, 10e3, 0.1e-6), 480.0))
        57
    """
    parts = _parts(network)
    (hold,) = not_negative(hold_hz=hold_hz)
    direct = parts[4] / (parts[0] + parts[4])
    share = np.real(_response(parts, 2.0 * math.pi * np.maximum(hold, 1e-6))) / direct
    for _ in range(20):
        share = np.clip(share, 1e-9, 1.0 - 1e-9)
        beat = 2.0 * math.pi * np.maximum(hold * _least_pull(share), 1e-6)
        before, share = share, np.sqrt(share * np.clip(np.real(_response(parts, beat)) / direct, 1e-9, 1.0))
        if np.all(np.abs(share - before) < 1e-5 * before):
            break
    return plain(hold * _least_pull(np.clip(share, 1e-9, 1.0 - 1e-9)))


def _pulls() -> tuple[Array, Array]:
    """Return log odds of the share, rising, and the logarithm of the least pull that belongs to it.

    The least over u lies where the slope of the straight part balances; far from 1 both go by their series.
    """
    u = 1.0 + np.exp(np.linspace(10.0, -30.0, 801))
    far = u > 30.0
    inverse = 1.0 / np.where(far, 2.0, np.arctanh(1.0 / u))
    slope = np.where(far, 1.0 / (3.0 * u**2) + 0.2 / u**4, inverse**2 / (u * u - 1.0) - 1.0)
    lag = np.where(far, 1.0 / (3.0 * u) + 4.0 / (45.0 * u**3), u - inverse)
    pull = (slope * u + lag) / (1.0 + slope)
    return np.log(slope), np.log(np.minimum(pull, 1.0))


_PULLS = _pulls()


def _least_pull(share: Array) -> Array:
    """Return the pull-in range over the hold range for a filter that passes ``share`` of the beat."""
    return np.asarray(np.exp(np.interp(np.log(share / (1.0 - share)), *_PULLS)))


@formula("hum_v * oscillator_slope / line_hz / abs(j * w + K * F(jw)), w = 2 * pi * hum_hz")
def hum_shift_s(
    network: AfcFilter,
    detector_slope: Number,
    oscillator_slope: Number,
    hum_v: Number,
    hum_hz: Number,
    line_hz: Number,
) -> Number:
    r"""Return how far hum on the control line bends the picture: from one edge of the bend to the other.

    .. math:: \Delta t = \frac{K_o V}{f_H |j\omega + K F(j\omega)|}

    Args:
        network: The filter, see :class:`AfcFilter`.
        detector_slope: Slope of the detector [V/rad], >= 0; 0 for an AFC that is out of action.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], >= 0.
        hum_v: Hum at the oscillator's control grid, peak to peak [V], >= 0.
        hum_hz: Rate of the hum [Hz], > 0.
        line_hz: Line rate [Hz], > 0.
    Returns:
        Peak-to-peak displacement in time [s], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: displacement within the retrace of the sawtooth.
    Source: gruen-1953 for the loop; its response to a disturbance behind the filter, textbook.
    Example: 50 mV of 60 Hz hum, 30 V/rad, 60 Hz/V, 1 Mohm, 10 k with 0.1 uF, in nanoseconds.
        >>> round(hum_shift_s(AfcFilter(1e6, 10e3, 0.1e-6), 30.0, 60.0, 0.05, 60.0, 15750.0) * 1e9)
        1307
    """
    parts = _parts(network)
    gain = _gain(detector_slope, oscillator_slope)
    (hum, slope) = not_negative(hum_v=hum_v, oscillator_slope=oscillator_slope)
    rate, line = positive(hum_hz=hum_hz, line_hz=line_hz)
    omega = 2.0 * math.pi * rate
    return plain(hum * slope / line / np.maximum(np.abs(1j * omega + gain * _response(parts, omega)), 1e-9))


@formula("ln(1 / left_share) / (2 * pi * natural_frequency_hz * (damping - sqrt(max(0, damping**2 - 1))))")
def settling_s(
    network: AfcFilter, detector_slope: Number, oscillator_slope: Number, left_share: float = 0.1
) -> Number:
    r"""Return how long the loop takes to forget a disturbance: the length of a flag at the top of the picture.

    .. math:: t = \frac{\ln (1/s)}{\omega_n \left(\zeta - \sqrt{\max(0, \zeta^2 - 1)}\right)}

    Args:
        network: The filter, see :class:`AfcFilter`.
        detector_slope: Slope of the detector [V/rad], >= 0.
        oscillator_slope: Change of rate with control voltage, its size [Hz/V], >= 0.
        left_share: Share of the disturbance that may be left, > 0.
    Returns:
        Time [s]; over the line period it gives lines of flagwaving, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as :func:`natural_frequency_hz`; envelope of the ringing.
    Source: textbook second-order response; gruen-1953 for the loop.
    Example: 30 V/rad, 60 Hz/V, 1 Mohm, 10 k with 0.1 uF, in milliseconds.
        >>> round(settling_s(AfcFilter(1e6, 10e3, 0.1e-6), 30.0, 60.0) * 1e3, 1)
        37.8
    """
    (left,) = positive(left_share=left_share)
    omega = 2.0 * math.pi * np.asarray(natural_frequency_hz(network, detector_slope, oscillator_slope))
    damping = np.asarray(damping_ratio(network, detector_slope, oscillator_slope))
    slowest = damping - np.sqrt(np.maximum(damping**2 - 1.0, 0.0))
    slowest = np.where(damping > 1e4, 0.5 / np.maximum(damping, 1.0), slowest)
    return plain(np.maximum(-np.log(left), 0.0) / np.maximum(omega * slowest, 1e-9))


def _parts(network: AfcFilter) -> list[Array]:
    return positive(
        series_ohm=network.series_ohm,
        damping_ohm=network.damping_ohm,
        damping_f=network.damping_f,
        smoothing_f=network.smoothing_f,
        leak_ohm=network.leak_ohm,
    )


def _gain(detector_slope: Number, oscillator_slope: Number) -> Array:
    first, second = not_negative(detector_slope=detector_slope, oscillator_slope=oscillator_slope)
    return np.asarray(2.0 * math.pi * first * second)


def _inertia(series: Array, damping: Array, large: Array, leak: Array) -> Array:
    return np.asarray((1.0 + series / leak) * damping * large + series * large)


def _response(parts: list[Array], omega: Array) -> Any:
    """Return the complex transfer of the filter."""
    series, damping, large, small, leak = parts
    branch = 1j * omega * large / (1.0 + 1j * omega * damping * large)
    return 1.0 / (1.0 + series * (1.0 / leak + 1j * omega * small + branch))
