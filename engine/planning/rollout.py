# SPDX-License-Identifier: MIT
"""Looks ahead: what a first step costs in all, if a plain rule carries on after it.

The plain rule asks the test with most information per minute that pays for itself, and repairs when
none does.  Small problems are followed through every answer; larger ones through sampled futures,
the same futures for every first step, with a fixed seed, so that the same state gives the same step.
Source: roll-out on an information rule, as in Tu and Pattipati, Rollout strategies for sequential fault
diagnosis, IEEE Transactions on Systems, Man and Cybernetics A 33(1), 2003.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.live import Live, Rows

__all__ = ["First", "Outlook", "follow_all", "follow_sampled", "one_step_minutes"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

_TRIES = 3
_FLOOR_BITS = 0.004
_DEEPEST = 14
_LEAST_WEIGHT = 5e-4
_SEED = 20


@dataclass(frozen=True)
class First:
    """A first step: a test or a repair, by its place in the live problem; with neither, a search by hand."""

    test: int = -1
    repair: int = -1


@dataclass(frozen=True)
class Outlook:
    """Expected minutes to a working set after each first step."""

    minutes: Floats
    futures: Floats | None = None
    """Minutes in each sampled future, shape (firsts, futures), or nothing where all were followed."""

    def certain(self, better: int, worse: int, guard: float) -> bool:
        """Tell whether one first step saves minutes against another by ``guard`` standard errors."""
        saved = float(self.minutes[worse] - self.minutes[better])
        if self.futures is None:
            return saved > 0.0
        paired = self.futures[worse] - self.futures[better]
        return bool(saved > guard * float(paired.std(ddof=1)) / len(paired) ** 0.5)


@dataclass(frozen=True)
class _Choice:
    tests: Ints
    stop: Bools
    now: Floats
    minutes: Floats


def _plain_rule(live: Live, rows: Rows) -> _Choice:
    """Return what the plain rule does from every row."""
    now = live.repair_cost(rows.beliefs, rows.states, rows.on)
    count = len(now)
    if not len(live.tests):
        nothing = np.zeros(count, dtype=np.intp)
        return _Choice(nothing, np.ones(count, dtype=bool), now, np.zeros(count))
    bits, costs = live.bits(rows), live.costs(rows)
    score = np.where(bits >= _FLOOR_BITS, bits / np.maximum(costs, 0.1), -1.0)
    tries = min(_TRIES, score.shape[1])
    likely = np.argsort(-score, axis=1, kind="stable")[:, :tries]
    chosen, stop = likely[:, 0].copy(), np.ones(count, dtype=bool)
    for place in range(tries):
        asked = np.flatnonzero(stop & (score[np.arange(count), likely[:, place]] > 0))
        if len(asked):
            tests = likely[asked, place]
            spent = costs[asked, tests] + _later(live, rows.take(asked), tests)
            paying = asked[spent < now[asked] - 1e-9]
            chosen[paying], stop[paying] = likely[paying, place], False
    return _Choice(chosen, stop, now, costs[np.arange(count), chosen])


def one_step_minutes(live: Live, tests: Ints | None = None) -> Floats:
    """Return for some or all tests their minutes and those of repairs expected after, with no test in between."""
    chosen = np.arange(len(live.tests)) if tests is None else tests
    rows = live.start.take(np.zeros(len(chosen), dtype=np.intp))
    return np.asarray(live.costs(live.start)[0][chosen] + _later(live, rows, chosen), dtype=float)


def _later(live: Live, rows: Rows, tests: Ints) -> Floats:
    """Return the expected minutes of repairs after one test a row."""
    chance, after = live.outcomes(rows, tests)
    moved = live.moved(rows, tests)
    outcomes = chance.shape[1]
    spent = live.repair_cost(
        after.reshape(-1, after.shape[2]), np.repeat(moved.states, outcomes, axis=0), np.repeat(moved.on, outcomes)
    )
    return np.asarray((chance * spent.reshape(chance.shape)).sum(axis=1), dtype=float)


def _begin(live: Live, first: First) -> tuple[float, Floats, Rows]:
    """Return the minutes of a first step, and the weights and rows that it leads to."""
    start = live.start
    if first.test >= 0:
        tests = np.array([first.test])
        chance, after = live.outcomes(start, tests)
        moved = live.moved(start, tests).take(np.zeros(chance.shape[1], dtype=np.intp))
        return (
            float(live.costs(start)[0, first.test]),
            chance[0],
            Rows(after[0], moved.states, moved.on, moved.open),
        )
    if first.repair < 0:
        return live.search_cost(start), np.zeros(1), start
    spent, after_repair = live.repaired(start, first.repair)
    left = float(start.beliefs[0] @ (1.0 - live.cures[first.repair]))
    return spent, np.array([left]), after_repair


def _joined(parts: list[Rows]) -> Rows:
    return Rows(
        np.concatenate([p.beliefs for p in parts]),
        np.concatenate([p.states for p in parts]),
        np.concatenate([p.on for p in parts]),
        np.concatenate([p.open for p in parts]),
    )


def follow_all(live: Live, firsts: list[First], least_weight: float = _LEAST_WEIGHT) -> Outlook:
    """Follow every answer after each first step; what is rarer than ``least_weight`` is repaired untested."""
    begun = [_begin(live, first) for first in firsts]
    minutes = np.array([spent for spent, _, _ in begun])
    roots = np.repeat(np.arange(len(firsts)), [len(weights) for _, weights, _ in begun])
    weights = np.concatenate([w for _, w, _ in begun])
    rows = _joined([r for _, _, r in begun])
    for depth in range(_DEEPEST):
        there = weights > 1e-9
        rows, weights, roots = rows.take(there), weights[there], roots[there]
        if not len(weights):
            break
        choice = _plain_rule(live, rows)
        stop = choice.stop | (weights < least_weight) | (depth == _DEEPEST - 1)
        spent = np.where(stop, choice.now, choice.minutes) * weights
        minutes = minutes + np.bincount(roots, weights=spent, minlength=len(firsts))
        rows, weights, roots = _branched(live, rows.take(~stop), choice.tests[~stop], weights[~stop], roots[~stop])
    return Outlook(minutes)


def _branched(live: Live, rows: Rows, tests: Ints, weights: Floats, roots: Ints) -> tuple[Rows, Floats, Ints]:
    """Return one row for each answer to the test of each row."""
    chance, after = live.outcomes(rows, tests)
    moved = live.moved(rows, tests)
    outcomes = chance.shape[1]
    again = moved.take(np.repeat(np.arange(len(tests)), outcomes))
    branched = Rows(after.reshape(-1, after.shape[2]), again.states, again.on, again.open)
    return branched, (weights[:, None] * chance).ravel(), np.repeat(roots, outcomes)


def follow_sampled(live: Live, firsts: list[First], futures: int) -> Outlook:
    """Follow sampled futures after each first step: a true fault, and what each test would answer."""
    random = np.random.default_rng(_SEED)
    faults = random.choice(live.start.beliefs.shape[1], futures, p=live.start.beliefs[0])
    draws = random.random((futures, len(live.tests)))
    answers = np.minimum(
        (live.tables[:, :, faults].cumsum(axis=1) < draws.T[:, None, :] - 1e-12).sum(axis=1),
        live.tables.shape[1] - 1,
    ).T
    minutes = np.zeros((len(firsts), futures))
    rows, places = _sampled_start(live, firsts, faults, answers, minutes)
    for depth in range(_DEEPEST):
        if not len(places):
            break
        choice = _plain_rule(live, rows)
        stop = choice.stop | (depth == _DEEPEST - 1)
        minutes.ravel()[places] += np.where(stop, choice.now, choice.minutes)
        rows, places = rows.take(~stop), places[~stop]
        rows = _answered(live, rows, choice.tests[~stop], answers[places % futures, choice.tests[~stop]])
    return Outlook(minutes.mean(axis=1), minutes)


def _sampled_start(
    live: Live, firsts: list[First], faults: Ints, answers: Ints, minutes: Floats
) -> tuple[Rows, Ints]:
    """Return the rows after each first step in each future and their places; adds the first minutes."""
    futures = len(faults)
    parts, places = [], []
    for n, first in enumerate(firsts):
        spent, _, after = _begin(live, first)
        minutes[n] += spent
        if first.test >= 0:
            which, alive = answers[:, first.test], np.ones(futures, dtype=bool)
        else:
            which = np.zeros(futures, dtype=np.intp)
            alive = live.cures[first.repair, faults] == 0 if first.repair >= 0 else which > 0
        parts.append(after.take(which[alive]))
        places.append(n * futures + np.flatnonzero(alive))
    return _joined(parts), np.concatenate(places)


def _answered(live: Live, rows: Rows, tests: Ints, answers: Ints) -> Rows:
    """Return the rows after one answered test each."""
    joint = live.tables[tests, answers] * rows.beliefs
    moved = live.moved(rows, tests)
    return Rows(joint / np.maximum(joint.sum(axis=1, keepdims=True), 1e-300), moved.states, moved.on, moved.open)
