# SPDX-License-Identifier: MIT
"""The horizontal output stage from its parts: boost, retrace, yoke current and pulses in one call.

Chains the closed forms of the neighbouring modules; a fault is a changed part.
Limits: those of its links; the beam's load on the pulse is taken at the pulse that it finds without it.
Caution: the time to a red plate is an estimate for planning to switch off, never a time to work in.
Sources: schade-1950, plate-heating-memory (keys in kb/sources/flyback.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.flyback import Retrace, ShortedTurns, effective_inductance_h, retrace, shorted_turns
from backporch.engine.circuits.flyback_boost import Boost, boost, plate_pulse_v, scan_loss_ohm
from backporch.engine.circuits.flyback_yoke import yoke_current_a
from backporch.engine.circuits.formula import formula

__all__ = ["FlybackParts", "OutputStage", "output_stage", "red_plate_s"]


@dataclass(frozen=True)
class FlybackParts:
    """The parts of an output stage, referred to the winding from boosted rail to damper tap.

    Every field may be a float or an array; healthy values stand in the fields that only a fault changes.
    """

    plate_ratio: Number
    """Turns to the plate over turns of the reference winding, > 1."""
    high_voltage_ratio: Number
    """Turns to the high-voltage rectifier over turns of the reference winding."""
    primary_h: Number
    """Magnetizing inductance of the reference winding."""
    yoke_h: Number
    yoke_ohm: Number
    yoke_share: Number
    """Turns under the yoke over turns of the reference winding."""
    tuning_f: Number
    """Capacitance across the reference winding, part and strays."""
    shunt_ohm: Number
    """Loss of core and windings across the reference winding."""
    knee_v: Number
    """Knee of the output tube, see :func:`flyback_boost.boost`."""
    damper_ohm: Number
    boost_f: Number
    load_ohm: Number
    """Load of the boosted rail, to chassis."""
    leak_ohm: Number = 1e12
    """Leak across the boost capacitor."""
    width_h: Number = 1e9
    """Width coil; on the share of turns below."""
    width_share_of_turns: Number = 0.0
    turns_share: Number = 0.0
    """Shorted turns over turns of the reference winding."""
    loop_ohm: Number = 1.0
    """Resistance round the shorted turns."""
    coupling: Number = 0.98
    """Coupling of the shorted turns to the rest."""


@dataclass(frozen=True)
class OutputStage:
    """What the output stage makes."""

    boost_v: Number
    """Boosted B+ against chassis."""
    scan_v: Number
    """Scan voltage on the reference winding."""
    yoke_pp_a: Number
    """Peak-to-peak yoke current."""
    retrace_s: Number
    pulse_v: Number
    """Pulse on the reference winding."""
    plate_peak_v: Number
    """Pulse at the plate; not to be measured."""
    rectifier_peak_v: Number
    """Pulse at the high-voltage rectifier; not to be measured."""
    plate_a: Number
    """Average plate current."""
    supply_a: Number
    """Average current from B+."""
    dissipation_w: Number
    """Power in the plate of the output tube: average current times the voltage it has to work with."""


@formula(
    "inductance_h and loss_ohm of the winding give the retrace, these the scan loss, that and drive_a the boost;"
    " pulse_v = scan_v * ratio of the retrace",
    chain=True,
)
def output_stage(
    parts: FlybackParts,
    supply_v: Number,
    line_hz: Number,
    *,
    drive_a: Number,
    peak_a: Number,
    steady_a: Number = 0.0,
    beam_a: Number = 0.0,
) -> OutputStage:
    r"""Return what the output stage makes of a supply and a drive.

    .. math:: L \to t_r, t_s, V_p/V_s \to R \to V_b, V_s \to I_{pp}, V_p

    Args:
        parts: The parts, see :class:`FlybackParts`.
        supply_v: B+ at the damper [V], >= 0.
        line_hz: Rate at which the stage is driven [Hz], > 0.
        drive_a: Average plate current that the drive calls for [A], >= 0.
        peak_a: Peak plate current at the end of the trace [A], >= 0.
        steady_a: Plate current that no drive interrupts [A], >= 0; all of it when drive is lost.
        beam_a: Beam current of the picture tube [A], >= 0.
    Returns:
        :class:`OutputStage`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument or a part is out of its bounds.
    Valid: see :func:`flyback_boost.boost`; the pulse within 6 % of a circuit simulation of the same network.
    Source: schade-1950 for the circuit; the chain is this module's.
    Example: a stage for a 90-degree tube; the boost, the yoke's current and the retrace in microseconds.
        >>> parts = FlybackParts(
        ...     plate_ratio=1.8, high_voltage_ratio=5.5, primary_h=0.15, yoke_h=12e-3, yoke_ohm=14.0,
        ...     yoke_share=0.85, tuning_f=550e-12, shunt_ohm=70e3, knee_v=40.0, damper_ohm=60.0,
        ...     boost_f=1e-7, load_ohm=60e3)
        >>> stage = output_stage(parts, 270.0, 15750.0, drive_a=75e-3, peak_a=0.3, beam_a=80e-6)
        >>> round(stage.boost_v), round(stage.yoke_pp_a, 2), round(stage.retrace_s * 1e6, 1)
        (528, 1.0, 9.6)
    """
    whole, left, loss = _winding(parts, line_hz)
    (steady,) = not_negative(steady_a=steady_a)
    line = retrace(1.0, left.inductance_h, parts.tuning_f, line_hz, loss)
    rail = _rail(parts, supply_v, line_hz, drive_a, peak_a, steady, beam_a, line, whole, loss)
    scan, low, current = np.asarray(rail.scan_v), np.asarray(rail.plate_low_v), np.asarray(rail.plate_a)
    pulse = scan * line.ratio
    high = np.asarray(rail.boost_v) + pulse * parts.high_voltage_ratio
    yoke = yoke_current_a(plain(scan * parts.yoke_share), parts.yoke_h, line.trace_s, parts.yoke_ohm)
    plate = plate_pulse_v(plain(np.maximum(rail.boost_v, 0.0)), parts.plate_ratio, plain(pulse))
    values = (rail.boost_v, scan, yoke, line.retrace_s, pulse, plate, high, current, rail.supply_a, current * low)
    return OutputStage(*(plain(value) for value in values))


def _winding(parts: FlybackParts, line_hz: Number) -> tuple[Number, ShortedTurns, Number]:
    """Return the winding without short, as the retrace sees it, and all loss across it."""
    yoke, rate = positive(yoke_h=parts.yoke_h, line_hz=line_hz)
    # resistance in series makes the yoke count for less, and an open yoke for nothing
    counts = plain(yoke * (1.0 + (np.asarray(parts.yoke_ohm) / (2.0 * math.pi * rate * yoke)) ** 2))
    whole = effective_inductance_h(
        parts.primary_h, counts, parts.yoke_share, parts.width_h, parts.width_share_of_turns
    )
    inductance, tuning, shunt = positive(inductance_h=whole, tuning_f=parts.tuning_f, shunt_ohm=parts.shunt_ohm)
    ringing = plain(1.0 / (2.0 * math.pi * np.sqrt(inductance * tuning)))
    left = shorted_turns(whole, parts.turns_share, parts.loop_ohm, parts.coupling, ringing)
    return whole, left, plain(1.0 / (1.0 / shunt + 1.0 / np.asarray(left.loss_ohm)))


def _rail(
    parts: FlybackParts,
    supply_v: Number,
    line_hz: Number,
    drive_a: Number,
    peak_a: Number,
    steady_a: Array,
    beam_a: Number,
    line: Retrace,
    whole: Number,
    loss: Number,
) -> Boost:
    (beam,) = not_negative(beam_a=beam_a)
    yoke = (parts.yoke_ohm, parts.yoke_h, parts.yoke_share)
    return boost(
        supply_v,
        drive_a,
        parts.plate_ratio,
        scan_loss_ohm(whole, line.trace_s, line_hz, loss, line.returned_share, *yoke),
        parts.load_ohm,
        inductance_h=whole,
        trace_s=line.trace_s,
        line_hz=line_hz,
        knee_v=parts.knee_v,
        damper_ohm=parts.damper_ohm,
        boost_f=parts.boost_f,
        peak_a=peak_a,
        returned_share=line.returned_share,
        leak_ohm=parts.leak_ohm,
        steady_a=plain(steady_a),
        pulse_load_a=plain(beam * parts.high_voltage_ratio * line.ratio),
    )


@formula(
    "heat_capacity * k_end / dissipation_w * (F(red_k / k_end) - F(start_k / k_end)),"
    " k_end = rated_k * (dissipation_w / rated_w)**0.25, F(x) = (atan(x) + atanh(x)) / 2"
)
def red_plate_s(
    dissipation_w: Number,
    rated_w: Number,
    heat_capacity: Number = 3.0,
    rated_k: Number = 700.0,
    start_k: Number = 600.0,
    red_k: Number = 900.0,
) -> Number:
    r"""Return the estimated time until an overloaded plate glows red.

    .. math::
        t = \frac{C T_e}{P} \left[F\!\left(\tfrac{T_r}{T_e}\right) - F\!\left(\tfrac{T_0}{T_e}\right)\right], \quad
        T_e = T_n (P / P_n)^{1/4}, \quad F(x) = \tfrac12 (\arctan x + \operatorname{artanh} x)

    The plate radiates with the fourth power of its temperature.  Caution: a stage without drive is
    switched off at once; the screen grid may go before the plate shows red, and the transformer with it.

    Args:
        dissipation_w: Power in the plate [W], > 0.
        rated_w: Plate dissipation rating [W], > 0.
        heat_capacity: Heat capacity of the plate [J/K], > 0.
        rated_k: Temperature of the plate at its rating [K], > 0.
        start_k: Temperature at which the overload begins [K], > 0.
        red_k: Temperature at which it is seen red in a dim room [K], > start_k.
    Returns:
        Time [s], float or array; 1e6 where it never gets that hot.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: an order of magnitude; the defaults are from memory, to verify.
    Source: plate-heating-memory (radiation law; plate of about 6 g, from memory, to verify).
    Example: 70 W in a plate rated 11 W, worked by hand.
        >>> round(red_plate_s(70.0, 11.0), 1)
        16.9
    """
    power, rated, capacity, normal, start = positive(
        dissipation_w=dissipation_w, rated_w=rated_w, heat_capacity=heat_capacity, rated_k=rated_k, start_k=start_k
    )
    (rise,) = positive(red_k_less_start_k=np.asarray(red_k, dtype=np.float64) - start)
    end = normal * (power / rated) ** 0.25
    first, last = np.minimum(start / end, 1.0 - 1e-12), np.minimum((start + rise) / end, 1.0 - 1e-12)
    spent = 0.5 * (np.arctan(last) + np.arctanh(last) - np.arctan(first) - np.arctanh(first))
    return plain(np.where(end > start + rise, capacity * end / power * spent, 1e6))
