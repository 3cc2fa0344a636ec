"""Quizzes: endless from seeds, worked out by the simulator, judged with a tolerance."""

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.knowledge.library import shipped
from backporch.engine.training.quiz import judge, make_quiz
from backporch.engine.units import parse


@pytest.fixture(scope="module")
def quizzes():
    """A few questions on one chassis."""
    library = shipped()
    chassis = {"plover-17": load_chassis("plover-17", library)}
    return [make_quiz(chassis, library, seed) for seed in (1, 1, 2, 3)]


class TestQuiz:
    def test_a_seed_always_asks_the_same(self, quizzes):
        """The same seed gives the same question, another seed another."""
        first, again, *others = quizzes

        assert first == again
        assert all(first.question != other.question for other in others)

    def test_the_worked_solution_ends_at_the_answer(self, quizzes):
        """The last line of the solution is the reading that is asked for, but for what the meter takes."""
        for quiz in quizzes:
            assert parse(quiz.steps[-1].result, quiz.unit) == pytest.approx(quiz.answer, rel=0.02)

    def test_the_change_is_worth_asking(self, quizzes):
        """The changed value moves the reading past the tolerance."""
        assert all(abs(quiz.answer - quiz.healthy) > quiz.tolerance for quiz in quizzes)

    def test_within_the_tolerance_is_right(self, quizzes):
        """A tenth off is right, a fifth off is not."""
        quiz = quizzes[0]

        assert judge(quiz, 1.09 * quiz.answer).right
        assert not judge(quiz, 1.2 * quiz.answer).right

    @pytest.mark.parametrize(("share", "said"), [(-1.0, "sign"), (1.5, "less"), (0.2, "more")])
    def test_says_in_which_way_an_answer_is_wrong(self, quizzes, share, said):
        """A wrong sign, too much and too little are told apart."""
        quiz = quizzes[0]

        assert said in judge(quiz, share * quiz.answer).text

    def test_the_healthy_reading_is_recognised(self, quizzes):
        """Who answers for the healthy set is told that the change was not counted in."""
        assert "healthy set" in judge(quizzes[0], quizzes[0].healthy).text
