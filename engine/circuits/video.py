# SPDX-License-Identifier: MIT
"""The video signal from the detector to the plate of the video tube: gain, band, tilt, smear, sharpness.

Small signals; the tube is its transconductance and plate resistance, the diode is a resistance that conducts
one way.  Peaking coils and traps are in ``video_peaking`` and ``video_trap``, overload in ``video_drive``.
Sources: terman-1943-amplifiers, valley-wallman-1948, resolution-notes (keys in kb/sources/video.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "Detector",
    "Shelf",
    "Smear",
    "bypass_shelf",
    "cascade_upper_hz",
    "detector",
    "lower_half_power_hz",
    "resolution_lines",
    "rise_time_s",
    "smear",
    "stage_gain",
    "tilt_share",
    "triode_gain",
    "upper_half_power_hz",
]


@dataclass(frozen=True)
class Detector:
    """What a diode detector makes of the carrier."""

    output_v: Number
    """Voltage on the load at the peak of the carrier, its sign left to the way the diode points."""
    efficiency: Number
    """Output over the peak of the carrier."""
    input_ohm: Number
    """Resistance with which the detector damps the last tuned circuit."""
    time_constant_s: Number
    """Load times capacitance: the slowest that the output can fall."""
    upper_hz: Number
    """Half-power frequency of the detected video."""


@formula("tan(x) - x = pi * diode_ohm / load_ohm, output_v = carrier_v * cos(x)")
def detector(carrier_v: Number, load_ohm: Number, diode_ohm: Number, capacitance_f: Number) -> Detector:
    r"""Return output, efficiency, damping and bandwidth of a diode detector.

    .. math::
        \tan x - x = \pi R_d / R, \quad \eta = \cos x, \quad R_i = \frac{\pi R_d}{x - \sin x \cos x}, \quad
        f = \frac{1}{2 \pi C} \left(\frac{1}{R} + \frac{x}{\pi R_d}\right)

    Args:
        carrier_v: Peak of the carrier at the diode [V], >= 0.
        load_ohm: Detector load [ohm], > 0; 1e9 is an open load.
        diode_ohm: Forward resistance of the diode [ohm], > 0; 1e9 is an open diode.
        capacitance_f: Capacitance across the load, wiring and grid included [F], > 0.
    Returns:
        :class:`Detector`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: load_ohm * capacitance_f of several periods of the intermediate frequency: simulated, the output is
        1 % lower at four periods, 5 % at two and 15 % at one, and the input resistance that much higher.
    Source: terman-1943-amplifiers for efficiency and input resistance; the band from the slope of the same law.
    Example: 3.9 k, a diode of 200 ohm and 10 pF at 4 V of carrier; x is 0.722.
        >>> found = detector(4.0, 3900.0, 200.0, 10e-12)
        >>> round(found.efficiency, 2), round(found.output_v, 1), round(found.time_constant_s * 1e9)
        (0.75, 3.0, 39)
    """
    (carrier,) = not_negative(carrier_v=carrier_v)
    load, diode, farads = positive(load_ohm=load_ohm, diode_ohm=diode_ohm, capacitance_f=capacitance_f)
    wanted = math.pi * diode / load
    angle = quick_root(lambda x: wanted - np.tan(x) + x, 0.0 * wanted, 0.0 * wanted + math.pi / 2.0)
    angle = np.maximum(angle, 1e-7)
    efficiency = np.cos(angle)
    taken = np.maximum(angle - np.sin(angle) * efficiency, 1e-21)
    band = (1.0 / load + angle / (math.pi * diode)) / (2.0 * math.pi * farads)
    return Detector(
        plain(carrier * efficiency),
        plain(efficiency),
        plain(math.pi * diode / taken),
        plain(load * farads),
        plain(band),
    )


@formula("gm_a_per_v * plate_ohm * load_ohm / (plate_ohm + load_ohm + cathode_ohm * (1 + gm_a_per_v * plate_ohm))")
def stage_gain(
    gm_a_per_v: Number, load_ohm: Number, plate_ohm: Number = 1e12, cathode_ohm: Number = 0.0
) -> Number:
    r"""Return the gain of a video stage in the middle of its band.

    .. math:: A = \frac{g_m r_p R}{r_p + R + R_k (1 + g_m r_p)}

    which is :math:`g_m R` for a pentode with its cathode bypassed.

    Args:
        gm_a_per_v: Transconductance at the operating point [A/V], >= 0.
        load_ohm: Plate load in the middle of the band [ohm], > 0.
        plate_ohm: Plate resistance of the tube [ohm], > 0.
        cathode_ohm: Cathode resistance that is not bypassed, a contrast control in the cathode included
            [ohm], >= 0.
    Returns:
        Gain as a positive ratio; the plate turns the polarity round.  Float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: small signals; the operating point is the caller's: an open load has no plate current and no gain.
    Source: terman-1943-amplifiers (equivalent plate circuit).
    Example: 11 mA/V, 3.9 k and 93 k of plate resistance; then with 100 ohm not bypassed, worked by hand.
        >>> round(stage_gain(11e-3, 3900.0, 93e3), 1), round(stage_gain(11e-3, 3900.0, 93e3, 100.0), 1)
        (41.2, 20.0)
    """
    transconductance, cathode = not_negative(gm_a_per_v=gm_a_per_v, cathode_ohm=cathode_ohm)
    load, plate = positive(load_ohm=load_ohm, plate_ohm=plate_ohm)
    mu = transconductance * plate
    return plain(mu * load / (plate + load + cathode * (1.0 + mu)))


@formula("mu * load_ohm / (plate_ohm + load_ohm + (1 + mu) * cathode_ohm)")
def triode_gain(mu: Number, plate_ohm: Number, load_ohm: Number, cathode_ohm: Number = 0.0) -> Number:
    r"""Return the gain of a triode stage from amplification factor and plate resistance.

    .. math:: A = \frac{\mu R}{r_p + R + (1 + \mu) R_k}

    Args:
        mu: Amplification factor, >= 0.
        plate_ohm: Plate resistance [ohm], > 0.
        load_ohm: Plate load [ohm], > 0.
        cathode_ohm: Cathode resistance that is not bypassed [ohm], >= 0.
    Returns:
        Gain as a positive ratio, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: terman-1943-amplifiers (equivalent plate circuit).
    Example: mu 17, 7.7 k of plate resistance, 47 k of load, worked by hand.
        >>> round(triode_gain(17.0, 7700.0, 47e3), 1)
        14.6
    """
    factor, cathode = not_negative(mu=mu, cathode_ohm=cathode_ohm)
    plate, load = positive(plate_ohm=plate_ohm, load_ohm=load_ohm)
    return plain(factor * load / (plate + load + (1.0 + factor) * cathode))


@formula("1 / (2 * pi * capacitance_f * load_ohm * plate_ohm / (load_ohm + plate_ohm))")
def upper_half_power_hz(load_ohm: Number, capacitance_f: Number, plate_ohm: Number = 1e12) -> Number:
    r"""Return the frequency above which a stage without peaking coils loses more than half the power.

    .. math:: f_2 = \frac{1}{2 \pi C} \left(\frac{1}{R} + \frac{1}{r_p}\right)

    Args:
        load_ohm: Plate load [ohm], > 0; a load drifted high smears fine detail.
        capacitance_f: Tube output, wiring, picture tube and its lead together [F], > 0.
        plate_ohm: Plate resistance and all other resistance across the load [ohm], > 0.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: terman-1943-amplifiers; valley-wallman-1948.
    Example: 3.9 k and 20 pF in megahertz, worked by hand.
        >>> round(upper_half_power_hz(3900.0, 20e-12) / 1e6, 2)
        2.04
    """
    load, farads, plate = positive(load_ohm=load_ohm, capacitance_f=capacitance_f, plate_ohm=plate_ohm)
    return plain((1.0 / load + 1.0 / plate) / (2.0 * math.pi * farads))


@formula("1 / (2 * pi * capacitance_f * (source_ohm + grid_ohm))")
def lower_half_power_hz(source_ohm: Number, grid_ohm: Number, capacitance_f: Number) -> Number:
    r"""Return the frequency below which a coupling capacitor loses more than half the power.

    .. math:: f_1 = \frac{1}{2 \pi C (R_s + R_g)}

    Args:
        source_ohm: Resistance that the capacitor is fed from: plate load and plate resistance side by
            side [ohm], >= 0.
        grid_ohm: Resistance behind the capacitor [ohm], > 0.
        capacitance_f: Coupling capacitor [F], > 0; 1e-15 is an open one.
    Returns:
        Frequency [Hz], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: terman-1943-amplifiers.
    Example: 0.1 uF from 3.9 k into 470 k, worked by hand.
        >>> round(lower_half_power_hz(3900.0, 470e3, 0.1e-6), 2)
        3.36
    """
    (source,) = not_negative(source_ohm=source_ohm)
    grid, farads = positive(grid_ohm=grid_ohm, capacitance_f=capacitance_f)
    return plain(1.0 / (2.0 * math.pi * farads * (source + grid)))


@dataclass(frozen=True)
class Shelf:
    """How a bypassed resistor lets the low frequencies down."""

    low_share: Number
    """Gain at the lowest frequencies over that in the middle of the band."""
    zero_hz: Number
    """Frequency below which the gain has come down to the shelf."""
    pole_hz: Number
    """Frequency above which the bypass does its work."""


@formula(
    "low_share = 1 / (1 + resistance_ohm * (1 + gm_a_per_v * plate_ohm) / (plate_ohm + load_ohm)),"
    " pole_hz = 1 / (2 * pi * resistance_ohm * capacitance_f * low_share)"
)
def bypass_shelf(
    gm_a_per_v: Number,
    resistance_ohm: Number,
    capacitance_f: Number,
    plate_ohm: Number = 1e12,
    load_ohm: Number = 0.0,
) -> Shelf:
    r"""Return what a cathode resistor with its bypass does to the low frequencies.

    .. math::
        s = \frac{1}{1 + R_k \frac{1 + g_m r_a}{r_a + R_a}}, \quad f_z = \frac{1}{2 \pi R_k C_k}, \quad
        f_p = f_z / s

    Args:
        gm_a_per_v: Transconductance [A/V], >= 0; for a screen bypass the slope of screen current against
            screen voltage gives the same law.
        resistance_ohm: Bypassed resistor [ohm], > 0.
        capacitance_f: Bypass [F], > 0; 1e-15 is an open one, and the shelf reaches up to all video.
        plate_ohm: Plate resistance of the tube [ohm], > 0.
        load_ohm: Plate load [ohm], >= 0.
    Returns:
        :class:`Shelf`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: small signals.
    Source: valley-wallman-1948 for the circuit; from the gain with cathode impedance.
    Example: 11 mA/V, 100 ohm and 100 uF, worked by hand.
        >>> found = bypass_shelf(11e-3, 100.0, 100e-6)
        >>> round(found.low_share, 3), round(found.pole_hz, 1)
        (0.476, 33.4)
    """
    transconductance, load = not_negative(gm_a_per_v=gm_a_per_v, load_ohm=load_ohm)
    resistance, farads, plate = positive(
        resistance_ohm=resistance_ohm, capacitance_f=capacitance_f, plate_ohm=plate_ohm
    )
    fall = 1.0 + resistance * (1.0 + transconductance * plate) / (plate + load)
    zero = 1.0 / (2.0 * math.pi * resistance * farads)
    return Shelf(plain(1.0 / fall), plain(zero * np.ones_like(fall)), plain(zero * fall))


@formula("1 - exp(-2 * pi * corner_hz * flat_s)")
def tilt_share(corner_hz: Number, flat_s: Number) -> Number:
    r"""Return how far the flat top of a pulse sags behind a coupling capacitor.

    .. math:: t = 1 - e^{-2 \pi f_1 T}

    Args:
        corner_hz: Lower half-power frequency [Hz], >= 0.
        flat_s: Duration of the flat top [s], >= 0: half a field for a picture that is half white.
    Returns:
        Sag over the height of the pulse, 0 to 1, float or array.
    Raises:
        OutOfRange: An argument is negative.
    Source: valley-wallman-1948; charge of a capacitor through a resistance.
    Example: a corner of 3.36 Hz and half a field at 60 Hz, worked by hand.
        >>> round(tilt_share(3.36, 1 / 120), 2)
        0.16
    """
    corner, flat = not_negative(corner_hz=corner_hz, flat_s=flat_s)
    return plain(-np.expm1(-2.0 * math.pi * corner * flat))


@dataclass(frozen=True)
class Smear:
    """The streak behind a block of the picture."""

    depth_share: Number
    """Streak right behind the block over the block; above 0 white trails white, below 0 dark trails white."""
    length_s: Number
    """How long the streak can be seen."""
    width_share: Number
    """The same over the width of the picture, at most 1."""


@formula(
    "depth = (settled_share - fast_share) * (1 - exp(-block_s / time_constant_s)),"
    " length = time_constant_s * ln(abs(depth) / seen_share)"
)
def smear(
    fast_share: Number,
    settled_share: Number,
    time_constant_s: Number,
    block_s: Number,
    picture_s: Number,
    seen_share: Number = 0.05,
) -> Smear:
    r"""Return length and polarity of the streak behind a block of the picture.

    .. math::
        d = (a_\infty - a_0) (1 - e^{-T/\tau}), \quad l = \tau \ln \frac{|d|}{d_0}

    A step comes through at once as ``fast_share`` and settles at ``settled_share``: 1 and 0 behind a coupling
    capacitor (dark trails white), 1 and the shelf of :func:`bypass_shelf`, 0 and 1 where the plate load has
    drifted high and the high frequencies are lost (white trails white).

    Args:
        fast_share: Share of a step that comes through at once, >= 0.
        settled_share: Share that it settles at, >= 0.
        time_constant_s: Time constant of the settling [s], > 0.
        block_s: Duration of the block along a line [s], >= 0.
        picture_s: Visible part of a line [s], > 0.
        seen_share: Least streak that is seen, over the block, > 0; 5 % is our choice.
    Returns:
        :class:`Smear`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: one time constant; a block that began in black.
    Source: valley-wallman-1948 for step responses; derived here.
    Example: 0.5 us of settling behind a block of 10 us in 52 us; then a coupling of 20 us.
        >>> high, low = smear(0.0, 1.0, 0.5e-6, 10e-6, 52e-6), smear(1.0, 0.0, 20e-6, 10e-6, 52e-6)
        >>> round(high.depth_share, 2), round(high.length_s * 1e6, 1), round(low.depth_share, 2)
        (1.0, 1.5, -0.39)
    """
    fast, settled, block = not_negative(fast_share=fast_share, settled_share=settled_share, block_s=block_s)
    tau, picture, seen = positive(time_constant_s=time_constant_s, picture_s=picture_s, seen_share=seen_share)
    depth = (settled - fast) * -np.expm1(-block / tau)
    length = tau * np.log(np.maximum(np.abs(depth) / seen, 1.0))
    return Smear(plain(depth), plain(length), plain(np.minimum(length / picture, 1.0)))


@formula("2 * upper_hz * picture_s / aspect")
def resolution_lines(upper_hz: Number, picture_s: Number, aspect: Number = 4.0 / 3.0) -> Number:
    r"""Return the lines of horizontal resolution that a bandwidth can carry, counted over the picture's height.

    .. math:: n = 2 f_2 t_a / a

    Args:
        upper_hz: Highest frequency that is passed [Hz], >= 0.
        picture_s: Visible part of a line [s], > 0.
        aspect: Width over height, > 0.
    Returns:
        Lines, float or array.  A half-power frequency in place of the highest one understates by eye: detail
        a little beyond it is still seen.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: resolution-notes (165 cycles in a picture height at 4.2 MHz; 82 lines to the megahertz).
    Example: 4.2 MHz in 52.5 us.
        >>> round(resolution_lines(4.2e6, 52.5e-6))
        331
    """
    (upper,) = not_negative(upper_hz=upper_hz)
    picture, shape = positive(picture_s=picture_s, aspect=aspect)
    return plain(2.0 * upper * picture / shape)


@formula("ln(9) / (2 * pi * upper_hz)")
def rise_time_s(upper_hz: Number) -> Number:
    r"""Return the time from a tenth to nine tenths of a step behind one half-power frequency.

    .. math:: t_r = \frac{\ln 9}{2 \pi f_2} \approx 0.35 / f_2

    Args:
        upper_hz: Half-power frequency [Hz], > 0.
    Returns:
        Rise time [s], float or array.
    Raises:
        OutOfRange: It is not positive.
    Valid: exact for one time constant; within a tenth for peaked stages with little overshoot.
    Source: valley-wallman-1948.
    Example: 3.5 MHz in nanoseconds.
        >>> round(rise_time_s(3.5e6) * 1e9)
        100
    """
    (upper,) = positive(upper_hz=upper_hz)
    return plain(math.log(9.0) / (2.0 * math.pi * upper))


@formula("(1 + x / first_hz**2) * (1 + x / second_hz**2) = 2, result = sqrt(x)")
def cascade_upper_hz(first_hz: Number, second_hz: Number) -> Number:
    r"""Return the half-power frequency of two stages one behind the other.

    .. math:: \left(1 + f^2/f_a^2\right) \left(1 + f^2/f_b^2\right) = 2

    Args:
        first_hz: Half-power frequency of the one [Hz], > 0.
        second_hz: Half-power frequency of the other [Hz], > 0.
    Returns:
        Frequency [Hz], below both, float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: exact for one time constant each.
    Source: valley-wallman-1948 (stages in cascade).
    Example: two like stages leave 64 % of the band.
        >>> round(cascade_upper_hz(4e6, 4e6) / 4e6, 3)
        0.644
    """
    first, second = positive(first_hz=first_hz, second_hz=second_hz)
    a, b = 1.0 / first**2, 1.0 / second**2
    return plain(np.sqrt(2.0 / (a + b + np.sqrt((a + b) ** 2 + 4.0 * a * b))))
