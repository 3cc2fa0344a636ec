# SPDX-License-Identifier: MIT
"""Plays whole diagnoses on the tables of a problem, with a known fault and answers drawn beforehand.

The same case gives the same answers to every policy, so that policies are compared in pairs.  Answers
come from the tables themselves, each test independent of the others; rules speak before the first test
alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Step
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.problem import Position, Problem
from backporch.engine.ranking import pooled

__all__ = ["Case", "Policy", "Trial", "drawn_answers", "play", "ruled_by_cause", "ruled_by_likelihood"]

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
    twins: frozenset[int] = frozenset()
    """Faults that no test on the whole set tells from the hidden one."""


@dataclass(frozen=True)
class Policy:
    """A way to choose steps and to learn from answers."""

    name: str
    choose: Callable[[Problem, Position], Step]
    learn: Callable[[Floats, Sequence[tuple[str, Floats]]], Floats]
    """The belief at the start, and cause and likelihood of every answer, give the belief."""
    doubts: bool = False
    """Whether it is told the belief without the witness that the leading stage rests on most."""


@dataclass(frozen=True)
class Trial:
    """What one diagnosis cost and found."""

    test_minutes: float
    total_minutes: float
    questions: int
    stage_right: bool
    """Whether the likeliest stage is the true one when the first change or the search is proposed."""
    part_right: bool
    twin_right: bool
    """Whether the likeliest part is the true one then, or that of a twin."""
    named_stage: bool
    """Whether what is changed first, as likeliest or as tested bad in the search, is in the true stage."""
    named_part: bool
    """Whether it is the true part or that of a twin."""
    among_three: bool
    parts_changed: int
    cured: bool
    """Whether a part proposed or on the first list of the search by hand cured the set."""
    moments: tuple[tuple[float, bool], ...]
    """Share of the leading stage after each answer, and whether it was the true one."""


def ruled_by_likelihood(start: Floats, told: Sequence[tuple[str, Floats]]) -> Floats:
    """Return the belief after all answers by Bayes' rule, each a witness of its own."""
    return _normal(np.log(np.maximum(start, 1e-300)) + pooled([("", likelihood) for _, likelihood in told], start))


def ruled_by_cause(start: Floats, told: Sequence[tuple[str, Floats]]) -> Floats:
    """Return the belief after all answers, those of one cause trusted together or not at all."""
    return _normal(np.log(np.maximum(start, 1e-300)) + pooled(told, start))


def _normal(log: Floats) -> Floats:
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum(), dtype=float)


def drawn_answers(
    problem: Problem,
    truth: int,
    random: np.random.Generator,
    wrong: float = 0.0,
    shared: float = 0.0,
    spared: float = 0.0,
) -> NDArray[np.intp]:
    """Return what every test answers under one fault.

    Args:
        problem: Has the tests.
        truth: The fault.
        random: Source of chance.
        wrong: Share of answers that are replaced by any other outcome, each by itself.
        shared: Share of causes all of whose answers are replaced by any outcome at all.
        spared: Share of answers that the tables take to tell nothing and that do so here; below 1.
    """
    found = np.zeros(len(problem.tests), dtype=np.intp)
    failed = {cause for cause in sorted({t.cause for t in problem.tests} - {""}) if random.random() < shared}
    for n, test in enumerate(problem.tests):
        column = np.maximum(test.table[:, truth] - spared / len(test.table), 0.0) / (1.0 - spared)
        found[n] = min(int(np.searchsorted(np.cumsum(column), random.random())), len(column) - 1)
        shift, mistaken = random.integers(1, max(len(column), 2)), random.random() < wrong
        if mistaken and len(column) > 1:
            found[n] = (found[n] + shift) % len(column)
        if test.cause in failed:
            found[n] = random.integers(len(column))
    return found


