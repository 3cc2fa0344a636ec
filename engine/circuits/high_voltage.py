# SPDX-License-Identifier: MIT
"""The high voltage: the rectified pulse, its filter in the glass of the tube, ripple, regulation and blooming.

The pulse is half a sine; the rectifier is a resistance that conducts one way; ringing and corona are left out.
Sources: schade-1950, grob-answers-tube-coating (keys in kb/sources/high_voltage.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root

__all__ = [
    "RectifiedPulse",
    "band_area_m2",
    "coating_capacitance_f",
    "raster_size_share",
    "rectified_pulse",
    "regulated_anode_v",
    "ripple_v",
    "source_resistance_ohm",
]

_VACUUM = 8.8541878128e-12


@dataclass(frozen=True)
class RectifiedPulse:
    """What the rectifier makes of the pulse."""

    anode_v: Number
    """Anode voltage, mean over a line."""
    rectifier_a: Number
    """Mean current of the rectifier: beam and leakage."""
    conduction_s: Number
    """Time in each line for which the rectifier conducts."""


@formula(
    "2 * pulse_v * (sin(x) - x * cos(x)) / (w * source_ohm) = (beam_a + anode_v / leak_ohm) / line_hz,"
    " anode_v = base_v + pulse_v * cos(x), w = pi / retrace_s"
)
def rectified_pulse(
    pulse_v: Number,
    base_v: Number,
    retrace_s: Number,
    line_hz: Number,
    source_ohm: Number,
    beam_a: Number = 0.0,
    leak_ohm: Number = 1e12,
    emission_share: Number = 1.0,
) -> RectifiedPulse:
    r"""Return the anode voltage at which the pulse brings just the charge that a line takes.

    .. math::
        \frac{2 V_p}{\omega R} (\sin x - x \cos x) = \frac{1}{f} \left(I + \frac{V_a}{R_l}\right), \quad
        V_a = V_0 + V_p \cos x, \quad \omega = \pi / t_r

    Args:
        pulse_v: Pulse on the high-voltage winding above the voltage that the winding stands on [V], >= 0.
        base_v: Direct voltage that the winding stands on, the boosted rail as a rule [V], >= 0.
        retrace_s: Duration of the pulse at its foot [s], > 0.
        line_hz: Line rate [Hz], > 0.
        source_ohm: Rectifier and winding as one resistance [ohm], > 0.
        beam_a: Beam current [A], >= 0.
        leak_ohm: Leakage from anode to chassis [ohm], > 0; 1e-3 is a shorted filter.
        emission_share: Emission of the rectifier over that of a good one, 0 to 1.
    Returns:
        :class:`RectifiedPulse`, its fields floats or arrays; the anode voltage is 0 where the pulse cannot
        bring the beam's charge.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a filter that holds its charge over a line; within 3 % of a circuit simulation.
    Source: schade-1950 for the circuit; the balance of charge is derived here.
    Example: 13 kV on 500 V, 10 us, 15,750 Hz, 200 k of source, 100 uA.
        >>> round(rectified_pulse(13e3, 500.0, 10e-6, 15750.0, 200e3, 100e-6).anode_v)
        12667
    """
    pulse, base, beam = not_negative(pulse_v=pulse_v, base_v=base_v, beam_a=beam_a)
    width, rate, source, leak = positive(
        retrace_s=retrace_s, line_hz=line_hz, source_ohm=source_ohm, leak_ohm=leak_ohm
    )
    (emission,) = share(emission_share=emission_share)
    resistance = source / np.maximum(emission, 1e-9)

    def gain(anode: Array) -> Array:
        brought, _ = _charge(anode - base, pulse, width / math.pi, resistance)
        return np.asarray(brought * rate - beam - anode / leak)

    top = base + pulse
    lost = quick_root(lambda x: -gain(top * (1.0 - x * x)), 0.0 * (resistance + leak + beam + top), 1.0)
    anode = top * (1.0 - lost * lost)
    _, angle = _charge(anode - base, pulse, width / math.pi, resistance)
    anode, current, angle = np.broadcast_arrays(anode, beam + anode / leak, angle)
    dead = anode < 1e-6 * (base + pulse)
    current = np.where(dead, np.minimum(current, gain(0.0 * anode) + beam), current)
    return RectifiedPulse(plain(np.array(anode)), plain(current), plain(2.0 * angle * width / math.pi))


def _charge(above: Array, pulse: Array, unit: Array, resistance: Array) -> tuple[Array, Array]:
    """Return the charge that one pulse brings to a level above its base, and half its angle of conduction."""
    cosine = np.clip(above / np.maximum(pulse, 1e-12), 0.0, 1.0)
    angle = np.arccos(cosine)
    area = 2.0 * pulse * (np.sqrt(1.0 - cosine**2) - angle * cosine) + math.pi * np.maximum(-above, 0.0)
    return np.asarray(area * unit / resistance), angle


@formula("anode_v * (1 - exp(-beam_a / (line_hz * capacitance_f * anode_v)))")
def ripple_v(anode_v: Number, beam_a: Number, capacitance_f: Number, line_hz: Number) -> Number:
    r"""Return the ripple of the high voltage at line rate, peak to peak.

    .. math:: \Delta V = V_a \left(1 - e^{-I / (f C V_a)}\right) \approx \frac{I}{f C}

    Args:
        anode_v: Anode voltage at the peak of the pulse [V], > 0.
        beam_a: Beam current with leakage [A], >= 0.
        capacitance_f: Filter: coating, foil band, filter capacitor or, with none of them, strays [F], > 0.
        line_hz: Rate of the pulses [Hz], > 0.
    Returns:
        Ripple [V], below anode_v, float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the charge of a line taken in the whole of the line: an upper bound.
    Source: textbook: charge over capacitance.
    Example: 100 uA, 1000 pF, 15,750 Hz, worked by hand.
        >>> round(ripple_v(14e3, 100e-6, 1e-9, 15750.0), 2)
        6.35
    """
    (beam,) = not_negative(beam_a=beam_a)
    anode, capacitance, rate = positive(anode_v=anode_v, capacitance_f=capacitance_f, line_hz=line_hz)
    return plain(-anode * np.expm1(-beam / (rate * capacitance * anode)))


@formula("max(0, open_v - source_ohm * beam_a)")
def regulated_anode_v(open_v: Number, source_ohm: Number, beam_a: Number) -> Number:
    r"""Return the anode voltage under a beam current.

    .. math:: V_a = V_0 - R_s I

    Args:
        open_v: Anode voltage with the beam cut off [V], >= 0.
        source_ohm: Source resistance of the whole supply, flyback stage included [ohm], >= 0.
        beam_a: Beam current [A], >= 0.
    Returns:
        Anode voltage [V], not below 0, float or array.
    Raises:
        OutOfRange: An argument is negative.
    Valid: a straight line; the first tens of microamperes fall a little faster.
    Source: schade-1950 (regulation as a source resistance).
    Example: 15 kV behind 5 Mohm at 200 uA, worked by hand.
        >>> regulated_anode_v(15e3, 5e6, 200e-6)
        14000.0
    """
    voltage, source, beam = not_negative(open_v=open_v, source_ohm=source_ohm, beam_a=beam_a)
    return plain(np.maximum(voltage - source * beam, 0.0))


@formula("(open_v - loaded_v) / beam_a")
def source_resistance_ohm(open_v: Number, loaded_v: Number, beam_a: Number) -> Number:
    r"""Return the source resistance of the high voltage from two of its values.

    .. math:: R_s = (V_0 - V_1) / I

    Args:
        open_v: Anode voltage with the beam cut off [V], >= 0.
        loaded_v: Anode voltage under the beam current [V], >= 0.
        beam_a: Beam current [A], > 0.
    Returns:
        Resistance [ohm], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: Ohm's law.
    Example: from 15 kV to 14 kV at 200 uA, worked by hand.
        >>> round(source_resistance_ohm(15e3, 14e3, 200e-6))
        5000000
    """
    voltage, loaded = not_negative(open_v=open_v, loaded_v=loaded_v)
    (beam,) = positive(beam_a=beam_a)
    return plain((voltage - loaded) / beam)


@formula("sqrt(rated_anode_v / anode_v)")
def raster_size_share(anode_v: Number, rated_anode_v: Number) -> Number:
    r"""Return how the raster grows when the anode voltage falls and the yoke currents do not: blooming.

    .. math:: s = \sqrt{V_0 / V_a}

    Args:
        anode_v: Anode voltage [V], > 0.
        rated_anode_v: Anode voltage at which the raster has its normal size [V], > 0.
    Returns:
        Size over normal size, both directions, float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: yoke currents unchanged.  A high voltage that falls with its flyback stage takes the width with it.
    Source: physics of magnetic deflection; schade-1950.
    Example: a tenth down, worked by hand.
        >>> round(raster_size_share(12600.0, 14000.0), 3)
        1.054
    """
    anode, rated = positive(anode_v=anode_v, rated_anode_v=rated_anode_v)
    return plain(np.sqrt(rated / anode))


@formula("8.854e-12 * permittivity * area_m2 / glass_m")
def coating_capacitance_f(area_m2: Number, glass_m: Number, permittivity: Number = 7.0) -> Number:
    r"""Return the capacitance of a conducting coat or foil on the glass against the inner coating.

    .. math:: C = \varepsilon_0 \varepsilon_r A / d

    Args:
        area_m2: Area of coat or foil that faces the inner coating [m2], >= 0.
        glass_m: Thickness of the glass [m], > 0.
        permittivity: Relative permittivity of the glass, 6 to 8, > 0.
    Returns:
        Capacitance [F], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a coat that touches the glass and is bonded to the chassis return of the deflection; a gap
        of air of one millimetre counts as seven of glass.
    Source: textbook plate capacitor; 2000 pF as a usual whole in grob-answers-tube-coating.
    Example: 0.15 m2 on 5 mm in nanofarads; a foil of 10 cm by 10 cm on 3 mm in picofarads, by hand.
        >>> round(coating_capacitance_f(0.15, 5e-3) * 1e9, 2), round(coating_capacitance_f(0.01, 3e-3) * 1e12)
        (1.86, 207)
    """
    (area,) = not_negative(area_m2=area_m2)
    glass, relative = positive(glass_m=glass_m, permittivity=permittivity)
    return plain(_VACUUM * relative * area / glass)


@formula("pi * (wide_radius_m + narrow_radius_m) * slant_m * round_share")
def band_area_m2(
    wide_radius_m: Number, narrow_radius_m: Number, slant_m: Number, round_share: Number = 1.0
) -> Number:
    r"""Return the area of a band of foil round the flare of a tube.

    .. math:: A = \pi (r_1 + r_2) s\, q

    Args:
        wide_radius_m: Radius of the flare at the wide edge of the band [m], > 0.
        narrow_radius_m: Radius at the narrow edge [m], > 0.
        slant_m: Breadth of the band along the glass [m], > 0.
        round_share: Share of the way round that the band covers, 0 to 1; keep it well clear of the anode button.
    Returns:
        Area [m2], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a round flare; for a rectangular one take the radius of the circle with the same girth.
    Source: geometry of the frustum of a cone.
    Example: a band 5 cm broad between radii of 12 and 9 cm, all the way round, worked by hand.
        >>> round(band_area_m2(0.12, 0.09, 0.05), 4)
        0.033
    """
    wide, narrow, slant = positive(wide_radius_m=wide_radius_m, narrow_radius_m=narrow_radius_m, slant_m=slant_m)
    (covered,) = share(round_share=round_share)
    return plain(math.pi * (wide + narrow) * slant * covered)
