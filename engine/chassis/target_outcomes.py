# SPDX-License-Identifier: MIT
"""What an exchange of a tube or the test of one part shows under each fault.

Limits: two tables of judgement, the same for every part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.chassis.model import Chassis

__all__ = ["Owners", "owners_of", "target_outcomes"]

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


def target_outcomes(observation: str, target: str, hypotheses: Owners, chassis: Chassis) -> NDArray[np.float64]:
    """Return the probability of each outcome of an exchange or a part test, shape (outcomes, hypotheses)."""
    rows = _EXCHANGE if observation == "exchange-tube" else _PART_TEST
    own = hypotheses.owner == target
    near = np.isin(hypotheses.stage, _stages_of(target, chassis))
    choices = [own & hypotheses.contact, own, hypotheses.unlisted, near]
    which = np.select(choices, [0, 1, 2, 3], 4)
    table = np.array([rows[name] for name in ("contact", "itself", "unlisted", "neighbour", "elsewhere")])
    return np.asarray(table[which].T, dtype=float)


@dataclass(frozen=True)
class Owners:
    """Where hypotheses stand: what their relation to a target rests on, as arrays over hypotheses."""

    owner: NDArray[np.str_]
    stage: NDArray[np.str_]
    contact: NDArray[np.bool_]
    unlisted: NDArray[np.bool_]


def owners_of(hypotheses: Sequence[Hypothesis]) -> Owners:
    """Return where hypotheses stand, as arrays."""
    return Owners(
        np.array([h.owner for h in hypotheses]),
        np.array([h.stage for h in hypotheses]),
        np.array([h.mode in ("bad-contact", "dirty") for h in hypotheses]),
        np.array([not h.part for h in hypotheses]),
    )


def _stages_of(target: str, chassis: Chassis) -> list[str]:
    if target in chassis.parts:
        return [chassis.parts[target].stage]
    return [section.stage for section in chassis.tubes[target].sections.values()]
