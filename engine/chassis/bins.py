# SPDX-License-Identifier: MIT
"""Cuts the readings of a point into three to five outcomes that a person can tell apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.kernel import WIDTH, Axis
from backporch.engine.units import show

__all__ = ["Bins", "bins_for"]

Floats = NDArray[np.float64]

_OUTERMOST = 3.0
"""How far wrong readings spread in the two outermost outcomes, on the axis; our judgement, no source."""


@dataclass(frozen=True)
class Bins:
    """Outcomes of a reading: the healthy band, and one or two outcomes to each side of it."""

    axis: Axis
    """The axis of the measurement."""
    draws: Callable[[], Floats]
    """Gives the readings under each hypothesis, shape (hypotheses, draws)."""
    unit: str
    low: float
    high: float
    """The healthy band."""

    @cached_property
    def edges(self) -> tuple[float, ...]:
        """Edges of the outcomes, rising."""
        flat, low, high = self.draws().ravel(), self.low, self.high
        under, over = flat[flat < low], flat[flat > high]
        return (*_split(self.axis, under, low, -1), low, high, *_split(self.axis, over, high, 1))

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """Names of the outcomes, one more than there are edges."""
        return _labels(self.edges, self.low, self.unit)

    def misread(self, value: float) -> float:
        """Return how densely readings that are wrong lie about ``value``, per unit of the axis.

        A wrong reading is as likely in any of the outcomes, as in the table of outcomes, and spread evenly in it.
        """
        edges = self.axis.place(np.array(self.edges))
        inside = int(np.searchsorted(edges, float(self.axis.place(value))))
        widths = np.concatenate([[_OUTERMOST], np.diff(edges), [_OUTERMOST]])
        return 1.0 / (len(widths) * max(float(widths[inside]), WIDTH))


def bins_for(axis: Axis, healthy: Floats, draws: Callable[[], Floats], unit: str) -> Bins:
    """Return outcomes for a reading.

    Args:
        axis: The axis of the measurement.
        healthy: Readings of healthy sets.
        draws: Gives the readings under each hypothesis, shape (hypotheses, draws).
        unit: Unit of the readings.
    """
    return Bins(axis, draws, unit, *_band(axis, healthy))


def _band(axis: Axis, healthy: Floats) -> tuple[float, float]:
    places = axis.place(healthy)
    low, high = float(places.min()) - WIDTH, float(places.max()) + WIDTH
    return float(np.sinh(low) * axis.knee) - axis.finest, float(np.sinh(high) * axis.knee) + axis.finest


def _split(axis: Axis, outside: Floats, edge: float, sign: int) -> list[float]:
    """Return one more edge where the faults on one side of the band spread widely enough."""
    if outside.size < 10:
        return []
    places = np.abs(axis.place(outside) - axis.place(edge))
    if float(np.quantile(places, 0.9)) < 6 * WIDTH:
        return []
    cut = min(max(0.5 * float(np.quantile(places, 0.6)), 3 * WIDTH), 0.8)
    return [float(np.sinh(float(axis.place(edge)) + sign * cut) * axis.knee)]


def _labels(edges: Sequence[float], low: float, unit: str) -> tuple[str, ...]:
    shown = [show(edge, unit, 2) for edge in edges]
    names = [f"below {shown[0]}"]
    for (left, right), first in zip(pairwise(shown), edges, strict=False):
        tail = " (healthy)" if first == low else ""
        names.append(f"{left} to {right}{tail}")
    return (*names, f"above {shown[-1]}")