def play(problem: Problem, case: Case, policy: Policy, search_minutes: float = 45.0) -> Trial:
    """Return what a policy costs and finds in one case."""
    index = {test.key: n for n, test in enumerate(problem.tests)}
    repairs = {repair.key: repair for repair in problem.repairs}
    position, tests, total, questions = case.start, 0.0, 0.0, 0
    changed, cured, searched = 0, False, False
    found: tuple[bool, ...] | None = None
    moments = []
    told: list[tuple[str, Floats]] = []
    for _ in range(_MOST_STEPS):
        step = policy.choose(problem, position)
        if step.kind == "test":
            tests, total, questions = tests + step.minutes, total + step.minutes, questions + 1
            test = problem.tests[index[step.key]]
            told.append((test.cause, np.maximum(test.table[case.answers[index[step.key]]], 1e-9)))
            states, power = problem.after(test, position)
            belief = policy.learn(case.start.belief, told)
            doubted = _doubted(problem, belief, case, told, policy) if policy.doubts else None
            position = Position(belief, position.done | {step.key}, states, power, doubted)
            moments.append(_leading(problem, position.belief, case.truth))
            continue
        found = found or _verdict(problem, position.belief, case)
        if step.kind in ("search", "end"):
            spent, cured = _searched(problem, position, case, search_minutes)
            total, searched = total + spent, cured and not changed
            break
        repair = repairs[step.key]
        total += problem.repair_way(repair, position)
        changed, cured = changed + 1, bool(repair.cures[case.truth])
        if cured:
            break
        told.append(("", np.where(repair.cures, _NOT_CURED, 1.0 - _NOT_CURED)))
        belief = policy.learn(case.start.belief, told)
        states, power = problem.after_repair(repair, position)
        position = Position(belief, position.done | {step.key}, states, power)
    stage, part, twin, three = found or _verdict(problem, position.belief, case)
    return Trial(
        tests,
        total,
        questions,
        stage,
        part,
        twin,
        stage or searched,
        twin or searched,
        three,
        changed,
        cured,
        tuple(moments),
    )


def _doubted(
    problem: Problem, belief: Floats, case: Case, told: Sequence[tuple[str, Floats]], policy: Policy
) -> Floats:
    """Return the belief without the witness, all answers of one cause being one, that the stage rests on most."""
    leading = problem.stage_shares[int((problem.stage_shares @ belief).argmax())]
    names = [cause or str(n) for n, (cause, _) in enumerate(told)]
    without = [
        policy.learn(case.start.belief, [one for one, other in zip(told, names, strict=True) if other != name])
        for name in dict.fromkeys(names)
    ]
    return min([belief, *without], key=lambda b: float(leading @ b))


def _searched(problem: Problem, position: Position, case: Case, search_minutes: float) -> tuple[float, bool]:
    """Return what a search by hand takes, and whether the part was on its list.

    Behind the list all other parts are tested too, likeliest per minute first; what was taken for impossible
    comes last, in the order at the start.
    """
    live = live_problem(problem, position, (), search_minutes, 0.0)
    spent = live.way_by_hand(live.start) if len(live.repairs) else 0.0
    tested = set()
    for part in live.hand_order(live.start) if len(live.repairs) else ():
        spent += float(live.test_minutes[part])
        tested.add(int(live.repairs[part]))
        if problem.cures[live.repairs[part], case.truth]:
            return spent + float(live.change_minutes[part]), True
    for n in _by_chance(problem, position.belief, case.start.belief):
        repair = problem.repairs[n]
        if n in tested or repair.key in position.done:
            continue
        spent += repair.by_hand_minutes
        if repair.cures[case.truth]:
            return spent + repair.minutes + problem.costs.run_minutes, False
    return spent + search_minutes, False


def _by_chance(problem: Problem, now: Floats, before: Floats) -> list[int]:
    """Return all repairs, likeliest for the minutes of their test first; equals by their odds before."""
    minutes = np.array([r.by_hand_minutes for r in problem.repairs])
    value, earlier = (np.round(problem.cures @ belief / minutes, 15) for belief in (now, before))
    return sorted(range(len(minutes)), key=lambda n: (-value[n], -earlier[n], n))


def _leading(problem: Problem, belief: Floats, truth: int) -> tuple[float, bool]:
    shares = problem.stage_shares @ belief
    first = int(shares.argmax())
    return float(shares[first]), bool(problem.stage_shares[first, truth])


def _verdict(problem: Problem, belief: Floats, case: Case) -> tuple[bool, bool, bool, bool]:
    """Tell whether the leading stage, part, part or twin, and one of three parts hold the true fault."""
    order: Sequence[int] = np.argsort(-(problem.cures @ belief), kind="stable").tolist()
    right = [bool(problem.cures[n, case.truth]) for n in order[:3]]
    twin = [bool(problem.cures[n, [case.truth, *sorted(case.twins)]].any()) for n in order[:1]]
    return _leading(problem, belief, case.truth)[1], any(right[:1]), any(twin), any(right)
