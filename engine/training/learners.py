# SPDX-License-Identifier: MIT
"""Learners that follow a script, to hold lessons and scores against: perfect, random, guessing, obedient.

They do what a person can do, through the same acts, and are judged as a person is.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from backporch.engine.errors import BadInput
from backporch.engine.training.act import Act
from backporch.engine.training.advice import Plan, leading_part, quickest
from backporch.engine.training.course import BENCH_ACTS, Course
from backporch.engine.training.run import Run

__all__ = ["guessing", "obedient", "perfect", "random_learner"]

_MOST_ACTS = 25


def perfect(course: Course, known: Sequence[Plan]) -> Run:
    """Return the run of a learner who does what the best plan known does."""
    return _repeated(course, quickest(known))


def obedient(course: Course, known: Sequence[Plan]) -> Run:
    """Return the run of a learner who does what the tool advises."""
    return _repeated(course, known[0])


def _repeated(course: Course, plan: Plan) -> Run:
    run = course.start()
    for moment in plan.run.moments:
        run = course.do(run, moment.act)
    return run


def guessing(course: Course) -> Run:
    """Return the run of a learner who names the likeliest part at once."""
    run = course.start()
    while not run.ending:
        part, stage, _ = leading_part(course, run)
        run = course.do(run, Act("name", part, stage))
    return run


def random_learner(course: Course, seed: int) -> Run:
    """Return the run of a learner who does anything that can be done, and names any part in the end.

    A part that a test of it happened to find bad is named before any other.

    Args:
        course: The lesson.
        seed: Another seed does other things.
    """
    random = np.random.default_rng([77, seed])
    choices = [Act("test", key) for key in sorted(course.workbench.faults.offers)]
    choices += [Act("forbidden", key) for key in sorted(course.forbidden)]
    choices += [Act("bench", key) for key in BENCH_ACTS for _ in range(40)]
    run = course.start()
    for _ in range(int(random.integers(1, _MOST_ACTS))):
        if not run.ending:
            run = _tried(course, run, choices[int(random.integers(len(choices)))])
    hypotheses = [h for h in course.workbench.faults.hypotheses if h.owner]
    while not run.ending:
        proved = [h for h in hypotheses if h.owner in course.proved(run)] or hypotheses
        named = proved[int(random.integers(len(proved)))]
        run = course.do(run, Act("name", named.owner, named.stage))
    return run


def _tried(course: Course, run: Run, act: Act) -> Run:
    try:
        return course.do(run, act)
    except BadInput:
        return run
