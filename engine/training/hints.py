# SPDX-License-Identifier: MIT
"""Hints in three depths, and why the last test could tell nothing."""

from __future__ import annotations

import numpy as np

from backporch.engine.errors import BadInput
from backporch.engine.planning.information import posteriors
from backporch.engine.training.advice import known_part, leading_part, tool_test
from backporch.engine.training.course import Course
from backporch.engine.training.run import TOLD_BITS, Moment, Run

__all__ = ["hint", "why_useless"]

_LEADS = 0.6


def hint(course: Course, run: Run, depth: int) -> str:
    """Return a hint: 1 what to think about, 2 which stage to prove or clear, 3 which test to make.

    Raises:
        BadInput: there is no such depth.
    """
    if depth not in (1, 2, 3):
        raise BadInput("A hint has depth 1, 2 or 3.")
    if depth == 1:
        return course.lesson.think
    known = known_part(course, run)
    if known is not None:
        part, stage = known
        if depth == 2:
            return f"Your answers point to one part already, in this stage: {_stage(course, stage)}."
        return f"No test is needed any more: your answers point to {part}. Name it."
    test = tool_test(course, run)
    if test is None:
        stage = leading_part(course, run)[1]
        return f"Prove or clear this stage: {_stage(course, stage)}. No test left tells its parts apart."
    if depth == 2:
        likeliest, odds = course.assessment(run).ranking.stages[0]
        if odds > _LEADS:
            return f"Most speaks for this stage: {_stage(course, likeliest)}. Prove it."
        return f"Prove or clear this stage: {_stage(course, likeliest)}."
    offer = course.offer(test)
    return f"{course.title(offer)}: it tells most about the part for its {course.minutes(run, test):.1f} min."


def _stage(course: Course, name: str) -> str:
    stage = course.workbench.library.stages.get(name)
    title = stage.title if stage else name
    return title if title[1:2].isupper() or title[1:2] in "+-" else title[:1].lower() + title[1:]


def why_useless(course: Course, run: Run) -> str:
    """Return why the last test could tell nothing, or what it did tell.

    Raises:
        BadInput: no test was made yet.
    """
    moment = run.last_test
    if moment is None:
        raise BadInput("No test was made yet. Ask this after a test.")
    if moment.gained >= 4 * TOLD_BITS:
        return f"It was not useless: {_narrowed(moment.gained)}. {_meant(moment)}"
    before = _before(run, moment)
    likely = _alike(course, before, moment)
    if moment.useless:
        return (
            f"It could tell next to nothing: {likely} A test is worth its minutes only where causes that are "
            "still likely would answer differently."
        )
    return (
        f"It might have told something, but the answer was the one to be expected: {likely} The odds hardly "
        "moved, and that is worth knowing only if it cost little."
    )


def _narrowed(bits: float) -> str:
    """Return in plain words how far the odds moved.

    Example:
        >>> _narrowed(0.2), _narrowed(1.7)
        ('it moved the odds a little', 'of the causes that were likely before it about one in 3 is left')
    """
    left = round(2.0**bits)
    if left < 2:
        return "it moved the odds a little"
    return f"of the causes that were likely before it about one in {left} is left"


def _meant(moment: Moment) -> str:
    if moment.support > moment.before + 0.05:
        return "It spoke for the part that is faulty."
    return "It took suspicion away from others more than it spoke for one part."


def _before(run: Run, moment: Moment) -> Run:
    """Return the run as it stood before a test: its answer and all later ones taken away."""
    entries = list(run.entries)
    place = next(
        (n for n, e in enumerate(entries) if e.kind == "answer" and e.key == moment.act.key), len(entries)
    )
    return Run(tuple(entries[:place]), mended=run.mended)


def _alike(course: Course, before: Run, moment: Moment) -> str:
    problem, belief = course.interview.problem, course.belief(before)
    index = next(n for n, test in enumerate(problem.tests) if test.key == moment.act.key)
    chance, _ = posteriors(problem, index, belief)
    labels, _ = course.workbench.faults.outcome_table(moment.act.key)
    outcomes = course.offer(moment.act.key).measurement.outcomes
    best = int(np.argmax(chance))
    label = outcomes.get(labels[best], labels[best])
    return (
        f"{chance[best] * 100:.0f} in 100 of the sets that look like this one would have answered "
        f'"{label}" there, whatever their fault.'
    )
