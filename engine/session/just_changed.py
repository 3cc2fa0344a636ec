# SPDX-License-Identifier: MIT
"""Tests that would only ask again about a part that was changed a moment ago.

A part was changed and the set was run: that has answered for the part.  What a test could tell of it alone is
not asked again, unless what was read since speaks for it once more.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.information import test_bits
from backporch.engine.planning.problem import Problem
from backporch.engine.session.assess import Assessment
from backporch.engine.session.workbench import Workbench

__all__ = ["changed_parts", "idle_tests"]

Flags = NDArray[np.bool_]

_SPEAKS_FOR = 2.0
"""Likelihood ratio from which what was read since speaks for a part; our judgement, no source."""
_TRIED = ("not-cured", "renewed", "partly")


def changed_parts(workbench: Workbench, assessment: Assessment) -> frozenset[str]:
    """Return the parts that were changed, and for which nothing that was read since speaks.

    Args:
        workbench: Knowledge, chassis and fault model.
        assessment: Where the diagnosis stands.
    """
    owners = np.array([h.owner for h in workbench.faults.hypotheses])
    entries = assessment.entries
    tried = {e.key: n for n, e in enumerate(entries) if e.kind == "repair" and e.value in _TRIED}
    return frozenset(
        part
        for part, place in tried.items()
        if not _spoken_for(assessment, owners == part, {e.key for e in entries[place + 1 :] if e.kind == "answer"})
    )


def _spoken_for(assessment: Assessment, mine: Flags, read: set[str]) -> bool:
    """Tell whether the answers ``read`` fit some fault of a part better than what is believed now."""
    belief = assessment.ranking.hypotheses
    if not mine.any():
        return False
    ratio = np.ones(int(mine.sum()))
    for one in assessment.evidence:
        if one.offer in read:
            ratio = ratio * one.likelihood[mine] / max(float(one.likelihood @ belief), 1e-300)
    return bool(ratio.max() > _SPEAKS_FOR)


def idle_tests(workbench: Workbench, problem: Problem, assessment: Assessment, floor_bits: float) -> Iterator[str]:
    """Give the tests that tell something of parts just changed, and of nothing else.

    Args:
        workbench: Knowledge, chassis and fault model.
        problem: The planner's tables.
        assessment: Where the diagnosis stands.
        floor_bits: Information below which a test tells nothing [bit].
    """
    parts = changed_parts(workbench, assessment)
    if not parts:
        return
    belief = assessment.ranking.hypotheses
    others = belief * np.array([h.owner not in parts for h in workbench.faults.hypotheses])
    left = float(others.sum())
    if left <= 0.0:
        return
    with_all, without = test_bits(problem, belief), test_bits(problem, others / left)
    for n, test in enumerate(problem.tests):
        if with_all[n] >= floor_bits > without[n]:
            yield test.key
