# SPDX-License-Identifier: MIT
"""The bench minutes of a session, and where the bench stands after them: a walk over what was done.

A search by hand takes the way to it and the test of each part up to the one that is bad; the set is then off,
open and discharged, and changing that part takes its own minutes and a run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from backporch.engine.planning.problem import Position, Problem
from backporch.engine.session.entry import Entry
from backporch.engine.session.search_entry import parts_tested

__all__ = ["Walked", "walked"]


@dataclass(frozen=True)
class Walked:
    """What a session took so far, and where it led."""

    position: Position
    test_minutes: float
    change_minutes: float
    """Minutes of parts changed or proved, those of searches by hand among them [min]."""


def walked(problem: Problem, entries: Sequence[Entry], start: Position) -> Walked:
    """Return the minutes of all that was done, and the state of the bench after it.

    Args:
        problem: Has tests, repairs and costs.
        entries: The standing entries.
        start: Where the bench stood before the first of them.
    """
    by_key = {test.key: test for test in problem.tests}
    repairs = {repair.key: repair for repair in problem.repairs}
    position, tests, changes = start, 0.0, 0.0
    for entry in entries:
        if entry.kind == "answer" and entry.key in by_key:
            test = by_key[entry.key]
            tests += problem.minutes(test, position)
            states, power = problem.after(test, position)
        elif entry.kind == "search":
            parts = [part for part in parts_tested(entry) if part in repairs]
            changes += problem.search_way(position) + sum(repairs[part].by_hand_minutes for part in parts)
            states, power = problem.after_search(position)
        elif entry.kind == "repair" and entry.key in repairs:
            changes += problem.repair_way(repairs[entry.key], position)
            states, power = problem.after_repair(repairs[entry.key], position)
        else:
            continue
        position = replace(position, states=states, power=power)
    return Walked(position, tests, changes)
