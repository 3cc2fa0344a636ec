"""Every lesson of the ladder with every variant: solvable, no gift, and the scores hold.

Takes some minutes. ``python tests/benchmarks/training/ladder.py`` prints the table, and how the tool's advice
stands on faults that nobody chose.
"""

from functools import lru_cache

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.knowledge.library import shipped
from backporch.engine.planning.choose import Settings
from backporch.engine.session.interview import Interview
from backporch.engine.training.advice import leading_part, plans, quickest
from backporch.engine.training.check import close_enough
from backporch.engine.training.course import Course
from backporch.engine.training.learners import guessing, obedient, perfect, random_learner
from backporch.engine.training.lesson import shipped_ladder
from backporch.engine.training.practice import practice_lesson
from backporch.engine.training.score import result_of
from backporch.engine.training.support import SUPPORT

LADDER = shipped_ladder(shipped())
CASES = [(name, seed) for name, lesson in LADDER.lessons.items() for seed in range(1, len(lesson.variants) + 1)]


@lru_cache(maxsize=8)
def interview(chassis, owned=()):
    """Return the questions over one chassis, built once."""
    return Interview(make_workbench(chassis, owned), Settings(careful=True))


@lru_cache(maxsize=4)
def prepared(name, seed):
    """Return a lesson ready to begin, with the ways through it."""
    lesson = LADDER.lessons[name]
    course = Course(interview(lesson.set_of(seed), lesson.owned), lesson, seed)
    return course, plans(course)


def result(name, seed, run):
    """Return what a run is worth."""
    _, known = prepared(name, seed)
    return result_of(name, seed, run, quickest(known).minutes, known[0].minutes)


@pytest.mark.parametrize(("name", "seed"), CASES)
class TestEveryLesson:
    def test_is_no_gift(self, name, seed):
        """What is seen names no part before any test."""
        course, _ = prepared(name, seed)

        assert leading_part(course, course.start())[2] < SUPPORT

    def test_the_perfect_learner_scores_all(self, name, seed):
        """The best plan known scores 100 %."""
        course, known = prepared(name, seed)

        assert result(name, seed, perfect(course, known)).score == 100

    def test_the_obedient_learner_is_close(self, name, seed):
        """Who copies the tool's advice is within a tenth of the best plan and masters the lesson."""
        course, known = prepared(name, seed)
        told = result(name, seed, obedient(course, known))

        assert close_enough(told.minutes, told.best_minutes)
        assert told.passed(course.lesson)

    def test_guessing_and_anything_pass_nothing(self, name, seed):
        """Neither the likeliest part at once nor random acts pass."""
        course, _ = prepared(name, seed)
        runs = [guessing(course), *(random_learner(course, n) for n in range(3))]

        assert not any(result(name, seed, run).passed(course.lesson) for run in runs)


def chosen_by_nobody(chassis, seeds):
    """Return the tool's and the best minutes on drawn faults, where both found the part."""
    found = []
    for seed in seeds:
        course = Course(interview(chassis), practice_lesson(interview(chassis), seed), seed)
        known = plans(course)
        found.append((known[0].found, known[0].minutes, quickest(known).minutes))
    return found


if __name__ == "__main__":
    for name, seed in CASES:
        course, known = prepared(name, seed)
        best = quickest(known)
        row = " ".join(f"{p.name} {p.minutes:.1f}{'' if p.found else ' (' + p.run.ending + ')'};" for p in known)
        print(f"{name:28} {'+'.join(course.variant.faults):24} best {best.name} {best.minutes:.1f}; {row}")
    drawn = chosen_by_nobody("plover-17", range(1, 41))
    right = [(tool, best) for found, tool, best in drawn if found]
    close = sum(close_enough(tool, best) for tool, best in right)
    print(f"Drawn faults: the advice finds {len(right)} of {len(drawn)}; within a tenth of the best plan {close}.")
