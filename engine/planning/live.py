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

__all__ = ["LEAST_LISTED", "SEARCHED", "Live", "Rows", "live_problem"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_LEAST_CHANCE = 1e-4
LEAST_LISTED = 0.003
"""Parts less likely than this are not on the list of a search by hand."""
_LISTED = 12
"""Parts on the list of a search by hand."""
SEARCHED = "search"
"""Stands among what is done once a search by hand found nothing."""
_NEVER = 1e6
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

    kept: Ints
    """Index in the whole problem of each hypothesis that is still in play."""
    tests: Ints
    """Index of each test in the whole problem."""
    tables: Floats
    """Shape (tests, outcomes, hypotheses)."""
    certainty: Floats
    minutes: Floats
    power: NDArray[np.int8]
    """1 where a test needs power on, -1 off, 0 either."""
    then_on: Bools
    """Where the set is run after the test to see what it did."""
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
    """Each with switching off, discharging and the run that follows; without the access that lasts."""
    repair_access: Floats
    groups: tuple[Ints, ...]
    """Repairs that need the same lasting access."""
    group_access: Floats
    """Shape (groups, states)."""
    test_minutes: Floats
    """Minutes of testing each part by hand."""
    change_minutes: Floats
    """Minutes of changing each part that tested bad, and of the run that follows."""
    search_access: Floats
    """1 for the states that a search by hand needs."""
    searched: bool
    """Whether a search by hand was made already, in vain."""
    run: float
    """Minutes of a run that shows what a change did."""
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
        total = total + off_first * self.to_off + back_on * self.to_on + self.then_on * self.run
        return np.asarray(total, dtype=float)

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
        on = np.where(power > 0, True, np.where(power < 0, False, rows.on & ~went_off)) | self.then_on[tests]
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
        """Return the expected minutes without further tests of the set.

        The likeliest parts are changed one by one; from the best place on the others are tested by hand,
        until the fault is met; and what is no part on the list of the chassis is found by other means.
        """
        if not len(self.repairs):
            return np.full(len(beliefs), self.search)
        return np.asarray(self._by_length(beliefs, states, on)[1].min(axis=1), dtype=float)

    def first_repair(self, row: Rows) -> int:
        """Return the repair that a good order begins with, or -1 where a search by hand costs less."""
        if not len(self.repairs):
            return -1
        order, spent = self._by_length(row.beliefs, row.states, row.on)
        return int(order[0, 0]) if self.searched or spent[0, 1:].min() < spent[0, 0] - 1e-9 else -1

    def search_cost(self, row: Rows) -> float:
        """Return the expected minutes of a search by hand that begins now."""
        if not len(self.repairs):
            return self.search
        return float(self._by_length(row.beliefs, row.states, row.on)[1][0, 0])

    def _by_length(self, beliefs: Floats, states: Floats, on: Bools) -> tuple[Ints, Floats]:
        """Return the order of parts, and the expected minutes if the first none, one, two ... are changed.

        The parts behind those are tested by hand, in one go and without a run in between: those on the list,
        and all others if it was none of them.
        """
        chance = beliefs @ self.cures.T
        everything = self.repair_order(chance, states)
        order, rest = everything[:, :_LISTED], everything[:, _LISTED:]
        beyond = np.take_along_axis(chance, rest, axis=1)
        chance = np.take_along_axis(chance, order, axis=1)
        nothing = np.zeros((len(beliefs), 1))
        reached = np.concatenate([nothing + 1.0, np.maximum(1.0 - np.cumsum(chance, axis=1), 0.0)], axis=1)
        changed = np.cumsum(self._each(order, states) * reached[:, :-1], axis=1)
        changed -= self._already(order[:, 0], states, on)[:, None]
        by_hand = self.test_minutes[order] * reached[:, :-1] + self.change_minutes[order] * chance
        tested = np.concatenate([np.cumsum(by_hand[:, ::-1], axis=1)[:, ::-1], nothing], axis=1)
        total = np.concatenate([nothing, changed], axis=1) + reached * self._ways(order, states, on) + tested
        if self.searched:
            total[:, :-1] += _NEVER
        unlisted = np.maximum(reached[:, -1] - beyond.sum(axis=1), 0.0)
        return order, total + (self._tested_on(rest, beyond) + unlisted * self.search)[:, None]

    def _tested_on(self, rest: Ints, chance: Floats) -> Floats:
        """Return the minutes of testing the parts behind the list, one by one until the fault is met."""
        still = np.cumsum(chance[:, ::-1], axis=1)[:, ::-1]
        return np.asarray((still * self.test_minutes[rest] + chance * self.change_minutes[rest]).sum(axis=1))

    def _ways(self, order: Ints, states: Floats, on: Bools) -> Floats:
        """Return the minutes of the way to a search by hand if it begins after none, one, two ... changes."""
        found = np.full((len(order), order.shape[1] + 1), self.to_off)
        found[:, 0] *= on
        for state in np.flatnonzero(self.search_access):
            paid = np.zeros_like(found)
            if not self.lost_when_on[state]:
                paid[:, 1:] = np.maximum.accumulate(self.repair_access[order, state], axis=1)
                paid = np.maximum(paid, states[:, state : state + 1])
            else:
                paid[:, 0] = states[:, state]
            found += (1.0 - paid) * self.state_minutes[state]
        return found

    def hand_order(self, row: Rows) -> Ints:
        """Return the parts that a search by hand tests, in their order."""
        chance = self.cures @ row.beliefs[0]
        order = np.argsort(-np.round(chance / np.maximum(self.test_minutes, 0.5), 12), kind="stable")
        return np.asarray(order[chance[order] >= LEAST_LISTED][:_LISTED], dtype=np.intp)

    def way_by_hand(self, row: Rows) -> float:
        """Return the minutes of the way to a search by hand."""
        return float(self._ways(np.zeros((1, 1), dtype=np.intp), row.states, row.on)[0, 0])

    def repair_order(self, chance: Floats, states: Floats) -> Ints:
        """Return the order of repairs, shape (rows, repairs): most probability per minute first.

        Repairs that need the same access go together where the way there is still to be paid: as many
        of them as make the way pay best count as one.
        """
        value = np.round(chance / self.repair_minutes, 12)
        keyed = value.copy()
        ways = (self.group_access @ ((1.0 - states) * self.state_minutes).T).T
        for n, members in enumerate(self.groups):
            rows = np.flatnonzero(ways[:, n] > 0.0)
            if len(rows):
                keyed[np.ix_(rows, members)] = self._joined(
                    chance[np.ix_(rows, members)], value[np.ix_(rows, members)], members, ways[rows, n]
                )
        plain = np.argsort(-value, axis=1, kind="stable")
        grouped = np.argsort(-np.take_along_axis(keyed, plain, axis=1), axis=1, kind="stable")
        return np.take_along_axis(plain, grouped, axis=1)

    def _joined(self, chance: Floats, value: Floats, members: Ints, way: Floats) -> Floats:
        """Return the value of each repair of one group where the first of them pays the way."""
        inside = np.argsort(-value, axis=1, kind="stable")
        gained = np.cumsum(np.take_along_axis(chance, inside, axis=1), axis=1)
        ratio = gained / (way[:, None] + np.cumsum(self.repair_minutes[members][inside], axis=1))
        best = ratio.argmax(axis=1)[:, None]
        together = np.arange(len(members)) <= best
        shared = np.where(
            together, np.take_along_axis(ratio, best, axis=1), np.take_along_axis(value, inside, axis=1)
        )
        found = np.empty_like(value)
        np.put_along_axis(found, inside, np.round(shared, 12), axis=1)
        return found

    def _each(self, order: Ints, states: Floats) -> Floats:
        """Return the minutes of each repair in its place, its access paid where it is first needed."""
        each = self.repair_minutes[order]
        for state in np.flatnonzero(self.repair_access.any(axis=0) & (self.lost_when_on == 0)):
            needs = self.repair_access[order, state] > 0
            first = needs & (np.cumsum(needs, axis=1) == 1)
            each = each + first * ((1.0 - states[:, state]) * self.state_minutes[state])[:, None]
        return np.asarray(each, dtype=float)

    def _already(self, first: Ints, states: Floats, on: Bools) -> Floats:
        """Return the minutes that the first repair is spared because the set is off or discharged already."""
        spared = states * self.repair_access[first] * self.lost_when_on
        return np.asarray(spared @ self.state_minutes + ~on * self.to_off, dtype=float)

    def repaired(self, row: Rows, repair: int) -> tuple[float, Rows]:
        """Return the minutes of one repair from one row, and where one stands if it did not cure."""
        spared = self._already(np.array([repair]), row.states, row.on)
        spent = self._each(np.array([[repair]]), row.states)[0, 0] - spared[0]
        left = row.beliefs[0] * (1.0 - self.cures[repair])
        missing = self.repair_access[repair] * (1.0 - row.states[0])
        states = np.maximum(row.states[0] * (missing @ self.ends == 0), self.repair_access[repair])
        states = np.where(self.lost_when_on > 0, 0.0, states)
        belief = left / max(float(left.sum()), 1e-300)
        return float(spent), Rows(belief[None], states[None], np.array([True]), row.open)


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
    names = sorted(set(costs.access_minutes).union(position.states, *(t.access for t in (*chosen, *used))))

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
    lost = marks([costs.lost_with_power_on])[0]
    state_minutes = np.array([costs.access_minutes.get(name, 0.0) for name in names])
    repair_access = marks([r.access for r in used])
    lasting = [r.access - costs.lost_with_power_on for r in used]
    kinds = sorted(set(lasting), key=sorted)
    each = costs.to_off_minutes + costs.run_minutes
    return Live(
        kept=kept,
        tests=tests,
        tables=problem.tables[np.ix_(tests, np.arange(problem.tables.shape[1]), kept)],
        certainty=problem.certainty[np.ix_(tests, kept)],
        minutes=np.array([t.minutes for t in chosen]),
        power=np.array([_POWERS[t.power] for t in chosen], dtype=np.int8),
        then_on=np.array([t.then_on for t in chosen], dtype=bool),
        access=marks([t.access for t in chosen]),
        state_minutes=state_minutes,
        off_to_reach=marks([costs.reached_off])[0],
        lost_when_on=lost,
        ends=marks([costs.ends.get(name, frozenset()) for name in names]),
        to_on=costs.to_on_minutes,
        to_off=costs.to_off_minutes,
        repairs=repairs,
        cures=problem.cures[np.ix_(repairs, kept)],
        repair_minutes=np.array([r.minutes for r in used]) + each + repair_access @ (lost * state_minutes),
        repair_access=repair_access,
        groups=tuple(
            np.array([n for n, access in enumerate(lasting) if access == kind], dtype=np.intp) for kind in kinds
        ),
        group_access=marks(kinds),
        test_minutes=np.array([r.by_hand_minutes for r in used]),
        change_minutes=np.array([r.minutes for r in used]) + costs.run_minutes,
        search_access=marks([costs.search_access])[0],
        searched=SEARCHED in position.done,
        run=costs.run_minutes,
        search=search,
        start=start,
    )
