# SPDX-License-Identifier: MIT
"""The picture tube: cut-off, beam current, light, spot and size of the raster.

The gun is the law of three halves between cut-off and zero bias with a power of the drive, and a cathode that
can give only so much.  All voltages of the gun count from its cathode, so that grid and cathode drive differ
as they do in the tube.
Limits: estimates for a type of tube; single tubes spread by two to one.
Sources: schlesinger-1953, moss-1968, law-1942 (keys in kb/sources/picture_tube.yaml).
"""

from __future__ import annotations

import math

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import OutOfRange

__all__ = [
    "beam_current_a",
    "brightness_share",
    "cut_off_v",
    "drive_for_beam_v",
    "limited_beam_a",
    "mean_beam_a",
    "raster_share",
    "spot_size_share",
    "sweep_current_a",
]

_PERVEANCE = 3e-6
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


@formula("rated_cut_off_v * max(0, first_anode_v) / rated_first_anode_v")
def cut_off_v(first_anode_v: Number, rated_cut_off_v: Number, rated_first_anode_v: Number) -> Number:
    r"""Return the bias that cuts the beam off, as a magnitude, at a first-anode voltage.

    .. math:: V_c = V_{c0} \frac{V_{g2}}{V_{g2,0}}

    Args:
        first_anode_v: First anode against cathode [V], of either sign; at or below 0 there is no beam at all.
        rated_cut_off_v: Cut-off from the tube's data, as a magnitude [V], > 0.
        rated_first_anode_v: First-anode voltage for which that is stated [V], > 0.
    Returns:
        Bias as a magnitude [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the final anode reaches through the first anode by a few volts at most.  In a triode gun, which has
        no first anode, give the final anode's voltage for both.
    Source: from memory, to verify (usual statement of picture-tube data); follows from a constant mu of the gun.
    Example: 28 to 72 V at 300 V become 42 to 108 V at 450 V, worked by hand.
        >>> cut_off_v(450.0, 28.0, 300.0), cut_off_v(450.0, 72.0, 300.0)
        (42.0, 108.0)
    """
    (first,) = any_sign(first_anode_v=first_anode_v)
    rated, at = positive(rated_cut_off_v=rated_cut_off_v, rated_first_anode_v=rated_first_anode_v)
    return plain(rated * np.maximum(first, 0.0) / at)


@formula(
    "3e-6 * (bias_v + Vc)**exponent * Vc**(1.5 - exponent), Vc = rated_cut_off_v * first_anode_v"
    " / rated_first_anode_v, held back by emission_share * most_a"
)
def beam_current_a(
    bias_v: Number,
    first_anode_v: Number,
    rated_cut_off_v: Number,
    rated_first_anode_v: Number,
    emission_share: Number = 1.0,
    exponent: Number = 2.5,
    most_a: Number = 5e-3,
) -> Number:
    r"""Return the beam current at a bias.

    .. math::
        I_0 = 3 \cdot 10^{-6}\, V_d^{\gamma}\, V_c^{3/2 - \gamma}, \quad V_d = V_g + V_c, \quad
        I = \frac{I_0}{\sqrt{1 + (I_0 / e I_m)^2}}

    Args:
        bias_v: Grid against cathode [V], negative in a picture; above 0 the grid draws current and counts as 0.
        first_anode_v: First anode against cathode [V], of either sign.
        rated_cut_off_v: Cut-off from the tube's data, as a magnitude [V], > 0.
        rated_first_anode_v: First-anode voltage for which that is stated [V], > 0.
        emission_share: Emission over that of a new cathode, 0 to 1: a tired one gives grey well and white badly.
        exponent: Power of the drive, > 0; 2.5 by schlesinger-1953, who found 2.4 to 2.5; moss-1968 has 3.5.
        most_a: Most that a new cathode can give [A], > 0; from memory, to verify.
    Returns:
        Current [A], 0 beyond cut-off, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: cathode current; a few per cent less reach the screen, half at full drive in some guns.
    Source: schlesinger-1953 for the power (its summary was read); moss-1968 for the current at zero bias (from
        memory, to verify).
    Example: cut-off 50 V: zero bias, and a drive of 30 V, in microamperes; then the second with Moss's power.
        >>> round(beam_current_a(0.0, 300.0, 50.0, 300.0, most_a=1.0) * 1e6)
        1061
        >>> [round(beam_current_a(-20.0, 300.0, 50.0, 300.0, 1.0, power, 1.0) * 1e6) for power in (2.5, 3.5)]
        [296, 177]
    """
    (bias,) = any_sign(bias_v=bias_v)
    cut_off = np.asarray(cut_off_v(first_anode_v, rated_cut_off_v, rated_first_anode_v))
    (emission,) = share(emission_share=emission_share)
    power, most = positive(exponent=exponent, most_a=most_a)
    return plain(limited_beam_a(bias, cut_off, emission * most, power))


