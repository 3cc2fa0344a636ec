# SPDX-License-Identifier: MIT
"""What AGC measures and what happens without it: mean level of a scene, overload, delay of the tuner, snow.

Limits: overload is one soft limit in the last stages; snow is thermal noise with one noise factor before and
one behind the tuner's gain.
Sources: fcc-73-682-levels, friis-1944 (keys in kb/sources/agc.yaml, kb/sources/video.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import OutOfRange

__all__ = ["Overload", "Snow", "mean_level_share", "overload", "snow", "tuner_agc_v"]

_NOISE_W_PER_HZ = 1.380649e-23 * 290.0
"""Thermal noise of any resistance at 290 K."""


@formula(
    "sync_duty * tip_share + (blank_duty - sync_duty) * blank_share"
    " + (1 - blank_duty) * (blank_share + (white_share - blank_share) * average_share)"
)
def mean_level_share(
    average_share: Number,
    tip_share: Number = 1.0,
    blank_share: Number = 0.75,
    white_share: Number = 0.125,
    sync_duty: Number = 0.09,
    blank_duty: Number = 0.24,
) -> Number:
    r"""Return the mean of the detected signal over its peak: what mean-level AGC measures.

    .. math:: m = d_s t + (d_b - d_s) b + (1 - d_b) \left(b + (w - b) a\right)

    Args:
        average_share: Average brightness of the scene, 0 black to 1 white.
        tip_share: Carrier at the sync tip, over its peak: 1 in negative, 0 in positive modulation.
        blank_share: Carrier at blanking: 0.75 negative, 0.3 positive.
        white_share: Carrier at white: 0.125 negative, 1 positive.
        sync_duty: Share of the time taken by sync, 0 to 1.
        blank_duty: Share of the time taken by blanking and sync together, above sync_duty, to 1.
    Returns:
        Share, float or array.  In positive modulation it follows the scene: mean-level AGC then turns a dark
        scene up, and its black with it.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: fcc-73-682-levels for negative modulation; 30 % blanking of positive modulation from memory, to verify.
    Example: positive modulation, a dark and a bright scene, worked by hand.
        >>> [round(mean_level_share(a, 0.0, 0.3, 1.0), 3) for a in (0.1, 0.9)]
        [0.326, 0.752]
    """
    average, tip, blank, white, sync, dark = share(
        average_share=average_share,
        tip_share=tip_share,
        blank_share=blank_share,
        white_share=white_share,
        sync_duty=sync_duty,
        blank_duty=blank_duty,
    )
    if np.any(dark < sync):
        raise OutOfRange("blank_duty is below sync_duty; expected the time of blanking to include that of sync.")
    return plain(sync * tip + (dark - sync) * blank + (1.0 - dark) * (blank + (white - blank) * average))


@dataclass(frozen=True)
class Overload:
    """The detected signal behind stages that limit."""

    video_v: Number
    """Detected voltage between white and blanking; at or below 0 the picture is gone or negative."""
    peak_v: Number
    """Detected voltage at the peak of the carrier."""
    sync_share: Number
    """Sync over sync and picture; 0.286 in a healthy negative-modulation signal."""
    crush_share: Number
    """Share of the sync that is crushed, 0 none to 1 all."""


@formula("v / (1 + (v / limit_v)**sharpness)**(1 / sharpness) for v = detected_v times each level")
def overload(
    detected_v: Number,
    limit_v: Number,
    sharpness: Number = 4.0,
    tip_share: Number = 1.0,
    blank_share: Number = 0.75,
    white_share: Number = 0.125,
) -> Overload:
    r"""Return what the last stages leave of a signal that is too strong for them, as with the AGC lost.

    .. math:: y = \frac{x}{\left(1 + (x/L)^n\right)^{1/n}}

    taken at sync tip, blanking and white.

    Args:
        detected_v: Detected voltage at the peak of the carrier, were nothing overloaded [V], >= 0.
        limit_v: Most that the last IF stage and the detector can give [V], > 0.
        sharpness: How sudden the limit is, > 0; 4 is our choice.
        tip_share: Carrier at the sync tip, over its peak, 0 to 1.
        blank_share: Carrier at blanking.
        white_share: Carrier at white.
    Returns:
        :class:`Overload`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the trend; a grid driven to its current also shifts its bias and may turn the picture negative
        sooner than this tells.
    Source: fcc-73-682-levels for the levels; the soft limit is our choice, common practice for what it does.
    Example: 3 V, then 30 V, where 8 V is the most.
        >>> well, lost = overload(3.0, 8.0), overload(30.0, 8.0)
        >>> round(well.sync_share, 2), round(lost.sync_share, 3), round(lost.crush_share, 2)
        (0.28, 0.005, 0.98)
    """
    (detected,) = not_negative(detected_v=detected_v)
    limit, exponent = positive(limit_v=limit_v, sharpness=sharpness)
    levels = share(tip_share=tip_share, blank_share=blank_share, white_share=white_share)

    def limited(level: Array) -> Array:
        over = detected * level / limit
        whole = np.maximum(over, 1.0) * (
            np.maximum(over, 1.0) ** -exponent + (over / np.maximum(over, 1.0)) ** exponent
        ) ** (1.0 / exponent)
        return np.asarray(detected * level / whole)

    tip, blank, white = (limited(level) for level in levels)
    sent = np.abs(levels[0] - levels[1]) / np.maximum(np.abs(levels[0] - levels[2]), 1e-9)
    kept = np.abs(tip - blank) / np.maximum(np.abs(tip - white), 1e-12)
    kept = np.where(detected > 0.0, kept, sent)
    crushed = np.clip(1.0 - kept / np.maximum(sent, 1e-9), 0.0, 1.0)
    way = np.sign(levels[1] - levels[2])
    return Overload(
        plain((blank - white) * way), plain(np.maximum(np.maximum(tip, blank), white)), plain(kept), plain(crushed)
    )


@formula("tap_share * min(0, agc_v + delay_v)")
def tuner_agc_v(agc_v: Number, delay_v: Number, tap_share: Number = 1.0) -> Number:
    r"""Return the delayed AGC voltage of the tuner.

    .. math:: V_t = q \min(0, V + V_d)

    Args:
        agc_v: AGC line [V], negative when working.
        delay_v: Delay: positive voltage that holds the tuner's line back [V], >= 0; 0 is a lost delay: the
            tuner loses gain on weak signals, and snow comes up.
        tap_share: Share of the line that the tuner gets, 0 to 1.
    Returns:
        Voltage [V], 0 or negative, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a clamp that conducts sharply at zero.
    Source: common practice, no source.
    Example: -6 V on the line with 4 V of delay.
        >>> tuner_agc_v(-6.0, 4.0)
        -2.0
    """
    (line,) = any_sign(agc_v=agc_v)
    (delay,) = not_negative(delay_v=delay_v)
    (tap,) = share(tap_share=tap_share)
    return plain(tap * np.minimum(line + delay, 0.0))


@dataclass(frozen=True)
class Snow:
    """Noise in the picture."""

    noise_v: Number
    """Noise at the input, as if all of it came from there."""
    signal_to_noise: Number
    """Signal at the sync tip over noise, both effective values, as a ratio of voltages."""
    snow_share: Number
    """Noise, effective value, over the step from black to white; at most 1: nothing but snow."""


@formula(
    "noise_v = sqrt(4.004e-21 * bandwidth_hz * source_ohm * (tuner_noise + (if_noise - 1) / tuner_gain**2)),"
    " snow_share = noise_v / (0.625 * sqrt(2) * input_v)"
)
def snow(
    input_v: Number,
    tuner_gain: Number,
    source_ohm: Number = 300.0,
    bandwidth_hz: Number = 4e6,
    tuner_noise: Number = 4.0,
    if_noise: Number = 30.0,
    picture_share: Number = 0.625,
) -> Snow:
    r"""Return the noise in the picture for a signal and a gain of the tuner.

    .. math::
        N = \sqrt{k T B R \left(F_1 + \frac{F_2 - 1}{G^2}\right)}, \quad s = \frac{N}{q \sqrt2 S}

    Args:
        input_v: Signal at the tuner's matched input, effective value at the sync tip [V], >= 0.
        tuner_gain: Voltage gain of the tuner, in power terms between like resistances, >= 0; 0 is a dead one.
        source_ohm: Impedance of the lead-in [ohm], > 0.
        bandwidth_hz: Noise bandwidth [Hz], > 0.
        tuner_noise: Noise factor of the tuner's first tube, a ratio of powers, >= 1.
        if_noise: Noise factor of what follows, mixer and first IF stage, >= 1.
        picture_share: Black to white over the peak of the carrier: 0.625, in positive modulation 0.7, > 0.
    Returns:
        :class:`Snow`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: no noise but thermal; a tube that leaks or a dirty contact makes more.
    Source: friis-1944 for the noise of stages one behind the other; noise factors from memory, to verify.
    Example: 1 mV at 300 ohm, tuner gain 10, and with the gain down to a tenth of that.
        >>> good, bad = snow(1e-3, 10.0), snow(1e-3, 1.0)
        >>> round(good.noise_v * 1e6, 1), round(good.snow_share, 4), round(bad.snow_share, 4)
        (4.5, 0.0051, 0.0142)
    """
    signal, gain = not_negative(input_v=input_v, tuner_gain=tuner_gain)
    source, band, picture = positive(source_ohm=source_ohm, bandwidth_hz=bandwidth_hz, picture_share=picture_share)
    first, second = _noise_factors(tuner_noise=tuner_noise, if_noise=if_noise)
    factor = first + (second - 1.0) / np.maximum(gain, 1e-6) ** 2
    noise = np.sqrt(_NOISE_W_PER_HZ * band * source * factor)
    ratio = signal / noise
    return Snow(
        plain(noise + 0.0 * ratio), plain(ratio), plain(1.0 / np.maximum(picture * math.sqrt(2.0) * ratio, 1.0))
    )


def _noise_factors(**arguments: Number) -> list[Array]:
    factors = positive(**arguments)
    for name, factor in zip(arguments, factors, strict=True):
        if np.any(factor < 1.0):
            raise OutOfRange(f"{name} is {float(np.min(factor)):g}; expected 1 or above.")
    return factors
