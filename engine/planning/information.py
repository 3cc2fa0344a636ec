# SPDX-License-Identifier: MIT
"""How much each test would teach, and what it costs to repair in the best order.

Sources: Shannon entropy and mutual information (textbook); repairs in order of falling probability
per minute are the cheapest order for one fault and independent minutes (Kalagnanam and Henrion,
A comparison of decision analysis and expert rules for sequential diagnosis, UAI 1988).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.problem import Problem

__all__ = ["outcome_probabilities", "posteriors", "repair_minutes", "test_bits"]

Floats = NDArray[np.float64]

_EXCLUDED = 1e-12
"""Hypotheses below this add nothing that could be told in a table."""


def outcome_probabilities(problem: Problem, belief: Floats) -> Floats:
    """Return the probability of each outcome of each test, shape (tests, outcomes)."""
    return _outcomes_and_certainty(problem, belief)[0]


def test_bits(problem: Problem, belief: Floats) -> Floats:
    """Return the information in bits that each test is expected to give, shape (tests,), never below 0."""
    expected, certainty = _outcomes_and_certainty(problem, belief)
    spread = -np.sum(np.where(expected > 0, expected * np.log2(np.maximum(expected, 1e-300)), 0.0), axis=1)
    return np.asarray(np.maximum(spread + certainty, 0.0), dtype=float)


def _outcomes_and_certainty(problem: Problem, belief: Floats) -> tuple[Floats, Floats]:
    """Return the probability of each outcome of each test, and the expected certainty of its answer [bit].

    Memory is what takes the time in large problems: they are kept and multiplied in single precision, one part
    in a million being far finer than any table is known; the last outcome is what the others leave; and what
    is as good as excluded is left unread.
    """
    flat = problem.flat
    kept = np.flatnonzero(belief > _EXCLUDED)
    if 2 * len(kept) < len(belief):
        flat, belief = flat[kept], belief[kept]
    found = np.asarray(belief.astype(flat.dtype) @ flat, dtype=float).reshape(len(problem.tests), -1)
    certainty = found[:, -1].copy()
    found[:, -1] = np.maximum(float(belief.sum()) - found[:, :-1].sum(axis=1), 0.0)
    return found, certainty


def posteriors(problem: Problem, test: int, belief: Floats) -> tuple[Floats, Floats]:
    """Return the probability of each outcome of one test and the belief after each, (outcomes, hypotheses)."""
    joint = problem.tests[test].table * belief
    chance = joint.sum(axis=1)
    return chance, joint / np.maximum(chance, 1e-300)[:, None]


def repair_minutes(problem: Problem, beliefs: Floats, open_repairs: NDArray[np.bool_], search: float) -> Floats:
    """Return the expected minutes to a working set by repairs alone, in their best order.

    Args:
        problem: Has the repairs.
        beliefs: One belief a row, shape (n, hypotheses).
        open_repairs: Which repairs are still open, shape (repairs,).
        search: Minutes to find by other means a fault that no open repair cures [min].
    Returns:
        Expected minutes for each belief, shape (n,).
    """
    minutes = np.array([r.minutes for r in problem.repairs])[open_repairs]
    chance = beliefs @ problem.cures[open_repairs].T
    order = np.argsort(-chance / minutes, axis=1, kind="stable")
    sorted_chance = np.take_along_axis(chance, order, axis=1)
    sorted_minutes = minutes[order]
    reached = 1.0 - np.cumsum(sorted_chance, axis=1) + sorted_chance
    left = np.maximum(1.0 - sorted_chance.sum(axis=1), 0.0)
    minutes_spent: Floats = np.sum(np.maximum(reached, 0.0) * sorted_minutes, axis=1) + left * search
    return minutes_spent