def limited_beam_a(bias: Array, cut_off: Array, most: Array, power: Array) -> Array:
    """Return the beam at a bias as :func:`beam_current_a`, with checked arguments.

    Args:
        bias: Grid against cathode [V], an array.
        cut_off: Cut-off as a magnitude [V], an array, >= 0.
        most: Most that the cathode can give [A], an array, >= 0.
        power: Power of the drive, an array, > 0.
    Returns:
        Current [A], an array.
    Raises:
        ValueError: The arguments do not go together in shape.
    Source: as :func:`beam_current_a`.
    Example: 25 V up from a cut-off of 50 V, in microamperes.
        >>> bias, cut_off, most, power = map(np.array, (-25.0, 50.0, 5e-3, 2.5))
        >>> round(float(limited_beam_a(bias, cut_off, most, power)) * 1e6)
        187
    """
    drive = np.clip(bias + cut_off, 0.0, cut_off)
    wanted = _PERVEANCE * (drive / np.maximum(cut_off, 1e-9)) ** power * cut_off**1.5
    return np.asarray(wanted / np.sqrt(1.0 + (wanted / np.maximum(most, 1e-15)) ** 2))


@formula("rated_cut_off_v * first_anode_v / rated_first_anode_v * (beam_a / (3e-6 * Vc**1.5))**(1 / exponent)")
def drive_for_beam_v(
    beam_a: Number,
    first_anode_v: Number,
    rated_cut_off_v: Number,
    rated_first_anode_v: Number,
    exponent: Number = 2.5,
) -> Number:
    r"""Return the drive above cut-off that a beam current asks for.

    .. math:: V_d = V_c \left(\frac{I}{3 \cdot 10^{-6}\, V_c^{3/2}}\right)^{1/\gamma}

    Args:
        beam_a: Beam current [A], >= 0.
        first_anode_v: First anode against cathode [V], > 0.
        rated_cut_off_v: Cut-off from the tube's data, as a magnitude [V], > 0.
        rated_first_anode_v: First-anode voltage for which that is stated [V], > 0.
        exponent: Power of the drive, > 0.
    Returns:
        Drive [V], float or array; above the cut-off voltage where the gun cannot give that current.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: full emission.
    Source: as :func:`beam_current_a`.
    Example: 100 uA in a tube cut off at 50 V.
        >>> round(drive_for_beam_v(100e-6, 300.0, 50.0, 300.0), 1)
        19.4
    """
    (beam,) = not_negative(beam_a=beam_a)
    first, rated, at, power = positive(
        first_anode_v=first_anode_v,
        rated_cut_off_v=rated_cut_off_v,
        rated_first_anode_v=rated_first_anode_v,
        exponent=exponent,
    )
    cut_off = rated * first / at
    return plain(cut_off * (beam / (_PERVEANCE * cut_off**1.5)) ** (1.0 / power))


@formula("mean of beam_current_a over the video from black to white * (1 - blanked_share)")
def mean_beam_a(
    grid_v: Number,
    cathode_v: Number,
    first_anode_v: Number,
    rated_cut_off_v: Number,
    rated_first_anode_v: Number,
    cathode_drive_v: Number = 0.0,
    grid_drive_v: Number = 0.0,
    emission_share: Number = 1.0,
    blanked_share: Number = 0.24,
    exponent: Number = 2.5,
    most_a: Number = 5e-3,
) -> Number:
    r"""Return the beam current averaged over a picture with as much of each grey.

    .. math:: \bar I = (1 - b) \int_0^1 I\!\left(V_g + u D_g,\; V_k - u D_k\right) du

    by eight points of Gauss.

    Args:
        grid_v: Grid at black [V], against chassis or whatever all three count from.
        cathode_v: Cathode at black [V].
        first_anode_v: First anode [V].
        rated_cut_off_v: Cut-off from the tube's data, as a magnitude [V], > 0.
        rated_first_anode_v: First-anode voltage for which that is stated [V], > 0.
        cathode_drive_v: How far white pulls the cathode down [V], of either sign: below 0 a negative picture.
        grid_drive_v: How far white lifts the grid [V], of either sign.
        emission_share: Emission over that of a new cathode, 0 to 1.
        blanked_share: Share of the time in which retrace and blanking hold the beam off, 0 to 1.
        exponent: Power of the drive, > 0.
        most_a: Most that a new cathode can give [A], > 0.
    Returns:
        Current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as :func:`beam_current_a`; without signal give no drive.
    Source: as :func:`beam_current_a`; the average is worked out here.
    Example: black at cut-off, white 40 V up at the cathode, 450 V on the first anode, in microamperes.
        >>> round(mean_beam_a(0.0, 75.0, 525.0, 50.0, 300.0, 40.0) * 1e6)
        121
    """
    grid, cathode, first = any_sign(grid_v=grid_v, cathode_v=cathode_v, first_anode_v=first_anode_v)
    down, up = any_sign(cathode_drive_v=cathode_drive_v, grid_drive_v=grid_drive_v)
    (blanked,) = share(blanked_share=blanked_share)
    total: Number = 0.0
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        white = 0.5 * (1.0 + float(node))
        low = cathode - white * down
        beam = beam_current_a(
            grid + white * up - low, first - low, rated_cut_off_v, rated_first_anode_v,
            emission_share, exponent, most_a,
        )  # fmt: skip
        total = total + 0.5 * float(weight) * beam
    return plain((1.0 - blanked) * total)


