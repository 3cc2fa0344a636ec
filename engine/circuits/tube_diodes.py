# SPDX-License-Identifier: MIT
"""Tube diodes: detectors, dampers and rectifiers, by the current that a voltage drives through them.

Limits: the space-charge law down to zero; the small current that flows a volt below zero is left out.
Sources: child-langmuir (key in kb/sources/tubes.yaml); perveances of types in kb/tube_fits.yaml.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backporch.engine.circuits.arguments import Number, any_sign, not_negative, plain, positive, share
from backporch.engine.circuits.formula import formula

__all__ = ["DiodeModel", "diode_current_a", "diode_drop_v"]


@dataclass(frozen=True)
class DiodeModel:
    """A diode by its perveance; every field may be a float or an array."""

    plate_perv: Number
    """Current at one volt, of one plate."""
    exponent: Number = 1.5
    emission_share: Number = 1.0
    """Share of the emission of a good tube, 0 to 1."""


@formula("emission_share * plate_perv * max(plate_v, 0) ** exponent")
def diode_current_a(diode: DiodeModel, plate_v: Number) -> Number:
    r"""Return the current of a diode.

    .. math:: I = e P V^{x}

    Args:
        diode: The diode, see :class:`DiodeModel`.
        plate_v: Plate against cathode [V], any sign.
    Returns:
        Current [A], >= 0, float or array.
    Raises:
        OutOfRange: The perveance is not positive or the voltage no finite number.
    Valid: plates above about half a volt.
    Source: child-langmuir; space-charge law.
    Example: worked by hand: a quarter of the voltage drives an eighth of the current.
        >>> rectifier = DiodeModel(plate_perv=0.225 / 44.0**1.5)
        >>> round(diode_current_a(rectifier, 11.0), 4)
        0.0281
    """
    scale, power = _checked(diode)
    (plate,) = any_sign(plate_v=plate_v)
    return plain(scale * np.maximum(plate, 0.0) ** power)


@formula("(plate_a / (emission_share * plate_perv)) ** (1 / exponent)")
def diode_drop_v(diode: DiodeModel, plate_a: Number) -> Number:
    r"""Return the voltage that a diode loses at a current.

    .. math:: V = \left(\frac{I}{e P}\right)^{1/x}

    Args:
        diode: The diode, see :class:`DiodeModel`.
        plate_a: Current [A], >= 0.
    Returns:
        Drop [V], float or array; large, not infinite, for a diode without emission.
    Raises:
        OutOfRange: The perveance is not positive or the current negative.
    Valid: as :func:`diode_current_a`.
    Source: child-langmuir; the space-charge law turned round.
    Example: worked by hand: a detector of 10 V at 60 mA loses 3.03 V at 10 mA.
        >>> round(diode_drop_v(DiodeModel(plate_perv=0.06 / 10.0**1.5), 0.01), 2)
        3.03
    """
    scale, power = _checked(diode)
    (current,) = not_negative(plate_a=plate_a)
    return plain((current / np.maximum(scale, 1e-12)) ** (1.0 / power))


def _checked(diode: DiodeModel) -> tuple[np.ndarray, np.ndarray]:
    perveance, power = positive(plate_perv=diode.plate_perv, exponent=diode.exponent)
    (alive,) = share(emission_share=diode.emission_share)
    return np.asarray(perveance * alive), power
