# SPDX-License-Identifier: MIT
"""Retrace and the windings of the flyback transformer.

The winding is one inductance with one tuning capacitance: ringing by leakage inductance and the
third-harmonic tuning of later transformers are left out, and with them some tens of per cent of
the height of the high-voltage pulse.  A short circuit between turns is one loop coupled to it.
Sources: schade-1947, horizontal-deflection-note (keys in kb/sources/flyback.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula

__all__ = [
    "Retrace",
    "ShortedTurns",
    "effective_inductance_h",
    "half_period_s",
    "retrace",
    "retrace_peak_v",
    "shorted_turns",
    "tuning_capacitance_f",
]


@dataclass(frozen=True)
class Retrace:
    """One line as the ideal network gives it."""

    retrace_s: Number
    """From the end of the trace until the damper conducts again."""
    trace_s: Number
    """What the line period leaves for the trace."""
    pulse_v: Number
    """Peak across the winding, counted from no voltage across it."""
    ratio: Number
    """Peak of the pulse over the scan voltage."""
    returned_share: Number
    """Current that the retrace brings back over the current it began with."""


@dataclass(frozen=True)
class ShortedTurns:
    """What a winding looks like from its ends when some of its turns are shorted."""

    inductance_h: Number
    """Inductance left, as a part in parallel."""
    loss_ohm: Number
    """Loss, as a resistance in parallel with it."""


@formula("pi * sqrt(inductance_h * tuning_f)")
def half_period_s(inductance_h: Number, tuning_f: Number) -> Number:
    r"""Return half a period of the free resonance of winding and tuning capacitance.

    .. math:: t = \pi \sqrt{L C}

    Args:
        inductance_h: Inductance of the winding with the yoke across it [H], > 0.
        tuning_f: All capacitance across the same winding, part and strays [F], > 0.
    Returns:
        Half a period [s], float or array; the retrace lasts a little longer, see :func:`retrace`.
    Raises:
        OutOfRange: An argument is not positive.
    Source: horizontal-deflection-note.
    Example: 12 mH with 610 pF, worked by hand.
        >>> round(half_period_s(12e-3, 610e-12) * 1e6, 2)
        8.5
    """
    inductance, capacitance = positive(inductance_h=inductance_h, tuning_f=tuning_f)
    return plain(math.pi * np.sqrt(inductance * capacitance))


@formula("(retrace_s / pi)**2 / inductance_h")
def tuning_capacitance_f(retrace_s: Number, inductance_h: Number) -> Number:
    r"""Return the capacitance across the winding that half a period of resonance asks for.

    .. math:: C = (t_r / \pi)^2 / L

    Args:
        retrace_s: Half a period of the resonance [s], > 0.
        inductance_h: Inductance of the winding with the yoke across it [H], > 0.
    Returns:
        Capacitance across the same winding [F], float or array.
    Raises:
        OutOfRange: An argument is not positive.
    Source: horizontal-deflection-note.
    Example: 8.5 us with 12 mH, worked by hand.
        >>> round(tuning_capacitance_f(8.5e-6, 12e-3) * 1e12)
        610
    """
    duration, inductance = positive(retrace_s=retrace_s, inductance_h=inductance_h)
    return plain((duration / math.pi) ** 2 / inductance)


@formula("scan_v * pi / 2 * trace_s / retrace_s")
def retrace_peak_v(scan_v: Number, trace_s: Number, retrace_s: Number) -> Number:
    r"""Return the retrace pulse from the rule that the voltage across a winding averages to zero.

    .. math:: V_p = V_s \frac{\pi}{2} \frac{t_s}{t_r}

    Args:
        scan_v: Voltage across the winding during the trace [V], >= 0.
        trace_s: Trace [s], > 0.
        retrace_s: Retrace as seen on the pulse, at its foot [s], > 0.
    Returns:
        Peak of the pulse above no voltage across the winding [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a pulse of half a sine; within 1 % of :func:`retrace` where the trace is five times the retrace.
    Source: derived from zero average voltage over a line; schade-1947 for the half sine.
    Example: 198 V, 54 us of trace, 9.5 us of retrace, worked by hand.
        >>> round(retrace_peak_v(198.1, 54e-6, 9.5e-6))
        1769
    """
    (voltage,) = not_negative(scan_v=scan_v)
    trace, duration = positive(trace_s=trace_s, retrace_s=retrace_s)
    return plain(voltage * 0.5 * math.pi * trace / duration)


@formula(
    "scan_v * sqrt(1 + (trace_s / ((1 + returned_share) * sqrt(inductance_h * tuning_f)))**2)"
    " * exp(-acos(d) * d / sqrt(1 - d**2)), d = sqrt(inductance_h / tuning_f) / (2 * loss_ohm)"
)
def retrace(
    scan_v: Number,
    inductance_h: Number,
    tuning_f: Number,
    line_hz: Number,
    loss_ohm: Number = 1e12,
) -> Retrace:
    r"""Return retrace time, trace time and pulse of the ideal network at a line rate.

    .. math::
        \omega = 1/\sqrt{LC}, \quad
        t_r = \frac{1}{\omega}\left(\pi + 2 \arctan \frac{2}{\omega t_s}\right), \quad t_s = 1/f - t_r, \quad
        V_p = V_s \sqrt{1 + \left(\frac{\omega t_s}{1+b}\right)^2}
        \exp \frac{-\zeta \arccos \zeta}{\sqrt{1-\zeta^2}}

        \zeta = \frac{\sqrt{L/C}}{2R}, \qquad b = e^{-\pi \zeta / \sqrt{1 - \zeta^2}}

    The retrace starts with the scan voltage across the winding and ends where the damper finds it
    again, so that it is longer than half a period of the resonance.  With loss it brings back less
    current than it began with, and the sawtooth stands that much above the middle.

    Args:
        scan_v: Voltage across the winding during the trace [V], >= 0.
        inductance_h: Inductance of the winding with the yoke across it [H], > 0.
        tuning_f: Capacitance across the same winding [F], > 0; 1e-15 is an open tuning capacitor
            with no strays left, which no real winding has.
        line_hz: Line rate [Hz], > 0.
        loss_ohm: Loss as a resistance across the winding [ohm], > 0; low for shorted turns.
    Returns:
        :class:`Retrace`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: half a period of the resonance below a third of the line; beyond that the trace is held at a
        tenth of the line.
    Source: schade-1947 for the network; closed form derived here.
    Example: 12 mH and 610 pF at 525 lines, 295 V across the yoke, worked by hand.
        >>> line = retrace(295.0, 12e-3, 610e-12, 15750.0)
        >>> round(line.retrace_s * 1e6, 2), round(line.pulse_v)
        (9.04, 2983)
    """
    (voltage,) = not_negative(scan_v=scan_v)
    inductance, capacitance, rate, loss = positive(
        inductance_h=inductance_h, tuning_f=tuning_f, line_hz=line_hz, loss_ohm=loss_ohm
    )
    unit = np.sqrt(inductance * capacitance)
    trace = np.maximum(1.0 / rate - math.pi * unit, 0.1 / rate)
    for _ in range(12):
        duration = unit * (math.pi + 2.0 * np.arctan(2.0 * unit / trace))
        trace = np.maximum(1.0 / rate - duration, 0.1 / rate)
    zeta = np.minimum(unit / (2.0 * loss * capacitance), 1e9)
    ratio = np.sqrt(1.0 + (trace / (unit * (1.0 + _returned(zeta)))) ** 2) * np.exp(-_decay(zeta))
    return Retrace(*map(plain, (duration, trace, voltage * ratio, ratio, _returned(zeta))))


def _returned(zeta: Array) -> Array:
    """Return what half a turn of a damped circuit brings back of its current."""
    ringing = np.minimum(zeta, 1.0 - 1e-9)
    return np.asarray(np.where(zeta < 1.0, np.exp(-math.pi * ringing / np.sqrt(1.0 - ringing**2)), 0.0))


def _decay(zeta: Array) -> Array:
    """Return the logarithm of what damping takes from the first peak of the voltage."""
    slow, fast = np.minimum(zeta, 1.0 - 1e-9), np.maximum(zeta, 1.0 + 1e-9)
    ringing = slow * np.arccos(slow) / np.sqrt(1.0 - slow**2)
    creeping = fast * np.arccosh(fast) / np.sqrt(fast**2 - 1.0)
    return np.asarray(np.where(zeta < 1.0, ringing, creeping))


@formula("1 / (1 / primary_h + yoke_share**2 / yoke_h + width_share_of_turns**2 / width_h)")
def effective_inductance_h(
    primary_h: Number,
    yoke_h: Number,
    yoke_share: Number,
    width_h: Number = 1e9,
    width_share_of_turns: Number = 0.0,
) -> Number:
    r"""Return the inductance of a reference winding with yoke and width coil on their taps.

    .. math:: \frac1L = \frac1{L_m} + \frac{n_y^2}{L_y} + \frac{n_w^2}{L_w}

    Args:
        primary_h: Magnetizing inductance of the reference winding alone [H], > 0.
        yoke_h: Inductance of the yoke [H], > 0; 1e9 is an unplugged yoke.
        yoke_share: Turns under the yoke over turns of the reference winding, >= 0.
        width_h: Inductance of the width coil [H], > 0.
        width_share_of_turns: Turns under the width coil over turns of the reference winding, >= 0.
    Returns:
        Inductance seen at the reference winding [H], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: tight coupling.
    Source: schade-1947; textbook transformer relations.
    Example: 100 mH with a 12 mH yoke on 0.8 of the turns, worked by hand.
        >>> round(effective_inductance_h(0.1, 12e-3, 0.8) * 1e3, 2)
        15.79
    """
    primary, yoke, width = positive(primary_h=primary_h, yoke_h=yoke_h, width_h=width_h)
    under_yoke, under_width = not_negative(yoke_share=yoke_share, width_share_of_turns=width_share_of_turns)
    return plain(1.0 / (1.0 / primary + under_yoke**2 / yoke + under_width**2 / width))


@formula(
    "parallel form of j*w*inductance_h + (w*M)**2 / (loop_ohm + j*w*inductance_h*turns_share**2), w = 2*pi*at_hz"
)
def shorted_turns(
    inductance_h: Number,
    turns_share: Number,
    loop_ohm: Number,
    coupling: Number,
    at_hz: Number,
) -> ShortedTurns:
    r"""Return what is left of a winding when a loop of its own turns is shorted.

    .. math::
        Z = j\omega L + \frac{(\omega M)^2}{R_s + j \omega L n^2}, \quad M = k n L, \quad
        \frac{1}{R_p} + \frac{1}{j \omega L_p} = \frac1Z

    At a low rate the loop is a loss; at a high rate it takes the inductance down to
    :math:`L(1-k^2)`.  Ohms cannot show it: the resistance of the winding hardly changes.

    Args:
        inductance_h: Inductance of the whole winding before [H], > 0.
        turns_share: Shorted turns over turns of the winding, 0 to 1; 0 for none.
        loop_ohm: Resistance round the short, copper of the turns and the contact [ohm], > 0.
        coupling: Coupling of the loop to the rest, 0 to 1.
        at_hz: Rate at which the winding is looked at [Hz], > 0: line rate for the trace, half the
            inverse of the retrace for the pulse.
    Returns:
        :class:`ShortedTurns`: inductance and loss in parallel, floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: one loop; the core does not saturate.  At one rate exact; a pulse has many, and the pulse of a
        winding with a heavy short comes out as much as a third low.
    Source: schade-1947 for the equivalent circuit; coupled-circuit algebra derived here.
    Example: ten of a thousand turns of 15 mH, 0.3 ohm round, coupling 0.98, at 55 kHz; worked by hand.
        >>> left = shorted_turns(15e-3, 0.01, 0.3, 0.98, 55e3)
        >>> round(left.inductance_h * 1e3, 2), round(left.loss_ohm)
        (13.48, 3138)
    """
    inductance, loop, rate = positive(inductance_h=inductance_h, loop_ohm=loop_ohm, at_hz=at_hz)
    turns, coupled = share(turns_share=turns_share, coupling=coupling)
    omega = 2.0 * math.pi * rate
    turns, inductance = np.broadcast_arrays(np.maximum(turns, 1e-9), inductance)
    reflected = (omega * coupled * turns * inductance) ** 2 / (loop + 1j * omega * inductance * turns**2)
    admittance = 1.0 / (1j * omega * inductance + reflected)
    loss = 1.0 / np.maximum(admittance.real, 1e-15)
    return ShortedTurns(plain(-1.0 / (omega * admittance.imag)), plain(loss))