@formula("beam_a / rated_beam_a * ((anode_v - dead_v) / (rated_anode_v - dead_v))**rise")
def brightness_share(
    beam_a: Number,
    rated_beam_a: Number,
    anode_v: Number,
    rated_anode_v: Number,
    dead_v: Number = 2e3,
    rise: Number = 1.6,
) -> Number:
    r"""Return the light of the screen over its normal light.

    .. math:: B = \frac{I}{I_0} \left(\frac{V_a - V_t}{V_{a0} - V_t}\right)_+^n

    Args:
        beam_a: Beam current at the screen [A], >= 0.
        rated_beam_a: Beam current of normal light [A], > 0.
        anode_v: Anode voltage [V], >= 0.
        rated_anode_v: Anode voltage of normal light [V], above dead_v.
        dead_v: Voltage below which the screen stays dark, higher behind an aluminium film [V], >= 0.
        rise: Power of the voltage, > 0.
    Returns:
        Light over normal, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a raster of the same size, a phosphor that is not burnt.
    Source: form of Lenard's law, textbook; both figures from memory, to verify.
    Example: normal beam, anode voltage a tenth down from 14 kV.
        >>> round(brightness_share(100e-6, 100e-6, 12600.0, 14000.0), 2)
        0.82
    """
    beam, anode, dead = not_negative(beam_a=beam_a, anode_v=anode_v, dead_v=dead_v)
    rated_beam, rated, power = positive(rated_beam_a=rated_beam_a, rated_anode_v=rated_anode_v, rise=rise)
    if np.any(rated <= dead):
        raise OutOfRange(f"rated_anode_v is {float(np.min(rated)):g}; expected above dead_v.")
    return plain(beam / rated_beam * (np.maximum(anode - dead, 0.0) / (rated - dead)) ** power)


@formula("(beam_a / rated_beam_a)**growth * sqrt(rated_anode_v / anode_v)")
def spot_size_share(
    beam_a: Number, rated_beam_a: Number, anode_v: Number, rated_anode_v: Number, growth: Number = 0.4
) -> Number:
    r"""Return the trend of the spot's width with beam current and anode voltage.

    .. math:: s = \left(\frac{I}{I_0}\right)^g \sqrt{\frac{V_{a0}}{V_a}}

    Args:
        beam_a: Beam current [A], >= 0.
        rated_beam_a: Beam current of a normal spot [A], > 0.
        anode_v: Anode voltage [V], > 0.
        rated_anode_v: Anode voltage of a normal spot [V], > 0.
        growth: Power of the current, 0 to 1: 0.5 at one density at the cathode (law-1942), 0.2 where the
            cathode's emitting spot grows with the drive (schlesinger-1953); 0.4 is our choice between them.
    Returns:
        Width over normal, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a trend with the focus set anew; a wrong focus current or voltage adds to it.
    Source: law-1942 (its summary was read): beam current over anode voltage goes with the square of the spot.
    Example: three times the beam with the anode voltage a tenth down.
        >>> round(spot_size_share(300e-6, 100e-6, 12600.0, 14000.0), 2)
        1.64
    """
    (beam,) = not_negative(beam_a=beam_a)
    rated_beam, anode, rated = positive(rated_beam_a=rated_beam_a, anode_v=anode_v, rated_anode_v=rated_anode_v)
    (power,) = share(growth=growth)
    return plain((beam / rated_beam) ** power * np.sqrt(rated / anode))


