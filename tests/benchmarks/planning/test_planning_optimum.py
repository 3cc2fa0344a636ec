"""How close the planner comes to the best possible plan of small problems; prints figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.optimum import optimal_minutes, policy_minutes
from backporch.engine.planning.problem import CostModel, Position, Problem, Repair
from backporch.engine.planning.problem import Test as Probe
from backporch.engine.session.drawn import drawn_case, likely_faults
from backporch.engine.session.interview import Interview

COUNT = 10
SETTINGS = {
    "ours": Settings(),
    "one step": Settings(futures=0),
    "strict cheapest": Settings(order="cheapest"),
}


def random_problem(seed: int) -> tuple[Problem, Position]:
    """Return eight faults and five noisy tests at 0.2 to 25 min, the dear ones behind one access."""
    random = np.random.default_rng([2026, seed])
    tests = []
    for n in range(5):
        exact = random.integers(0, 2, 8)
        sure = random.uniform(0.9, 0.97)
        table = np.where(exact == np.arange(2)[:, None], sure, 1.0 - sure)
        minutes = float(np.exp(random.uniform(np.log(0.2), np.log(25.0))))
        access = frozenset({"open"}) if minutes > 1.5 else frozenset()
        tests.append(Probe(f"t{n}", int(np.searchsorted([1, 3, 8], minutes)), minutes, access, "either", table))
    repairs = [Repair(f"P{n}", 8.0, np.arange(8) == n) for n in range(8)]
    return Problem(tests, repairs, CostModel({"open": 6.0})), Position(random.dirichlet(np.ones(8)))


def chassis_problem(interview: Interview, truth: int, seed: int) -> tuple[Problem, Position]:
    """Return the ten likeliest faults after the symptoms of a fault and four tests that tell most about them."""
    start = drawn_case(interview, truth, [2026, seed]).start
    kept = np.argsort(-start.belief, kind="stable")[:10]
    belief = start.belief[kept] / start.belief[kept].sum()
    problem = interview.problem
    chance = np.einsum("toh,h->to", problem.tables[:, :, kept], belief)
    spread = -(chance * np.log2(chance + 1e-300)).sum(axis=1) + problem.certainty[:, kept] @ belief
    per_minute = [
        -1.0 if t.key in start.done else spread[n] / problem.minutes(t, start) for n, t in enumerate(problem.tests)
    ]
    chosen = [problem.tests[n] for n in np.argsort(-np.array(per_minute), kind="stable")[:4]]
    tests = [replace(t, table=t.table[:, kept]) for t in chosen]
    repairs = [replace(r, cures=r.cures[kept]) for r in problem.repairs if r.cures[kept].any()]
    return Problem(tests, repairs, problem.costs), Position(belief)


def print_ratios(title: str, problems: list[tuple[Problem, Position]]) -> float:
    """Print mean, 95th percentile and worst ratio to the optimum; return the mean of ours."""
    best = np.array([optimal_minutes(p, s) for p, s in problems])
    print(f"\n{title}: {len(problems)} problems, mean optimum {best.mean():.1f} min")
    means = []
    for name, settings in SETTINGS.items():
        ratio = np.array([policy_minutes(p, s, settings) for p, s in problems]) / best
        means.append(float(ratio.mean()))
        print(f"| {name} | {ratio.mean():.4f} | {np.percentile(ratio, 95):.4f} | {ratio.max():.4f} |")
    return means[0]


@pytest.mark.benchmark
def test_random_problems(capsys: pytest.CaptureFixture[str]) -> None:
    """On random noisy problems the planner stays near the best plan."""
    with capsys.disabled():
        mean = print_ratios("random", [random_problem(n) for n in range(COUNT)])

    assert 1.0 - 1e-6 <= mean < 1.05


@pytest.mark.benchmark
def test_chassis_problems(capsys: pytest.CaptureFixture[str]) -> None:
    """On cut-outs of the chassis the planner stays near the best plan."""
    interview = Interview(make_workbench("plover-17"))
    faults = likely_faults(interview, COUNT // 2, 2026)
    problems = [chassis_problem(interview, n, k) for k, n in enumerate(faults)]
    small = [(p, s) for p, s in problems if np.prod([t.table.shape[0] + 1 for t in p.tests]) < 3_000]
    with capsys.disabled():
        mean = print_ratios("cut-outs of plover-17", small)

    assert 1.0 - 1e-6 <= mean < 1.05
