# SPDX-License-Identifier: MIT
"""The electrodes of the picture tube with their supplies: leaks, shorts, open pins, electrodes exchanged.

Each electrode hangs on its supply through a resistance; leaks join them; the beam lifts the cathode; a grid
above its cathode draws current; gas makes the grid more positive.  An open pin is a supply of 1e9 ohm or
more, and what the electrode then does is settled by the leaks, as in the tube.
Limits: steady state; charges that a floating electrode keeps for seconds are left out.
Sources: gun-leaks-practice, moss-1968 (keys in kb/sources/picture_tube.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.picture_tube import limited_beam_a
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.errors import UnknownWord

__all__ = ["Gun", "GunState", "gun_state", "heater_hum_v", "swapped"]

Pair = Literal["grid-first-anode", "grid-cathode", "cathode-first-anode"]

_GRID_OHM = 5e3
"""Resistance of a grid that draws current; from memory, to verify."""


_OPEN_OHM = 1e9
"""A supply of this resistance or more counts as cut off altogether, so that leaks alone settle the electrode."""


@dataclass(frozen=True)
class Gun:
    """What hangs on the electrodes: voltages without load, resistances behind them, leaks."""

    grid_v: Number
    grid_ohm: Number
    cathode_v: Number
    cathode_ohm: Number
    first_anode_v: Number
    first_anode_ohm: Number
    grid_cathode_leak_ohm: Number = 1e11
    heater_cathode_leak_ohm: Number = 1e11
    heater_v: Number = 0.0
    first_anode_leak_ohm: Number = 1e11
    grid_first_anode_leak_ohm: Number = 1e11
    gas_a: Number = 0.0


@dataclass(frozen=True)
class GunState:
    """The electrodes as they settle."""

    grid_v: Number
    """Grid against chassis."""
    cathode_v: Number
    """Cathode against chassis."""
    first_anode_v: Number
    """First anode against chassis."""
    beam_a: Number
    """Beam current."""
    grid_a: Number
    """Current that the grid draws; above a milliampere it harms tube or supply."""


@formula(
    "(cathode_v - set) / cathode_ohm + (cathode_v - grid_v) / leak + (cathode_v - heater_v) / leak"
    " = beam_current_a(grid_v - cathode_v, first_anode_v - cathode_v) + grid_a"
)
def gun_state(
    gun: Gun,
    rated_cut_off_v: Number,
    rated_first_anode_v: Number,
    emission_share: Number = 1.0,
    exponent: Number = 2.5,
    most_a: Number = 5e-3,
) -> GunState:
    r"""Return where the electrodes of a picture tube settle, and the beam.

    .. math::
        \frac{V_k - V_{k0}}{R_k} + \frac{V_k - V_g}{R_{gk}} + \frac{V_k - V_h}{R_{hk}}
        = I(V_g - V_k,\, V_{g2} - V_k) + I_g

    with grid and first anode as the two nodes of a network of their own resistances and leaks.

    Args:
        gun: Supplies, resistances and leaks: voltages of either sign [V], supply resistances >= 0 (1e9 is an
            open pin), leaks > 0 (1 is a short), gas current >= 0.
        rated_cut_off_v: Cut-off from the tube's data, as a magnitude [V], > 0.
        rated_first_anode_v: First-anode voltage for which that is stated [V], > 0.
        emission_share: Emission over that of a new cathode, 0 to 1.
        exponent: Power of the drive, > 0.
        most_a: Most that a new cathode can give [A], > 0.
    Returns:
        :class:`GunState`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: voltages at rest; video left by a leak is ``video_drive.drive_kept_share``.  Open grid: leaks bring
        it near the cathode, and the screen is bright and not to be controlled.  Open cathode: dark, or a beam
        that its leaks let through.  First anode missing or exchanged with the grid: dark.
    Source: Kirchhoff's laws; gun-leaks-practice for the leaks.
    Example: 100 k supplies, cathode set 50 V above the grid, 450 V first anode, cut-off 50 V at 300 V.
        >>> gun = Gun(30.0, 100e3, 80.0, 100e3, 450.0, 470e3)
        >>> found = gun_state(gun, 50.0, 300.0)
        >>> round(found.cathode_v, 1), round(found.beam_a * 1e6, 1)
        (81.5, 15.1)
    """
    (emission,) = share(emission_share=emission_share)
    rated, at, power, most_new = positive(
        rated_cut_off_v=rated_cut_off_v, rated_first_anode_v=rated_first_anode_v, exponent=exponent, most_a=most_a
    )
    reach, most = rated / at, emission * most_new
    sets = _Nodes(gun)

    def surplus(cathode: Array) -> Array:
        grid, first, grid_a = sets.settle(cathode)
        beam = limited_beam_a(grid - cathode, reach * np.maximum(first - cathode, 0.0), most, power)
        return np.asarray(beam + grid_a - sets.cathode_out(cathode, grid))

    lowest, highest = sets.bounds()
    cathode = quick_root(surplus, lowest, highest)
    grid, first, grid_a = sets.settle(cathode)
    beam = limited_beam_a(grid - cathode, reach * np.maximum(first - cathode, 0.0), most, power)
    return GunState(plain(grid), plain(cathode), plain(first), plain(beam), plain(grid_a))


def _conductance(ohm: Array) -> Array:
    return np.where(ohm >= _OPEN_OHM, 1e-15, 1.0 / np.maximum(ohm, 1e-3))


class _Nodes:
    """The linear network round grid and first anode, and the currents out of the cathode."""

    def __init__(self, gun: Gun) -> None:
        names = ("grid_v", "cathode_v", "first_anode_v", "heater_v")
        volts = any_sign(**{name: getattr(gun, name) for name in names})
        feeds = not_negative(
            grid_ohm=gun.grid_ohm, cathode_ohm=gun.cathode_ohm, first_anode_ohm=gun.first_anode_ohm
        )
        leaks = positive(
            grid_cathode_leak_ohm=gun.grid_cathode_leak_ohm,
            heater_cathode_leak_ohm=gun.heater_cathode_leak_ohm,
            first_anode_leak_ohm=gun.first_anode_leak_ohm,
            grid_first_anode_leak_ohm=gun.grid_first_anode_leak_ohm,
        )
        (gas,) = not_negative(gas_a=gun.gas_a)
        spread = np.broadcast_arrays(*volts, *feeds, *leaks, gas)
        self.grid_v, self.cathode_v, self.first_v, self.heater_v = spread[:4]
        self.grid_g, self.cathode_g, self.first_g = (_conductance(ohm) for ohm in spread[4:7])
        self.gk, self.hk, self.g2_leak, self.gg2 = (1.0 / ohm for ohm in spread[7:11])
        self.gas = spread[11]

    def bounds(self) -> tuple[Array, Array]:
        """Return voltages that the cathode cannot pass."""
        volts = np.stack([self.grid_v, self.cathode_v, self.first_v, self.heater_v, 0.0 * self.grid_v])
        lifted = self.gas * 1e9
        return volts.min(axis=0) - 1.0, volts.max(axis=0) + 1.0 + np.minimum(lifted, 1e3)

    def settle(self, cathode: Array) -> tuple[Array, Array, Array]:
        """Return grid and first anode for a cathode voltage, and the current that the grid draws."""
        grid, first = self._solve(cathode, 0.0)
        conducting = grid > cathode
        held_grid, held_first = self._solve(cathode, 1.0 / _GRID_OHM)
        grid, first = np.where(conducting, held_grid, grid), np.where(conducting, held_first, first)
        return grid, first, np.where(conducting, (grid - cathode) / _GRID_OHM, 0.0)

    def _solve(self, cathode: Array, drawn: float) -> tuple[Array, Array]:
        own = self.grid_g + self.gk + self.gg2 + drawn
        other = self.first_g + self.g2_leak + self.gg2
        into = self.grid_g * self.grid_v + (self.gk + drawn) * cathode + self.gas
        across = self.first_g * self.first_v
        whole = own * other - self.gg2**2
        grid = (into * other + across * self.gg2) / whole
        return grid, (across + self.gg2 * grid) / other

    def cathode_out(self, cathode: Array, grid: Array) -> Array:
        """Return the current from the cathode into supply, grid leak and heater leak."""
        return np.asarray(
            (cathode - self.cathode_v) * self.cathode_g
            + (cathode - grid) * self.gk
            + (cathode - self.heater_v) * self.hk
        )


@formula("gun with the supplies of the two electrodes exchanged")
def swapped(gun: Gun, pair: Pair) -> Gun:
    r"""Return the gun with two of its electrodes exchanged, as a wrong adapter or socket does it.

    .. math:: (V_a, R_a) \leftrightarrow (V_b, R_b)

    Args:
        gun: The gun as it should be.
        pair: "grid-first-anode", "grid-cathode" or "cathode-first-anode".
    Returns:
        :class:`Gun` with the supplies exchanged and the leaks where they were.
    Raises:
        UnknownWord: There is no such pair.
    Valid: look at ``grid_a`` of the result before anything is switched on: grid and first anode exchanged puts
        some hundred volts on the grid, and the cathode can be lost in seconds.
    Source: common practice, no source.
    Example: grid and first anode exchanged: dark, and the grid draws current.
        >>> wrong = swapped(Gun(30.0, 100e3, 80.0, 100e3, 450.0, 470e3), "grid-first-anode")
        >>> found = gun_state(wrong, 50.0, 300.0)
        >>> found.beam_a, found.grid_a > 3e-4
        (0.0, True)
    """
    pairs = {
        "grid-first-anode": ("grid", "first_anode"),
        "grid-cathode": ("grid", "cathode"),
        "cathode-first-anode": ("cathode", "first_anode"),
    }
    if pair not in pairs:
        raise UnknownWord("pair of electrodes", pair, pairs)
    one, other = pairs[pair]
    supplies = {name: getattr(gun, name) for name in gun.__dataclass_fields__}
    for ending in ("_v", "_ohm"):
        supplies[one + ending], supplies[other + ending] = supplies[other + ending], supplies[one + ending]
    return Gun(**supplies)


@formula("heater_rms_v * 2 * sqrt(2) * cathode_ohm / (cathode_ohm + heater_cathode_leak_ohm)")
def heater_hum_v(heater_rms_v: Number, cathode_ohm: Number, heater_cathode_leak_ohm: Number) -> Number:
    r"""Return the hum, peak to peak, that a leak from the heater puts on the cathode.

    .. math:: V_{pp} = 2 \sqrt2\, V_h \frac{R_k}{R_k + R_{hk}}

    Args:
        heater_rms_v: Alternating voltage of the heater against chassis, effective [V], >= 0: half the heater's
            own voltage with one side grounded, more where it stands high in a series string.
        cathode_ohm: Resistance of the cathode's supply for hum [ohm], >= 0.
        heater_cathode_leak_ohm: Leakage [ohm], > 0; 1 is a short.
    Returns:
        Hum [V], peak to peak, at mains rate: one bar; float or array.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: a leak that conducts both ways.
    Source: divider; common practice for the bar.
    Example: 3.15 V through 100 k on 47 k, worked by hand.
        >>> round(heater_hum_v(3.15, 47e3, 100e3), 2)
        2.85
    """
    heater, cathode = not_negative(heater_rms_v=heater_rms_v, cathode_ohm=cathode_ohm)
    (leak,) = positive(heater_cathode_leak_ohm=heater_cathode_leak_ohm)
    return plain(2.0 * np.sqrt(2.0) * heater * cathode / (cathode + leak))
