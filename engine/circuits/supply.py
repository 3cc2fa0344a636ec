# SPDX-License-Identifier: MIT
"""Direct voltage, ripple and currents of capacitor-input rectifiers, healthy and with faults.

One function for each circuit.  The steady state is exact for a rectifier of constant drop and resistance (see
supply_cycle) and close for a tube.  Faults are values: a dried-out capacitor has few farads (1e-9), a leaky one a
leak, a dead rectifier a share of 0, a worn one less than 1 (emission for a tube).
Limits: no leakage inductance; an electrolytic with reverse voltage across it is taken to conduct through 10 ohm
(it also heats and may burst).  A load stated as a current is the resistance that takes it on the mean.
A doubler with tubes and no load to speak of (above a megohm) is found less closely.
Caution: filter capacitors keep a lethal charge after switching off; see supply_times.
Sources: schade-1943, supply-check-cases (keys in kb/sources/supply.yaml).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from backporch.engine.circuits.arguments import Number
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.supply_network import (
    CASCADE,
    FULL_WAVE,
    TWO_HALVES,
    Layout,
    Rectifier,
    SupplyOutput,
    SupplyParts,
    supply_output,
)

__all__ = [
    "IDEAL",
    "Rectifier",
    "SupplyOutput",
    "bridge_output",
    "cascade_doubler_output",
    "full_wave_doubler_output",
    "full_wave_output",
    "half_wave_output",
]

IDEAL = Rectifier()
"""A rectifier without drop."""

_REVERSED_OHM = 10.0
"""An electrolytic under steady reverse voltage; from memory, to verify."""


@formula(
    "reservoir_f * dv/dt = max(0, sqrt(2) * mains_v * cos(2 * pi * mains_hz * t) - rectifier - v) / source_ohm"
    " - v / leak_ohm - load, the same v a cycle later"
)
def half_wave_output(
    mains_v: Number,
    mains_hz: Number,
    source_ohm: Number,
    reservoir_f: Number,
    load_ohm: Number = 1e12,
    load_a: Number = 0.0,
    *,
    leak_ohm: Number = 1e12,
    rectifier: Rectifier = IDEAL,
    rectifier_share: Number = 1.0,
) -> SupplyOutput:
    r"""Return what one rectifier and a reservoir capacitor deliver.

    .. math::
        C \dot v = \frac{[\sqrt2 V \cos\omega t - u(i) - v]^+}{R_s} - \frac{v}{R_l} - i_L, \quad v(t+T) = v(t)

    Args:
        mains_v: RMS of mains or winding [V], >= 0.
        mains_hz: Mains rate [Hz], > 0.
        source_ohm: Surge resistor, mains and winding resistance in the path [ohm], >= 0.
        reservoir_f: Reservoir capacitor [F], > 0.
        load_ohm: Load as a resistance [ohm], > 0; both loads count where both are given.
        load_a: Load as a mean current [A], >= 0.
        leak_ohm: Leak of the reservoir [ohm], > 0; 1e-3 is a short.
        rectifier: Its forward drop.
        rectifier_share: Conduction left in it, 0 (open) to 1.
    Returns:
        :class:`SupplyOutput`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: within 1 % of a circuit simulation with a diode, 3 % with a tube.
    Source: schade-1943 for the circuit; the solution is derived in supply_cycle.
    Example: 117 V, 22 ohm, 100 uF, 0.2 A: 130.8 V and 26.7 V in supply-check-cases.
        >>> found = half_wave_output(117.0, 60.0, 22.0, 100e-6, load_a=0.2)
        >>> round(found.dc_v, 1), round(found.ripple_v, 1), found.ripple_hz
        (130.4, 26.6, 60.0)
    """
    source, load = (mains_v, mains_hz, source_ohm), (load_ohm, load_a)
    parts = SupplyParts(*source, reservoir_f, 1e-6, leak_ohm, 1e12, *load, rectifier_share, 0.0)
    return supply_output(FULL_WAVE, parts, rectifier)


@formula(
    "reservoir_f * dv/dt = max(0, abs(sqrt(2) * winding_v * cos(2 * pi * mains_hz * t)) - rectifier - v)"
    " / source_ohm - v / leak_ohm - load, the same v a cycle later"
)
def full_wave_output(
    winding_v: Number,
    mains_hz: Number,
    source_ohm: Number,
    reservoir_f: Number,
    load_ohm: Number = 1e12,
    load_a: Number = 0.0,
    *,
    leak_ohm: Number = 1e12,
    rectifier: Rectifier = IDEAL,
    first_share: Number = 1.0,
    second_share: Number = 1.0,
) -> SupplyOutput:
    r"""Return what a centre-tapped winding, two rectifiers and a reservoir capacitor deliver.

    .. math:: C \dot v = \frac{[\sqrt2 V |\cos\omega t| - u(i) - v]^+}{R_s} - \frac{v}{R_l} - i_L

    With one half dead the ripple falls to mains rate and the direct voltage sags.

    Args:
        winding_v: RMS of each half of the winding [V], >= 0.
        mains_hz: Mains rate [Hz], > 0.
        source_ohm: Resistance in the path of each half, see supply_rectifiers.winding_source_ohm [ohm], >= 0.
        reservoir_f: Reservoir capacitor [F], > 0.
        load_ohm: Load as a resistance [ohm], > 0; both loads count where both are given.
        load_a: Load as a mean current [A], >= 0.
        leak_ohm: Leak of the reservoir [ohm], > 0.
        rectifier: The forward drop of each of the two.
        first_share: Conduction left in the first (emission of a tube's section), 0 (open) to 1.
        second_share: The same of the second.
    Returns:
        :class:`SupplyOutput`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: within 1 % of a circuit simulation with diodes, 3 % with a tube.
    Source: schade-1943 for the circuit; the solution is derived in supply_cycle.
    Example: 325 V a half, 100 ohm, 80 uF, 0.25 A: 367.3 V and 16.1 V in supply-check-cases; then one half dead.
        >>> found = full_wave_output(325.0, 60.0, 100.0, 80e-6, load_a=0.25)
        >>> round(found.dc_v, 1), round(found.ripple_v, 1), found.ripple_hz
        (367.2, 16.1, 120.0)
        >>> full_wave_output(325.0, 60.0, 100.0, 80e-6, load_a=0.25, second_share=0.0).ripple_hz
        60.0
    """
    source, load = (winding_v, mains_hz, source_ohm), (load_ohm, load_a)
    parts = SupplyParts(*source, reservoir_f, 1e-6, leak_ohm, 1e12, *load, first_share, second_share)
    return supply_output(FULL_WAVE, parts, rectifier)


@formula(
    "reservoir_f * dv/dt = max(0, abs(sqrt(2) * mains_v * cos(2 * pi * mains_hz * t)) - 2 * rectifier - v)"
    " / source_ohm - v / leak_ohm - load, the same v a cycle later"
)
def bridge_output(
    mains_v: Number,
    mains_hz: Number,
    source_ohm: Number,
    reservoir_f: Number,
    load_ohm: Number = 1e12,
    load_a: Number = 0.0,
    *,
    leak_ohm: Number = 1e12,
    rectifier: Rectifier = IDEAL,
    first_share: Number = 1.0,
    second_share: Number = 1.0,
) -> SupplyOutput:
    r"""Return what a bridge of four rectifiers and a reservoir capacitor deliver.

    .. math:: C \dot v = \frac{[\sqrt2 V |\cos\omega t| - 2 u(i) - v]^+}{R_s} - \frac{v}{R_l} - i_L

    Args:
        mains_v: RMS of mains or winding [V], >= 0.
        mains_hz: Mains rate [Hz], > 0.
        source_ohm: Resistance in the path [ohm], >= 0.
        reservoir_f: Reservoir capacitor [F], > 0.
        load_ohm: Load as a resistance [ohm], > 0; both loads count where both are given.
        load_a: Load as a mean current [A], >= 0.
        leak_ohm: Leak of the reservoir [ohm], > 0.
        rectifier: The forward drop of each of the four.
        first_share: Conduction left in the weaker arm of the pair for one half-wave, 0 (open) to 1.
        second_share: The same for the other half-wave.
    Returns:
        :class:`SupplyOutput`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: as full_wave_output.  A bridge on the mains makes the chassis live whichever way round the plug is.
    Source: schade-1943 for the circuit; the solution is derived in supply_cycle.
    Example: 230 V, 30 ohm, 100 uF, 0.3 A with silicon diodes; no outside figure.
        >>> found = bridge_output(230.0, 50.0, 30.0, 100e-6, load_a=0.3, rectifier=Rectifier(0.8))
        >>> round(found.dc_v), round(found.ripple_v), found.ripple_hz
        (281, 21, 100.0)
    """
    pair = Rectifier(2.0 * rectifier.drop_v, 2.0 * rectifier.series_ohm, rectifier.perveance_perv / 2.0**1.5)
    source, load = (mains_v, mains_hz, source_ohm), (load_ohm, load_a)
    parts = SupplyParts(*source, reservoir_f, 1e-6, leak_ohm, 1e12, *load, first_share, second_share)
    return supply_output(FULL_WAVE, parts, pair)


@formula(
    "series capacitor charged through the clamp rectifier on one half-wave to about sqrt(2) * mains_v; on the"
    " other half-wave reservoir_f * dv/dt = (e + v_series - rectifier - v) / source_ohm - v / load_ohm,"
    " series_f * dv_series/dt = -(e + v_series - rectifier - v) / source_ohm, e = sqrt(2) * mains_v * cos(w * t)"
)
def cascade_doubler_output(
    mains_v: Number,
    mains_hz: Number,
    source_ohm: Number,
    series_f: Number,
    reservoir_f: Number,
    load_ohm: Number = 1e12,
    load_a: Number = 0.0,
    *,
    series_leak_ohm: Number = 1e12,
    leak_ohm: Number = 1e12,
    rectifier: Rectifier = IDEAL,
    output_share: Number = 1.0,
    clamp_share: Number = 1.0,
) -> SupplyOutput:
    r"""Return what a cascade (half-wave) doubler delivers: one side of the mains is its return.

    .. math::
        C_2 \dot v_2 = i - v_2/R_L, \quad C_1 \dot v_1 = -i, \quad i = [e + v_1 - u - v_2]^+ / R_s; \quad
        C_1 \dot v_1 = [-e - v_1 - u]^+ / R_s

    An open series capacitor leaves next to nothing; an open reservoir leaves about half, with a ripple of
    twice the mains peak.

    Args:
        mains_v: RMS of the mains [V], >= 0.
        mains_hz: Mains rate [Hz], > 0.
        source_ohm: Surge resistor and mains [ohm], >= 0.
        series_f: Capacitor in series with the mains [F], > 0.
        reservoir_f: Capacitor across the output [F], > 0.
        load_ohm: Load as a resistance [ohm], > 0; both loads count where both are given.
        load_a: Load as a mean current [A], >= 0.
        series_leak_ohm: Leak of the series capacitor [ohm], > 0.
        leak_ohm: Leak of the reservoir [ohm], > 0.
        rectifier: The forward drop of each of the two.
        output_share: Conduction left in the rectifier towards the reservoir, 0 (open) to 1.
        clamp_share: Conduction left in the rectifier from the return to the series capacitor.
    Returns:
        :class:`SupplyOutput`; its first capacitor is the series one.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: within 1 % of a circuit simulation.  With the clamp rectifier open the series capacitor takes
        reverse voltage and conducts; what is left is an estimate.
    Source: supply-check-cases; the solution is derived in supply_cycle.
    Example: 117 V, 5 ohm, 200 and 100 uF, 0.3 A: 277.0 V and 41.4 V in supply-check-cases.
        >>> found = cascade_doubler_output(117.0, 60.0, 5.0, 200e-6, 100e-6, load_a=0.3)
        >>> round(found.dc_v, 1), round(found.ripple_v, 1), found.ripple_hz
        (276.6, 41.3, 60.0)
    """
    source, load = (mains_v, mains_hz, source_ohm), (load_ohm, load_a)
    parts = SupplyParts(
        *source, series_f, reservoir_f, series_leak_ohm, leak_ohm, *load, output_share, clamp_share
    )
    return _electrolytic(CASCADE, parts, rectifier)


@formula(
    "upper_f * dv1/dt = max(0, e - rectifier - v1) / source_ohm - (v1 + v2) / load_ohm,"
    " lower_f * dv2/dt = max(0, -e - rectifier - v2) / source_ohm - (v1 + v2) / load_ohm,"
    " e = sqrt(2) * mains_v * cos(2 * pi * mains_hz * t)"
)
def full_wave_doubler_output(
    mains_v: Number,
    mains_hz: Number,
    source_ohm: Number,
    upper_f: Number,
    lower_f: Number,
    load_ohm: Number = 1e12,
    load_a: Number = 0.0,
    *,
    upper_leak_ohm: Number = 1e12,
    lower_leak_ohm: Number = 1e12,
    rectifier: Rectifier = IDEAL,
    upper_share: Number = 1.0,
    lower_share: Number = 1.0,
) -> SupplyOutput:
    r"""Return what a full-wave doubler delivers: two capacitors in series, each charged on its own half-wave.

    .. math::
        C_1 \dot v_1 = \frac{[e - u - v_1]^+}{R_s} - \frac{v_1 + v_2}{R_L}, \quad
        C_2 \dot v_2 = \frac{[-e - u - v_2]^+}{R_s} - \frac{v_1 + v_2}{R_L}

    With one capacitor open about half the voltage is left, with a ripple of twice the mains peak at mains rate.

    Args:
        mains_v: RMS of the mains [V], >= 0.
        mains_hz: Mains rate [Hz], > 0.
        source_ohm: Surge resistor and mains [ohm], >= 0.
        upper_f: Capacitor at the positive end [F], > 0.
        lower_f: Capacitor at the negative end [F], > 0.
        load_ohm: Load as a resistance [ohm], > 0; both loads count where both are given.
        load_a: Load as a mean current [A], >= 0.
        upper_leak_ohm: Leak of the upper capacitor [ohm], > 0.
        lower_leak_ohm: Leak of the lower capacitor [ohm], > 0.
        rectifier: The forward drop of each of the two.
        upper_share: Conduction left in the rectifier of the upper capacitor, 0 (open) to 1.
        lower_share: The same of the lower.
    Returns:
        :class:`SupplyOutput`; its first capacitor is the upper one.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: within 1 % of a circuit simulation.  With a rectifier open its capacitor takes reverse voltage and
        conducts; what is left is an estimate.  The chassis is live whichever way round the plug is.
    Source: supply-check-cases; the solution is derived in supply_cycle.
    Example: 117 V, 5 ohm, twice 100 uF, 0.3 A: 281.2 V and 35.1 V in supply-check-cases.
        >>> found = full_wave_doubler_output(117.0, 60.0, 5.0, 100e-6, 100e-6, load_a=0.3)
        >>> round(found.dc_v, 1), round(found.ripple_v, 1), found.ripple_hz
        (280.9, 34.9, 120.0)
    """
    source, load = (mains_v, mains_hz, source_ohm), (load_ohm, load_a)
    parts = SupplyParts(*source, upper_f, lower_f, upper_leak_ohm, lower_leak_ohm, *load, upper_share, lower_share)
    return _electrolytic(TWO_HALVES, parts, rectifier)


def _electrolytic(layout: Layout, parts: SupplyParts, rectifier: Rectifier) -> SupplyOutput:
    """Return what a doubler delivers, with a capacitor under steady reverse voltage conducting."""
    found = supply_output(layout, parts, rectifier)
    reverse_1, reverse_2 = (np.asarray(v) < -2.0 for v in (found.first_capacitor_v, found.second_capacitor_v))
    if not (np.any(reverse_1) or np.any(reverse_2)):
        return found
    leaks = {
        "first_leak_ohm": np.where(reverse_1, _REVERSED_OHM, parts.first_leak_ohm),
        "second_leak_ohm": np.where(reverse_2, _REVERSED_OHM, parts.second_leak_ohm),
    }
    return supply_output(layout, replace(parts, **leaks), rectifier)