@formula(
    "tan(asin(min(1, current_share * sqrt(rated_anode_v / anode_v) * sin(angle_rad / 2)))) / tan(angle_rad / 2)"
)
def raster_share(
    anode_v: Number, rated_anode_v: Number, current_share: Number = 1.0, angle_rad: Number = 0.0
) -> Number:
    r"""Return the size of the raster over its full size, along the direction in which the angle is counted.

    .. math::
        s = \frac{\tan \theta}{\tan \theta_0}, \quad
        \sin \theta = c \sqrt{\frac{V_{a0}}{V_a}} \sin \theta_0, \quad \theta_0 = \alpha / 2

    which is :math:`c \sqrt{V_{a0}/V_a}` at small angles.

    Args:
        anode_v: Anode voltage [V], > 0.
        rated_anode_v: Anode voltage at which the raster just fills the screen [V], > 0.
        current_share: Yoke current over the one that then fills the screen, >= 0.
        angle_rad: Whole deflection angle from edge to edge [rad], >= 0, below pi; 0 takes the limit of small
            angles, which suits a screen curved about the deflection centre.
    Returns:
        Size over full, at most 10, float or array; above 1 the edges are not seen.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a flat screen; curved ones lie between this and the limit.  Above 1.2 the neck cuts the corners off.
    Source: physics of magnetic deflection.
    Example: a tenth less anode voltage: small angle, 70 and 110 degrees, flat screen.
        >>> import math
        >>> [round(raster_share(0.9, 1.0, 1.0, math.radians(a)), 3) for a in (0, 70, 110)]
        [1.054, 1.084, 1.199]
    """
    anode, rated = positive(anode_v=anode_v, rated_anode_v=rated_anode_v)
    current, angle = not_negative(current_share=current_share, angle_rad=angle_rad)
    half = 0.5 * _below_pi(angle)
    straight = current * np.sqrt(rated / anode)
    sine = np.minimum(straight * np.sin(half), 1.0 - 1e-12)
    flat = sine / np.sqrt(1.0 - sine**2) / np.maximum(np.tan(half), 1e-12)
    return plain(np.minimum(np.where(half < 1e-6, straight, flat), 10.0))


@formula("rated_pp_a * sqrt(anode_v / rated_anode_v) * sin(angle_rad / 2) / sin(rated_angle_rad / 2)")
def sweep_current_a(
    rated_pp_a: Number, anode_v: Number, rated_anode_v: Number, angle_rad: Number, rated_angle_rad: Number
) -> Number:
    r"""Return the yoke current that sweeps an angle at an anode voltage.

    .. math:: I = I_0 \sqrt{\frac{V_a}{V_{a0}}} \frac{\sin (\alpha / 2)}{\sin (\alpha_0 / 2)}

    Args:
        rated_pp_a: Peak-to-peak current that the same yoke takes for the rated angle and voltage [A], >= 0.
        anode_v: Anode voltage [V], > 0.
        rated_anode_v: Anode voltage for which the current is rated [V], > 0.
        angle_rad: Whole deflection angle wanted, edge to edge [rad], > 0, below pi.
        rated_angle_rad: Whole deflection angle for which the current is rated [rad], > 0, below pi.
    Returns:
        Peak-to-peak current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the same yoke; one for a wider angle is shorter and must not be read across.
    Source: physics of magnetic deflection: the sine of the angle goes with field times length.
    Example: 1 A at 14 kV: at 12 kV, and for 90 in place of 70 degrees.
        >>> import math
        >>> round(sweep_current_a(1.0, 12e3, 14e3, 1.2, 1.2), 3)
        0.926
        >>> round(sweep_current_a(1.0, 14e3, 14e3, math.radians(90), math.radians(70)), 3)
        1.233
    """
    (current,) = not_negative(rated_pp_a=rated_pp_a)
    anode, rated, angle, at = positive(
        anode_v=anode_v, rated_anode_v=rated_anode_v, angle_rad=angle_rad, rated_angle_rad=rated_angle_rad
    )
    wide = np.sin(0.5 * _below_pi(angle)) / np.sin(0.5 * _below_pi(at))
    return plain(current * np.sqrt(anode / rated) * wide)


def _below_pi(angle: Array) -> Array:
    if np.any(angle >= math.pi):
        raise OutOfRange(f"angle_rad is {float(np.max(angle)):g}; expected below pi. Give radians, not degrees.")
    return angle
