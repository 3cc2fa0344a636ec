# SPDX-License-Identifier: MIT
"""Other ways to order tests, to hold the planner against: chart, elimination, half-split, plain ratios.

They differ in what they ask and, for the hard elimination, in what they conclude.  Each comes in two
forms, which differ in when they stop asking and in what they do then.

*As defined*, with a fixed stop: it asks until the leading stage is above 90 % and the leading part above
80 %, or no test tells anything; then it changes parts one after the other, the likeliest first, each with
its minutes, the way there and the run that follows, until the true one is met.  It never asks again, never
tests a part by hand and weighs no minutes against odds.  Parts that were struck out come last, in the order
of their odds after the symptoms; after all parts it ends.

*With our stop and search*: it asks until one part stands above 80 % or nothing tells, then changes the
likeliest part per minute, asks on where that did not cure, and goes over to a search by hand as soon as
that is expected to take less.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Settings, Step, next_step
from backporch.engine.planning.information import test_bits
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.problem import Position, Problem
from backporch.engine.planning.trials import Policy, ruled_by_cause, ruled_by_likelihood

__all__ = ["baselines", "defined_baselines", "ours"]

Floats = NDArray[np.float64]
Score = Callable[[Problem, Position, Floats], Floats]
Learn = Callable[[Floats, Sequence[tuple[str, Floats]]], Floats]
Choose = Callable[[Problem, Position], Step]

_SEARCH_MINUTES = Settings().search_minutes
_SURE_STAGE = 0.9
_SURE_PART = 0.8
_TELLS_BITS = 0.02
_EXCLUDED = 0.25
"""Hard elimination strikes out a fault under which the answer is this much rarer than under the best."""
_LAST = 1e-9
"""What is left to parts that were struck out, so that they keep their order."""


def ours(name: str, settings: Settings) -> Policy:
    """Return the planner with its settings as a policy."""
    return Policy(
        name, lambda problem, position: next_step(problem, position, settings), ruled_by_cause, settings.careful
    )


def baselines() -> tuple[Policy, ...]:
    """Return the policies that the planner is compared with, with its own stop and search."""
    return tuple(Policy(name, _asking(name, score), learn) for name, score, learn in _ORDERS)


def defined_baselines() -> tuple[Policy, ...]:
    """Return the same policies with the fixed stop by which they are defined."""
    return tuple(
        Policy(f"{name}, as defined", _fixed_stop(name, score), partial(_in_order, learn))
        for name, score, learn in _ORDERS
    )


def _in_order(learn: Learn, start: Floats, told: Sequence[tuple[str, Floats]]) -> Floats:
    """Return what an order concludes; what it struck out stays behind all others, in the order of before."""
    return np.asarray((learn(start, told) + _LAST * start) / (1.0 + _LAST), dtype=float)


def _fixed_stop(name: str, score: Score) -> Choose:
    def choose(problem: Problem, position: Position) -> Step:
        parts = [n for n, r in enumerate(problem.repairs) if r.key not in position.done]
        if len(parts) == len(problem.repairs):
            stage, part = (float((of @ position.belief).max()) for of in (problem.stage_shares, problem.cures))
            test = _next_test(name, score, problem, position)
            if test is not None and not (stage > _SURE_STAGE and part > _SURE_PART):
                return test
        if not parts:
            return Step("end")
        chance = problem.cures[parts] @ position.belief
        return Step("repair", problem.repairs[parts[int(chance.argmax())]].key)

    return choose


def _asking(name: str, score: Score) -> Choose:
    def choose(problem: Problem, position: Position) -> Step:
        if float((problem.cures @ position.belief).max()) < _SURE_PART:
            test = _next_test(name, score, problem, position)
            if test is not None:
                return test
        return _likeliest_repair(problem, position)

    return choose


def _next_test(name: str, score: Score, problem: Problem, position: Position) -> Step | None:
    """Return the test that an order asks next, or None where none tells anything."""
    bits = test_bits(problem, position.belief)
    least = 0.0 if name == _CHART else _TELLS_BITS
    telling = (bits >= least) & np.array([t.key not in position.done for t in problem.tests])
    if not telling.any():
        return None
    best = int(np.where(telling, score(problem, position, bits), -np.inf).argmax())
    return Step("test", problem.tests[best].key, problem.minutes(problem.tests[best], position))


def _likeliest_repair(problem: Problem, position: Position) -> Step:
    live = live_problem(problem, position, (), _SEARCH_MINUTES)
    best = live.first_repair(live.start)
    return Step("repair", problem.repairs[int(live.repairs[best])].key) if best >= 0 else Step("search")


def _by_chart(problem: Problem, _position: Position, _bits: Floats) -> Floats:
    return np.array([-100.0 * t.tier - t.minutes for t in problem.tests])


def _per_minute(problem: Problem, position: Position, bits: Floats) -> Floats:
    minutes = np.array([problem.minutes(t, position) for t in problem.tests])
    return np.asarray(bits / np.maximum(minutes, 0.1), dtype=float)


def _half_split(problem: Problem, position: Position, _bits: Floats) -> Floats:
    """Score by information over what is still likely, all taken as equally likely, whatever it costs."""
    likely = (position.belief > 0.02 * position.belief.max()).astype(float)
    return test_bits(problem, likely / likely.sum())


def _struck_out(start: Floats, told: Sequence[tuple[str, Floats]]) -> Floats:
    belief = start
    for _, likelihood in told:
        left = belief * (likelihood >= _EXCLUDED * likelihood.max())
        belief = np.asarray(left / left.sum(), dtype=float) if left.sum() > 1e-9 else belief
    return belief


_CHART = "fixed chart"
_ORDERS: tuple[tuple[str, Score, Learn], ...] = (
    (_CHART, _by_chart, ruled_by_likelihood),
    ("hard elimination", _per_minute, _struck_out),
    ("half-split", _half_split, ruled_by_likelihood),
    ("information per minute", _per_minute, ruled_by_likelihood),
)
