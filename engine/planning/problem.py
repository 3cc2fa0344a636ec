# SPDX-License-Identifier: MIT
"""What the planner plans with: tests, repairs, the cost of reaching bench states, and where one stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backporch.engine.errors import OutOfRange

__all__ = ["CostModel", "Position", "Power", "Problem", "Repair", "Test"]

Floats = NDArray[np.float64]
Power = Literal["on", "off", "either"]

_LARGE = 4_000_000
"""Above this many numbers in the tables the planner multiplies in single precision."""


@dataclass(frozen=True)
class Test:
    """A look, control, reading or other test with a few outcomes."""

    key: str
    tier: int
    """Cost class: 0 look and listen, 1 controls, 2 rails, 3 exchanges, 4 meter, 5 oscilloscope, 6 soldering."""
    minutes: float
    """Own time [min], without reaching the bench states."""
    access: frozenset[str]
    power: Power
    table: Floats
    """Probability of each outcome under each hypothesis, shape (outcomes, hypotheses); columns sum to 1."""
    cause: str = ""
    """What its error is shared with, such as the meter at one stage; "" for nothing."""
    then_on: bool = False
    """True where the set is run afterwards to see what it did, as after a tube was exchanged."""


@dataclass(frozen=True)
class Repair:
    """Changing or proving one part, which cures the set if the fault is in it."""

    key: str
    minutes: float
    cures: NDArray[np.bool_]
    """Which hypotheses it cures, shape (hypotheses,)."""
    test_minutes: float | None = None
    """Minutes of testing the part by itself; nothing where it takes as long as a change [min]."""
    last_resort: bool = False
    """True for a part that can hardly be had, such as a flyback transformer: its loads are tested first."""
    access: frozenset[str] = frozenset()
    """Bench states that it needs; the set is off for it, and run afterwards to see what it did."""

    @property
    def by_hand_minutes(self) -> float:
        """Minutes of testing the part by itself."""
        return self.minutes if self.test_minutes is None else self.test_minutes


@dataclass(frozen=True)
class CostModel:
    """Minutes to reach bench states and to change between power on and off."""

    access_minutes: Mapping[str, float] = field(default_factory=dict)
    ends: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """For each bench state the states that it ends."""
    lost_with_power_on: frozenset[str] = frozenset()
    """States that end when the set is switched on, such as discharged capacitors."""
    reached_off: frozenset[str] = frozenset()
    """States that can only be reached with the plug out, such as the chassis turned over."""
    to_on_minutes: float = 1.0
    """Warm-up before a reading means anything [min]."""
    to_off_minutes: float = 1.0
    """Switching off and pulling the plug [min]."""
    search_access: frozenset[str] = frozenset()
    """Bench states that a search by hand needs."""
    proof_minutes: float = 0.0
    """Looking over what was changed, and at the fault once the set runs again [min]."""

    @property
    def run_minutes(self) -> float:
        """Minutes of a run that shows what a change did [min]."""
        return self.to_on_minutes + self.proof_minutes


@dataclass(frozen=True)
class Position:
    """Where the session stands."""

    belief: Floats
    """Probability of each hypothesis, shape (hypotheses,); sums to 1."""
    done: frozenset[str] = frozenset()
    """Tests answered or not wanted, and repairs made."""
    states: frozenset[str] = frozenset()
    power: Power = "on"
    doubted: Floats | None = None
    """The belief without the one witness that the leading stage rests on most; nothing where none is doubted."""


@dataclass(frozen=True)
class Problem:
    """All tests and repairs over one list of hypotheses."""

    tests: Sequence[Test]
    repairs: Sequence[Repair]
    costs: CostModel = field(default_factory=CostModel)
    stages: Sequence[str] = ()
    """Stage of each hypothesis; needed by the careful mode alone."""

    def __post_init__(self) -> None:
        sizes = {test.table.shape[1] for test in self.tests} | {len(r.cures) for r in self.repairs}
        if len(sizes) > 1:
            raise OutOfRange(f"Tests and repairs speak of different numbers of hypotheses: {sorted(sizes)}.")

    @cached_property
    def tables(self) -> Floats:
        """All tables in one array, shape (tests, outcomes, hypotheses), padded with zeros."""
        most = max((t.table.shape[0] for t in self.tests), default=1)
        width = self.tests[0].table.shape[1] if self.tests else 0
        stacked = np.zeros((len(self.tests), most, width))
        for n, test in enumerate(self.tests):
            stacked[n, : test.table.shape[0]] = test.table
        return stacked

    @cached_property
    def certainty(self) -> Floats:
        """For each test and hypothesis the sum of p log2 p over the outcomes, shape (tests, hypotheses)."""
        tables = self.tables
        sums: Floats = np.sum(np.where(tables > 0, tables * np.log2(np.maximum(tables, 1e-300)), 0.0), axis=1)
        return sums

    @cached_property
    def flat(self) -> NDArray[np.floating]:
        """All tables in one matrix, shape (hypotheses, tests x outcomes); single precision where it is large.

        In place of the last outcome of each test, which follows from the others, stands its :attr:`certainty`.
        """
        joined = self.tables.copy()
        joined[:, -1] = self.certainty
        flat = joined.reshape(-1, joined.shape[2]).T
        return np.ascontiguousarray(flat, dtype=np.float32 if joined.size > _LARGE else float)

    @cached_property
    def cures(self) -> Floats:
        """Which repair cures which hypothesis, shape (repairs, hypotheses)."""
        if not self.repairs:
            return np.zeros((0, self.tests[0].table.shape[1] if self.tests else 0))
        return np.stack([r.cures for r in self.repairs]).astype(float)

    @cached_property
    def stage_shares(self) -> Floats:
        """Which hypothesis is in which stage, shape (stages, hypotheses); each its own where none are named."""
        width = self.tables.shape[2]
        names = list(self.stages) or [str(n) for n in range(width)]
        return np.array([[s == name for s in names] for name in sorted(set(names))], dtype=float)

    def repair_way(self, repair: Repair, position: Position) -> float:
        """Return the marginal minutes of ``repair`` where the session stands, with the run that follows."""
        return repair.minutes + self.way_to(repair.access, "off", position) + self.costs.run_minutes

    def search_way(self, position: Position) -> float:
        """Return the minutes of the way to a search by hand."""
        return self.way_to(self.costs.search_access, "off", position)

    def minutes(self, test: Test, position: Position) -> float:
        """Return the marginal minutes of ``test`` where the session stands."""
        run = self.costs.run_minutes if test.then_on else 0.0
        return test.minutes + self.way_to(test.access, test.power, position) + run

    def way_to(self, access: frozenset[str], power: Power, position: Position) -> float:
        """Return the minutes it takes to reach the bench states and power that something needs."""
        missing = access - position.states
        total = sum(self.costs.access_minutes.get(state, 0.0) for state in missing)
        off_first = position.power == "on" and (power == "off" or bool(missing & self.costs.reached_off))
        if off_first:
            total += self.costs.to_off_minutes
        if power == "on" and (off_first or position.power == "off"):
            total += self.costs.to_on_minutes
        return total

    def after(self, test: Test, position: Position) -> tuple[frozenset[str], Power]:
        """Return the bench states and the power once ``test`` was made."""
        missing = test.access - position.states
        power = position.power
        if test.then_on:
            power = "on"
        elif test.power != "either":
            power = test.power
        elif missing & self.costs.reached_off:
            power = "off"
        states = self._reached(test.access, position)
        return (states - self.costs.lost_with_power_on if power == "on" else states), power

    def after_search(self, position: Position) -> tuple[frozenset[str], Power]:
        """Return the bench states and the power while parts are tested by hand: the set is off and discharged."""
        return self._reached(self.costs.search_access, position), "off"

    def after_repair(self, repair: Repair, position: Position) -> tuple[frozenset[str], Power]:
        """Return the bench states and the power once ``repair`` was made and the set was run."""
        return self._reached(repair.access, position) - self.costs.lost_with_power_on, "on"

    def _reached(self, access: frozenset[str], position: Position) -> frozenset[str]:
        """Return the bench states once ``access`` was reached."""
        missing = access - position.states
        ended = frozenset().union(*(self.costs.ends.get(state, frozenset()) for state in missing))
        return (position.states - ended) | access
