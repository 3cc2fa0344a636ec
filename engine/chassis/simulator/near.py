# SPDX-License-Identifier: MIT
"""A costly circuit that answers at once for parts near their marks, and is worked out for parts far from them.

The circuit is solved with the parts as drawn, and again with each a little more and a little less.  A set whose
parts lie within tolerance moves along those slopes.  Where one part is further off (a leak, a lost capacitor), all
parts are taken at the nearest of fine steps, there the circuit is solved again, and the slopes carry what is left.
Limits: the slopes of the parts as drawn serve everywhere.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.simulator.memo import RowMemo

__all__ = ["NearTable"]

Floats = NDArray[np.float64]

_REACH = 0.3
"""How far from the drawing the slopes carry, in the units of a column (a fold of e, mostly)."""
_NUDGE = 0.06
_LEAST = 1e-9


class NearTable:
    """A function of rows of coordinates, each nearly straight in them.

    Example:
        >>> table = NearTable(lambda x: np.exp(x.sum(axis=1, keepdims=True)), np.zeros(2), np.array([True]))
        >>> float(table(np.array([[0.1, -0.2]]))[0, 0]) == float(np.exp(0.1 - 0.2))
        True
    """

    def __init__(
        self, function: Callable[[Floats], Floats], drawn: Floats, growing: NDArray[np.bool_], step: float = 0.02
    ) -> None:
        """Take a function of (rows, coordinates), the row as drawn, which results scale, and the step far off."""
        self._step = step
        self._memo = RowMemo(function)
        self._drawn = np.array(drawn, dtype=float)
        self._growing = growing
        nudges = _NUDGE * np.eye(len(self._drawn))
        rows = np.concatenate([self._drawn[None], self._drawn + nudges, self._drawn - nudges])
        found = self._scaled(self._memo(rows))
        count = len(self._drawn)
        self._slopes = (found[1 : count + 1] - found[count + 1 :]) / (2.0 * _NUDGE)

    def __call__(self, rows: Floats) -> Floats:
        """Return the results for rows of coordinates."""
        away = rows - self._drawn
        near = np.all(np.abs(away) <= _REACH, axis=1, keepdims=True)
        steps = np.where(near, 0.0, np.rint(away / self._step) * self._step)
        found = self._memo(self._drawn + steps)
        moved = (away - steps) @ self._slopes
        scaled = np.exp(np.clip(np.where(self._growing, moved, 0.0), -3.0, 3.0))
        return np.where(self._growing, found * scaled, found + np.where(self._growing, 0.0, moved))

    def _scaled(self, found: Floats) -> Floats:
        return np.where(self._growing, np.log(np.maximum(found, _LEAST)), found)
