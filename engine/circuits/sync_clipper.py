# SPDX-License-Identifier: MIT
"""The tube of a sync separator: what its plate makes of the clamped signal, as part values and rails drift.

The grid of a real tube conducts by its own curve; here its chord at the sync tips serves as the resistance of the
grid.  Below the clipping base the plate current is gone, and with it the picture.
Limits: three levels as at the grid; plate capacitance and the next stage are no load; a screen whose bypass is too
small sags as if every pulse found it rested.
Sources: koren-1996 for the tube's curves (key in kb/sources/tubes.yaml); grob-basic-television for the circuit
(key in kb/sources/sync.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.elementwise import every, lone_first, most
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import lone_root, quick_root
from backporch.engine.circuits.sync_separator import SeparatorGrid, SeparatorParts, SeparatorSignal, separator_grid
from backporch.engine.circuits.tube_curves import TubeModel, currents
from backporch.engine.circuits.tubes import checked_tube

__all__ = ["ClippedSync", "SeparatorPlate", "clipped_sync", "driven_grid"]

_BASE_SHARE = 0.05
"""Part of the plate current at the sync tips below which the picture counts as cut off."""

_CHORDS = 6

_STEADY = 0.02
"""How far a screen may follow its current and still count as held by its bypass."""


@dataclass(frozen=True)
class SeparatorPlate:
    """Supply and loads of the separator; every field may be a float or an array."""

    supply_v: Number
    """Rail [V], >= 0."""
    plate_ohm: Number
    """Plate load [ohm], > 0; 1e9 is open."""
    screen_ohm: Number = 1e-3
    """Screen dropper [ohm], > 0; a triode has none."""
    screen_shunt_ohm: Number = 1e12
    """From screen to ground: lower half of a divider and the leak of the bypass in parallel [ohm], > 0."""
    screen_bypass_f: Number = 1e-6
    """Screen bypass [F], > 0; 1e-15 is open."""


@dataclass(frozen=True)
class ClippedSync:
    """The plate of the separator."""

    sync_v: Number
    """Sync at the plate, peak to peak, going down."""
    picture_v: Number
    """Picture that is left beside it, peak to peak."""
    plate_v: Number
    """Mean plate voltage: what a meter shows."""
    tip_v: Number
    """Plate at the sync tips, where it is lowest."""
    screen_v: Number
    """Mean screen voltage; 0 for a triode."""
    base_v: Number
    """Clipping base: grid voltage below which the plate current is nearly gone."""
    base_share: Number
    """How deep the base lies in the sync at the grid; above 1 it lies in the picture."""
    tip_a: Number
    """Plate current at the sync tips."""


@formula("separator_grid with contact_v = -grid_contact_v, grid_ohm = (tip_a / grid_perv)**(2 / 3) / tip_a")
def driven_grid(signal: SeparatorSignal, parts: SeparatorParts, tube: TubeModel) -> SeparatorGrid:
    r"""Return the grid of a separator with the grid current of its tube.

    .. math:: r_g = \frac{(I / G_g)^{2/3}}{I}, \qquad I = \frac{V_{tip} + V_c}{r_g}

    Args:
        signal: See :class:`~backporch.engine.circuits.sync_separator.SeparatorSignal`.
        parts: See :class:`~backporch.engine.circuits.sync_separator.SeparatorParts`; its grid_ohm and contact_v
            are replaced.
        tube: The tube; a dead one does not clamp.
    Returns:
        :class:`~backporch.engine.circuits.sync_separator.SeparatorGrid`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: 5 % against simulation with the same tube.
    Source: child-langmuir for the grid as a diode; chord found here by repetition.
    Example: a good tube and one with 1 % of its emission.
        >>> triode = TubeModel(mu=22.02, exponent=1.31, kg1=1259.0, kp=68.9, kvb=493.0)
        >>> signal = SeparatorSignal(12.0, 28.0, 150.0, 4.7e-6, 64e-6, white_share=0.4)
        >>> tubes = (triode, replace(triode, emission_share=0.01))
        >>> [round(driven_grid(signal, SeparatorParts(22e3, 22e-9, 1e6), tube).mean_v, 1) for tube in tubes]
        [-16.8, -10.1]
    """
    kind = checked_tube(tube)
    alive = np.maximum(np.asarray(kind.grid_perv) * kind.emission_share, 1e-12)
    contact = -np.asarray(kind.grid_contact_v, dtype=np.float64)
    ohm = np.asarray(3000.0 + 0.0 * alive)
    for _ in range(_CHORDS):
        grid = separator_grid(signal, replace(parts, contact_v=plain(contact), grid_ohm=plain(ohm)))
        over = np.maximum(np.asarray(grid.tip_v) - contact, 1e-3)
        ohm = np.sqrt(np.clip(ohm / (alive * np.sqrt(over)), 1.0, 1e24))
    return grid


@formula(
    "supply_v - plate_ohm * plate_a(plate_v, grid_v, screen_v) at tip, blanking and white;"
    " (supply_v - screen_v) / screen_ohm = screen_v / screen_shunt_ohm + mean of screen_a"
)
def clipped_sync(grid: SeparatorGrid, plate: SeparatorPlate, tube: TubeModel) -> ClippedSync:
    r"""Return the sync at the plate of the separator, and what picture is left beside it.

    .. math::
        V_{a,j} = E - R_a I_a(V_{a,j}, V_{g,j}, V_{g2}), \qquad
        \frac{E - V_{g2}}{R_s} = \frac{V_{g2}}{R_d} + \overline{I_{g2}}

    Args:
        grid: The grid, see :func:`driven_grid`.
        plate: See :class:`SeparatorPlate`.
        tube: The tube, triode or pentode.
    Returns:
        :class:`ClippedSync`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: 5 % of the supply against simulation with the same tube.
    Source: koren-1996 for the tube; load lines solved here.
    Example: a triode at 75 V with 47 k: full sync, no picture; with the bias gone little sync and much picture.
        >>> triode = TubeModel(mu=22.02, exponent=1.31, kg1=1259.0, kp=68.9, kvb=493.0)
        >>> signal = SeparatorSignal(12.0, 28.0, 150.0, 4.7e-6, 64e-6, white_share=0.4)
        >>> for leak in (1e12, 1e6):
        ...     parts = SeparatorParts(22e3, 22e-9, 1e6, coupling_leak_ohm=leak)
        ...     made = clipped_sync(driven_grid(signal, parts, triode), SeparatorPlate(75.0, 47e3), triode)
        ...     print(round(made.sync_v), round(made.picture_v), round(made.base_share, 1))
        59 2 1.0
        8 58 6.1
    """
    kind = checked_tube(tube)
    supply = not_negative(supply_v=plate.supply_v)[0]
    load = positive(plate_ohm=plate.plate_ohm)[0]
    at_grid, shares = _grid_levels(grid)
    fed = [*_screen(plate)[:2], _follows(plate, grid)]
    numbers = [np.asarray(value) for value in vars(kind).values()]
    shape = np.broadcast(supply, load, *at_grid, *numbers, *fed).shape
    one = int(np.prod(shape)) == 1

    def alone() -> Any:
        tube_alone = TubeModel(*map(_number, numbers))
        return _solved(
            tube_alone, *map(_number, (supply, load)), *(list(map(_number, v)) for v in (at_grid, shares, fed))
        )

    def together() -> Any:
        levels = np.array([np.broadcast_to(level, shape) for level in at_grid])
        return _solved(kind, np.broadcast_to(supply, shape), load, levels, shares, fed)

    values = lone_first(alone, together, one)
    return ClippedSync(*(plain(np.array(np.reshape(v, shape))) for v in np.broadcast_arrays(*values)))


def _solved(tube: TubeModel, supply: Any, load: Any, levels: Any, shares: Any, fed: Any) -> tuple[Any, ...]:
    """Return all that is told of the plate; levels, shares and screens go from tip to white."""
    screens = [0.0 * supply]
    if tube.screened:
        screens = _screen_voltages(tube, supply, load, levels, shares, fed)
    found = _plate_voltages(tube, supply, load, levels, screens)
    tip_a = (supply - found[0]) / load
    screen = sum(part * value for part, value in zip(shares, _for_each(screens), strict=True))
    base = _base(tube, supply, screens[len(screens) // 2], _BASE_SHARE * tip_a)
    depth = (levels[0] - base) / most(levels[0] - levels[1], 1e-6)
    mean = sum(part * value for part, value in zip(shares, found, strict=True))
    swings = (most(found[1] - found[0], 0.0), most(found[2] - found[1], 0.0))
    return (*swings, mean, found[0], screen, base, depth, tip_a)


def _number(value: Number) -> float:
    return float(np.ravel(value)[0])


def _for_each(screens: list[Any]) -> list[Any]:
    """Return one screen voltage for each level."""
    return screens if len(screens) == 3 else 3 * screens


def _grid_levels(grid: SeparatorGrid) -> tuple[list[Array], list[Array]]:
    levels = any_sign(tip_v=grid.tip_v, blanking_v=grid.blanking_v, white_v=grid.white_v)
    tip, white = not_negative(tip_share=grid.tip_share, white_share=grid.white_share)
    return levels, [tip, 1.0 - tip - white, white]


def _screen(plate: SeparatorPlate) -> list[Array]:
    return positive(
        screen_ohm=plate.screen_ohm, screen_shunt_ohm=plate.screen_shunt_ohm, screen_bypass_f=plate.screen_bypass_f
    )


def _plate_voltages(tube: TubeModel, supply: Any, load: Any, levels: Any, screens: list[Any]) -> Any:
    """Return the plate voltage on the load line for each level."""
    if type(supply) is float:
        return [_plate_voltage(tube, supply, load, *each) for each in zip(levels, _for_each(screens), strict=True)]
    return _plate_voltage(tube, supply, load, levels, np.stack(screens))


def _plate_voltage(tube: TubeModel, supply: Any, load: Any, grid: Any, screen: Any) -> Any:
    def left(voltage: Any) -> Any:
        return supply - load * currents(tube, voltage, grid, screen).plate - voltage

    if type(supply) is float:
        return lone_root(left, 0.0, supply, within=1e-6)
    none = np.zeros(np.broadcast(supply, load, grid, screen).shape)
    return quick_root(left, none, none + supply, within=1e-6)


def _screen_voltages(tube: TubeModel, supply: Any, load: Any, levels: Any, shares: Any, fed: Any) -> list[Any]:
    """Return the screen voltage at tips, blanking and white; one for all three where the bypass holds it."""
    follows = fed[2]
    own = range(1) if every(follows <= _STEADY) else range(3)
    weights = (
        [(1.0 - follows) * part + (follows if k == n else 0.0) for k, part in enumerate(shares)] for n in own
    )
    return [_screen_voltage(tube, supply, load, levels, weight, fed) for weight in weights]


def _screen_voltage(tube: TubeModel, supply: Any, load: Any, levels: Any, weights: list[Any], fed: Any) -> Any:
    """Return the screen voltage with each level's current counted by its weight."""
    dropper, shunt, _ = fed
    source, behind = supply * shunt / (dropper + shunt), dropper * shunt / (dropper + shunt)

    def left(screen: Any) -> Any:
        found = _plate_voltages(tube, supply, load, levels, [screen])
        drawn = _screen_currents(tube, found, levels, screen)
        mean = sum(part * value for part, value in zip(weights, drawn, strict=True))
        return source - behind * mean - screen

    return lone_root(left, 0.0 * supply, 0.0 * supply + source, within=1e-4)


def _screen_currents(tube: TubeModel, plates: Any, levels: Any, screen: Any) -> Any:
    if type(screen) is float:
        return [currents(tube, v, g, screen).screen for v, g in zip(plates, levels, strict=True)]
    return currents(tube, plates, levels, screen).screen


def _follows(plate: SeparatorPlate, grid: SeparatorGrid) -> Array:
    """Return how far the screen follows its own current within a pulse: 0 with a good bypass, 1 without one."""
    dropper, shunt, bypass = _screen(plate)
    ratio = np.asarray(grid.pulse_s) * (1.0 / dropper + 1.0 / shunt) / bypass
    return np.asarray(1.0 + np.expm1(-ratio) / ratio)


def _base(tube: TubeModel, plate: Any, screen: Any, least_a: Any) -> Any:
    """Return the grid voltage at which only the given plate current flows, the plate at its supply."""
    low = -(plate + screen) - 1.0
    wanted = most(least_a, 1e-9)
    return lone_root(lambda grid: wanted - currents(tube, plate, grid, screen).plate, low, 0.0 * low + 5.0)
