# SPDX-License-Identifier: MIT
"""Catches the probe on the wrong pin: a reading that fits another pin of the same tube far better.

Pins are counted from below, and everybody miscounts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.session.places import Pin, pin_of
from backporch.engine.session.reading import TypedReading
from backporch.engine.session.workbench import Offer, Workbench

__all__ = ["Suspicion", "likelier_pin"]

_FAR_BETTER = 6.0
"""By how much the other pin must fit better before it is asked about; our judgement."""
_ABOUT = 0.06
"""Relative half width within which a reading counts as the same."""


@dataclass(frozen=True)
class Suspicion:
    """A reading may have been taken at another pin of the same tube."""

    asked: Pin
    other: Pin
    offer: Offer
    """What is read at the other pin."""


def likelier_pin(
    workbench: Workbench, offer: Offer, reading: TypedReading, belief: NDArray[np.float64]
) -> Suspicion | None:
    """Return the other pin that a reading fits far better, or None.

    It must lie in the healthy band there and outside of it here, and be far likelier there under the present
    odds of the faults.

    Args:
        workbench: Chassis and fault model.
        offer: What was asked for.
        reading: What was typed.
        belief: Probability of each fault now, shape (hypotheses,).
    """
    here = pin_of(workbench, offer)
    if here is None or reading.shape not in ("value", "range") or _inside(workbench, offer, reading):
        return None
    best: Suspicion | None = None
    most = _FAR_BETTER * _chance(workbench, offer, reading, belief)
    for other in workbench.faults.offers.values():
        there = pin_of(workbench, other)
        if there is None or there.tube != here.tube or there == here or not _alike(offer, other):
            continue
        if not _inside(workbench, other, reading):
            continue
        chance = _chance(workbench, other, reading, belief)
        if chance > most:
            best, most = Suspicion(here, there, other), chance
    return best


def _alike(one: Offer, other: Offer) -> bool:
    a, b = one.measurement.reading, other.measurement.reading
    return a is not None and b is not None and (a.quantity, a.unit) == (b.quantity, b.unit)


def _inside(workbench: Workbench, offer: Offer, reading: TypedReading) -> bool:
    band = workbench.faults.bins(offer.id)
    return band.low <= reading.middle <= band.high


def _chance(workbench: Workbench, offer: Offer, reading: TypedReading, belief: NDArray[np.float64]) -> float:
    """Return how likely a reading about as typed is at an offer's place."""
    half = max(_ABOUT * abs(reading.middle), 0.2)
    about = replace(reading, shape="range", low=reading.low - half, high=reading.high + half, wandering=False)
    chance = float(workbench.faults.likelihood(offer.id, about) @ belief)
    return chance if math.isfinite(chance) else 0.0
