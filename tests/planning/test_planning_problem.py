"""What a test costs where the bench stands, and what it leaves behind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backporch.engine.errors import OutOfRange
from backporch.engine.planning.problem import CostModel, Position, Problem, Repair
from backporch.engine.planning.problem import Test as Probe

EVEN = np.array([[0.9, 0.1], [0.1, 0.9]])
COSTS = CostModel(
    access_minutes={"chassis-open": 6.0, "scope-warm": 4.0, "set-off-discharged": 3.0},
    ends={"chassis-open": frozenset()},
    lost_with_power_on=frozenset({"set-off-discharged"}),
    reached_off=frozenset({"chassis-open"}),
)
READING = Probe("reading", 4, 1.0, frozenset({"chassis-open"}), "on", EVEN)
WAVEFORM = Probe("waveform", 5, 1.5, frozenset({"chassis-open", "scope-warm"}), "on", EVEN)
COLD = Probe("cold", 4, 2.0, frozenset({"chassis-open", "set-off-discharged"}), "off", EVEN)
LOOK = Probe("look", 0, 0.3, frozenset(), "either", EVEN)
PROBLEM = Problem([READING, WAVEFORM, COLD, LOOK], [Repair("V1", 2.0, np.array([True, False]))], COSTS)
START = Position(np.array([0.5, 0.5]))


def moved(test: Probe, position: Position) -> Position:
    """Return where one stands after a test, with the belief as it was."""
    states, power = PROBLEM.after(test, position)
    return replace(position, states=states, power=power)


class TestMarginalMinutes:
    def test_access_is_paid_with_the_first_test_that_needs_it(self) -> None:
        """A reading under the chassis costs switching off, turning it over and warming up too."""
        assert PROBLEM.minutes(READING, START) == pytest.approx(1.0 + 6.0 + 1.0 + 1.0)

    def test_access_once_paid_stays_paid(self) -> None:
        """The second reading costs only itself."""
        assert PROBLEM.minutes(READING, moved(READING, START)) == pytest.approx(1.0)

    def test_only_the_missing_access_is_paid(self) -> None:
        """A waveform on an open chassis costs the warming up of the oscilloscope alone."""
        assert PROBLEM.minutes(WAVEFORM, moved(READING, START)) == pytest.approx(5.5)

    def test_a_look_costs_only_itself(self) -> None:
        """A test without access or power costs its own minutes."""
        assert PROBLEM.minutes(LOOK, START) == pytest.approx(0.3)


class TestPower:
    def test_going_off_costs_switching_off(self) -> None:
        """A cold measurement pays the discharge and the plug."""
        assert PROBLEM.minutes(COLD, moved(READING, START)) == pytest.approx(2.0 + 3.0 + COSTS.to_off_minutes)

    def test_tests_with_power_off_group(self) -> None:
        """A second cold measurement costs less than the first."""
        assert PROBLEM.minutes(COLD, moved(COLD, START)) < PROBLEM.minutes(COLD, START)

    def test_going_on_again_costs_warming_up(self) -> None:
        """A live reading after a cold one pays the warm-up."""
        assert PROBLEM.minutes(READING, moved(COLD, START)) == pytest.approx(1.0 + COSTS.to_on_minutes)

    def test_switching_on_ends_the_discharged_state(self) -> None:
        """Capacitors that were discharged are charged again by switching on."""
        assert "set-off-discharged" not in moved(READING, moved(COLD, START)).states

    def test_either_leaves_the_power_as_it_is(self) -> None:
        """A test that works both ways does not switch."""
        assert moved(LOOK, replace(START, power="off")).power == "off"


class TestProblem:
    def test_tables_of_unequal_width_are_refused(self) -> None:
        """Tests over different lists of hypotheses do not make a problem."""
        with pytest.raises(OutOfRange, match="different numbers of hypotheses"):
            Problem([READING, replace(LOOK, table=np.ones((1, 3)))], [])

    def test_tables_are_padded_with_zeros(self) -> None:
        """A test with fewer outcomes has impossible ones instead."""
        single = replace(LOOK, key="single", table=np.ones((1, 2)))
        padded = Problem([READING, single], []).tables

        assert padded.shape == (2, 2, 2)
        assert padded[1, 1].tolist() == [0.0, 0.0]
