# SPDX-License-Identifier: MIT
"""The search by hand: which parts are tested, in which order, when no test of the set pays for itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.safety.gate import gate
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.bench_costs import by_substitution, hand_minutes
from backporch.engine.session.needs import needs_of_repair
from backporch.engine.session.suspects import proof_of
from backporch.engine.session.workbench import Workbench

__all__ = ["HandTest", "parts_to_test"]

Floats = NDArray[np.float64]

_MOST_PARTS = 12
_LEAST_SHARE = 0.003
_WITHOUT_A_METER = "Without a meter it is proved by a good one in its place."


@dataclass(frozen=True)
class HandTest:
    """One part of the list."""

    part: str
    share: float
    """How likely the fault is in it."""
    minutes: float
    """Minutes of testing it by itself."""
    how: str


def parts_to_test(workbench: Workbench, odds: Floats, state: SafetyState) -> tuple[HandTest, ...]:
    """Return the parts worth testing by hand, most probability per minute first; equals by name.

    What the gate withholds is left out.

    Args:
        workbench: Chassis and knowledge.
        odds: Probability of each hypothesis.
        state: The state of the bench.
    """
    share: dict[str, float] = {}
    for hypothesis, chance in zip(workbench.faults.hypotheses, odds, strict=True):
        if hypothesis.owner:
            share[hypothesis.owner] = share.get(hypothesis.owner, 0.0) + float(chance)
    found = []
    for part, chance in share.items():
        if chance >= _LEAST_SHARE and gate(needs_of_repair(workbench, part), state).allowed:
            how = _WITHOUT_A_METER if by_substitution(workbench, part) else proof_of(workbench, part, state)[0]
            found.append(HandTest(part, chance, hand_minutes(workbench, part), how))
    return tuple(sorted(found, key=lambda t: (-round(t.share / t.minutes, 9), t.part))[:_MOST_PARTS])
