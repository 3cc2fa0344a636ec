# SPDX-License-Identifier: MIT
"""What one more instrument would save: the same cases played with and without it.

Limits: answers come from the tables, and the planner looks one step ahead here, so that many cases can
be played; a saving within two standard errors of nothing is not told from nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from backporch.engine.planning.baselines import ours
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.problem import Problem
from backporch.engine.planning.trials import Case, play

__all__ = ["Worth", "instrument_worth"]


@dataclass(frozen=True)
class Worth:
    """What one instrument saves on one bench."""

    instrument: str
    saves_minutes: float
    """Minutes saved in the mean of all cases; below 0 where it costs."""
    standard_error: float
    saves_parts: float
    """Parts that need not be changed, in the mean."""


def instrument_worth(
    problem: Problem,
    needs: Mapping[str, frozenset[str]],
    bench: frozenset[str],
    wanted: Sequence[str],
    cases: Sequence[Case],
    settings: Settings | None = None,
    brings: Mapping[str, frozenset[str]] | None = None,
    watch: Callable[[Sequence[str]], Iterator[str]] = iter,
) -> tuple[Worth, ...]:
    """Return what each wanted instrument would save on a bench, the most useful first.

    Args:
        problem: All tests that some bench can make.
        needs: Instruments that each test needs, by key.
        bench: Instruments at hand.
        wanted: Instruments that may be added.
        cases: Cases whose start bars no test for want of an instrument; the same for every bench.
        settings: How the planner weighs; by default it looks one step ahead.
        brings: What an instrument stands in for, by its name, as a needle meter for the usual one.
        watch: Gives the wanted instruments on one by one, perhaps with a bar.
    """
    settings = settings or Settings(futures=0)
    before = _played(problem, needs, bench, cases, settings)
    found = []
    for name in watch(wanted):
        with_it = bench | {name} | (brings or {}).get(name, frozenset())
        saved = before - _played(problem, needs, with_it, cases, settings)
        error = float(saved[:, 0].std(ddof=1)) / len(cases) ** 0.5 if len(cases) > 1 else float("inf")
        found.append(Worth(name, float(saved[:, 0].mean()), error, float(saved[:, 1].mean())))
    return tuple(sorted(found, key=lambda w: (-round(w.saves_minutes, 6), w.instrument)))


def _played(
    problem: Problem,
    needs: Mapping[str, frozenset[str]],
    bench: frozenset[str],
    cases: Sequence[Case],
    settings: Settings,
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return total minutes and parts changed of each case on one bench, shape (cases, 2)."""
    lacking = frozenset(key for key, instruments in needs.items() if not instruments <= bench)
    policy = ours("planner", settings)
    trials = [
        play(problem, replace(c, start=replace(c.start, done=c.start.done | lacking)), policy) for c in cases
    ]
    return np.array([[t.total_minutes, float(t.parts_changed)] for t in trials])
