# SPDX-License-Identifier: MIT
"""Automatic gain control: the gated and the simple loop, settled in one call.

The receiver from its input to the detector is one gain that falls exponentially with the AGC voltage down to
a floor; the loop is solved for the level at which detected video and AGC voltage agree.
Limits: settled state only, with the time constant beside it; sound and interference are left out.
Sources: terman-1943-amplifiers, rca-rc-30-agc, coupling-leak-practice
(keys in kb/sources/agc.yaml, kb/sources/video.yaml).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "AgcState",
    "agc_line_v",
    "keyed_agc",
    "keyed_agc_v",
    "recovery_s",
    "simple_agc",
]

_LINE_MOST_V = 1.0
"""The controlled grids draw current and hold the line here when it would go positive; from memory, to verify."""


@formula("D * (pulse_v - D + knee_v) = gm_a_per_v * drive_v * pulse_s * line_hz * load_ohm * (pulse_v - D)")
def keyed_agc_v(
    drive_v: Number,
    gm_a_per_v: Number,
    pulse_v: Number,
    pulse_s: Number,
    line_hz: Number,
    load_ohm: Number,
    knee_v: Number = 40.0,
) -> Number:
    r"""Return the voltage that a keyed AGC tube makes, as a magnitude.

    .. math:: D\,(P - D + V_k) = g_m e\, \tau f R\, (P - D)

    The tube conducts only while the flyback pulse lifts its plate and the sync tip its grid; its mean current
    charges the line negative through the load.

    Args:
        drive_v: Grid of the keyed tube above its cut-off at the sync tip [V], >= 0.
        gm_a_per_v: Transconductance, emission included [A/V], >= 0.
        pulse_v: Flyback pulse at its plate [V], >= 0; 0 where the pulse is missing: no AGC at all.
        pulse_s: Duration of the conduction in each line [s], > 0.
        line_hz: Line rate [Hz], > 0.
        load_ohm: Resistance from the plate winding to the AGC line's return [ohm], > 0.
        knee_v: Plate voltage at which the tube passes half its current [V], > 0.
    Returns:
        Voltage below the return [V], below pulse_v, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: sync pulse and flyback pulse at the same time; a picture out of line hold has less AGC.
    Source: derived here from the mean current; common practice for the circuit.
    Example: 0.3 V of drive, 4 mA/V, 400 V of pulse, 8 us at 15,750 Hz, 100 k.
        >>> round(keyed_agc_v(0.3, 4e-3, 400.0, 8e-6, 15750.0, 100e3), 1)
        13.7
    """
    drive, transconductance, pulse = not_negative(drive_v=drive_v, gm_a_per_v=gm_a_per_v, pulse_v=pulse_v)
    width, rate, load, knee = positive(pulse_s=pulse_s, line_hz=line_hz, load_ohm=load_ohm, knee_v=knee_v)
    return plain(_keyed(drive, transconductance * np.minimum(width * rate, 1.0) * load, pulse, knee))


def _keyed(drive: Array, gain: Array, pulse: Array, knee: Array) -> Array:
    wanted = gain * drive
    half = pulse + knee + wanted
    return np.asarray(2.0 * wanted * pulse / (half + np.sqrt(np.maximum(half**2 - 4.0 * wanted * pulse, 0.0))))


@formula(
    "(leak_to_v * line_ohm - detector_v * leak_ohm) / (line_ohm + leak_ohm)"
    " + gas_a * line_ohm * leak_ohm / (line_ohm + leak_ohm)"
)
def agc_line_v(
    detector_v: Number, line_ohm: Number, leak_ohm: Number = 1e12, leak_to_v: Number = 0.0, gas_a: Number = 0.0
) -> Number:
    r"""Return the voltage of the AGC line with its leaks.

    .. math:: V = \frac{V_l R - D R_l}{R + R_l} + I_g \frac{R R_l}{R + R_l}

    Args:
        detector_v: Voltage that the AGC tube or diode makes, as a magnitude [V], >= 0.
        line_ohm: Whole resistance between it and the controlled grids [ohm], >= 0; 1e9 is an open filter.
        leak_ohm: Leakage of the line [ohm], > 0; 1e-3 is a shorted bypass: AGC lost.
        leak_to_v: Voltage at the far end of the leak [V]: 0 for a bypass, above 0 for a leaky coupling,
            below 0 for a leak to a bias rail: gain too low, weak picture.
        gas_a: Positive current out of gassy controlled tubes [A], >= 0.
    Returns:
        Voltage [V], negative when working; not above 1 V, where the grids conduct; float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: divider; coupling-leak-practice for the size of leaks that matter.
    Example: 8 V through 2 M with a bypass that leaks 2 M, and with one of 40 M, worked by hand.
        >>> [round(agc_line_v(8.0, 2e6, leak), 1) for leak in (2e6, 40e6)]
        [-4.0, -7.6]
    """
    (made,) = not_negative(detector_v=detector_v)
    return plain(_line(made, _leaks(line_ohm, leak_ohm, leak_to_v, gas_a)))


def _leaks(line_ohm: Number, leak_ohm: Number, leak_to_v: Number, gas_a: Number) -> tuple[Array, Array]:
    """Return what of the detector's voltage reaches the grids, and what leaks and gas put there."""
    line, gas = not_negative(line_ohm=line_ohm, gas_a=gas_a)
    (leak,) = positive(leak_ohm=leak_ohm)
    (far,) = any_sign(leak_to_v=leak_to_v)
    both = line + leak
    return leak / both, (far * line + gas * line * leak) / both


