# SPDX-License-Identifier: MIT
"""The curves of a tube: currents of plate, screen and grid with their slopes, from one frozen set of numbers.

The form is that of Koren with the factor two: two equal power terms are summed, so that the plate current is
``2 lift**exponent / kg1``.  Sets of numbers published without the factor have half the ``kg1``.
Additions of our own, each zero by default: current turned back to the screen by a low plate, the pull of a
pentode's plate through its screen, a part of the cathode under a wider grid (remote cut-off), grid current with
the tail of a retarding field, and emission as the share of the cathode that is still alive.
Limits: no transit time, no secondary emission, no saturation; low emission scales all currents alike.
Sources: koren-1996, child-langmuir (keys in kb/sources/tubes.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Array, Number
from backporch.engine.circuits.elementwise import arctangent, every, most, softplus, steepness, where

__all__ = ["Currents", "GridCurrent", "TubeModel", "currents", "grid_current"]

_GRID_SPREAD_V = 0.13
"""Voltage over which the grid current starts: its tail then falls by e each 0.09 V, a cathode at 1000 K."""

_LEAST_SCREEN_V = 0.1


@dataclass(frozen=True)
class TubeModel:
    """A tube by the numbers of its fit; every field may be a float or an array."""

    mu: Number
    """Amplification factor: of the plate in a triode, of the screen in a pentode."""
    exponent: Number
    kg1: Number
    """Inverse perveance of the plate, with the factor two."""
    kp: Number
    """How sharp the cut-off is."""
    kvb: Number
    """Knee: in a triode added to the square of the plate voltage, in a pentode the plate voltage itself."""
    contact_v: Number = 0.0
    """Added to the grid voltage."""
    kg2: Number = 0.0
    """Inverse perveance of the screen; 0 for a triode."""
    returned_share: Number = 0.0
    """Share of the current not taken by a low plate that the screen takes."""
    plate_share: Number = 0.0
    """How much a volt at the plate of a pentode pulls at the cathode, against a volt at the screen."""
    tail_share: Number = 0.0
    """Part of the cathode that lies under the widest turns of a graded grid, 0 to 0.3; its root lies half way."""
    tail_mu: Number = 1.0
    """Amplification factor under the widest turns."""
    grid_perv: Number = 3e-4
    """Perveance of the grid as a diode [A/V^1.5]."""
    grid_contact_v: Number = 0.4
    """Grid current starts this far below zero."""
    emission_share: Number = 1.0
    """Share of the emission of a good tube, 0 to 1."""

    @property
    def screened(self) -> bool:
        """Say whether the tube has a screen."""
        return not every(np.asarray(self.kg2) <= 0.0) if type(self.kg2) is not float else self.kg2 > 0.0


@dataclass(frozen=True)
class Currents:
    """Currents and their slopes."""

    plate: Array
    screen: Array
    by_grid: Array
    """Slope of the plate current with grid voltage."""
    by_plate: Array
    """Slope of the plate current with plate voltage."""
    by_screen: Array
    """Slope of the plate current with screen voltage."""
    screen_by_grid: Array
    screen_by_plate: Array
    screen_by_screen: Array


@dataclass(frozen=True)
class GridCurrent:
    """Grid current and its slope."""

    current: Array
    slope: Array


@dataclass(frozen=True)
class _Space:
    """Current of the cathode in units of the perveance, and its slopes."""

    value: Array
    by_grid: Array
    by_accelerator: Array


def currents(tube: TubeModel, plate: Array, grid: Array, screen: Array | float = 0.0) -> Currents:
    """Return all currents but that of the grid, voltages taken against the cathode.

    Args:
        tube: The tube; its numbers are not checked here.
        plate: Plate voltage [V], an array.
        grid: Control-grid voltage [V], an array.
        screen: Screen voltage [V], float or array; left out for a triode.
    Returns:
        :class:`Currents`, currents [A] and slopes [A/V] as arrays.
    Raises:
        ValueError: The voltages do not go together in shape.
    Source: koren-1996 for the form of a triode; the additions of this module are our own.
    Example: a triode such as 6CG7 at 250 V, -8 V.
        >>> triode = TubeModel(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
        >>> round(1e3 * float(currents(triode, np.array(250.0), np.array(-8.0)).plate), 2)
        8.98
    """
    return _screened(tube, plate, grid, screen) if tube.screened else _triode(tube, plate, grid)


def grid_current(tube: TubeModel, grid: Array) -> GridCurrent:
    """Return the grid current of a vacuum tube and its slope, the grid against the cathode.

    Args:
        tube: The tube; its numbers are not checked here.
        grid: Control-grid voltage [V], an array.
    Returns:
        :class:`GridCurrent`, current [A] and slope [A/V] as arrays.
    Raises:
        ValueError: The tube's numbers and the grid do not go together in shape.
    Source: child-langmuir for the power; thermal velocities for the tail.
    Example: 10 V above the start at 0.3 mA/V^1.5.
        >>> triode = TubeModel(20.0, 1.35, 1600.0, 160.0, 400.0, grid_contact_v=0.0)
        >>> round(1e3 * float(grid_current(triode, np.array(10.0)).current), 2)
        9.49
    """
    drive = (grid + tube.grid_contact_v) / _GRID_SPREAD_V
    excess = _GRID_SPREAD_V * softplus(drive)
    scale = tube.grid_perv * tube.emission_share
    root = excess**0.5
    return GridCurrent(scale * root * excess, 1.5 * scale * root * steepness(drive))


def _triode(tube: TubeModel, plate: Array, grid: Array) -> Currents:
    """Return the currents of a triode; a plate below the cathode draws none."""
    above = most(plate, 1e-6)
    reach = (tube.kvb + above * above) ** 0.5
    space = _space(tube, above, grid + tube.contact_v, reach, above / reach)
    scale = where(plate > 0.0, tube.emission_share / tube.kg1, 0.0)
    none = 0.0 * space.value
    return Currents(
        scale * space.value, none, scale * space.by_grid, scale * space.by_accelerator, none, none, none, none
    )


def _screened(tube: TubeModel, plate: Array, grid: Array, screen: Array | float) -> Currents:
    """Return the currents of a pentode or beam tube."""
    above, knee = most(plate, 0.0), tube.kvb
    up, through = where(plate > 0.0, 1.0, 0.0), tube.plate_share
    pull = most(screen, _LEAST_SCREEN_V) + through * above
    space = _space(tube, pull, grid + tube.contact_v, pull, 1.0)
    angle, bent = arctangent(above / knee), up * knee / (knee * knee + above * above)
    alive, gain = tube.emission_share, tube.emission_share / tube.kg1
    taken = gain * angle
    left = alive / tube.kg2 + gain * tube.returned_share * (0.5 * np.pi - angle)
    drawn = up * through * space.by_accelerator
    return Currents(
        taken * space.value,
        left * space.value,
        taken * space.by_grid,
        gain * bent * space.value + taken * drawn,
        taken * space.by_accelerator,
        left * space.by_grid,
        left * drawn - gain * tube.returned_share * bent * space.value,
        left * space.by_accelerator,
    )


def _space(tube: TubeModel, pull: Array, offset: Array, reach: Array, part: Array | float) -> _Space:
    """Return the current of both parts of the cathode."""
    near = _part(tube, tube.mu, pull, offset, reach, part)
    if every(tube.tail_share <= 0.0):
        return near
    share, wide = tube.tail_share, tube.tail_mu
    between = share**0.5
    middle = _part(tube, (tube.mu * wide) ** 0.5, pull, offset, reach, part)
    far = _part(tube, wide, pull, offset, reach, part)
    shares = (most(1.0 - between - share, 0.0), between, share)
    return _Space(
        *(
            shares[0] * a + shares[1] * b + shares[2] * c
            for a, b, c in zip(_all(near), _all(middle), _all(far), strict=True)
        )
    )


def _part(tube: TubeModel, mu: Number, pull: Array, offset: Array, reach: Array, part: Array | float) -> _Space:
    """Return the current of a part of the cathode; ``part`` is the slope of ``reach`` with ``pull``."""
    kp, power = tube.kp, tube.exponent
    drive = kp * (1.0 / mu + offset / reach)
    bulge = softplus(drive)
    lift = most(pull * bulge / kp, 1e-30)
    value = 2.0 * lift**power
    steep = power * value / lift
    over = pull / reach
    on = steepness(drive)
    return _Space(value, steep * over * on, steep * (bulge / kp - on * over * part * offset / reach))


def _all(space: _Space) -> tuple[Array, Array, Array]:
    return space.value, space.by_grid, space.by_accelerator
