# SPDX-License-Identifier: MIT
"""Practice without a lesson: a fault drawn as often as it is expected, on any chassis."""

from __future__ import annotations

from backporch.engine.errors import BadInput
from backporch.engine.session.drawn import likely_faults
from backporch.engine.session.interview import Interview
from backporch.engine.training.course import Course
from backporch.engine.training.lesson import Lesson, Variant
from backporch.engine.training.support import SUPPORT

__all__ = ["practice_lesson"]

_TRIES = 40


def practice_lesson(interview: Interview, seed: int) -> Lesson:
    """Return a lesson with one drawn fault that shows itself and that no look alone gives away.

    Raises:
        BadInput: no such fault was drawn.
    """
    chassis, hypotheses = interview.workbench.chassis, interview.workbench.faults.hypotheses
    live = chassis.chassis_return != "isolated"
    for number in likely_faults(interview, _TRIES, seed):
        hidden = hypotheses[number]
        lesson = Lesson(
            title=f"Practice on {chassis.name}",
            level=1,
            aim="Find a fault that was drawn by its seed, in few minutes and safely.",
            story="Nobody knows what happened. The set came as it is.",
            think="Say aloud what still works: every light and sound clears something. Ask what is left.",
            chassis=chassis.name,
            variants=(Variant(faults=(f"{hidden.part}={hidden.mode}",)),),
            owned=(),
            circumstances={"isolation": "direct"} if live else {},
        )
        course = Course(interview, lesson, seed)
        symptoms = set(course.patient().symptoms) - {"sound-good"}
        if symptoms and course.support(course.start(), hidden.owner) < SUPPORT:
            return lesson
    raise BadInput(f"No fault that shows itself was drawn with seed {seed}. Take another seed.")
