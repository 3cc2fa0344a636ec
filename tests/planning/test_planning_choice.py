"""Which step comes next, and when testing ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.errors import OutOfRange
from backporch.engine.planning.choose import Settings, next_step, settings_of
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.optimum import optimal_minutes, policy_minutes
from backporch.engine.planning.problem import CostModel, Position, Problem, Repair
from backporch.engine.planning.problem import Test as Probe
from backporch.engine.planning.rollout import First, follow_all, follow_sampled

NONE: frozenset[str] = frozenset()


def yes_no(marked: list[int], count: int, sure: float = 0.95) -> np.ndarray:
    """Return the table of a test that says yes under the marked faults."""
    yes = np.where(np.isin(np.arange(count), marked), sure, 1.0 - sure)
    return np.stack([yes, 1.0 - yes])


def repairs_of(minutes: list[float]) -> list[Repair]:
    """Return one repair for each fault."""
    return [Repair(f"P{n}", m, np.arange(len(minutes)) == n) for n, m in enumerate(minutes)]


def random_problem(seed: int, faults: int = 6, tests: int = 5) -> tuple[Problem, Position]:
    """Return a small problem with tests of all prices, some behind one access."""
    random = np.random.default_rng(seed)
    made = []
    for n in range(tests):
        exact = random.integers(0, 2, faults)
        sure = random.uniform(0.9, 0.97)
        table = np.where(exact == np.arange(2)[:, None], sure, 1.0 - sure)
        minutes = float(np.exp(random.uniform(np.log(0.3), np.log(12.0))))
        access = frozenset({"open"}) if minutes > 2.0 else NONE
        made.append(Probe(f"t{n}", int(np.searchsorted([1, 3, 8], minutes)), minutes, access, "either", table))
    repairs = repairs_of([float(m) for m in random.uniform(2.0, 25.0, faults)])
    belief = random.dirichlet(np.ones(faults))
    return Problem(made, repairs, CostModel({"open": 4.0})), Position(belief)


HALVES = Probe("halves", 0, 0.5, NONE, "either", yes_no([0, 1], 4))
PAIRS = Probe("pairs", 0, 0.5, NONE, "either", yes_no([0, 2], 4))
IDLE = Probe("idle", 0, 0.1, NONE, "either", np.full((2, 4), 0.5))
DEAR = Probe("dear", 5, 400.0, NONE, "either", np.eye(4))
FOUR = Position(np.full(4, 0.25))


class TestStop:
    def test_a_test_that_tells_is_asked_before_dear_repairs(self) -> None:
        """With four equal suspects a cheap test comes before any part is changed."""
        assert next_step(Problem([HALVES, PAIRS], repairs_of([10.0] * 4)), FOUR).kind == "test"

    def test_a_useless_test_is_never_asked(self) -> None:
        """A test that answers alike for every fault is left out, however cheap."""
        step = next_step(Problem([IDLE], repairs_of([10.0] * 4)), FOUR)

        assert step.kind == "repair"

    def test_a_test_dearer_than_all_repairs_is_not_asked(self) -> None:
        """A test must pay for itself, or a repair is proposed."""
        assert next_step(Problem([DEAR], repairs_of([10.0] * 4)), FOUR).kind == "repair"

    def test_nothing_hardly_worth_asking_is_asked_of_a_settled_stage(self) -> None:
        """With the fault as good as known, the part is proposed and no test that would hardly tell."""
        weak = Probe("weak", 0, 0.4, NONE, "either", yes_no([0], 4, 0.52))
        position = Position(np.array([0.94, 0.02, 0.02, 0.02]))
        step = next_step(Problem([weak], repairs_of([5.0] * 4)), position)

        assert (step.kind, step.key) == ("repair", "P0")

    def test_it_ends_where_neither_test_nor_repair_is_left(self) -> None:
        """With everything done there is nothing to propose."""
        problem = Problem([HALVES], repairs_of([10.0] * 4))

        assert next_step(problem, replace(FOUR, done=frozenset({"halves", "P0", "P1", "P2", "P3"}))).kind == "end"

    def test_what_is_done_is_not_proposed_again(self) -> None:
        """A test answered or not wanted does not come back."""
        problem = Problem([HALVES, PAIRS], repairs_of([10.0] * 4))

        assert next_step(problem, replace(FOUR, done=frozenset({"halves"}))).key == "pairs"


class TestSearch:
    def test_many_equal_suspects_and_no_test_end_in_a_search_by_hand(self) -> None:
        """Where changing parts one by one takes longer than testing them, the search by hand is proposed."""
        belief = Position(np.full(20, 0.05))
        idle = replace(IDLE, table=np.full((2, 20), 0.5))
        step = next_step(Problem([idle], repairs_of([10.0] * 20)), belief)

        assert step.kind == "search"
        assert "longer" in step.reason

    def test_after_a_search_in_vain_the_changes_go_on(self) -> None:
        """A search that found nothing is not proposed again; what is left is changed part by part."""
        belief = Position(np.full(20, 0.05), done=frozenset({"search"}))
        idle = replace(IDLE, table=np.full((2, 20), 0.5))

        assert next_step(Problem([idle], repairs_of([10.0] * 20)), belief).kind == "repair"

    def test_a_test_that_pays_comes_before_the_search(self) -> None:
        """A cheap test that tells the suspects apart is asked before anybody searches by hand."""
        sharp = Probe("sharp", 4, 1.0, NONE, "either", np.eye(20))
        step = next_step(Problem([sharp], repairs_of([10.0] * 20)), Position(np.full(20, 0.05)))

        assert step.kind == "test"


class TestRepair:
    def test_a_quick_repair_comes_before_an_equal_slow_one(self) -> None:
        """Of equally likely parts the one changed in less time comes first."""
        step = next_step(Problem([IDLE], repairs_of([20.0, 2.0, 20.0, 20.0])), FOUR)

        assert (step.kind, step.key) == ("repair", "P1")

    def test_loads_of_a_last_resort_part_are_tested_first(self) -> None:
        """A part that can hardly be had is blamed only after the tests that tell about it."""
        dear_load = Probe("load", 6, 70.0, NONE, "either", yes_no([1], 2))
        repairs = [
            Repair("T9", 30.0, np.array([True, False]), last_resort=True),
            Repair("P1", 5.0, np.array([False, True])),
        ]
        step = next_step(Problem([dear_load], repairs), Position(np.array([0.97, 0.03])))

        assert (step.kind, step.key, step.before) == ("test", "load", "T9")

    def test_a_likelier_part_behind_dear_access_waits_for_one_at_hand(self) -> None:
        """The way under the chassis counts in the order: the less likely tube at hand is changed first."""
        behind = Repair("P0", 5.0, np.array([True, False]), access=frozenset({"open"}))
        at_hand = Repair("P1", 5.0, np.array([False, True]))
        problem = Problem(
            [replace(IDLE, table=np.full((2, 2), 0.5))], [behind, at_hand], CostModel({"open": 20.0})
        )

        assert next_step(problem, Position(np.array([0.6, 0.4]))).key == "P1"

    def test_parts_behind_one_access_pay_it_together(self) -> None:
        """Several likely parts under the chassis share the way there and come before the one at hand."""
        under = [
            Repair(f"P{n}", 5.0, np.arange(4) == n, test_minutes=60.0, access=frozenset({"open"}))
            for n in range(3)
        ]
        at_hand = Repair("P3", 5.0, np.arange(4) == 3, test_minutes=60.0)
        problem = Problem([IDLE], [*under, at_hand], CostModel({"open": 6.0}))

        assert next_step(problem, Position(np.array([0.31, 0.3, 0.3, 0.09]))).key == "P0"

    def test_the_way_to_a_repair_is_in_its_minutes(self) -> None:
        """A repair under the chassis costs the plug, turning the chassis over, and the run that proves it."""
        repair = Repair("P0", 5.0, np.array([True] * 4), 60.0, access=frozenset({"open"}))
        costs = CostModel({"open": 6.0}, to_off_minutes=1.0, to_on_minutes=2.0, proof_minutes=0.5)
        step = next_step(Problem([IDLE], [repair], costs), FOUR)

        assert step.minutes == pytest.approx(1.0 + 6.0 + 5.0 + 2.0 + 0.5)


class TestOrder:
    def test_cheapest_takes_the_cheapest_class_that_tells_enough(self) -> None:
        """The strict order asks a cheap test that tells enough before a dearer one that tells all."""
        cheap = replace(HALVES, tier=0, table=yes_no([0, 1], 4, 0.85))
        sharp = Probe("sharp", 4, 0.6, NONE, "either", np.eye(4))
        problem = Problem([cheap, sharp], repairs_of([20.0] * 4))

        assert next_step(problem, FOUR, Settings(order="cheapest")).key == "halves"

    def test_out_of_turn_names_the_minutes_saved(self) -> None:
        """Where a dearer test certainly saves minutes it comes out of turn and says how many."""
        cheap = [Probe(f"cheap{n}", 0, 3.0, NONE, "either", yes_no([0, 1, n], 4, 0.8)) for n in (2, 3)]
        sharp = Probe("sharp", 4, 1.0, NONE, "either", np.eye(4))
        settings = Settings(search_minutes=200.0)
        step = next_step(Problem([*cheap, sharp], repairs_of([20.0] * 4)), FOUR, settings)

        assert (step.key, step.out_of_turn) == ("sharp", True)
        assert step.saves_minutes > 1
        assert f"saves about {step.saves_minutes:.0f} min" in step.reason

    @settings(max_examples=15, deadline=None)
    @given(seed=st.integers(0, 10_000))
    def test_the_same_state_gives_the_same_step(self, seed: int) -> None:
        """Asked twice, or with the tests listed in another order, the planner says the same."""
        problem, position = random_problem(seed)
        turned = Problem(problem.tests[::-1], problem.repairs, problem.costs)
        first = next_step(problem, position)

        assert first == next_step(problem, position)
        assert first.key == next_step(turned, position).key


class TestWay:
    def test_a_way_that_the_repair_needs_anyway_hardly_speaks_against_a_test(self) -> None:
        """Of two tests that tell the same, the quicker behind the chassis comes first where all parts are."""
        faults = 4
        near = Probe("near", 4, 5.0, NONE, "either", yes_no([0, 1], faults))
        behind = Probe("behind", 4, 1.0, frozenset({"open"}), "either", yes_no([0, 1], faults))
        parts = [replace(r, access=frozenset({"open"})) for r in repairs_of([10.0] * faults)]
        stages = ["sync", "sync", "video", "video"]
        costs = CostModel({"open": 6.0})
        within = Problem([near, behind], parts, costs, stages=stages)
        outside = Problem([near, behind], repairs_of([10.0] * faults), costs, stages=stages)
        settings = Settings(exact=0, futures=0, shared_way=0.0)

        assert next_step(within, FOUR, settings).key == "behind"
        assert next_step(outside, FOUR, settings).key == "near"


class TestCareful:
    def test_careful_asks_where_the_default_repairs(self) -> None:
        """In the careful mode a doubtful stage is tested before a cheap part is changed."""
        sharp = Probe("sharp", 4, 6.0, NONE, "either", yes_no([0], 2))
        problem = Problem([sharp], repairs_of([1.0, 1.0]), stages=["sync", "video"])
        doubt = Position(np.array([0.9, 0.1]))

        assert next_step(problem, doubt).kind == "repair"
        assert next_step(problem, doubt, Settings(careful=True)).key == "sharp"

    def test_a_careful_diagnosis_wants_a_second_witness_for_the_stage(self) -> None:
        """A certain stage is tested once more where it rests on one test alone, and not where it does not."""
        sharp = Probe("sharp", 4, 6.0, NONE, "either", yes_no([0], 2))
        problem = Problem([sharp], repairs_of([1.0, 1.0]), stages=["sync", "video"])
        alone = Position(np.array([0.99, 0.01]), doubted=np.array([0.4, 0.6]))
        twice = replace(alone, doubted=np.array([0.95, 0.05]))

        assert next_step(problem, alone, settings_of("quickest", careful=True)).key == "sharp"
        assert next_step(problem, twice, settings_of("quickest", careful=True)).kind == "repair"
        assert next_step(problem, alone).kind == "repair"

    def test_careful_stops_when_stage_and_part_are_certain(self) -> None:
        """Certainty ends testing in the careful mode too."""
        sharp = Probe("sharp", 4, 6.0, NONE, "either", yes_no([0], 2))
        problem = Problem([sharp], repairs_of([1.0, 1.0]), stages=["sync", "video"])

        assert next_step(problem, Position(np.array([0.99, 0.01])), Settings(careful=True)).kind == "repair"


class TestLookAhead:
    @settings(max_examples=10, deadline=None)
    @given(seed=st.integers(0, 10_000))
    def test_sampled_futures_agree_with_all_futures(self, seed: int) -> None:
        """Many sampled futures cost in the mean what all of them cost."""
        problem, position = random_problem(seed)
        live = live_problem(problem, position, range(5), 45.0)
        firsts = [First(test=0), First(test=1)]
        sampled = follow_sampled(live, firsts, 1500)
        exact = follow_all(live, firsts, 1e-9)
        assert sampled.futures is not None
        error = sampled.futures.std(axis=1) / 1500**0.5

        assert np.all(np.abs(sampled.minutes - exact.minutes) < 5 * error + 0.05)


class TestOptimum:
    @settings(max_examples=4, deadline=None)
    @given(seed=st.integers(0, 10_000))
    def test_no_plan_beats_the_best(self, seed: int) -> None:
        """The planner costs at least the optimum and little more."""
        problem, position = random_problem(seed, 5, 4)
        best = optimal_minutes(problem, position)
        ours = policy_minutes(problem, position, Settings())

        assert best - 1e-6 <= ours < 1.25 * best

    def test_too_large_a_problem_is_refused(self) -> None:
        """The reference says so where it would not end."""
        problem, position = random_problem(1, tests=14)
        with pytest.raises(OutOfRange, match="states"):
            optimal_minutes(problem, position)


class TestSearchCost:
    def test_parts_behind_the_list_are_paid_for_one_by_one(self) -> None:
        """A search among thirty equal parts costs more than among the twelve on the list: the others count too."""
        idle = replace(IDLE, table=np.full((2, 30), 0.5))
        costs = []
        for count in (12, 30):
            belief = np.where(np.arange(30) < count, 1.0 / count, 0.0)
            live = live_problem(Problem([idle], repairs_of([10.0] * 30)), Position(belief), [], 45.0)
            costs.append(live.search_cost(live.start))

        assert costs[1] > costs[0] + 60.0

    def test_a_part_of_an_unsettled_stage_is_tested_where_nothing_tells_of_the_stage(self) -> None:
        """Two stages stay possible and no test is left on them: a test that tells of the part is asked.

        Where a part must be lifted for it, it is asked only as far as it pays: a search by hand lifts parts too.
        """
        part = Probe("part", 4, 4.0, NONE, "either", yes_no([0, 10], 20))
        stages = ["left"] * 10 + ["right"] * 10
        belief = np.where(np.isin(np.arange(20), [0, 10]), 0.2, 0.6 / 18)
        step = next_step(Problem([part], repairs_of([30.0] * 20), stages=stages), Position(belief))

        lifted = replace(part, tier=6, minutes=400.0)
        after = next_step(Problem([lifted], repairs_of([30.0] * 20), stages=stages), Position(belief))

        assert (step.kind, step.settles) == ("test", "part")
        assert after.kind != "test"
