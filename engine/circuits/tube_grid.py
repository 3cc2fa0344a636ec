# SPDX-License-Identifier: MIT
"""What a grid settles at behind its leak: contact bias, bias made from a signal, gas, leaky coupling capacitors.

Limits: coupling capacitors so large that the bias does not follow the signal within a cycle.
Sources: child-langmuir for the grid as a diode (key in kb/sources/tubes.yaml); circuits derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import TubeModel, grid_current
from backporch.engine.circuits.tubes import checked_tube

__all__ = ["GridSource", "contact_bias_v", "gas_rise_v", "grid_leak_bias_v", "grid_source", "settled_grid"]

_SPREAD_V = 0.13
_PHASES = np.cos(np.pi * (np.arange(48) + 0.5) / 48)
"""Sine wave at equal steps of its half cycle, from peak to trough."""


@dataclass(frozen=True)
class GridSource:
    """What the grid sees for direct current."""

    source_v: Number
    leak_ohm: Number


def settled_grid(tube: TubeModel, source: Array, leak: Array) -> Array:
    """Return grid against cathode behind a leak, the source taken against the cathode too.

    Newton's rule from above on a function that curves upwards, which never oversteps.

    Args:
        tube: The tube; its numbers are not checked here.
        source: Where the leak comes from [V], an array.
        leak: Resistance of the leak [ohm], an array, >= 0.
    Returns:
        Grid voltage [V], an array.
    Raises:
        ValueError: Source and leak do not go together in shape.
    Source: balance of the grid current with that of the leak, derived here.
    Example: 10 M to the cathode.
        >>> triode = TubeModel(20.0, 1.35, 1600.0, 160.0, 400.0)
        >>> round(float(settled_grid(triode, np.array(0.0), np.array(1e7))), 2)
        -0.84
    """
    conducts = source + tube.grid_contact_v > -2.5
    if not np.any(conducts & (np.asarray(leak) > 0.0)):
        return np.asarray(source + 0.0 * leak)
    scale = np.maximum(np.asarray(tube.grid_perv) * tube.emission_share, 1e-12)
    most = (np.maximum(source, 0.0) + 5.0) / np.maximum(leak, 1e-3)
    excess = np.maximum((most / scale) ** (2.0 / 3.0), 1e-12) / _SPREAD_V
    bound = _SPREAD_V * (excess + np.log(-np.expm1(-excess))) - tube.grid_contact_v
    grid = np.minimum(source, bound)
    for _ in range(5):
        now = grid_current(tube, grid)
        grid = grid - (grid + leak * now.current - source) / (1.0 + leak * now.slope)
    return np.asarray(grid)


@formula("grid_source_v / grid_leak_ohm and leak_from_v / leak_ohm into grid_leak_ohm and leak_ohm in parallel")
def grid_source(
    grid_source_v: Number, grid_leak_ohm: Number, leak_from_v: Number = 0.0, leak_ohm: Number = 1e12
) -> GridSource:
    r"""Return source and resistance at a grid whose coupling capacitor leaks.

    .. math:: V = \frac{V_s R_l + V_l R_g}{R_g + R_l}, \quad R = \frac{R_g R_l}{R_g + R_l}

    Args:
        grid_source_v: Where the grid leak returns to [V].
        grid_leak_ohm: Grid leak [ohm], > 0.
        leak_from_v: Direct voltage on the far side of the coupling capacitor [V].
        leak_ohm: Leak of the coupling capacitor [ohm], > 0.
    Returns:
        :class:`GridSource`, its fields floats or arrays.
    Raises:
        OutOfRange: A resistance is not positive or a voltage no finite number.
    Source: Thevenin's theorem.
    Example: worked by hand: 50 M from 200 V into 1 M gives 3.9 V.
        >>> round(grid_source(0.0, 1e6, 200.0, 50e6).source_v, 1)
        3.9
    """
    leak, bad = positive(grid_leak_ohm=grid_leak_ohm, leak_ohm=leak_ohm)
    source, far = any_sign(grid_source_v=grid_source_v, leak_from_v=leak_from_v)
    return GridSource(plain((source * bad + far * leak) / (leak + bad)), plain(leak * bad / (leak + bad)))


@formula("grid_v where grid_v + grid_leak_ohm * grid_current_a(grid_v) = 0")
def contact_bias_v(tube: TubeModel, grid_leak_ohm: Number) -> Number:
    r"""Return the bias that electrons landing on an idle grid make across its leak.

    .. math:: V_g = -R_g I_g(V_g)

    Args:
        tube: The tube, see :class:`TubeModel`.
        grid_leak_ohm: Grid leak [ohm], > 0.
    Returns:
        Bias [V], negative, float or array.
    Raises:
        OutOfRange: The leak is not positive or a number of the tube out of its bounds.
    Valid: some 0.3 V: contact potential scatters from tube to tube.
    Source: derived here; about -0.5 to -1 V behind several megohms is common practice, no source.
    Example: 10 M.
        >>> round(contact_bias_v(TubeModel(100.0, 1.3, 1000.0, 500.0, 500.0), 10e6), 1)
        -0.8
    """
    (leak,) = positive(grid_leak_ohm=grid_leak_ohm)
    return plain(settled_grid(checked_tube(tube), 0.0 * leak, leak))


@formula(
    "bias_v where the mean of grid_current_a(bias_v + signal_peak_v * cos) over a cycle"
    " = gas_a - bias_v / grid_leak_ohm"
)
def grid_leak_bias_v(tube: TubeModel, signal_peak_v: Number, grid_leak_ohm: Number, gas_a: Number = 0.0) -> Number:
    r"""Return the mean grid voltage that a sine wave makes for itself through coupling capacitor and grid leak.

    .. math:: \frac{1}{\pi}\int_0^\pi I_g(V + \hat v \cos\theta)\, d\theta = I_{gas} - V / R_g

    Args:
        tube: The tube, see :class:`TubeModel`.
        signal_peak_v: Peak of the sine wave [V], >= 0.
        grid_leak_ohm: Grid leak, its foot at the cathode [ohm], > 0.
        gas_a: Current out of the grid by gas [A], >= 0.
    Returns:
        Mean grid voltage against the cathode [V], float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: coupling capacitor times leak well above the period.
    Source: balance of charge over a cycle, derived here.
    Example: 20 V of peak behind 1 M: nearly the peak.
        >>> round(grid_leak_bias_v(TubeModel(20.0, 1.35, 1600.0, 160.0, 400.0), 20.0, 1e6), 1)
        -19.4
    """
    peak, gas = not_negative(signal_peak_v=signal_peak_v, gas_a=gas_a)
    (leak,) = positive(grid_leak_ohm=grid_leak_ohm)
    kind = checked_tube(tube)
    low = -peak - 5.0 + 0.0 * (leak + gas)

    def left(bias: Array) -> Array:
        into = sum(grid_current(kind, bias + peak * phase).current for phase in _PHASES) / len(_PHASES)
        return np.asarray(gas - bias / leak - into)

    return plain(quick_root(left, low, gas * leak + 0.0 * low))


@formula("gas_a * grid_leak_ohm")
def gas_rise_v(gas_a: Number, grid_leak_ohm: Number) -> Number:
    r"""Return how far a gassy tube drives its own grid up, before grid current stops it.

    .. math:: \Delta V = I_{gas} R_g

    Args:
        gas_a: Current out of the grid [A], >= 0.
        grid_leak_ohm: Grid leak [ohm], >= 0.
    Returns:
        Rise [V], float or array.
    Raises:
        OutOfRange: An argument is negative.
    Source: Ohm's law.
    Example: worked by hand: 2 microamperes through 1 M.
        >>> round(gas_rise_v(2e-6, 1e6), 3)
        2.0
    """
    gas, leak = not_negative(gas_a=gas_a, grid_leak_ohm=grid_leak_ohm)
    return plain(gas * leak)