def _line(made: Array, leaks: tuple[Array, Array]) -> Array:
    return np.asarray(np.minimum(leaks[1] - made * leaks[0], _LINE_MOST_V))


@dataclass(frozen=True)
class AgcState:
    """The receiver with its AGC settled."""

    video_v: Number
    """Detected video at the peak of the carrier, before any overload."""
    agc_v: Number
    """Voltage of the AGC line: negative when working."""
    gain_share: Number
    """Gain over that without AGC."""
    loop_gain: Number
    """By how many times the loop holds back a small change of the signal."""


@formula(
    "video_v = input_v * full_gain * exp(-min(control_per_v * -agc_v, control_range)),"
    " agc_v = -keyed_agc_v(video_v * level_gain - threshold_v)"
)
def keyed_agc(
    input_v: Number,
    full_gain: Number,
    control_per_v: Number,
    threshold_v: Number,
    gm_a_per_v: Number,
    pulse_v: Number,
    pulse_s: Number,
    line_hz: Number,
    load_ohm: Number,
    level_gain: Number = 1.0,
    control_range: Number = 7.0,
    line_ohm: Number = 1e6,
    leak_ohm: Number = 1e12,
    leak_to_v: Number = 0.0,
    gas_a: Number = 0.0,
    knee_v: Number = 40.0,
) -> AgcState:
    r"""Return video level and AGC voltage of a receiver with keyed AGC.

    .. math:: v = S A_0\, e^{-\min(-k V,\, r)}, \quad V = -D(v A - V_t)

    with :math:`D` of :func:`keyed_agc_v` and the leaks of :func:`agc_line_v`.

    Args:
        input_v: Signal at the input, at the peak of the carrier [V], >= 0.
        full_gain: Gain from there to the detected video without AGC, > 0.
        control_per_v: Gain control of all controlled tubes together, nepers to the volt [1/V], >= 0.
        threshold_v: Level at the keyed tube's grid at which it begins to conduct [V], >= 0.
        gm_a_per_v: Its transconductance, emission included [A/V], >= 0.
        pulse_v: Flyback pulse at its plate [V], >= 0.
        pulse_s: Duration of the conduction in each line [s], > 0.
        line_hz: Line rate [Hz], > 0.
        load_ohm: Its load [ohm], > 0.
        level_gain: Grid voltage over detected video, that of the video stage between them, >= 0.
        control_range: Most that the gain can be held back, nepers; 7 is 61 dB, >= 0.
        line_ohm: Whole resistance from the tube's plate return to the grids [ohm], >= 0.
        leak_ohm: Leakage of the line [ohm], > 0.
        leak_to_v: Voltage at the far end of the leak [V].
        gas_a: Positive current out of gassy controlled tubes [A], >= 0.
        knee_v: As in :func:`keyed_agc_v` [V], > 0.
    Returns:
        :class:`AgcState`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: line hold in step; the level counts at the sync tip and so does not follow the scene.
    Source: derived here; common practice for the circuit.
    Example: 1 mV and 10 mV of signal: ten times the signal, 3 % more video.
        >>> args = dict(full_gain=64e3, control_per_v=0.6, threshold_v=3.0, gm_a_per_v=4e-3, pulse_v=400.0,
        ...             pulse_s=8e-6, line_hz=15750.0, load_ohm=100e3)
        >>> weak, strong = keyed_agc(1e-3, **args), keyed_agc(10e-3, **args)
        >>> round(weak.video_v, 2), round(strong.video_v, 2), round(weak.agc_v, 1), round(strong.agc_v, 1)
        (3.11, 3.19, -5.0, -8.8)
    """
    signal, full, control, most = _receiver(input_v, full_gain, control_per_v, control_range)
    threshold, transconductance, pulse, gain = not_negative(
        threshold_v=threshold_v, gm_a_per_v=gm_a_per_v, pulse_v=pulse_v, level_gain=level_gain
    )
    width, rate, load, knee = positive(pulse_s=pulse_s, line_hz=line_hz, load_ohm=load_ohm, knee_v=knee_v)
    slope = transconductance * np.minimum(width * rate, 1.0) * load

    leaks = _leaks(line_ohm, leak_ohm, leak_to_v, gas_a)

    def line(video: Array) -> Array:
        return _line(_keyed(np.maximum(video * gain - threshold, 0.0), slope, pulse, knee), leaks)

    return _settled(signal * full, control, most, line)


