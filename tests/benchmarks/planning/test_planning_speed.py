"""Speed of ranking and choosing; prints, and gates on no seconds."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.choose import Settings, next_step
from backporch.engine.planning.information import test_bits as bits_of
from backporch.engine.planning.problem import Problem
from backporch.engine.planning.problem import Test as Probe
from backporch.engine.planning.trials import Policy, play, ruled_by_likelihood
from backporch.engine.session.drawn import drawn_case, likely_faults
from backporch.engine.session.interview import Interview


def milliseconds(work: Callable[[], object], times: int) -> float:
    """Return the median time of one call."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(1e3 * (time.perf_counter() - start))
    return float(np.median(taken))


def random_problem(faults: int, tests: int, outcomes: int) -> Problem:
    """Return a dense problem."""
    random = np.random.default_rng(faults)
    none: frozenset[str] = frozenset()
    tables = random.dirichlet(np.ones(outcomes), (tests, faults)).transpose(0, 2, 1)
    return Problem([Probe(f"t{n}", 0, 1.0, none, "either", table) for n, table in enumerate(tables)], [])


@pytest.mark.benchmark
@pytest.mark.parametrize("size", [(350, 150, 5), (700, 150, 5), (700, 300, 5), (2500, 1000, 5), (5000, 2000, 5)])
def test_speed_of_information(size: tuple[int, int, int], capsys: pytest.CaptureFixture[str]) -> None:
    """Posterior and information of all tests, and the sum of chances stays one."""
    problem = random_problem(*size)
    belief = np.random.default_rng(1).dirichlet(np.ones(size[0]))
    row = problem.tests[0].table[0]
    bits_of(problem, belief)
    taken = milliseconds(lambda: bits_of(problem, ruled_by_likelihood(belief, [("", row)])), 9)
    with capsys.disabled():
        print(f"\n{size[0]} hypotheses x {size[1]} tests x {size[2]} outcomes: {taken:.2f} ms")

    assert np.allclose((problem.tables @ belief).sum(axis=1), 1.0)


@pytest.mark.benchmark
def test_speed_of_a_decision(capsys: pytest.CaptureFixture[str]) -> None:
    """Time of one decision with look ahead over whole diagnoses."""
    interview = Interview(make_workbench("plover-17"))
    taken: list[float] = []

    def choose(problem: Problem, position: object) -> object:
        start = time.perf_counter()
        step = next_step(problem, position, Settings())  # type: ignore[arg-type]
        taken.append(1e3 * (time.perf_counter() - start))
        return step

    policy = Policy("timed", choose, ruled_by_likelihood)  # type: ignore[arg-type]
    for n in likely_faults(interview, 20, 11):
        play(interview.problem, drawn_case(interview, n, [11]), policy)
    with capsys.disabled():
        print(f"\n{len(taken)} decisions: median {np.median(taken):.0f} ms, p95 {np.percentile(taken, 95):.0f} ms")

    assert taken
