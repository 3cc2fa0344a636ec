# SPDX-License-Identifier: MIT
"""The networks behind the separator: a differentiator, and the RC ladder of an integrator as exponentials.

The sections of a ladder load each other; source and load resistance belong to it.  The ladder is solved exactly:
one rate and one weight for each section, found for a whole batch at once.
Limits: series resistances below 1 ohm count as 1 ohm and capacitances below 1 pF as 1 pF: wiring has as much, and
nothing else changes.
Source: textbook networks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.errors import BadInput

__all__ = ["DifferentiatedPulse", "Ladder", "LadderModes", "differentiator", "ladder_modes"]

_LEAST_OHM = 1.0
_LEAST_F = 1e-12


@dataclass(frozen=True)
class Ladder:
    """One to three RC sections in a row; every value may be a float or an array."""

    section_ohm: tuple[Number, ...]
    """Series resistors, the first next to the source [ohm], > 0; 1e9 is open."""
    section_f: tuple[Number, ...]
    """Capacitors to ground [F], > 0; 1e-15 is open."""
    leak_ohm: tuple[Number, ...] = ()
    """Leak of each capacitor to ground [ohm], > 0; none given: 1e12 each."""
    source_ohm: Number = 0.0
    """Resistance of the source, in series with the first resistor [ohm], >= 0."""
    load_ohm: Number = 1e12
    """Resistance across the last capacitor [ohm], > 0."""


@dataclass(frozen=True)
class LadderModes:
    """The step response of the ladder's end is the sum over the first axis of weight * (1 - exp(-rate * t))."""

    rate: Array
    """[1/s], the first axis counts the exponentials."""
    weight: Array


@dataclass(frozen=True)
class DifferentiatedPulse:
    """A rectangular pulse behind a differentiator, in its steady repetition."""

    peak_v: Number
    """Crest at the leading edge."""
    width_s: Number
    """Time from the crest until a tenth of it is left; no longer than the pulse."""
    end_v: Number
    """What is left at the end of the pulse."""
    back_v: Number
    """Crest at the trailing edge, of the other sign."""
    time_constant_s: Number


@formula(
    "peak = step_v * shunt_ohm / (shunt_ohm + source_ohm) * tau / rise_s * (1 - exp(-rise_s / tau)),"
    " tau = series_f * (shunt_ohm + source_ohm), v = peak * exp(-t / tau), width = tau * ln(10)"
)
def differentiator(
    step_v: Number,
    series_f: Number,
    shunt_ohm: Number,
    *,
    pulse_s: Number,
    line_hz: Number,
    source_ohm: Number = 0.0,
    leak_ohm: Number = 1e12,
    rise_s: Number = 0.25e-6,
) -> DifferentiatedPulse:
    r"""Return what a differentiator makes of the line sync.

    .. math::
        \hat v = V \frac{R}{R + R_s} \frac{\tau}{t_r} (1 - e^{-t_r/\tau}), \qquad
        v = \hat v e^{-t/\tau}, \qquad t_{10} = \tau \ln 10, \qquad \tau = C (R + R_s)

    A leak of the capacitor lets a share R / (R + R_s + R_l) of the pulse through as it is.

    Args:
        step_v: Height of the pulse, with its sign [V].
        series_f: Capacitor [F], > 0; 1e-15 is open and passes next to nothing.
        shunt_ohm: Resistor to ground [ohm], > 0; 1e9 is open and the pulse keeps its shape.
        pulse_s: Length of the pulse [s], > 0.
        line_hz: Rate of the pulses [Hz], > 0.
        source_ohm: Resistance of the source [ohm], >= 0.
        leak_ohm: Leak of the capacitor [ohm], > 0.
        rise_s: Time of each edge [s], > 0.
    Returns:
        :class:`DifferentiatedPulse`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: edges as straight ramps.
    Source: textbook network; system-a-e-constants for an edge of 0.25 us.
    Example: 100 pF on 10 k: a tenth is left after 2.30 us, and 0.9 % after 4.76 us; worked by hand.
        >>> made = differentiator(10.0, 100e-12, 10e3, pulse_s=4.76e-6, line_hz=15750.0, rise_s=1e-12)
        >>> round(made.width_s * 1e6, 2), round(made.end_v / made.peak_v, 4)
        (2.3, 0.0086)
    """
    (step,) = any_sign(step_v=step_v)
    (source,) = not_negative(source_ohm=source_ohm)
    farads, shunt, pulse, rate, leak, rise = positive(
        series_f=series_f, shunt_ohm=shunt_ohm, pulse_s=pulse_s, line_hz=line_hz, leak_ohm=leak_ohm, rise_s=rise_s
    )
    alone = shunt + source
    tau = farads * alone * (leak / (alone + leak))
    first, last = step * shunt / alone, step * shunt / (alone + leak)
    crest = last + (first - last) * tau / rise * -np.expm1(-rise / tau)
    after = np.maximum(pulse - rise, 0.0)
    end = last + (crest - last) * np.exp(-after / tau)
    back = last + (crest - last) * np.exp(-pulse / tau) - crest
    # what earlier pulses have left behind, in steady repetition
    carried = back / -np.expm1(-1.0 / (rate * tau)) * np.exp(-np.maximum(1.0 / rate - pulse - rise, 0.0) / tau)
    peak = crest + carried * np.exp(-rise / tau)
    falls = np.abs(0.1 * peak) > np.abs(last)
    ahead = np.where(falls, (peak - last) / np.where(falls, 0.1 * peak - last, 1.0), 1.0)
    width = np.where(falls, np.minimum(tau * np.log(np.maximum(ahead, 1.0)), after), after)
    ended, behind = end + carried * np.exp(-pulse / tau), back + carried * np.exp(-(pulse + rise) / tau)
    values = (peak, width, ended, behind, tau)
    return DifferentiatedPulse(*(plain(np.array(value)) for value in np.broadcast_arrays(*values)))


