# SPDX-License-Identifier: MIT
"""Other ways to order tests, to hold the planner against: chart, elimination, half-split, plain ratios.

All stop asking when one part stands above 80 % or no test tells anything, and then change the likeliest
part per minute, with the way there paid, until a search by hand is expected to take less; they differ in
what they ask and, for the hard elimination, in what they conclude.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Settings, Step, next_step
from backporch.engine.planning.information import test_bits
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.problem import Position, Problem
from backporch.engine.planning.trials import Policy, ruled_by_cause, ruled_by_likelihood

__all__ = ["baselines", "ours"]

Floats = NDArray[np.float64]
Score = Callable[[Problem, Position, Floats], Floats]

_SEARCH_MINUTES = Settings().search_minutes
_SURE_PART = 0.8
_TELLS_BITS = 0.02
_EXCLUDED = 0.25
"""Hard elimination strikes out a fault under which the answer is this much rarer than under the best."""


def ours(name: str, settings: Settings) -> Policy:
    """Return the planner with its settings as a policy."""
    return Policy(name, lambda problem, position: next_step(problem, position, settings), ruled_by_cause)


def baselines() -> tuple[Policy, ...]:
    """Return the policies that the planner is compared with."""
    return (
        _policy("fixed chart", _by_chart, ruled_by_likelihood),
        _policy("hard elimination", _per_minute, _struck_out),
        _policy("half-split", _half_split, ruled_by_likelihood),
        _policy("information per minute", _per_minute, ruled_by_likelihood),
    )


def _policy(name: str, score: Score, learn: Callable[[Floats, Sequence[tuple[str, Floats]]], Floats]) -> Policy:
    def choose(problem: Problem, position: Position) -> Step:
        open_tests = np.array([t.key not in position.done for t in problem.tests])
        bits = np.where(open_tests, test_bits(problem, position.belief), 0.0)
        telling = bits >= (_TELLS_BITS if name != "fixed chart" else 0.0)
        part = problem.cures @ position.belief
        if part.max() < _SURE_PART and (telling & open_tests).any():
            best = int(np.where(telling & open_tests, score(problem, position, bits), -np.inf).argmax())
            return Step("test", problem.tests[best].key, problem.minutes(problem.tests[best], position))
        return _likeliest_repair(problem, position)

    return Policy(name, choose, learn)


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
