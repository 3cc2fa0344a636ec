# SPDX-License-Identifier: MIT
"""The best possible plan of a small problem, by dynamic programming over every answer and every order.

Only for a handful of tests: the number of states grows with the product of (outcomes + 1).  A yardstick
for the planner, which never calls it.  At every state one may ask any open test, make the likeliest
repair per minute and go on, or repair to the end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.errors import OutOfRange
from backporch.engine.planning.choose import Settings, next_step
from backporch.engine.planning.live import Live, Rows, live_problem
from backporch.engine.planning.problem import Position, Problem

__all__ = ["optimal_minutes", "policy_minutes"]

Floats = NDArray[np.float64]

_MOST_STATES = 400_000
_RARE = 5e-4


def optimal_minutes(problem: Problem, position: Position, settings: Settings | None = None) -> float:
    """Return the expected minutes to a working set under the best plan.

    Raises:
        OutOfRange: the problem has too many states.
    """
    settings = settings or Settings()
    live = live_problem(problem, position, _open(problem, position), settings.search_minutes, 0.0)
    states = float(np.prod([_outcomes(live, n) + 1 for n in range(len(live.tests))]))
    if states > _MOST_STATES:
        raise OutOfRange(f"The problem has {states:.0f} states; expected at most {_MOST_STATES}.")
    return _best(live, live.start, {}, (-1,) * len(live.tests))


def _open(problem: Problem, position: Position) -> list[int]:
    return [n for n, test in enumerate(problem.tests) if test.key not in position.done]


def _outcomes(live: Live, test: int) -> int:
    return int((live.tables[test].sum(axis=1) > 0).sum())


def _best(
    live: Live,
    rows: Rows,
    known: dict[object, float],
    answers: tuple[int, ...],
    made: frozenset[int] = frozenset(),
) -> float:
    name = (answers, made, bool(rows.on[0]), rows.states.tobytes())
    if name in known:
        return known[name]
    best = float(live.repair_cost(rows.beliefs, rows.states, rows.on)[0])
    if rows.open.any():
        best = min(best, _by_repair(live, rows, known, answers, made))
    costs = live.costs(rows)[0]
    for test in np.flatnonzero(rows.open[0]):
        if costs[test] < best:
            best = min(best, float(costs[test]) + _after(live, rows, known, answers, made, int(test)))
    known[name] = best
    return best


def _by_repair(
    live: Live, rows: Rows, known: dict[object, float], answers: tuple[int, ...], made: frozenset[int]
) -> float:
    """Return the minutes where the likeliest repair per minute is made, and testing goes on if it fails."""
    chance = live.cures @ rows.beliefs[0]
    repair = int(live.repair_order(chance[None], rows.states)[0, 0]) if len(chance) else -1
    if repair < 0 or chance[repair] < 1e-6:
        return float("inf")
    spent, then = live.repaired(rows, repair)
    left = float(rows.beliefs[0] @ (1.0 - live.cures[repair]))
    if left < 1e-9:
        return spent
    return spent + left * _best(live, then, known, answers, made | {repair})


def _after(
    live: Live,
    rows: Rows,
    known: dict[object, float],
    answers: tuple[int, ...],
    made: frozenset[int],
    test: int,
) -> float:
    tests = np.array([test])
    chance, beliefs = live.outcomes(rows, tests)
    moved = live.moved(rows, tests)
    total = 0.0
    for outcome in np.flatnonzero(chance[0] > 1e-12):
        then = Rows(beliefs[0, outcome][None], moved.states, moved.on, moved.open)
        said = (*answers[:test], int(outcome), *answers[test + 1 :])
        total += float(chance[0, outcome]) * _best(live, then, known, said, made)
    return total


def policy_minutes(problem: Problem, position: Position, settings: Settings, weight: float = 1.0) -> float:
    """Return the expected minutes to a working set if :func:`next_step` is obeyed to the end.

    What is rarer than one in two thousand is repaired without further tests.
    """
    step = next_step(problem, position, settings)
    if step.kind == "search":
        live = live_problem(problem, position, [], settings.search_minutes, 0.0)
        return live.search_cost(live.start)
    if step.kind == "end" or weight < _RARE:
        live = live_problem(problem, position, [], settings.search_minutes, 0.0)
        return float(live.repair_cost(live.start.beliefs, live.start.states, live.start.on)[0])
    if step.kind == "repair":
        return _repaired(problem, position, settings, weight, step.key)
    index = next(n for n, test in enumerate(problem.tests) if test.key == step.key)
    states, power = problem.after(problem.tests[index], position)
    joint = problem.tests[index].table * position.belief
    total = step.minutes
    for row in joint[joint.sum(axis=1) > 1e-12]:
        share = float(row.sum())
        after = Position(row / share, position.done | {step.key}, states, power)
        total += share * policy_minutes(problem, after, settings, weight * share)
    return total


def _repaired(problem: Problem, position: Position, settings: Settings, weight: float, key: str) -> float:
    repair = next(r for r in problem.repairs if r.key == key)
    left = np.where(repair.cures, 0.0, position.belief)
    share = float(left.sum())
    spent = problem.repair_way(repair, position)
    if share < 1e-9:
        return spent
    after = Position(left / share, position.done | {key}, *problem.after_repair(repair, position))
    return spent + share * policy_minutes(problem, after, settings, weight * share)
