# SPDX-License-Identifier: MIT
"""What is still in play of a problem: likely hypotheses, open tests that teach, repairs that may cure.

Everything is kept as plain arrays, so that many bench positions can be carried forward at once.
Hypotheses below 1e-4 are left out of the look ahead; the ranking itself keeps them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.problem import Position, Problem

__all__ = ["Live", "Rows", "live_problem"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_LEAST_CHANCE = 1e-4
_POWERS = {"off": -1, "either": 0, "on": 1}


@dataclass(frozen=True)
class Rows:
    """Many bench positions at once, one a row."""

    beliefs: Floats
    """Shape (rows, hypotheses)."""
    states: Floats
    """1 where a bench state is reached, shape (rows, states)."""
    on: Bools
    """Whether the set is on, shape (rows,)."""
    open: Bools
    """Which tests are open, shape (rows, tests)."""

    def take(self, which: Ints | Bools) -> Rows:
        """Return the chosen rows."""
        return Rows(self.beliefs[which], self.states[which], self.on[which], self.open[which])


@dataclass(frozen=True)
class Live:
    """The part of a problem that is still in play."""

    tests: Ints
    """Index of each test in the whole problem."""
    tables: Floats
    """Shape (tests, outcomes, hypotheses)."""
    certainty: Floats
    minutes: Floats
    power: NDArray[np.int8]
    """1 where a test needs power on, -1 off, 0 either."""
    access: Floats
    """Shape (tests, states)."""
    state_minutes: Floats
    off_to_reach: Floats
    lost_when_on: Floats
    ends: Floats
    """Which state (row) ends which (column)."""
    to_on: float
    to_off: float
    repairs: Ints
    cures: Floats
    repair_minutes: Floats
    repair_access: Floats
    search: float
    start: Rows

    def costs(self, rows: Rows) -> Floats:
        """Return the marginal minutes of every test from every row, shape (rows, tests)."""
        missing = 1.0 - rows.states
        total = self.minutes + (missing * self.state_minutes) @ self.access.T
        off_for_access = (missing * self.off_to_reach) @ self.access.T > 0
        on = rows.on[:, None]
        off_first = on & ((self.power < 0) | off_for_access)
        back_on = (self.power > 0) & (off_first | ~on)
        return np.asarray(total + off_first * self.to_off + back_on * self.to_on, dtype=float)

    def bits(self, rows: Rows) -> Floats:
        """Return the information of every open test from every row; closed tests give -1."""
        count, outcomes, width = self.tables.shape
        chance = rows.beliefs @ self.tables.reshape(count * outcomes, width).T
        spread = (chance * np.log2(chance + 1e-300)).reshape(-1, count, outcomes).sum(axis=2)
        found = np.maximum(rows.beliefs @ self.certainty.T - spread, 0.0)
        return np.where(rows.open, found, -1.0)

    def moved(self, rows: Rows, tests: Ints) -> Rows:
        """Return the rows after one test each, with beliefs as they were."""
        access = self.access[tests]
        missing = access * (1.0 - rows.states)
        states = np.maximum(rows.states * (missing @ self.ends == 0), access)
        power = self.power[tests]
        went_off = (missing @ self.off_to_reach) > 0
        on = np.where(power > 0, True, np.where(power < 0, False, rows.on & ~went_off))
        states = np.where(on[:, None] & (self.lost_when_on > 0), 0.0, states)
        still = rows.open.copy()
        still[np.arange(len(tests)), tests] = False
        return Rows(rows.beliefs, states, on, still)

    def outcomes(self, rows: Rows, tests: Ints) -> tuple[Floats, Floats]:
        """Return chance (rows, outcomes) and beliefs after (rows, outcomes, hypotheses) of one test a row."""
        joint = self.tables[tests] * rows.beliefs[:, None, :]
        chance = joint.sum(axis=2)
        return chance, joint / np.maximum(chance, 1e-300)[:, :, None]

    def repair_cost(self, beliefs: Floats, states: Floats, on: Bools) -> Floats:
        """Return the expected minutes of repairs alone, in falling probability per minute, then a search."""
        if not len(self.repairs):
            return np.full(len(beliefs), self.search)
        chance = beliefs @ self.cures.T
        order = np.argsort(-chance / self.repair_minutes, axis=1, kind="stable")
        chance = np.take_along_axis(chance, order, axis=1)
        left = np.maximum(1.0 - np.cumsum(chance, axis=1), 0.0)
        reached = np.concatenate([np.ones((len(beliefs), 1)), left], axis=1)
        spent = np.cumsum(self._each(order, states) * reached[:, :-1], axis=1)
        spent = np.concatenate([np.zeros((len(beliefs), 1)), spent], axis=1)
        return np.asarray((spent + reached * self.search).min(axis=1) + on * self.to_off, dtype=float)

    def _each(self, order: Ints, states: Floats) -> Floats:
        """Return the minutes of each repair in its place, its access paid where it is first needed."""
        each = self.repair_minutes[order]
        for state in np.flatnonzero(self.repair_access.any(axis=0)):
            needs = self.repair_access[order, state] > 0
            first = needs & (np.cumsum(needs, axis=1) == 1)
            each = each + first * ((1.0 - states[:, state]) * self.state_minutes[state])[:, None]
        return np.asarray(each, dtype=float)


def live_problem(
    problem: Problem,
    position: Position,
    open_tests: Sequence[int],
    search: float,
    least_chance: float = _LEAST_CHANCE,
) -> Live:
    """Return what is still in play.

    Args:
        problem: All tests and repairs.
        position: Where the session stands.
        open_tests: Index of the tests to carry, in the order of the problem.
        search: Minutes to find by other means what no repair cures [min].
        least_chance: Hypotheses below this are left out.
    """
    kept = np.flatnonzero(position.belief >= min(least_chance, float(position.belief.max())))
    belief = position.belief[kept] / position.belief[kept].sum()
    tests = np.array(open_tests, dtype=np.intp)
    chance = problem.cures[:, kept] @ belief if len(problem.repairs) else np.zeros(0)
    repairs = np.array(
        [n for n, r in enumerate(problem.repairs) if r.key not in position.done and chance[n] > 0], dtype=np.intp
    )
    costs, chosen = problem.costs, [problem.tests[n] for n in tests]
    used = [problem.repairs[n] for n in repairs]
    names = sorted(set(costs.access_minutes).union(position.states, *(t.access for t in chosen)))

    def marks(sets: Sequence[frozenset[str]]) -> Floats:
        return np.array([[name in one for name in names] for one in sets], dtype=float).reshape(
            len(sets), len(names)
        )

    start = Rows(
        belief[None, :],
        marks([position.states]),
        np.array([position.power == "on"]),
        np.ones((1, len(tests)), dtype=bool),
    )
    return Live(
        tests=tests,
        tables=problem.tables[np.ix_(tests, np.arange(problem.tables.shape[1]), kept)],
        certainty=problem.certainty[np.ix_(tests, kept)],
        minutes=np.array([t.minutes for t in chosen]),
        power=np.array([_POWERS[t.power] for t in chosen], dtype=np.int8),
        access=marks([t.access for t in chosen]),
        state_minutes=np.array([costs.access_minutes.get(name, 0.0) for name in names]),
        off_to_reach=marks([costs.reached_off])[0],
        lost_when_on=marks([costs.lost_with_power_on])[0],
        ends=marks([costs.ends.get(name, frozenset()) for name in names]),
        to_on=costs.to_on_minutes,
        to_off=costs.to_off_minutes,
        repairs=repairs,
        cures=problem.cures[np.ix_(repairs, kept)],
        repair_minutes=np.array([r.minutes for r in used]),
        repair_access=marks([r.access for r in used]),
        search=search,
        start=start,
    )
