# SPDX-License-Identifier: MIT
"""Plays whole diagnoses on the tables of a problem, with a known fault and answers drawn beforehand.

The same case gives the same answers to every policy, so that policies are compared in pairs.  Answers
come from the tables themselves, each test independent of the others; rules speak before the first test
alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Step
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.problem import Position, Problem

__all__ = ["Case", "Policy", "Trial", "drawn_answers", "play", "ruled_by_likelihood"]

Floats = NDArray[np.float64]

_NOT_CURED = 0.03
_MOST_STEPS = 400


@dataclass(frozen=True)
class Case:
    """One hidden fault with what every test would answer."""

    truth: int
    answers: NDArray[np.intp]
    """Outcome of each test, shape (tests,)."""
    start: Position


@dataclass(frozen=True)
class Policy:
    """A way to choose steps and to learn from answers."""

    name: str
    choose: Callable[[Problem, Position], Step]
    learn: Callable[[Floats, Floats], Floats]
    """Belief and the likelihood of the answer give the new belief."""


@dataclass(frozen=True)
class Trial:
    """What one diagnosis cost and found."""

    test_minutes: float
    total_minutes: float
    questions: int
    stage_right: bool
    """Whether the likeliest stage is the true one when the first repair is proposed."""
    part_right: bool
    among_three: bool
    parts_changed: int
    cured: bool
    """Whether a part proposed cured the set, and nothing had to be found by other means."""
    moments: tuple[tuple[float, bool], ...]
    """Share of the leading stage after each answer, and whether it was the true one."""


def ruled_by_likelihood(belief: Floats, likelihood: Floats) -> Floats:
    """Return the belief after an answer by Bayes' rule."""
    weight = belief * likelihood
    return np.asarray(weight / weight.sum(), dtype=float)


def drawn_answers(
    problem: Problem, truth: int, random: np.random.Generator, wrong: float = 0.0
) -> NDArray[np.intp]:
    """Return what every test answers under one fault; a share ``wrong`` is replaced by any other outcome."""
    found = np.zeros(len(problem.tests), dtype=np.intp)
    for n, test in enumerate(problem.tests):
        column = test.table[:, truth]
        found[n] = min(int(np.searchsorted(np.cumsum(column), random.random())), len(column) - 1)
        shift, mistaken = random.integers(1, max(len(column), 2)), random.random() < wrong
        if mistaken and len(column) > 1:
            found[n] = (found[n] + shift) % len(column)
    return found


def play(problem: Problem, case: Case, policy: Policy, search_minutes: float = 45.0) -> Trial:
    """Return what a policy costs and finds in one case."""
    index = {test.key: n for n, test in enumerate(problem.tests)}
    repairs = {repair.key: repair for repair in problem.repairs}
    position, tests, total, questions = case.start, 0.0, 0.0, 0
    changed, cured = 0, False
    found: tuple[bool, bool, bool] | None = None
    moments = []
    for _ in range(_MOST_STEPS):
        step = policy.choose(problem, position)
        if step.kind == "test":
            tests, total, questions = tests + step.minutes, total + step.minutes, questions + 1
            position = _answered(problem, position, index[step.key], case, policy)
            moments.append(_leading(problem, position.belief, case.truth))
            continue
        found = found or _verdict(problem, position.belief, case.truth)
        if step.kind in ("search", "end"):
            spent, cured = _searched(problem, position, case.truth, search_minutes)
            total += spent
            break
        repair = repairs[step.key]
        total += problem.repair_way(repair, position)
        changed, cured = changed + 1, bool(repair.cures[case.truth])
        if cured:
            break
        belief = ruled_by_likelihood(position.belief, np.where(repair.cures, _NOT_CURED, 1.0 - _NOT_CURED))
        states, power = problem.after_repair(repair, position)
        position = Position(belief, position.done | {step.key}, states, power)
    stage, part, three = found or _verdict(problem, position.belief, case.truth)
    return Trial(tests, total, questions, stage, part, three, changed, cured, tuple(moments))


def _searched(problem: Problem, position: Position, truth: int, search_minutes: float) -> tuple[float, bool]:
    """Return what a search by hand takes, and whether the part was on its list."""
    live = live_problem(problem, position, (), search_minutes, 0.0)
    spent = live.way_by_hand(live.start) if len(live.repairs) else 0.0
    for part in live.hand_order(live.start) if len(live.repairs) else ():
        spent += float(live.test_minutes[part])
        if problem.cures[live.repairs[part], truth]:
            return spent + float(live.change_minutes[part]), True
    return spent + search_minutes, False


def _answered(problem: Problem, position: Position, test: int, case: Case, policy: Policy) -> Position:
    states, power = problem.after(problem.tests[test], position)
    belief = policy.learn(position.belief, problem.tests[test].table[case.answers[test]])
    return replace(
        position, belief=belief, done=position.done | {problem.tests[test].key}, states=states, power=power
    )


def _leading(problem: Problem, belief: Floats, truth: int) -> tuple[float, bool]:
    shares = problem.stage_shares @ belief
    first = int(shares.argmax())
    return float(shares[first]), bool(problem.stage_shares[first, truth])


def _verdict(problem: Problem, belief: Floats, truth: int) -> tuple[bool, bool, bool]:
    """Tell whether the leading stage, the leading part, and one of three parts hold the true fault."""
    order: Sequence[int] = np.argsort(-(problem.cures @ belief), kind="stable").tolist()
    right = [bool(problem.cures[n, truth]) for n in order[:3]]
    return _leading(problem, belief, truth)[1], right[0] if right else False, any(right)
