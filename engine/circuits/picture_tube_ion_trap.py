# SPDX-License-Identifier: MIT
"""The ion trap: a gun that points aside, a magnet on the neck, and how much of the beam finds the aperture.

Limits: a round beam and a round aperture, as one bell curve; the shape of the shadow is not worked out.
Caution: the beam that misses the aperture heats its edge.  Any adjustment is made at low brightness, for the
brightest raster only, within seconds; never to remove a shadow or to centre the picture.
Sources: ion-trap-sheet (key in kb/sources/picture_tube.yaml).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive
from backporch.engine.circuits.formula import formula

__all__ = ["IonTrap", "ion_trap"]


@dataclass(frozen=True)
class IonTrap:
    """What a magnet in a given place lets through."""

    brightness_share: Number
    """Beam through the aperture over that with the magnet in its place."""
    shadow_share: Number
    """Share of the beam that the edge of the aperture takes: a shadowed corner, and heat."""


@formula(
    "brightness = 0.5**((error / half_error)**2), error**2 = (field * cos(turned_rad) - 1)**2"
    " + (field * sin(turned_rad))**2, field = strength_share * exp(-(moved_m / reach_m)**2)"
)
def ion_trap(
    moved_m: Number = 0.0,
    turned_rad: Number = 0.0,
    strength_share: Number = 1.0,
    half_error: Number = 0.25,
    reach_m: Number = 0.02,
    bend_share: Number = 1.0,
) -> IonTrap:
    r"""Return how much of the beam an ion-trap magnet brings through the aperture.

    .. math::
        h = 2^{-(\varepsilon/\varepsilon_0)^2}, \quad
        \varepsilon^2 = b^2 \left[(f \cos \varphi - 1)^2 + (f \sin \varphi)^2\right], \quad
        f = s\, e^{-(x/x_0)^2}

    Args:
        moved_m: Distance of the magnet from its place along the neck [m], of either sign.
        turned_rad: Angle by which it is turned out of its place [rad]; pi is a magnet put on the wrong way.
        strength_share: Strength of the magnet over the right one, >= 0; 0 is no magnet: dark.
        half_error: Error of the field, over the right field, that loses half the beam, > 0; our choice, common
            practice, no source.
        reach_m: Distance at which the field has fallen to 37 % [m], > 0; our choice.
        bend_share: How much of the beam's direction the trap decides: 1 for a bent gun, 0 for a straight one,
            which a magnet left on from an older tube bends aside all the same.
    Returns:
        :class:`IonTrap`, its fields floats or arrays.
    Raises:
        OutOfRange: An argument is out of its bounds.
    Valid: the trend.  A double trap has two fields that must both be right: multiply the results.
    Source: ion-trap-sheet for what the magnet does and that its place is the one of the brightest raster.
    Example: in its place; a centimetre off; missing.
        >>> [round(ion_trap(x).brightness_share, 2) for x in (0.0, 0.01)]
        [1.0, 0.58]
        >>> round(ion_trap(strength_share=0.0).brightness_share, 5)
        2e-05
    """
    moved, turned = any_sign(moved_m=moved_m, turned_rad=turned_rad)
    strength, bend = not_negative(strength_share=strength_share, bend_share=bend_share)
    half, reach = positive(half_error=half_error, reach_m=reach_m)
    field = strength * np.exp(-np.minimum((moved / reach) ** 2, 700.0))
    squared = (field * np.cos(turned) - bend) ** 2 + (field * np.sin(turned)) ** 2
    passed = np.exp(-np.minimum(squared / half**2, 1000.0) * math.log(2.0))
    return IonTrap(plain(passed), plain(1.0 - passed))
