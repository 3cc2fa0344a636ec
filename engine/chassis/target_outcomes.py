# SPDX-License-Identifier: MIT
"""What an exchange of a tube or the test of one part shows under each fault.

Limits: two tables of judgement, the same for every part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.chassis.model import Chassis

__all__ = ["target_outcomes"]

_EXCHANGE = {
    "itself": (0.93, 0.05, 0.02),
    "contact": (0.45, 0.35, 0.20),
    "neighbour": (0.01, 0.09, 0.90),
    "elsewhere": (0.002, 0.018, 0.98),
    "unlisted": (0.05, 0.10, 0.85),
}
"""Cured, changed, same: our judgement of what an exchange shows, no source."""
_PART_TEST = {
    "itself": (0.93, 0.07),
    "contact": (0.30, 0.70),
    "neighbour": (0.03, 0.97),
    "elsewhere": (0.03, 0.97),
    "unlisted": (0.03, 0.97),
}
"""Bad, good: our judgement of what a part test shows, no source."""


def target_outcomes(
    observation: str, target: str, hypotheses: Sequence[Hypothesis], chassis: Chassis
) -> NDArray[np.float64]:
    """Return the probability of each outcome of an exchange or a part test, shape (outcomes, hypotheses)."""
    rows = _EXCHANGE if observation == "exchange-tube" else _PART_TEST
    return np.array([rows[_relation(h, target, chassis)] for h in hypotheses]).T


def _relation(hypothesis: Hypothesis, target: str, chassis: Chassis) -> str:
    if hypothesis.owner == target:
        return "contact" if hypothesis.mode in ("bad-contact", "dirty") else "itself"
    if not hypothesis.part:
        return "unlisted"
    return "neighbour" if hypothesis.stage in _stages_of(target, chassis) else "elsewhere"


def _stages_of(target: str, chassis: Chassis) -> Iterable[str]:
    if target in chassis.parts:
        return (chassis.parts[target].stage,)
    return tuple(section.stage for section in chassis.tubes[target].sections.values())