@formula("section_f * dv/dt = (v_before - v) / section_ohm - v / leak_ohm - (v - v_behind) / next_section_ohm")
def ladder_modes(ladder: Ladder) -> LadderModes:
    r"""Return the exponentials of the step response at the end of an RC ladder.

    .. math::
        C_i \dot v_i = \frac{v_{i-1} - v_i}{R_i} - \frac{v_i}{R_{l,i}} - \frac{v_i - v_{i+1}}{R_{i+1}}, \qquad
        v_n(t) = \sum_m w_m (1 - e^{-\lambda_m t})

    The rates are the eigenvalues of the symmetric matrix C^{-1/2} G C^{-1/2}.

    Args:
        ladder: The parts, see :class:`Ladder`.
    Returns:
        :class:`LadderModes`; the weights sum to the share of a lasting step that arrives.
    Raises:
        OutOfRange: A part is out of its bounds.
        BadInput: Not one to three sections, or not one capacitor and one leak for each resistor.
    Source: textbook network.
    Example: two equal sections have the rates (3 -+ sqrt 5) / 2 over R C; worked by hand.
        >>> modes = ladder_modes(Ladder((22e3, 22e3), (5e-9, 5e-9)))
        >>> [round(float(rate) * 110e-6, 3) for rate in modes.rate]
        [0.382, 2.618]
    """
    ohms, farads, leaks = _checked(ladder)
    count = len(ohms)
    give = 1.0 / ohms
    matrix = np.zeros((*ohms.shape[1:], count, count))
    for n in range(count):
        matrix[..., n, n] = (give[n] + 1.0 / leaks[n] + (give[n + 1] if n + 1 < count else 0.0)) / farads[n]
        if n:
            matrix[..., n, n - 1] = matrix[..., n - 1, n] = -give[n] / np.sqrt(farads[n] * farads[n - 1])
    rate, shape = np.linalg.eigh(matrix)
    rate = np.moveaxis(np.maximum(rate, 1e-6), -1, 0)
    first, last = (np.moveaxis(shape[..., n, :], -1, 0) for n in (0, count - 1))
    weight = first * last * give[0] / (np.sqrt(farads[0] * farads[-1]) * rate)
    return LadderModes(rate, weight)


def _checked(ladder: Ladder) -> tuple[Array, Array, Array]:
    """Return resistances, capacitances and leaks with the section on the first axis."""
    count = len(ladder.section_ohm)
    leaks = ladder.leak_ohm or (1e12,) * count
    if not 1 <= count <= 3 or not count == len(ladder.section_f) == len(leaks):
        raise BadInput(
            f"The ladder has {count} resistors, {len(ladder.section_f)} capacitors and {len(leaks)} leaks;"
            " expected one to three of each and as many of one as of the other."
        )
    (source,) = not_negative(source_ohm=ladder.source_ohm)
    (load,) = positive(load_ohm=ladder.load_ohm)
    ohms = [np.maximum(ohm, _LEAST_OHM) for ohm in _each(ladder.section_ohm, "section_ohm")]
    farads = [np.maximum(farad, _LEAST_F) for farad in _each(ladder.section_f, "section_f")]
    drains = _each(leaks, "leak_ohm")
    ohms[0] = ohms[0] + source
    drains[-1] = 1.0 / (1.0 / drains[-1] + 1.0 / load)
    same = np.broadcast_arrays(*ohms, *farads, *drains)
    return tuple(np.array(same[n : n + count]) for n in range(0, 3 * count, count))  # type: ignore[return-value]


def _each(values: tuple[Number, ...], name: str) -> list[Array]:
    return [positive(**{f"{name}[{n}]": value})[0] for n, value in enumerate(values)]
