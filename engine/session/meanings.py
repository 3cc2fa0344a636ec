# SPDX-License-Identifier: MIT
"""What each answer to the test that is asked would mean for the stages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.information import posteriors
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview, Turn

__all__ = ["Meaning", "meanings_of"]

Floats = NDArray[np.float64]

_TELLS = 0.01


@dataclass(frozen=True)
class Meaning:
    """What one outcome of a test would mean for the stages."""

    outcome: str
    chance: float
    raises: tuple[tuple[str, float, float], ...]
    """Stages that it would raise most: name, odds now, odds then."""
    lowers: tuple[tuple[str, float, float], ...]


def meanings_of(interview: Interview, turn: Turn, standing: Sequence[Entry]) -> tuple[Meaning, ...]:
    """Return what each outcome of the test of a turn would mean, in the order of the outcomes.

    An outcome with a name is tried: the odds are those that stand after this answer, rules and all. A figure may
    be any of a range, so for ranges the odds are those that the simulated faults alone give.

    Args:
        interview: Over the chassis and bench.
        turn: The question; without a test there is nothing to tell.
        standing: The standing entries that the turn was made from.
    """
    if turn.offer is None or turn.assessment is None:
        return ()
    key, belief = turn.offer.id, turn.assessment.ranking.hypotheses
    index = next(n for n, test in enumerate(interview.problem.tests) if test.key == key)
    labels, _ = interview.workbench.faults.outcome_table(key)
    chance, after = posteriors(interview.problem, index, belief)
    stages = [h.stage for h in interview.workbench.faults.hypotheses]
    now = dict(turn.assessment.ranking.stages)
    found = []
    for n, label in enumerate(labels):
        if label in turn.offer.measurement.outcomes:
            answered = [*standing, Entry("answer", key, label)]
            then = dict(assess(interview.workbench, answered).ranking.stages)
        else:
            then = _by_stage(after[n], stages)
        found.append(_meaning(label, float(chance[n]), now, then))
    return tuple(found)


def _meaning(label: str, chance: float, now: Mapping[str, float], then: Mapping[str, float]) -> Meaning:
    moved = sorted(now, key=lambda s: (then.get(s, 0.0) - now[s], s))
    change = {s: (s, now[s], then.get(s, 0.0)) for s in moved}
    return Meaning(
        label,
        chance,
        tuple(change[s] for s in moved[::-1][:2] if change[s][2] > now[s] + _TELLS),
        tuple(change[s] for s in moved[:2] if change[s][2] < now[s] - _TELLS),
    )


def _by_stage(belief: Floats, stages: Sequence[str]) -> dict[str, float]:
    """Return the odds of the stages, summed over their parts."""
    odds: dict[str, float] = {}
    for stage, share in zip(stages, belief.tolist(), strict=True):
        odds[stage] = odds.get(stage, 0.0) + share
    return odds
