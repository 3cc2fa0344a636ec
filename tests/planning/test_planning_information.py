"""What tests teach, and what repairs cost in their best order."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from backporch.engine.planning.information import posteriors, repair_minutes
from backporch.engine.planning.information import test_bits as bits_of
from backporch.engine.planning.problem import Problem, Repair
from backporch.engine.planning.problem import Test as Probe

NONE: frozenset[str] = frozenset()
WEIGHTS = st.floats(0.01, 1.0)
BELIEF = arrays(float, 5, elements=WEIGHTS).map(lambda v: v / v.sum())
TABLE = arrays(float, (3, 5), elements=WEIGHTS).map(lambda t: t / t.sum(axis=0))


def problem_of(*tables: np.ndarray, repairs: tuple[Repair, ...] = ()) -> Problem:
    """Return a problem with one free test for each table."""
    return Problem([Probe(f"t{n}", 0, 1.0, NONE, "either", t) for n, t in enumerate(tables)], repairs)


def single_repairs(minutes: list[float]) -> tuple[Repair, ...]:
    """Return one repair for each hypothesis."""
    return tuple(Repair(f"r{n}", m, np.arange(len(minutes)) == n) for n, m in enumerate(minutes))


class TestInformation:
    def test_a_sure_test_between_two_teaches_one_bit(self) -> None:
        """A test that splits two equal faults without error is worth one bit."""
        assert bits_of(problem_of(np.eye(2)), np.array([0.5, 0.5]))[0] == pytest.approx(1.0)

    def test_a_test_alike_for_all_teaches_nothing(self) -> None:
        """A test that answers the same whatever is wrong teaches nothing."""
        assert bits_of(problem_of(np.full((2, 4), 0.5)), np.full(4, 0.25))[0] == pytest.approx(0.0, abs=1e-12)

    @settings(max_examples=60, deadline=None)
    @given(belief=BELIEF, table=TABLE)
    def test_information_lies_between_nothing_and_the_doubt(self, belief: np.ndarray, table: np.ndarray) -> None:
        """No test teaches less than nothing or more than there is to learn."""
        bits = float(bits_of(problem_of(table), belief)[0])
        doubt = -float(np.sum(belief * np.log2(belief)))

        assert 0.0 <= bits <= doubt + 1e-9

    @settings(max_examples=60, deadline=None)
    @given(belief=BELIEF, table=TABLE)
    def test_beliefs_after_average_to_the_belief_before(self, belief: np.ndarray, table: np.ndarray) -> None:
        """What may come of a test is, in the mean, what is believed now."""
        chance, after = posteriors(problem_of(table), 0, belief)

        assert np.allclose(chance @ after, belief)

    @settings(max_examples=60, deadline=None)
    @given(belief=BELIEF, first=TABLE, second=TABLE, a=st.integers(0, 2), b=st.integers(0, 2))
    def test_order_of_answers_has_no_effect(
        self, belief: np.ndarray, first: np.ndarray, second: np.ndarray, a: int, b: int
    ) -> None:
        """Two answers lead to the same belief in either order."""
        problem = problem_of(first, second)
        one = posteriors(problem, 1, posteriors(problem, 0, belief)[1][a])[1][b]
        other = posteriors(problem, 0, posteriors(problem, 1, belief)[1][b])[1][a]

        assert np.allclose(one, other)


class TestRepairMinutes:
    def test_a_certain_fault_costs_its_own_repair(self) -> None:
        """Where the fault is known, only its repair is paid."""
        problem = problem_of(repairs=single_repairs([2.0, 20.0]))
        spent = repair_minutes(problem, np.array([[0.0, 1.0]]), np.array([True, True]), 45.0)

        assert spent[0] == pytest.approx(20.0)

    def test_what_no_repair_cures_costs_the_search(self) -> None:
        """A fault outside the list costs all repairs and then the search."""
        problem = problem_of(repairs=(Repair("r0", 5.0, np.array([True, False])),))
        spent = repair_minutes(problem, np.array([[0.5, 0.5]]), np.array([True]), 45.0)

        assert spent[0] == pytest.approx(5.0 + 0.5 * 45.0)

    @settings(max_examples=40, deadline=None)
    @given(
        belief=arrays(float, 4, elements=WEIGHTS).map(lambda v: v / v.sum()),
        minutes=st.lists(st.floats(1.0, 60.0), min_size=4, max_size=4),
    )
    def test_no_other_order_is_cheaper(self, belief: np.ndarray, minutes: list[float]) -> None:
        """Falling probability per minute is the cheapest order of repairs."""
        problem = problem_of(repairs=single_repairs(minutes))
        spent = float(repair_minutes(problem, belief[None], np.ones(4, dtype=bool), 1e4)[0])
        orders = [
            sum(minutes[r] * (1.0 - sum(belief[list(order[:n])])) for n, r in enumerate(order))
            for order in permutations(range(4))
        ]

        assert spent == pytest.approx(min(orders))
