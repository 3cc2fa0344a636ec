# SPDX-License-Identifier: MIT
"""Remembers costly computations row by row: sets that differ elsewhere share the same oscillator.

Arguments are rounded to fine logarithmic steps first and the rounded ones are computed with, so that a
result depends on its arguments alone and never on what was asked before.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["RowMemo", "rounded"]

Floats = NDArray[np.float64]


def rounded(values: Floats, steps: float) -> Floats:
    """Return values on a logarithmic grid of ``steps`` to a factor of e; zero and negative ones stay.

    Example:
        >>> float(rounded(np.array([100.2]), 200.0)[0]) == float(rounded(np.array([100.21]), 200.0)[0])
        True
    """
    grid = np.exp(np.rint(np.log(np.maximum(values, 1e-300)) * steps) / steps)
    return np.where(values > 0, grid, values)


class RowMemo:
    """A function of rows whose results are kept."""

    def __init__(self, function: Callable[[Floats], Floats], most: int = 40_000) -> None:
        """Keep up to ``most`` rows of a function from (rows, arguments) to (rows, results)."""
        self._function = function
        self._most = most
        self._kept: OrderedDict[bytes, Floats] = OrderedDict()

    def __call__(self, rows: Floats) -> Floats:
        """Return the function of all rows, computing only those that are new."""
        table = np.ascontiguousarray(rows, dtype=np.float64)
        keys = [row.tobytes() for row in table]
        new = {key: n for n, key in enumerate(keys) if key not in self._kept}
        if new:
            for key, result in zip(new, self._function(table[list(new.values())]), strict=True):
                self._kept[key] = result
        found = np.stack([self._kept[key] for key in keys])
        while len(self._kept) > self._most:
            self._kept.popitem(last=False)
        return found
