# SPDX-License-Identifier: MIT
"""How a supply charges and drains, and what currents its fuse sees.

Caution: no time computed here makes a capacitor harmless.  A bleeder may be open, a clip may miss its pin, a
choke may part two capacitors, and a capacitor takes back part of its charge.  Plug out, drain through a
resistor, wait, and measure with a meter that was proved on a known source before and after.  Local codes and
qualified practice come first.
A fuse that has blown has a cause: find it, and fit the same rating and type.
Limits: sine mains; a tube rectifier starts to charge only once its cathode is warm.
Source: derived here; textbook.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import OutOfRange

__all__ = ["BleedDown", "bleed_down", "charging_s", "mains_current_a", "shorted_reservoir_a"]


@dataclass(frozen=True)
class BleedDown:
    """How a resistor drains filter capacitors."""

    time_s: Number
    """Time to the voltage asked for; 0 where it starts below."""
    peak_w: Number
    """Power in the resistor at the start."""
    energy_j: Number
    """Energy stored at the start."""


@formula("bleeder_ohm * capacitance_f * ln(start_v / down_to_v)")
def bleed_down(start_v: Number, down_to_v: Number, capacitance_f: Number, bleeder_ohm: Number) -> BleedDown:
    r"""Return how long filter capacitors take to drain.

    .. math:: t = R C \ln(V_0 / V_1), \quad P = V_0^2 / R, \quad W = \tfrac12 C V_0^2

    The formula knows nothing of an open bleeder or of charge that comes back: hold far longer, then measure.

    Args:
        start_v: Voltage at switching off [V], >= 0.
        down_to_v: Voltage asked for [V], > 0.
        capacitance_f: All capacitors that drain through the bleeder [F], > 0.
        bleeder_ohm: Bleeder or discharge resistor; the tubes stop taking current as they cool [ohm], > 0.
    Returns:
        :class:`BleedDown`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: textbook.
    Example: 300 V on 100 uF to 50 V through 1 k and through 100 k, worked by hand.
        >>> [round(bleed_down(300.0, 50.0, 100e-6, ohm).time_s, 2) for ohm in (1e3, 100e3)]
        [0.18, 17.92]
        >>> bleed_down(300.0, 50.0, 100e-6, 1e3).peak_w
        90.0
    """
    (volts,) = not_negative(start_v=start_v)
    stop, capacitance, bleeder = positive(
        down_to_v=down_to_v, capacitance_f=capacitance_f, bleeder_ohm=bleeder_ohm
    )
    time = bleeder * capacitance * np.log(np.maximum(volts, stop) / stop)
    return BleedDown(*map(plain, (time, volts**2 / bleeder, capacitance * volts**2 / 2.0)))


@formula(
    "(pi / charges_per_cycle) * source_ohm * capacitance_f"
    " * integral from 0 to to_share of du / (sqrt(1 - u**2) - u * acos(u))"
)
def charging_s(
    to_share: Number, source_ohm: Number, capacitance_f: Number, charges_per_cycle: Number = 2.0
) -> Number:
    r"""Return how long an empty reservoir takes to reach a share of the mains peak with no load on it.

    .. math::
        t = \frac{\pi R C}{n} \int_0^{s} \frac{du}{\sqrt{1-u^2} - u \arccos u}

    Args:
        to_share: Voltage asked for over the peak of mains or winding, 0 to below 1.
        source_ohm: Source resistance, rectifier included [ohm], > 0.
        capacitance_f: Reservoir with the capacitors behind it [F], > 0.
        charges_per_cycle: 2 for full wave, 1 for half wave.
    Returns:
        Time [s], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: more than a few cycles, that is several times 1 / (n f); warm rectifier, tubes still cold: B+ then
        stands near the peak, which is what the capacitors must be rated for.
    Source: derived: the mean current of a rectifier with a resistance into a steady voltage.
    Example: full wave, 100 ohm, 200 uF, to 90 %; checked against an integration in the tests.
        >>> round(charging_s(0.9, 100.0, 200e-6), 3)
        0.142
    """
    (reach,) = not_negative(to_share=to_share)
    if np.any(reach >= 1.0):
        raise OutOfRange(f"to_share is {float(np.max(reach)):g}; expected from 0 to below 1.")
    source, capacitance, rate = positive(
        source_ohm=source_ohm, capacitance_f=capacitance_f, charges_per_cycle=charges_per_cycle
    )
    nodes, weights = np.polynomial.legendre.leggauss(24)
    angle = np.arccos(reach)
    total = 0.0 * reach
    for node, weight in zip(nodes, weights, strict=True):
        # In t = ln x, with u = cos x, the pole at the peak is stretched out to a smooth function.
        low = np.log(angle)
        place = np.exp(low + 0.5 * (node + 1.0) * (math.log(math.pi / 2.0) - low))
        height = np.sin(place) * place / (np.sin(place) - place * np.cos(place))
        total = total + 0.5 * weight * (math.log(math.pi / 2.0) - low) * height
    return plain(math.pi * source * capacitance / rate * total)


@formula("sqrt((heater_w / mains_v)**2 + 2 * heater_w * pulse_w / mains_v**2 + pulse_a**2 + magnetizing_a**2)")
def mains_current_a(
    mains_v: Number,
    pulse_a: Number,
    pulse_w: Number,
    heater_w: Number = 0.0,
    magnetizing_a: Number = 0.0,
) -> Number:
    r"""Return the RMS current in the mains fuse of a set that runs normally.

    .. math:: I = \sqrt{(P_h / V)^2 + 2 P_h P_r / V^2 + I_r^2 + I_m^2}

    Heaters take a sine in phase with the mains; the charging pulses add to it only with their sine in phase,
    which is what carries their power.

    Args:
        mains_v: RMS mains [V], > 0.
        pulse_a: RMS of the charging pulses at the mains: SupplyOutput.source_a times the turns ratio [A], >= 0.
        pulse_w: Their power: SupplyOutput.source_w [W], >= 0.
        heater_w: Power of the heaters with dropper [W], >= 0.
        magnetizing_a: Magnetizing current of the transformer [A], >= 0.
    Returns:
        RMS current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: steady state; the surge at switching on is larger, see heaters_string for the heaters' part.
    Source: derived: orthogonality of harmonics.
    Example: 117 V, pulses of 1.19 A RMS and 110 W, 60 W of heaters, worked by hand.
        >>> round(mains_current_a(117.0, 1.19, 110.0, 60.0), 2)
        1.63
    """
    (volts,) = positive(mains_v=mains_v)
    pulse, power, heat, magnetizing = not_negative(
        pulse_a=pulse_a, pulse_w=pulse_w, heater_w=heater_w, magnetizing_a=magnetizing_a
    )
    steady = heat / volts
    return plain(np.sqrt(steady**2 + 2.0 * steady * power / volts + pulse**2 + magnetizing**2))


@formula("source_v * turns_ratio / source_ohm / sqrt(2 / half_waves)")
def shorted_reservoir_a(
    source_v: Number, source_ohm: Number, turns_ratio: Number = 1.0, half_waves: Number = 2.0
) -> Number:
    r"""Return the RMS current at the mains with the reservoir shorted, for telling whether the fuse protects.

    .. math:: I = \frac{n V}{R_s} \sqrt{h / 2}

    Never a test: it says what the fuse has to clear, and what would burn if it did not.

    Args:
        source_v: RMS of mains or winding [V], >= 0.
        source_ohm: Resistance in the path, rectifier included [ohm], > 0.
        turns_ratio: Turns of the winding over turns of the primary; 1 without a transformer, > 0.
        half_waves: 2 for full wave, 1 for half wave.
    Returns:
        RMS current [A], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Source: Ohm's law.
    Example: half wave from 117 V through 5 ohm, worked by hand.
        >>> round(shorted_reservoir_a(117.0, 5.0, half_waves=1.0), 1)
        16.5
    """
    (volts,) = not_negative(source_v=source_v)
    source, ratio, halves = positive(source_ohm=source_ohm, turns_ratio=turns_ratio, half_waves=half_waves)
    return plain(volts * ratio / source * np.sqrt(halves / 2.0))
