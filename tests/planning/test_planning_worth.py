"""What one more instrument would save."""

from __future__ import annotations

import numpy as np
import pytest

from backporch.engine.planning.baselines import baselines, defined_baselines, ours
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.problem import Position, Problem, Repair
from backporch.engine.planning.problem import Test as Probe
from backporch.engine.planning.trials import Case, drawn_answers, play, ruled_by_likelihood
from backporch.engine.planning.worth import instrument_worth

SHARP = Probe("sharp", 4, 1.0, frozenset(), "either", np.eye(4))
IDLE = Probe("idle", 4, 1.0, frozenset(), "either", np.full((2, 4), 0.5))
PROBLEM = Problem([SHARP, IDLE], [Repair(f"P{n}", 10.0, np.arange(4) == n) for n in range(4)])
NEEDS = {"sharp": frozenset({"meter"}), "idle": frozenset({"lamp"})}


def cases() -> list[Case]:
    """Return one case for each fault."""
    random = np.random.default_rng(1)
    start = Position(np.full(4, 0.25), power="off")
    return [Case(n, drawn_answers(PROBLEM, n, random), start) for n in range(4)]


class TestWorth:
    def test_an_instrument_that_settles_it_saves_the_wrong_repairs(self) -> None:
        """The meter saves the mean of the needless changes less its own minute."""
        first = instrument_worth(PROBLEM, NEEDS, frozenset(), ["lamp", "meter"], cases())[0]

        assert first.instrument == "meter"
        wrong = 10 + PROBLEM.costs.to_on_minutes + PROBLEM.costs.to_off_minutes
        assert first.saves_minutes == pytest.approx((0 + 1 + 2 + 3) / 4 * wrong - 1.0)
        assert first.saves_parts == pytest.approx(1.5)

    def test_an_instrument_without_use_saves_nothing(self) -> None:
        """What only idle tests need is worth nothing."""
        last = instrument_worth(PROBLEM, NEEDS, frozenset(), ["lamp", "meter"], cases())[-1]

        assert (last.instrument, last.saves_minutes) == ("lamp", 0.0)

    def test_an_instrument_that_stands_in_for_another_is_worth_as_much(self) -> None:
        """A needle meter on a bench without any meter saves what the usual meter saves."""
        brings = {"needle": frozenset({"meter"})}
        found = instrument_worth(PROBLEM, NEEDS, frozenset(), ["needle", "meter"], cases(), brings=brings)

        assert found[0].saves_minutes == found[1].saves_minutes > 0


class TestPlay:
    @pytest.mark.parametrize(
        "policy", [*baselines(), *defined_baselines(), ours("planner", Settings())], ids=lambda p: p.name
    )
    def test_every_policy_ends_with_a_cured_set(self, policy: object) -> None:
        """On sure tables every policy finds every fault."""
        assert all(play(PROBLEM, case, policy).cured for case in cases())  # type: ignore[arg-type]

    def test_with_a_fixed_stop_struck_out_parts_come_last_in_the_order_of_before(self) -> None:
        """Where a wrong answer struck out the true part, all parts are changed, the likeliest of before first."""
        elimination = next(p for p in defined_baselines() if p.name.startswith("hard elimination"))
        case = Case(2, np.array([0, 0]), Position(np.array([0.1, 0.2, 0.3, 0.4]), power="off"))
        trial = play(PROBLEM, case, elimination)

        assert (trial.questions, trial.parts_changed, trial.cured) == (1, 3, True)

    def test_a_wrong_answer_is_another_outcome(self) -> None:
        """A share of wrong answers of one leaves no answer right."""
        answers = drawn_answers(PROBLEM, 2, np.random.default_rng(3), wrong=1.0)

        assert answers[0] != 2

    def test_learning_keeps_probabilities_summing_to_one(self) -> None:
        """Bayes' rule gives probabilities."""
        assert ruled_by_likelihood(np.array([0.5, 0.5]), [("", np.array([0.9, 0.1]))]).tolist() == pytest.approx(
            [0.9, 0.1]
        )
