# SPDX-License-Identifier: MIT
"""How the gain of a tube falls with its bias: remote and sharp cut-off.

Limits: one exponential, or one power law, per tube; the long tail of a remote cut-off tube lies above it.
Sources: ge-6386-1954, terman-1943-amplifiers (keys in kb/sources/agc.yaml, kb/sources/video.yaml).
"""

from __future__ import annotations

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import OutOfRange

__all__ = ["controlled_gm_a_per_v", "gain_slope_per_v", "sharp_gm_a_per_v"]


@formula("ln(first_gm_a_per_v / second_gm_a_per_v) / (first_bias_v - second_bias_v)")
def gain_slope_per_v(
    first_gm_a_per_v: Number, first_bias_v: Number, second_gm_a_per_v: Number, second_bias_v: Number
) -> Number:
    r"""Return how steeply a remote cut-off tube loses gain, from two published points.

    .. math:: k = \frac{\ln (g_1 / g_2)}{V_1 - V_2}

    Args:
        first_gm_a_per_v: Transconductance at the less negative bias [A/V], > 0.
        first_bias_v: That bias [V].
        second_gm_a_per_v: Transconductance at the more negative bias [A/V], > 0.
        second_bias_v: That bias [V], below the first.
    Returns:
        Slope in nepers per volt, float or array; times 8.69 in decibels per volt.
    Raises:
        OutOfRange: An argument is out of its bounds, or the biases are not in that order.
    Source: the exponential is how such tubes are meant to run; ge-6386-1954 for the example.
    Example: 4000 micromhos at -1.92 V (9.6 mA in 200 ohm), 100 at -16 V.
        >>> round(gain_slope_per_v(4e-3, -1.92, 100e-6, -16.0), 3)
        0.262
    """
    first, second = positive(first_gm_a_per_v=first_gm_a_per_v, second_gm_a_per_v=second_gm_a_per_v)
    high, low = any_sign(first_bias_v=first_bias_v, second_bias_v=second_bias_v)
    if np.any(high <= low):
        raise OutOfRange("second_bias_v is not below first_bias_v; give the more negative bias second.")
    return plain(np.log(first / second) / (high - low))


@formula("rated_gm_a_per_v * exp(slope_per_v * (bias_v - rated_bias_v))")
def controlled_gm_a_per_v(
    bias_v: Number,
    rated_gm_a_per_v: Number,
    rated_bias_v: Number,
    slope_per_v: Number,
    emission_share: Number = 1.0,
) -> Number:
    r"""Return the transconductance of a remote cut-off tube at a bias.

    .. math:: g = e\, g_0\, e^{k (V - V_0)}, \quad V \le 0

    Args:
        bias_v: Grid to cathode [V], of either sign; above 0 counts as 0.
        rated_gm_a_per_v: Transconductance at the rated bias [A/V], >= 0.
        rated_bias_v: Rated bias [V].
        slope_per_v: Slope of :func:`gain_slope_per_v` [1/V], >= 0.
        emission_share: Emission over that of a good tube, 0 to 1.
    Returns:
        Transconductance [A/V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: between the two points that the slope was taken from; real tubes fall less steeply far out.
    Source: as :func:`gain_slope_per_v`.
    Example: the tube of that function at -9 V, in micromhos.
        >>> round(controlled_gm_a_per_v(-9.0, 4e-3, -1.92, 0.262) * 1e6)
        626
    """
    bias, rated_bias = any_sign(bias_v=bias_v, rated_bias_v=rated_bias_v)
    rated, slope = not_negative(rated_gm_a_per_v=rated_gm_a_per_v, slope_per_v=slope_per_v)
    (emission,) = share(emission_share=emission_share)
    away = np.clip(slope * (np.minimum(bias, 0.0) - rated_bias), -700.0, 50.0)
    return plain(emission * rated * np.exp(away))


@formula("zero_bias_gm_a_per_v * max(0, 1 + bias_v / cut_off_v)**bend")
def sharp_gm_a_per_v(
    bias_v: Number,
    zero_bias_gm_a_per_v: Number,
    cut_off_v: Number,
    bend: Number = 0.5,
    emission_share: Number = 1.0,
) -> Number:
    r"""Return the transconductance of a sharp cut-off tube at a bias.

    .. math:: g = e\, g_0 \left(1 + V/V_c\right)_+^n

    Args:
        bias_v: Grid to cathode [V], of either sign; above 0 counts as 0.
        zero_bias_gm_a_per_v: Transconductance at zero bias [A/V], >= 0.
        cut_off_v: Bias at cut-off, as a magnitude [V], > 0.
        bend: Exponent, > 0; a half follows from the law of three halves, real tubes lie near one.
        emission_share: Emission over that of a good tube, 0 to 1.
    Returns:
        Transconductance [A/V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: to within the bend of the tube near cut-off.
    Source: terman-1943-amplifiers (law of three halves).
    Example: a tube of 8 mA/V, half way to cut-off, worked by hand.
        >>> round(sharp_gm_a_per_v(-3.0, 8e-3, 6.0) * 1e3, 2)
        5.66
    """
    (bias,) = any_sign(bias_v=bias_v)
    (rated,) = not_negative(zero_bias_gm_a_per_v=zero_bias_gm_a_per_v)
    cut_off, exponent = positive(cut_off_v=cut_off_v, bend=bend)
    (emission,) = share(emission_share=emission_share)
    return plain(emission * rated * np.maximum(1.0 + np.minimum(bias, 0.0) / cut_off, 0.0) ** exponent)