@formula(
    "video_v = input_v * full_gain * exp(-min(control_per_v * -agc_v, control_range)),"
    " agc_v = -min(efficiency * (video_v * level_share - delay_v), most_v)"
)
def simple_agc(
    input_v: Number,
    full_gain: Number,
    control_per_v: Number,
    level_share: Number = 1.0,
    efficiency: Number = 1.0,
    delay_v: Number = 0.0,
    most_v: Number = 1e3,
    control_range: Number = 7.0,
    line_ohm: Number = 1e6,
    leak_ohm: Number = 1e12,
    leak_to_v: Number = 0.0,
    gas_a: Number = 0.0,
) -> AgcState:
    r"""Return video level and AGC voltage of a receiver with simple AGC.

    .. math:: v = S A_0\, e^{-\min(-k V,\, r)}, \quad V = -\min(\eta (v s - V_d), V_m)

    Args:
        input_v: Signal at the input, at the peak of the carrier [V], >= 0.
        full_gain: Gain from there to the detected video without AGC, > 0.
        control_per_v: Gain control of all controlled tubes together, nepers to the volt [1/V], >= 0.
        level_share: What the AGC measures, over the peak of the carrier: 1 for peak AGC, the mean of
            ``agc_levels.mean_level_share`` for mean-level AGC, >= 0.
        efficiency: AGC voltage over what is measured, amplification included, >= 0; 0 is a dead AGC diode.
        delay_v: Level below which there is no AGC [V], >= 0.
        most_v: Most that the AGC diode or amplifier can make [V], >= 0.
        control_range: Most that the gain can be held back, nepers, >= 0.
        line_ohm: Whole resistance between AGC diode and grids [ohm], >= 0.
        leak_ohm: Leakage of the line [ohm], > 0.
        leak_to_v: Voltage at the far end of the leak [V].
        gas_a: Positive current out of gassy controlled tubes [A], >= 0.
    Returns:
        :class:`AgcState`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as :func:`keyed_agc`; mean-level AGC follows the scene, which is what its level_share is for.
    Source: rca-rc-30-agc for the circuit; terman-1943-amplifiers.
    Example: 1 mV and 10 mV of signal without amplification: ten times the signal, 1.7 times the video.
        >>> weak, strong = (simple_agc(s, 64e3, 0.6) for s in (1e-3, 10e-3))
        >>> round(weak.video_v, 2), round(strong.video_v, 2)
        (4.45, 7.43)
    """
    signal, full, control, range_ = _receiver(input_v, full_gain, control_per_v, control_range)
    level, made_of, delay, most = not_negative(
        level_share=level_share, efficiency=efficiency, delay_v=delay_v, most_v=most_v
    )

    leaks = _leaks(line_ohm, leak_ohm, leak_to_v, gas_a)

    def line(video: Array) -> Array:
        return _line(np.minimum(made_of * np.maximum(video * level - delay, 0.0), most), leaks)

    return _settled(signal * full, control, range_, line)


@formula("line_ohm * capacitance_f / (1 + loop_gain)")
def recovery_s(line_ohm: Number, capacitance_f: Number, loop_gain: Number = 0.0) -> Number:
    r"""Return the time constant with which the AGC follows a change.

    .. math:: \tau = \frac{R C}{1 + G}

    Args:
        line_ohm: Resistance of the AGC filter [ohm], >= 0.
        capacitance_f: Its capacitor [F], > 0; 1e-15 is an open one: vertical sync pulls the gain.
        loop_gain: Loop gain of :class:`AgcState`, >= 0; 0 where the AGC is cut off and its line only discharges.
    Returns:
        Time constant [s], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: one filter section; of several take the slowest.
    Source: textbook feedback around one time constant.
    Example: 1 M and 0.22 uF in a loop that holds ten times, worked by hand.
        >>> round(recovery_s(1e6, 0.22e-6, 10.0), 3)
        0.02
    """
    line, gain = not_negative(line_ohm=line_ohm, loop_gain=loop_gain)
    (farads,) = positive(capacitance_f=capacitance_f)
    return plain(line * farads / (1.0 + gain))


def _receiver(input_v: Number, full_gain: Number, control_per_v: Number, control_range: Number) -> list[Array]:
    signal, control, most = not_negative(input_v=input_v, control_per_v=control_per_v, control_range=control_range)
    (full,) = positive(full_gain=full_gain)
    return [signal, full, control, most]


def _settled(open_v: Array, control: Array, most: Array, line: Callable[[Array], Array]) -> AgcState:
    """Return the level at which the AGC that it makes leaves just that level."""

    def held(video: Array) -> Array:
        return np.minimum(control * np.maximum(-line(video), 0.0), most)

    lowest = 0.0 * (open_v + held(open_v))
    video = quick_root(lambda v: open_v * np.exp(-held(v)) - v, lowest, open_v + lowest)
    step = 1e-4 * np.maximum(video, 1e-12)
    loop = video * (held(video + step) - held(video - step)) / (2.0 * step)
    return AgcState(
        plain(video), plain(line(video) + lowest), plain(np.exp(-held(video))), plain(np.maximum(loop, 0.0))
    )
