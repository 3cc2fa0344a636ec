# SPDX-License-Identifier: MIT
"""Checks lessons as a teacher wants to know them: can they be solved, are they no gift, how long do they take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from backporch.engine.training.advice import leading_part, plans, quickest
from backporch.engine.training.course import Course
from backporch.engine.training.score import FREE_MINUTES
from backporch.engine.training.support import SUPPORT

__all__ = ["CLOSE", "Checked", "check_course", "close_enough"]

CLOSE = 1.1
"""The tool's advice is close to the best plan up to this ratio of their minutes."""
_SILENT = frozenset({"sound-good"})


@dataclass(frozen=True)
class Checked:
    """What a check of one variant of a lesson found."""

    faults: tuple[str, ...]
    tool_minutes: float
    best_minutes: float
    best: str
    """Which plan is the best one."""
    problems: tuple[str, ...]
    """Why it cannot be used as it is, in sentences."""
    notes: tuple[str, ...]
    """What the teacher should know."""


def close_enough(minutes: float, best_minutes: float) -> bool:
    """Tell whether somebody was within a tenth of the best plan, the minutes that count against nobody aside.

    Example:
        >>> close_enough(21.9, 20.0), close_enough(22.1, 20.0), close_enough(4.9, 0.3)
        (True, False, True)
    """
    return max(minutes, FREE_MINUTES) <= CLOSE * max(best_minutes, FREE_MINUTES)


def check_course(course: Course) -> Checked:
    """Return what is to be said of a lesson with one seed."""
    gift = tuple(_unfit(course))
    if gift:
        return Checked(course.variant.faults, 0.0, 0.0, "", gift, ())
    known = plans(course)
    tool, best = known[0], quickest(known)
    return Checked(
        faults=course.variant.faults,
        tool_minutes=round(tool.minutes, 1),
        best_minutes=round(best.minutes, 1),
        best=best.name,
        problems=tuple(_unsolved({p.name: p.run.ending for p in known})),
        notes=() if close_enough(tool.minutes, best.minutes) else (_FAR,),
    )


_FAR = "The tool's own advice takes more than a tenth longer than the best plan here; say so in class."


def _unfit(course: Course) -> Iterator[str]:
    """Give what makes a lesson unfit before anybody begins it."""
    start = course.start()
    if not set(course.patient().symptoms) - _SILENT:
        yield "Nothing is seen or heard of this fault. Choose another, or make it worse: PART=MODE:VALUE."
    part, _, share = leading_part(course, start)
    if share >= SUPPORT:
        yield f"What is seen gives {part} away before any test ({share * 100:.0f} in 100). Choose another fault."


def _unsolved(endings: dict[str, str]) -> Iterator[str]:
    """Give which ways through a lesson do not end well."""
    if endings["tool"] != "found":
        yield f"The tool's own advice ends with: {endings['tool']}. Choose another fault or seed."
    if endings.get("teacher", "found") != "found":
        yield f"Your path ends with: {endings['teacher']}. Add a test that speaks for the part."
