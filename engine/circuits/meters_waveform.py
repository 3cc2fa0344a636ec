# SPDX-License-Identifier: MIT
"""What meters show of a waveform that is neither steady nor a sine.

A DC meter shows the mean.  Most AC meters rectify, show the mean of that and are marked in RMS of a sine; with or
without a capacitor at the input, with both half-waves or one, they differ on everything but a sine.  Few show the
true RMS; an electronic voltmeter may show the peaks.
Limits: below the frequency at which the meter falls off; no crest so high that it overloads.
Caution: pulses count with their peaks against a meter's rating, whatever its needle says.
Source: definitions of mean, RMS and form factor, textbook.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, share
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import BadInput

__all__ = ["Shown", "half_wave_shown", "pulse_shown", "sampled_shown", "sawtooth_shown", "sine_shown"]

_FORM = math.pi / (2.0 * math.sqrt(2.0))
"""RMS over rectified mean of a sine."""


@dataclass(frozen=True)
class Shown:
    """What the kinds of meter show of one waveform; each field a float or an array."""

    dc_v: Number
    """A DC meter: the mean."""
    rms_v: Number
    """A meter of true RMS that passes the direct part."""
    averaging_v: Number
    """The usual AC meter: capacitor at the input, both half-waves, marked in RMS of a sine."""
    averaging_direct_v: Number
    """The same without a capacitor: the direct part counts."""
    half_wave_v: Number
    """A needle meter with one half-wave rectified and no capacitor, leads as the waveform is."""
    half_wave_reversed_v: Number
    """The same with its leads exchanged; a great difference tells of a direct part."""
    peaks_v: Number
    """A meter that reads peak to peak, marked in RMS of a sine."""
    peak_to_peak_v: Number
    """What an oscilloscope shows."""


def _shown(mean: Array, square: Array, swing: Array, size: Array, peaks: Array) -> Shown:
    """Return the readings from mean, mean square, mean distance from the mean, mean size, and peak to peak."""
    figures = (
        mean,
        np.sqrt(square),
        _FORM * swing,
        _FORM * size,
        _FORM * (size + mean),
        _FORM * (size - mean),
        peaks / (2.0 * math.sqrt(2.0)),
        peaks,
    )
    return Shown(*map(plain, np.broadcast_arrays(*figures)))


@formula(
    "dc_v = base_v + height_v * duty_share, averaging_v = 1.111 * 2 * abs(height_v) * duty_share"
    " * (1 - duty_share), rms_v = sqrt((1 - duty_share) * base_v**2 + duty_share * (base_v + height_v)**2)"
)
def pulse_shown(base_v: Number, height_v: Number, duty_share: Number) -> Shown:
    r"""Return what meters show of a train of rectangular pulses.

    .. math::
        \bar v = V_0 + d V_p, \quad V_{avg} = \frac{\pi}{2\sqrt2}\, 2 d (1-d) |V_p|, \quad
        V_{rms}^2 = (1-d) V_0^2 + d (V_0 + V_p)^2

    Args:
        base_v: Voltage between pulses [V], either sign.
        height_v: Height of the pulse above that [V], either sign.
        duty_share: Width over period, 0 to 1.
    Returns:
        :class:`Shown`.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: definitions of the mean values.
    Example: 100 V pulses, a tenth of the time, from zero, worked by hand: mean 10, RMS 31.6, averaging 20.
        >>> found = pulse_shown(0.0, 100.0, 0.1)
        >>> round(found.dc_v, 1), round(found.rms_v, 1), round(found.averaging_v, 1), round(found.peaks_v, 1)
        (10.0, 31.6, 20.0, 35.4)
    """
    base, height = any_sign(base_v=base_v, height_v=height_v)
    (duty,) = share(duty_share=duty_share)
    top = base + height
    return _shown(
        base + height * duty,
        (1.0 - duty) * base**2 + duty * top**2,
        2.0 * np.abs(height) * duty * (1.0 - duty),
        (1.0 - duty) * np.abs(base) + duty * np.abs(top),
        np.abs(height) * ((duty > 0.0) & (duty < 1.0)),
    )


@formula(
    "dc_v = (low_v + high_v) / 2, averaging_v = 1.111 * abs(high_v - low_v) / 4,"
    " rms_v = sqrt((low_v**2 + low_v * high_v + high_v**2) / 3)"
)
def sawtooth_shown(low_v: Number, high_v: Number) -> Shown:
    r"""Return what meters show of a sawtooth or triangle.

    .. math::
        \bar v = \frac{V_1 + V_2}{2}, \quad V_{avg} = \frac{\pi}{2\sqrt2} \frac{|V_2 - V_1|}{4}, \quad
        V_{rms}^2 = \frac{V_1^2 + V_1 V_2 + V_2^2}{3}

    Args:
        low_v: One end [V], either sign.
        high_v: The other end [V], either sign.
    Returns:
        :class:`Shown`.
    Raises:
        OutOfRange: An argument is not finite.
    Valid: straight flanks of any steepness.
    Source: definitions of the mean values.
    Example: a sawtooth from 0 to 80 V, worked by hand: mean 40, averaging 22.2, RMS 46.2.
        >>> found = sawtooth_shown(0.0, 80.0)
        >>> found.dc_v, round(found.averaging_v, 1), round(found.rms_v, 1)
        (40.0, 22.2, 46.2)
    """
    one, two = any_sign(low_v=low_v, high_v=high_v)
    span = np.abs(two - one)
    across = (one**2 + two**2) / np.maximum(2.0 * span, 1e-300)
    size = np.where(one * two < 0.0, across, 0.5 * np.abs(one + two))
    return _shown(0.5 * (one + two), (one**2 + one * two + two**2) / 3.0, span / 4.0, size, span)


@formula(
    "dc_v, averaging_v = peak_v / sqrt(2), rms_v = sqrt(dc_v**2 + peak_v**2 / 2), without a capacitor"
    " 1.111 * 2 / pi * (sqrt(peak_v**2 - dc_v**2) + dc_v * asin(dc_v / peak_v))"
)
def sine_shown(dc_v: Number, peak_v: Number) -> Shown:
    r"""Return what meters show of a sine on a direct voltage, such as ripple on a rail.

    .. math::
        |\bar v| = \frac{2}{\pi} \left(\sqrt{V_p^2 - V_0^2} + V_0 \arcsin\frac{V_0}{V_p}\right) \;(|V_0| < V_p)

    Args:
        dc_v: Direct part [V], either sign.
        peak_v: Peak of the sine [V], >= 0.
    Returns:
        :class:`Shown`.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: definitions of the mean values.
    Example: 20 V peak on 250 V: 14.1 V with a capacitor, 1.11 times the rail without one.
        >>> found = sine_shown(250.0, 20.0)
        >>> round(found.averaging_v, 1), round(found.averaging_direct_v, 1), round(found.half_wave_reversed_v, 1)
        (14.1, 277.7, 0.0)
    """
    (level,) = any_sign(dc_v=dc_v)
    (peak,) = not_negative(peak_v=peak_v)
    ratio = np.clip(level / np.maximum(peak, 1e-300), -1.0, 1.0)
    inside = 2.0 / math.pi * (peak * np.sqrt(1.0 - ratio**2) + level * np.arcsin(ratio))
    size = np.where(np.abs(level) < peak, inside, np.abs(level))
    return _shown(level, level**2 + peak**2 / 2.0, 2.0 / math.pi * peak, size, 2.0 * peak)


@formula("dc_v = sqrt(2) * mains_v / pi, rms_v = mains_v / sqrt(2), averaging_direct_v = mains_v / 2")
def half_wave_shown(mains_v: Number) -> Shown:
    r"""Return what meters show of a heater string that is fed through a diode.

    .. math:: \bar v = \frac{\sqrt2 V}{\pi}, \quad V_{rms} = \frac{V}{\sqrt2}, \quad V_{direct} = \frac{V}{2}

    Only the true RMS tells what heats the tubes; an averaging meter says anything from nothing to the whole
    mains, by its kind and the way round of its leads.

    Args:
        mains_v: RMS mains before the diode, or the share of it across one heater [V], >= 0.
    Returns:
        :class:`Shown`.
    Raises:
        OutOfRange: The voltage is negative.
    Valid: a resistive string; the drop of the diode left out.
    Source: definitions of the mean values.
    Example: 230 V, worked by hand: true RMS 162.6, DC 103.5, averaging without a capacitor 115.
        >>> found = half_wave_shown(230.0)
        >>> round(found.rms_v, 1), round(found.dc_v, 1), round(found.averaging_direct_v, 1)
        (162.6, 103.5, 115.0)
        >>> round(found.averaging_v, 1), round(found.half_wave_v, 1), round(found.half_wave_reversed_v, 1)
        (126.8, 230.0, 0.0)
    """
    (mains,) = not_negative(mains_v=mains_v)
    peak = math.sqrt(2.0) * mains
    angle = math.asin(1.0 / math.pi)
    swing = peak * (2.0 * math.cos(angle) - (math.pi - 2.0 * angle) / math.pi) / math.pi
    return _shown(peak / math.pi, peak**2 / 4.0, swing, peak / math.pi, peak)


@formula("means over the samples of one period")
def sampled_shown(samples_v: ArrayLike) -> Shown:
    r"""Return what meters show of any waveform that is given by samples.

    .. math:: \bar v = \frac1N \sum v_k, \quad V_{avg} = \frac{\pi}{2\sqrt2} \frac1N \sum |v_k - \bar v|

    Args:
        samples_v: Samples evenly spaced over whole periods along the last axis [V].
    Returns:
        :class:`Shown`; a float for one waveform, an array for a batch of them.
    Raises:
        BadInput: There are fewer than two samples.
        OutOfRange: A sample is not finite.
    Valid: as many samples as the narrowest pulse needs.
    Source: definitions of the mean values.
    Example: a square wave of 10 V peak: 11.1 V on an averaging meter.
        >>> round(sampled_shown([10.0, 10.0, -10.0, -10.0]).averaging_v, 1)
        11.1
    """
    (samples,) = any_sign(samples_v=np.asarray(samples_v, dtype=float))
    if samples.ndim == 0 or samples.shape[-1] < 2:
        raise BadInput("samples_v has fewer than two samples; expected one whole period.")
    mean = samples.mean(axis=-1)
    swing = np.abs(samples - mean[..., None]).mean(axis=-1)
    return _shown(mean, (samples**2).mean(axis=-1), swing, np.abs(samples).mean(axis=-1), np.ptp(samples, axis=-1))
