"""Plays every single fault of the shipped chassis, or random problems, with every order of testing; prints tables.

``python tests/benchmarks/planning/study.py`` takes every eighth fault that shows, counted alike.  ``--every 1``
takes all; ``--expected 120`` draws that many a chassis as often as they are expected; ``--random 8`` plays random
problems in place of chassis.  The same fault meets every order with the same answers: differences are paired.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from multiprocessing import get_context

import numpy as np

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.baselines import baselines, defined_baselines, ours
from backporch.engine.planning.choose import Settings, settings_of
from backporch.engine.planning.problem import CostModel, Position, Problem, Repair
from backporch.engine.planning.problem import Test as Probe
from backporch.engine.planning.trials import Case, Policy, Trial, drawn_answers, play
from backporch.engine.session.drawn import drawn_case, likely_faults, showing_faults, twins_of
from backporch.engine.session.interview import Interview

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")
HEADER = (
    "| order | tests min | total min (s.e.) | median | p95 | worst | less ours (s.e.) | ours saves | questions "
    "| parts changed | stage leads | part leads | of three | stage named | part named | of three or named |"
)
AT_ONCE = 40


@dataclass(frozen=True)
class Job:
    """Some faults of one chassis, or one random problem, to be played with some orders."""

    chassis: str
    faults: tuple[int, ...]
    """Faults of a chassis; of a random problem the numbers of its cases."""
    first: int
    seed: int
    wrong: float
    orders: tuple[str, ...]


@dataclass(frozen=True)
class Played:
    """What all orders did with the faults of one job."""

    chassis: str
    trials: dict[str, list[Trial]]
    alike: list[int]
    """Parts in the group of twins of each fault."""


def policies() -> dict[str, Policy]:
    """Return ours first, then everything that it is held against."""
    mine = (
        ours("ours", Settings()),
        ours("ours, one step", Settings(futures=0)),
        ours("strict cheapest", Settings(order="cheapest")),
        ours("careful", replace(settings_of("quickest", careful=True), futures=0)),
    )
    return {p.name: p for p in (*mine, *defined_baselines(), *baselines())}


@cache
def interview(chassis: str) -> Interview:
    """Return the interview of one chassis on the common bench."""
    return Interview(make_workbench(chassis))


@cache
def twins(chassis: str) -> dict[int, frozenset[int]]:
    """Return the twins of each fault that has any."""
    return dict(twins_of(interview(chassis)))


def random_problem(seed: int, number: int) -> Problem:
    """Return 150 parts in 20 stages, 10 looks, 16 traces, 60 stage voltages and 34 part tests of 0.2 to 25 min."""
    random = np.random.default_rng([seed, number])
    stage = random.integers(0, 20, 150)
    tests = []
    for n in range(120):
        kind = int(np.searchsorted([10, 26, 86], n, side="right"))
        low, high = ((0.2, 1.2), (1.0, 8.0), (0.6, 6.0), (4.0, 25.0))[kind]
        reached = np.isin(stage, random.choice(20, (7, 10, 2, 1)[kind], replace=False))
        shown = reached & (random.random(150) < (0.35, 0.9, 0.6, 0.3)[kind])
        outcomes = int(random.integers(2, 6))
        exact = np.where(shown, random.integers(1, outcomes, 150), 0)
        sure = random.uniform(0.90, 0.97)
        table = np.full((outcomes, 150), (1.0 - sure) / (outcomes - 1))
        table[exact, np.arange(150)] = sure
        minutes = float(np.exp(random.uniform(np.log(low), np.log(high))))
        tests.append(
            Probe(f"t{n:03d}", int(np.searchsorted([1, 3, 8], minutes)), minutes, frozenset(), "either", table)
        )
    repairs = [Repair(f"P{n:03d}", 8.0, np.arange(150) == n) for n in range(150)]
    costs = CostModel(to_on_minutes=0.0, to_off_minutes=0.0)
    return Problem(tests, repairs, costs, tuple(f"S{s}" for s in stage))


def cases_of(job: Job) -> tuple[Problem, list[Case], list[int]]:
    """Return the problem of a job, its cases, and how many parts are alike in each."""
    if job.chassis.startswith("random"):
        problem = random_problem(job.seed, int(job.chassis.split()[1]))
        random = np.random.default_rng([job.seed, int(job.chassis.split()[1]), 1])
        belief = random.dirichlet(np.full(150, 1.5))
        cases = []
        for truth in random.choice(150, len(job.faults), p=belief).tolist():
            cases.append(Case(truth, drawn_answers(problem, truth, random, job.wrong), Position(belief)))
        return problem, cases, [1] * len(cases)
    room = interview(job.chassis)
    owners = [h.owner for h in room.workbench.faults.hypotheses]
    cases = [
        replace(
            drawn_case(room, n, [job.seed, job.first + k], job.wrong),
            twins=twins(job.chassis).get(n, frozenset()),
        )
        for k, n in enumerate(job.faults)
    ]
    return room.problem, cases, [len({owners[n] for n in c.twins | {c.truth}}) for c in cases]


def run(job: Job) -> Played:
    """Play one job."""
    problem, cases, alike = cases_of(job)
    known = policies()
    return Played(job.chassis, {o: [play(problem, c, known[o]) for c in cases] for o in job.orders}, alike)


def line(name: str, trials: Sequence[Trial], against: Sequence[Trial]) -> str:
    """Return one line of the table."""
    total = np.array([t.total_minutes for t in trials])
    mine = np.array([t.total_minutes for t in against])
    less, root = total - mine, len(total) ** 0.5

    def mean(field: str) -> float:
        return float(np.mean([getattr(t, field) for t in trials]))

    three = float(np.mean([t.among_three or t.named_part for t in trials]))
    saved = "" if trials is against else f"{less.mean():+.1f} ({less.std() / root:.1f})"
    share = "" if trials is against else f"{less.mean() / total.mean():.1%} ({_ratio_error(total, mine):.1%})"
    return (
        f"| {name} | {mean('test_minutes'):.1f} | {total.mean():.1f} ({total.std() / root:.1f}) | "
        f"{np.median(total):.1f} | {np.percentile(total, 95):.0f} | {total.max():.0f} | "
        f"{saved} | {share} | {mean('questions'):.1f} | {mean('parts_changed'):.1f} | "
        f"{mean('stage_right'):.1%} | {mean('twin_right'):.1%} | {mean('among_three'):.1%} | "
        f"{mean('named_stage'):.1%} | {mean('named_part'):.1%} | {three:.1%} |"
    )


def _ratio_error(total: np.ndarray, mine: np.ndarray) -> float:
    """Return the standard error of the share saved, from the paired residuals of the ratio."""
    ratio = mine.mean() / total.mean()
    return float((mine - ratio * total).std() / len(total) ** 0.5 / total.mean())


def table(played: Sequence[Played], orders: Sequence[str]) -> Iterator[str]:
    """Give the lines of one table over some jobs."""
    joined = {o: [t for p in played for t in p.trials[o]] for o in orders}
    alike = [n for p in played for n in p.alike]
    yield f"{len(alike)} faults; parts in a group of twins {np.mean(alike):.1f} in the mean, at most {max(alike)}"
    yield f"{HEADER}\n|{' --- |' * 16}"
    for name in orders:
        yield line(name, joined[name], joined[orders[0]])


def jobs_of(wanted: argparse.Namespace) -> list[Job]:
    """Return the jobs that the command line asks for."""
    orders = tuple(wanted.orders or [o for o in policies() if "fixed chart" not in o])
    if wanted.random:
        kind = tuple(range(wanted.cases))
        return [Job(f"random {n}", kind, 0, wanted.seed, wanted.wrong, orders) for n in range(wanted.random)]
    jobs = []
    for chassis in wanted.chassis:
        room = interview(chassis)
        faults = showing_faults(room)[:: wanted.every]
        if wanted.expected:
            faults = likely_faults(room, wanted.expected, wanted.seed)
        for n in range(0, len(faults), AT_ONCE):
            jobs.append(Job(chassis, faults[n : n + AT_ONCE], n, wanted.seed, wanted.wrong, orders))
    return jobs


def played(jobs: Sequence[Job], workers: int) -> list[Played]:
    """Play all jobs, with more than one worker in processes of their own."""
    if workers == 1:
        return [run(job) for job in jobs]
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        return list(pool.map(run, jobs))


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table of all chassis together and one of each."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--chassis", nargs="+", default=CHASSIS)
    options.add_argument("--every", type=int, default=8)
    options.add_argument("--expected", type=int, default=0)
    options.add_argument("--random", type=int, default=0)
    options.add_argument("--cases", type=int, default=40)
    options.add_argument("--seed", type=int, default=2026)
    options.add_argument("--wrong", type=float, default=0.0)
    options.add_argument("--orders", nargs="+")
    options.add_argument("--workers", type=int, default=2)
    wanted = options.parse_args(arguments)
    jobs = jobs_of(wanted)
    found = played(jobs, wanted.workers)
    orders = jobs[0].orders
    print(f"seed {wanted.seed}, {wanted.wrong:.0%} of answers wrong")
    print("\n".join(table(found, orders)))
    if wanted.random:
        return
    for chassis in wanted.chassis:
        hypotheses = interview(chassis).workbench.faults.hypotheses
        silent = len([h for h in hypotheses if h.part]) - len(showing_faults(interview(chassis)))
        print(f"\n{chassis}, {silent} silent faults apart: ", end="")
        print("\n".join(table([p for p in found if p.chassis == chassis], orders)))


if __name__ == "__main__":
    main()
