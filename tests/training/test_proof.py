"""Scores hold: who does best gets all, who guesses or does anything gets nothing.

A few lessons stand for all; ``python -m pytest tests/benchmarks/training/ladder.py`` goes through each of them.
"""

import pytest

from backporch.engine.training.advice import plans, quickest
from backporch.engine.training.check import close_enough
from backporch.engine.training.learners import guessing, obedient, perfect, random_learner
from backporch.engine.training.score import result_of

FAULTS = [("V14=heater-open",), ("C28=open",), ("C35=leaky",)]


def _result(course, run, known=()):
    best = quickest(known).minutes if known else 10.0
    return result_of("a-lesson", course.seed, run, best, best)


class TestScriptedLearners:
    @pytest.mark.parametrize("faults", FAULTS)
    def test_the_perfect_one_scores_all_and_the_obedient_one_nearly(self, course, faults):
        """The best plan scores 100 %; what the tool advises takes at most a tenth longer."""
        made = course(*faults)
        known = plans(made)
        best, told = (_result(made, learner(made, known), known) for learner in (perfect, obedient))

        assert (best.ending, best.score) == ("found", 100)
        assert told.ending == "found"
        assert close_enough(told.minutes, best.minutes)
        assert told.passed(made.lesson)

    @pytest.mark.parametrize("faults", FAULTS)
    def test_naming_the_likeliest_part_at_once_passes_nothing(self, course, faults):
        """Even where the likeliest part is the faulty one, a guess is no pass."""
        made = course(*faults)
        result = _result(made, guessing(made))

        assert result.ending in ("wrong", "unsupported")
        assert not result.passed(made.lesson)

    @pytest.mark.parametrize("seed", range(4))
    def test_doing_anything_passes_nothing(self, course, seed):
        """Random acts and a random name pass nothing."""
        made = course("C28=open")
        result = _result(made, random_learner(made, seed))

        assert not result.passed(made.lesson)
