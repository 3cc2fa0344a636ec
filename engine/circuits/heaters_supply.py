# SPDX-License-Identifier: MIT
"""Heaters in parallel on a winding, and a whole set behind a limiter lamp.

Limits: the settled state; a set is one resistance.
Caution: a lamp in series limits a fault current; it isolates nothing and makes no chassis less live.
Sources: dim-bulb-note, resistance laws in heaters (keys in kb/sources/heaters.yaml); Ohm's law.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.circuits.arguments import Array, Number, not_negative, plain, positive
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.heaters import Lamp, heater_ohm, lamp_ohm
from backporch.engine.circuits.heaters_string import Heater
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.errors import BadInput

__all__ = ["LimitedSet", "WindingState", "lamp_limiter", "parallel_winding"]


@dataclass(frozen=True)
class WindingState:
    """A heater winding with its heaters; rows stand for heaters, voltages and currents are RMS."""

    winding_v: Number
    """At the winding's ends."""
    total_a: Number
    heater_v: Array
    heater_a: Array
    heat_share: Array
    """Power of each heater over its rated power."""


@dataclass(frozen=True)
class LimitedSet:
    """A set behind a limiter lamp."""

    set_v: Number
    """RMS that is left for the set."""
    current_a: Number
    lamp_share: Number
    """Power of the lamp over its rated power: near 1 bright, a tenth a dull glow."""
    readings_count: bool | NDArray[np.bool_]
    """False below nine tenths of the mains: readings then tell of a short and of nothing else."""


@formula(
    "winding_v = open_v - winding_ohm * sum of the currents; each heater_ohm at its own current, in series with"
    " its contact"
)
def parallel_winding(open_v: Number, winding_ohm: Number, heaters: Sequence[Heater]) -> WindingState:
    r"""Return the voltages of heaters in parallel on one winding.

    .. math:: V = V_0 - R_w \sum_k I_k, \quad V = I_k (R_{s,k} + R_k(I_k))

    A heater that is open leaves the others a little brighter and nothing dark but itself.

    Args:
        open_v: RMS of the winding with no load [V], >= 0; follows the mains.
        winding_ohm: Resistance of winding and leads, the primary's share included [ohm], >= 0.
        heaters: The heaters; series_ohm is the contact of each (1e9 for an open one), cathode_ohm is not used.
    Returns:
        :class:`WindingState`.
    Raises:
        OutOfRange: A value is out of its bounds.
        BadInput: There is no heater.
    Source: Ohm's law.
    Example: two heaters of 6.3 V, 0.6 A on 6.54 V behind 0.2 ohm; worked by hand: 6.54 - 1.2 x 0.2 = 6.3.
        >>> found = parallel_winding(6.54, 0.2, [Heater(6.3, 0.6), Heater(6.3, 0.6)])
        >>> round(found.winding_v, 3), round(found.total_a, 3)
        (6.3, 1.2)
    """
    if not heaters:
        raise BadInput("A heater winding has no heaters; expected at least one.")
    volts, winding = not_negative(open_v=open_v, winding_ohm=winding_ohm)
    rated_v, rated_a, contacts = _columns(heaters, volts, winding)
    currents = rated_a
    for _ in range(40):
        hot = np.asarray(heater_ohm(currents, rated_v, rated_a))
        conductance = (1.0 / (hot + contacts)).sum(axis=0)
        ends = volts / (1.0 + winding * conductance)
        currents = np.sqrt(np.maximum(currents * ends / (hot + contacts), 1e-30))
    hot = np.asarray(heater_ohm(currents, rated_v, rated_a))
    share = currents**2 * hot / (rated_v * rated_a)
    return WindingState(plain(ends), plain(currents.sum(axis=0)), currents * hot, currents, share)


@formula("the current at which current * (lamp_ohm(current, lamp) + set_ohm) = mains_v; set_v = current * set_ohm")
def lamp_limiter(mains_v: Number, set_ohm: Number, lamp: Lamp) -> LimitedSet:
    r"""Return what a lamp in series with the mains leaves for a set.

    .. math:: V = I (R_l(I) + R)

    Args:
        mains_v: RMS mains [V], > 0.
        set_ohm: The set as a resistance: mains squared over its power when it runs; few ohms with a short
            [ohm], > 0.
        lamp: The lamp.
    Returns:
        :class:`LimitedSet`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is not positive.
    Valid: a set that takes a sine; a series string has its own lamp in heaters_string.
    Source: Ohm's law with lamp_ohm; dim-bulb-note for how the lamp behaves.
    Example: a lamp of 100 W on 230 V before a shorted set, and before one of 150 W.
        >>> lamp = Lamp(230.0, 100.0)
        >>> short, sound = lamp_limiter(230.0, 5.0, lamp), lamp_limiter(230.0, 230.0**2 / 150.0, lamp)
        >>> round(short.lamp_share, 2), round(sound.set_v), sound.readings_count
        (0.99, 108, False)
    """
    mains, ohm = positive(mains_v=mains_v, set_ohm=set_ohm)
    rated_v, rated_w = positive(rated_v=lamp.rated_v, rated_w=lamp.rated_w)

    def left(current: Array) -> Array:
        return np.asarray(mains - current * (lamp_ohm(current, rated_v, rated_w) + ohm))

    current = quick_root(left, 0.0 * mains * ohm, mains / ohm)
    share = current**2 * lamp_ohm(current, rated_v, rated_w) / rated_w
    volts = current * ohm
    counts = volts >= 0.9 * mains
    return LimitedSet(plain(volts), plain(current), plain(share), bool(counts) if counts.ndim == 0 else counts)


def _columns(heaters: Sequence[Heater], volts: Array, winding: Array) -> tuple[Array, Array, Array]:
    """Return rated voltage, rated current and contact, one row for each heater."""
    checked = [
        positive(rated_v=h.rated_v, rated_a=h.rated_a) + not_negative(series_ohm=h.series_ohm) for h in heaters
    ]
    shape = np.broadcast_shapes(volts.shape, winding.shape, *(v.shape for row in checked for v in row))
    columns = [np.stack([np.broadcast_to(row[n], shape) for row in checked]) for n in range(3)]
    return columns[0], columns[1], columns[2]
