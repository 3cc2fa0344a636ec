# SPDX-License-Identifier: MIT
"""How likely a reading is, given what the virtual chassis reads under each fault.

Readings are spread out on a signed-log axis: near zero it is linear, far from it logarithmic, so that a
few per cent weigh the same at 3 V and at 300 V.  Each drawn value counts as a small hill whose width
covers the instrument and what tolerance draws leave out.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["Axis", "between", "density", "median"]

Floats = NDArray[np.float64]

WIDTH = 0.055
"""Standard deviation of a hill on the axis: about 5.5 % of a reading."""


def median(values: Floats) -> float:
    """Return the middle value; numpy's own first loads its masked arrays, a tenth of the program's start.

    Example:
        >>> median(np.array([5.0, 1.0, 2.0, 4.0]))
        3.0
    """
    ordered = np.sort(values)
    return 0.5 * (float(ordered[(len(ordered) - 1) // 2]) + float(ordered[len(ordered) // 2]))


class Axis:
    """The signed-log axis of one measurement."""

    def __init__(self, knee: float, finest: float = 0.0) -> None:
        """Be linear below ``knee`` and logarithmic above it; ``finest`` is what an instrument still shows."""
        self.knee = knee
        self.finest = finest

    @classmethod
    def for_values(cls, healthy: Floats, finest: float) -> Axis:
        """Return the axis that suits a point's healthy readings and an instrument's ``finest`` step."""
        return cls(max(0.06 * median(np.abs(healthy)), finest), finest)

    def place(self, value: Floats | float) -> Floats:
        """Return where a value stands on the axis.

        Example:
            >>> round(float(Axis(1.0).place(0.0)), 1), round(float(Axis(1.0).place(-10.0)), 1)
            (0.0, -3.0)
        """
        return np.arcsinh(np.asarray(value, dtype=float) / self.knee)


def density(axis: Axis, draws: Floats, value: float, reliability: float, misread: float) -> Floats:
    """Return the likelihood of a reading under each hypothesis, relative to a width of one hill.

    Args:
        axis: The axis of the measurement.
        draws: Readings under each hypothesis, shape (hypotheses, draws).
        value: The reading.
        reliability: How often the observer gets it right.
        misread: How densely readings that are wrong lie about this one, per unit of the axis.
    Returns:
        Shape (hypotheses,), above 0 and at most 1.
    """
    away = (axis.place(draws) - axis.place(value)) / WIDTH
    near = np.exp(-0.5 * away * away).mean(axis=1)
    floor = min(misread * WIDTH * math.sqrt(2.0 * math.pi), 1.0)
    return np.asarray(reliability * near + (1.0 - reliability) * floor, dtype=float)


def between(axis: Axis, draws: Floats, low: float, high: float) -> Floats:
    """Return the probability under each hypothesis that a reading falls between two bounds."""
    places = axis.place(draws)
    return np.asarray(_below(axis, places, high) - _below(axis, places, low), dtype=float)


def _below(axis: Axis, places: Floats, bound: float) -> Floats:
    if math.isinf(bound):
        return np.full(places.shape[0], 1.0 if bound > 0 else 0.0)
    steps = np.clip((axis.place(bound) - places) / (WIDTH * 0.5513), -40.0, 40.0)
    return np.asarray((1.0 / (1.0 + np.exp(-steps))).mean(axis=1), dtype=float)
