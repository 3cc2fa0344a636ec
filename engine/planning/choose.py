# SPDX-License-Identifier: MIT
"""Chooses the next step: cheapest class first while it can still teach enough, then repair.

Inside a cost class the test with most information per minute comes first.  When no test pays for
itself any more, the likeliest repair per minute is proposed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from backporch.engine.planning.information import posteriors, repair_minutes, test_bits
from backporch.engine.planning.problem import Position, Problem

__all__ = ["Settings", "Step", "next_step"]


@dataclass(frozen=True)
class Settings:
    """How the planner weighs; the defaults were chosen on other seeds than those reported."""

    gate_bits: float = 0.2
    """A cost class is worth asking while its best test teaches at least this much [bit]."""
    floor_bits: float = 0.004
    """A test that teaches less than this is never asked [bit]."""
    search_minutes: float = 45.0
    """Minutes to find by other means a fault that no repair on the list cures."""
    sure_part: float = 0.8
    """A part this likely is repaired without further tests."""
    order: Literal["quickest", "cheapest"] = "quickest"


@dataclass(frozen=True)
class Step:
    """What to do next."""

    kind: Literal["test", "repair", "end"]
    key: str = ""
    minutes: float = 0.0
    """Marginal minutes of the step."""
    bits: float = 0.0
    """Information that the test is expected to give."""
    saves_minutes: float = 0.0
    """Minutes expected to be saved against repairing at once."""
    out_of_turn: bool = False
    """True where a dearer class is asked before a cheaper one is exhausted."""
    customary: bool = False
    """True for the look that the trade takes first after such a complaint."""

    @property
    def reason(self) -> str:
        """Why this step and not another, in one sentence."""
        if self.kind != "test":
            return ""
        if self.out_of_turn:
            return f"A dearer test now saves about {self.saves_minutes:.0f} min."
        if self.customary:
            return "It costs next to nothing and is the first look after such a complaint."
        if self.saves_minutes > 1:
            saved = f"about {self.saves_minutes:.0f} min against changing parts untested"
            return f"It is the cheapest test that tells enough; it should save {saved}."
        return "It is the cheapest test that still tells something."


def next_step(problem: Problem, position: Position, settings: Settings | None = None) -> Step:
    """Return the next step; the same state always gives the same step.

    Args:
        problem: All tests and repairs.
        position: The belief, what was done, and the state of the bench.
        settings: How to weigh.
    """
    settings = settings or Settings()
    belief = position.belief
    open_repairs = np.array([r.key not in position.done for r in problem.repairs], dtype=bool)
    bits = test_bits(problem, belief)
    open_tests = [
        n
        for n, test in enumerate(problem.tests)
        if test.key not in position.done and bits[n] >= settings.floor_bits
    ]
    repair = _best_repair(problem, position, open_repairs)
    if repair is not None and repair[1] >= settings.sure_part:
        return repair[0]
    now = float(repair_minutes(problem, belief[None, :], open_repairs, settings.search_minutes)[0])
    paying = []
    for n in open_tests:
        minutes = problem.minutes(problem.tests[n], position)
        chance, after = posteriors(problem, n, belief)
        later = float(chance @ repair_minutes(problem, after, open_repairs, settings.search_minutes))
        paying.append((n, minutes, now - minutes - later))
    worth = [p for p in paying if p[2] > 0] or [p for p in paying if bits[p[0]] / max(p[1], 0.1) > 0.08]
    if not worth:
        return repair[0] if repair is not None else Step("end")
    for tier in sorted({problem.tests[n].tier for n, _, _ in worth}):
        inside = [p for p in worth if problem.tests[p[0]].tier == tier]
        best = min(inside, key=lambda p: (-bits[p[0]] / max(p[1], 0.1), problem.tests[p[0]].key))
        if bits[best[0]] >= settings.gate_bits or tier == max(problem.tests[n].tier for n, _, _ in worth):
            return _test_step(problem, best, float(bits[best[0]]))
    best = min(worth, key=lambda p: (-bits[p[0]] / max(p[1], 0.1), problem.tests[p[0]].key))
    return _test_step(problem, best, float(bits[best[0]]))


def _test_step(problem: Problem, choice: tuple[int, float, float], bits: float) -> Step:
    n, minutes, saves = choice
    return Step("test", problem.tests[n].key, minutes, bits, saves)


def _best_repair(
    problem: Problem, position: Position, open_repairs: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> tuple[Step, float] | None:
    """Return the open repair with most probability per minute, and its probability."""
    if not open_repairs.any():
        return None
    chance = problem.cures @ position.belief
    minutes = np.array([r.minutes * (3.0 if r.last_resort else 1.0) for r in problem.repairs])
    value = np.where(open_repairs, chance / minutes, -1.0)
    best = min(range(len(value)), key=lambda n: (-round(float(value[n]), 12), problem.repairs[n].key))
    if chance[best] <= 1e-6:
        return None
    way = problem.way_to(frozenset(), "off", position)
    return Step("repair", problem.repairs[best].key, problem.repairs[best].minutes + way), float(chance[best])
