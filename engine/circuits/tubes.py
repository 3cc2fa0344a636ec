# SPDX-License-Identifier: MIT
"""Plate, screen and grid current of a tube from its fit, and what follows: slopes and cut-off.

The plate current is the sum of two equal power terms (the factor two of Koren's form); a set of numbers published
without that factor must have its ``kg1`` doubled before use.
Limits: those of the fit, see kb/tube_fits.yaml for its error at published points; a new tube scatters by some
30 % about them.
Sources: koren-1996, child-langmuir (keys in kb/sources/tubes.yaml).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from backporch.engine.circuits.arguments import Array, Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula
from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import TubeModel, currents, grid_current

__all__ = [
    "SmallSignal",
    "TubeModel",
    "checked_tube",
    "cut_off_v",
    "grid_current_a",
    "plate_current_a",
    "screen_current_a",
    "small_signal",
]

_ABOVE_ZERO = ("mu", "exponent", "kg1", "kp", "kvb", "tail_mu", "grid_perv")
_ZERO_OR_ABOVE = ("kg2", "returned_share", "plate_share")
_SHARES = ("tail_share", "emission_share")
_ANY = ("contact_v", "grid_contact_v")


@dataclass(frozen=True)
class SmallSignal:
    """The slopes of a tube at a point."""

    transconductance_a_per_v: Number
    plate_resistance_ohm: Number
    amplification: Number


def checked_tube(tube: TubeModel) -> TubeModel:
    """Return the tube with its numbers as arrays, each within its bounds.

    Args:
        tube: A tube with floats or arrays.
    Returns:
        :class:`TubeModel` of arrays.
    Raises:
        OutOfRange: A number is out of its bounds; the message names it.
    Source: none; a check of arguments.
    Example:
        >>> float(checked_tube(TubeModel(20.0, 1.35, 1600.0, 160.0, 400.0)).mu)
        20.0
    """
    values: dict[str, Array] = {}
    for check, names in (
        (positive, _ABOVE_ZERO),
        (not_negative, _ZERO_OR_ABOVE),
        (share, _SHARES),
        (any_sign, _ANY),
    ):
        values |= dict(zip(names, check(**{name: getattr(tube, name) for name in names}), strict=True))
    return TubeModel(**{field.name: values[field.name] for field in fields(TubeModel)})


@formula(
    "2 * emission_share * lift ** exponent / kg1, with"
    " lift = plate_v / kp * ln(1 + exp(kp * (1 / mu + grid_v / sqrt(kvb + plate_v ** 2)))) in a triode;"
    " the screen in place of the plate, and * atan(plate_v / kvb), in a pentode"
)
def plate_current_a(tube: TubeModel, plate_v: Number, grid_v: Number, screen_v: Number = 0.0) -> Number:
    r"""Return the plate current of a triode or pentode.

    .. math::
        I_a = \frac{2 e}{K_1} E^x, \quad
        E = \frac{V_a}{K_p} \ln\left(1 + e^{K_p (1/\mu + V_g / \sqrt{K_{vb} + V_a^2})}\right)

    and for a pentode, with the pull :math:`V_s = V_{g2} + d V_a` of screen and plate,

    .. math:: I_a = \frac{2 e}{K_1} E^x \arctan\frac{V_a}{K_{vb}}, \quad
        E = \frac{V_s}{K_p} \ln\left(1 + e^{K_p (1/\mu + V_g / V_s)}\right)

    Args:
        tube: The tube, see :class:`TubeModel`.
        plate_v: Plate against cathode [V], any sign; none flows below zero.
        grid_v: Control grid against cathode [V], any sign.
        screen_v: Screen against cathode [V]; left out for a triode.
    Returns:
        Plate current [A], >= 0, float or array.
    Raises:
        OutOfRange: A number of the tube is out of its bounds or a voltage is no finite number.
    Valid: within 5 % at the datum point and 15 % at other published points of a type in kb/tube_fits.yaml.
    Source: koren-1996, the form with the factor two.
    Example: 6SN7GT, the numbers of a public fit, at 250 V, -8 V; published are 9 mA.
        >>> triode = TubeModel(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
        >>> round(1e3 * plate_current_a(triode, 250.0, -8.0), 2)
        8.98
    """
    plate, grid, screen = any_sign(plate_v=plate_v, grid_v=grid_v, screen_v=screen_v)
    return plain(currents(checked_tube(tube), plate, grid, screen).plate)


@formula(
    "2 * emission_share * lift ** exponent * (1 / kg2 + returned_share / kg1 * (pi / 2 - atan(plate_v / kvb)))"
)
def screen_current_a(tube: TubeModel, plate_v: Number, grid_v: Number, screen_v: Number) -> Number:
    r"""Return the screen current of a pentode; more flows as the plate falls below its knee.

    .. math:: I_{g2} = 2 e E^x \left[\frac{1}{K_2} + \frac{\rho}{K_1}
        \left(\frac{\pi}{2} - \arctan\frac{V_a}{K_{vb}}\right)\right]

    Args:
        tube: The tube, see :class:`TubeModel`.
        plate_v: Plate against cathode [V].
        grid_v: Control grid against cathode [V].
        screen_v: Screen against cathode [V].
    Returns:
        Screen current [A], >= 0, 0 for a triode, float or array.
    Raises:
        OutOfRange: A number of the tube is out of its bounds or a voltage is no finite number.
    Valid: as :func:`plate_current_a`; the share turned back is an estimate where no knee was published.
    Source: koren-1996 for the form of E; the return of current to the screen is our own addition.
    Example: a frame output pentode at 170 V, worked by the formula.
        >>> pentode = TubeModel(9.12, 1.35, 929.0, 219.9, 39.3, kg2=5500.0)
        >>> round(1e3 * screen_current_a(pentode, 170.0, -11.5, 170.0), 2)
        5.17
    """
    plate, grid, screen = any_sign(plate_v=plate_v, grid_v=grid_v, screen_v=screen_v)
    return plain(currents(checked_tube(tube), plate, grid, screen).screen)


@formula("emission_share * grid_perv * (0.13 * ln(1 + exp((grid_v + grid_contact_v) / 0.13))) ** 1.5")
def grid_current_a(tube: TubeModel, grid_v: Number) -> Number:
    r"""Return the current of a grid that is positive, or nearly so.

    .. math:: I_g = e P_g \left[V_s \ln\left(1 + e^{(V_g + V_c) / V_s}\right)\right]^{3/2}

    Far below zero it falls by e for each 0.09 V, as that of a cathode at 1000 K in a retarding field does.

    Args:
        tube: The tube, see :class:`TubeModel`.
        grid_v: Control grid against cathode [V].
    Returns:
        Grid current [A], >= 0, float or array; gas is not in it.
    Raises:
        OutOfRange: A number of the tube is out of its bounds or the voltage is no finite number.
    Valid: an estimate; the perveance of a grid is hardly ever published.
    Source: child-langmuir for the power; thermal velocities for the tail; the numbers from memory, to verify.
    Example: worked by hand: 10 V above the start at 0.3 mA/V^1.5.
        >>> triode = TubeModel(20.0, 1.35, 1600.0, 160.0, 400.0, grid_perv=3e-4, grid_contact_v=0.0)
        >>> round(1e3 * grid_current_a(triode, 10.0), 2)
        9.49
    """
    (grid,) = any_sign(grid_v=grid_v)
    return plain(grid_current(checked_tube(tube), grid).current)


@formula("slopes of plate_current_a with grid_v and plate_v, and their ratio")
def small_signal(tube: TubeModel, plate_v: Number, grid_v: Number, screen_v: Number = 0.0) -> SmallSignal:
    r"""Return mutual conductance, plate resistance and amplification at a point.

    .. math:: g_m = \partial I_a / \partial V_g, \quad 1/r_a = \partial I_a / \partial V_a, \quad \mu = g_m r_a

    Args:
        tube: The tube, see :class:`TubeModel`.
        plate_v: Plate against cathode [V].
        grid_v: Control grid against cathode [V].
        screen_v: Screen against cathode [V]; left out for a triode.
    Returns:
        :class:`SmallSignal`, its fields floats or arrays; a plate resistance beyond 1e12 ohm stands at that.
    Raises:
        OutOfRange: A number of the tube is out of its bounds or a voltage is no finite number.
    Valid: some 15 % at published points.
    Source: derived from :func:`plate_current_a`.
    Example: 6SN7GT at 250 V, -8 V; published are 2.6 mA/V and 7.7 k.
        >>> triode = TubeModel(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
        >>> found = small_signal(triode, 250.0, -8.0)
        >>> round(1e3 * found.transconductance_a_per_v, 2), round(found.plate_resistance_ohm, -1)
        (2.6, 7740.0)
    """
    plate, grid, screen = any_sign(plate_v=plate_v, grid_v=grid_v, screen_v=screen_v)
    found = currents(checked_tube(tube), plate, grid, screen)
    resistance = 1.0 / np.maximum(found.by_plate, 1e-12)
    return SmallSignal(plain(found.by_grid), plain(resistance), plain(found.by_grid * resistance))


@formula("grid_v at which plate_current_a(plate_v, grid_v, screen_v) = plate_a")
def cut_off_v(tube: TubeModel, plate_v: Number, plate_a: Number = 1e-5, screen_v: Number = 0.0) -> Number:
    r"""Return the grid voltage at which only a given plate current is left.

    .. math:: I_a(V_a, V_{co}, V_{g2}) = I_0

    Args:
        tube: The tube, see :class:`TubeModel`.
        plate_v: Plate against cathode [V], > 0.
        plate_a: Plate current that counts as cut off [A], > 0; makers take 10 to 100 microamperes.
        screen_v: Screen against cathode [V]; left out for a triode.
    Returns:
        Grid voltage [V], from -(plate_v + screen_v) to 0, float or array.
    Raises:
        OutOfRange: A number of the tube is out of its bounds, a voltage is no finite number or the current not
            positive.
    Valid: some 15 % of the published voltage.
    Source: derived from :func:`plate_current_a`.
    Example: 6SN7GT at 250 V; makers give about -18 V for 10 microamperes.
        >>> triode = TubeModel(mu=20.41, exponent=1.339, kg1=1598.0, kp=167.3, kvb=407.2)
        >>> round(cut_off_v(triode, 250.0), 1)
        -18.3
    """
    plate, current = positive(plate_v=plate_v, plate_a=plate_a)
    (screen,) = any_sign(screen_v=screen_v)
    kind = checked_tube(tube)
    low = -(plate + np.maximum(screen, 0.0))
    return plain(quick_root(lambda grid: current - currents(kind, plate, grid, screen).plate, low, 0.0 * low))
