# SPDX-License-Identifier: MIT
"""What a leak between heater and cathode does: hum at the cathode and a shift of its bias.

Limits: the leak as a resistor to the middle of the heater; in truth it also rectifies, so that hum carries
harmonics.
Sources: networks derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = ["HeaterLeak", "heater_leak"]


@dataclass(frozen=True)
class HeaterLeak:
    """What comes through from the heater."""

    hum_rms_v: Number
    """Hum between cathode and the foot of its resistor."""
    cathode_ohm: Number
    """Cathode resistor with the leak across it, for direct current."""
    shift_a: Number
    """Direct current that the leak sends into the cathode resistor."""


@formula(
    "heater_rms_v / abs(leak_ohm * (1 / leak_ohm + 1 / cathode_ohm + transconductance_a_per_v"
    " + 2j * pi * mains_hz * bypass_f))"
)
def heater_leak(
    heater_rms_v: Number,
    leak_ohm: Number,
    cathode_ohm: Number,
    transconductance_a_per_v: Number = 0.0,
    bypass_f: Number = 0.0,
    mains_hz: Number = 60.0,
    heater_dc_v: Number = 0.0,
) -> HeaterLeak:
    r"""Return hum and direct current that a leak from heater to cathode brings.

    .. math:: v_k = \frac{v_h}{\left|1 + R_l (1/R_k + g_m + j \omega C_k)\right|}

    A cathode straight at the chassis, or one with a good bypass, shows no hum; in a string the heater far from the
    chassis end is the bad one, since ``heater_rms_v`` is the voltage of its node.

    Args:
        heater_rms_v: Alternating voltage of the heater against the foot of the cathode resistor [V], >= 0.
        leak_ohm: Leak [ohm], > 0.
        cathode_ohm: Cathode resistor [ohm], > 0; a thousandth for a cathode at the chassis.
        transconductance_a_per_v: Of the tube at its point [A/V], >= 0: looking into the cathode is 1/gm.
        bypass_f: Bypass across the cathode resistor [F], >= 0.
        mains_hz: Mains frequency [Hz], > 0.
        heater_dc_v: Direct voltage of the heater [V].
    Returns:
        :class:`HeaterLeak`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: leaks well above the heater's own resistance.
    Source: voltage divider, derived here.
    Example: worked by hand: 60 V, 100 k, 1 k, 5 mA/V and no bypass: 60 / (1 + 100 + 500).
        >>> round(heater_leak(60.0, 100e3, 1e3, 5e-3).hum_rms_v, 4)
        0.0998
    """
    leak, cathode, rate = positive(leak_ohm=leak_ohm, cathode_ohm=cathode_ohm, mains_hz=mains_hz)
    heater, slope, bypass = not_negative(
        heater_rms_v=heater_rms_v, transconductance_a_per_v=transconductance_a_per_v, bypass_f=bypass_f
    )
    (steady,) = any_sign(heater_dc_v=heater_dc_v)
    real, imaginary = 1.0 + leak * (1.0 / cathode + slope), 2.0 * np.pi * rate * bypass * leak
    hum = heater / np.hypot(real, imaginary)
    return HeaterLeak(plain(hum), plain(cathode * leak / (cathode + leak)), plain(steady / (leak + cathode)))
