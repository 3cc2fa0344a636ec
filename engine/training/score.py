# SPDX-License-Identifier: MIT
"""What a run is worth: minutes against the best plan, safety first, and nothing for a guess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from backporch.engine.training.lesson import Lesson
from backporch.engine.training.run import Run

__all__ = ["FREE_MINUTES", "Result", "mastered", "result_of"]

FREE_MINUTES = 5.0
"""Minutes that count against nobody: below them all plans are alike; our judgement [min]."""


@dataclass(frozen=True)
class Result:
    """How a run ended."""

    lesson: str
    seed: int
    ending: str
    score: int
    """Minutes of the best plan over those of the run, in percent; 0 for anything but a supported right name."""
    minutes: float
    """Minutes of searching; changing the part named costs everybody the same [min]."""
    best_minutes: float
    tool_minutes: float
    deepest_hint: int
    hints: int
    tests: int
    useless: int
    """Tests that could tell nothing."""
    unsafe: str
    """The check that stopped the lesson, or ""."""

    def passed(self, lesson: Lesson) -> bool:
        """Tell whether the run counts for mastery."""
        wanted = lesson.mastery
        return self.ending == "found" and self.score >= wanted.score and self.deepest_hint <= wanted.deepest_hint


def result_of(name: str, seed: int, run: Run, best_minutes: float, tool_minutes: float) -> Result:
    """Return what a run is worth.

    Args:
        name: Name of the lesson.
        seed: Its seed.
        run: The run, ended.
        best_minutes: Minutes of the best plan [min].
        tool_minutes: Minutes of somebody who does what the tool advises [min].
    """
    tests = [m for m in run.moments if m.made]
    return Result(
        lesson=name,
        seed=seed,
        ending=run.ending,
        score=_score(run.searched, best_minutes) if run.ending == "found" else 0,
        minutes=round(run.searched, 1),
        best_minutes=round(best_minutes, 1),
        tool_minutes=round(tool_minutes, 1),
        deepest_hint=max(run.hints, default=0),
        hints=len(run.hints),
        tests=len(tests),
        useless=sum(m.useless for m in tests),
        unsafe=run.unsafe.check if run.unsafe else "",
    )


def _score(minutes: float, best_minutes: float) -> int:
    return min(100, round(100 * max(best_minutes, FREE_MINUTES) / max(minutes, FREE_MINUTES)))


def mastered(lesson: Lesson, results: Sequence[Result]) -> bool:
    """Tell whether a lesson is mastered: enough runs that count, each on another seed."""
    return len({r.seed for r in results if r.passed(lesson)}) >= lesson.mastery.runs
