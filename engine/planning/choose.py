# SPDX-License-Identifier: MIT
"""Chooses the next step: cheapest class first while it can still teach enough, then repair.

Inside a cost class the test with most information per minute comes first.  A look ahead then compares
it with a few others and with repairing at once; another step is taken out of turn only where the saving
is certain.  When no test pays for itself any more, the likeliest repair per minute is proposed; and where
changing parts one after the other is expected to take longer than a search by hand, that search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.information import test_bits
from backporch.engine.planning.live import SEARCHED, Live, live_problem
from backporch.engine.planning.problem import Position, Problem
from backporch.engine.planning.rollout import First, Outlook, follow_all, follow_sampled, one_step_minutes
from backporch.engine.planning.settings import Settings, settings_of

__all__ = ["Settings", "Step", "next_step", "settings_of"]

Floats = NDArray[np.float64]

_LEAST_AHEAD = 1e-3
"""Hypotheses below this are left out of the look ahead."""
_LIFTED = 6
"""Cost class of tests for which a part is unsoldered, the dearest."""
_CLOSE_MINUTES = 0.02
"""Plans this close count as equal, so that rounding never decides [min]."""


@dataclass(frozen=True)
class Step:
    """What to do next."""

    kind: Literal["test", "repair", "search", "end"]
    """search: by hand, part after part in the order of the ranking; end: nothing is left to propose."""
    key: str = ""
    minutes: float = 0.0
    """Marginal minutes of the step."""
    bits: float = 0.0
    """Information that the test is expected to give."""
    saves_minutes: float = 0.0
    """Minutes expected to be saved against repairing at once; out of turn, against the test whose turn it is."""
    out_of_turn: bool = False
    """True where a dearer class is asked before a cheaper one is exhausted."""
    settles: Literal["", "stage", "part"] = ""
    """What the test is asked for, before anything is changed."""
    customary: bool = False
    """True for the look that the trade takes first after such a complaint."""
    before: str = ""
    """The last-resort part whose loads are tested before it is blamed."""
    proves: str = ""
    """The output tube that may be changed only after this reading was good."""

    @property
    def reason(self) -> str:
        """Why this step and not another, in one sentence."""
        if self.kind == "search":
            return "No test left pays for itself, and changing parts on suspicion would take longer still."
        if self.kind != "test":
            return ""
        if self.proves:
            return f"Before {self.proves} is changed its drive is proved: without it a new tube dies in a minute."
        if self.before:
            return f"{self.before} can hardly be had, so what hangs on it is tested first."
        if self.out_of_turn:
            return f"A dearer test now saves about {max(self.saves_minutes, 1.0):.0f} min."
        if self.settles:
            about = "where the fault is" if self.settles == "stage" else "which part of the stage it is"
            saved = f", and should save about {self.saves_minutes:.0f} min" if self.saves_minutes > 1 else ""
            return f"For its minutes it tells most about {about}{saved}."
        if self.customary:
            return "It costs next to nothing and is the first look after such a complaint."
        if self.saves_minutes > 1:
            saved = f"about {self.saves_minutes:.0f} min against changing parts untested"
            return f"It is the cheapest test that tells enough; it should save {saved}."
        return "It is the cheapest test that still tells something."


@dataclass(frozen=True)
class _View:
    """The open tests and repairs with their figures, as the rules below weigh them."""

    problem: Problem
    position: Position
    settings: Settings
    live: Live
    bits: Floats
    """Bits and minutes of each live test."""
    minutes: Floats

    @cached_property
    def now(self) -> float:
        """Minutes of repairing at once."""
        start = self.live.start
        return float(self.live.repair_cost(start.beliefs, start.states, start.on)[0])

    @cached_property
    def saves(self) -> Floats:
        """Minutes that each live test saves against repairing at once."""
        return self.now - one_step_minutes(self.live)

    def saving(self, test: int) -> float:
        """Return what one test saves; where that is all that is asked the others are not computed."""
        if "saves" in self.__dict__:
            return float(self.saves[test])
        return self.now - float(one_step_minutes(self.live, np.array([test]))[0])

    @cached_property
    def felt(self) -> Floats:
        """Minutes of each live test, less what of the way a repair or later tests are expected to need anyway."""
        live, share = self.live, self.settings.shared_way
        repairs = np.minimum(live.cures @ live.start.beliefs[0] @ live.repair_access, 1.0)
        needed = np.where(live.lost_when_on == 0, repairs + (1.0 - repairs) * share, 0.0)
        way = (1.0 - live.start.states[0]) * live.state_minutes * needed
        return np.asarray(np.maximum(self.minutes - live.access @ way, 0.1), dtype=float)

    def key(self, test: int) -> str:
        return self.problem.tests[int(self.live.tests[test])].key

    def tier(self, test: int) -> int:
        return self.problem.tests[int(self.live.tests[test])].tier

    def per_minute(self, test: int) -> tuple[float, str]:
        """Sort key: most information per minute first, equals by name."""
        return -round(float(self.bits[test] / self.felt[test]), 9), self.key(test)

    def step(self, test: int, saves: float | None = None, out_of_turn: bool = False, before: str = "") -> Step:
        saving = self.saving(test) if saves is None else saves
        return Step(
            "test",
            self.key(test),
            float(self.minutes[test]),
            float(self.bits[test]),
            max(saving, 0.0),
            out_of_turn=out_of_turn,
            before=before,
        )


def next_step(problem: Problem, position: Position, settings: Settings | None = None) -> Step:
    """Return the next step; the same state always gives the same step.

    Args:
        problem: All tests and repairs.
        position: The belief, what was done, and the state of the bench.
        settings: How to weigh.
    """
    settings = settings or Settings()
    second = _second_witness(problem, position, settings)
    if second is not None:
        return second
    view = _view(problem, position, settings)
    asked = _settling_test(view)
    if asked is not None:
        return replace(view.step(asked[0]), settles=asked[1])
    repair = _best_repair(view)
    in_turn = _in_turn(view)
    if view.settings.order == "cheapest" or not view.settings.futures:
        step = view.step(in_turn) if in_turn is not None else None
    else:
        step = _looked_ahead(view, in_turn, repair)
    if step is not None:
        return step
    return _repair_step(view, repair)


def _second_witness(problem: Problem, position: Position, settings: Settings) -> Step | None:
    """Return the test that settles the stage again without the one witness that it rests on most, if any does."""
    if not settings.careful or position.doubted is None:
        return None
    if float((problem.stage_shares @ position.doubted).max()) >= settings.doubted_stage:
        return None
    view = _view(problem, replace(position, belief=position.doubted), settings)
    asked = _most_telling(view, problem.stage_shares, _LIFTED - 1)
    return replace(view.step(asked), settles="stage") if asked is not None else None


def _view(problem: Problem, position: Position, settings: Settings) -> _View:
    bits = test_bits(problem, position.belief)
    open_tests = [
        n
        for n, test in enumerate(problem.tests)
        if bits[n] >= settings.floor_bits and test.key not in position.done
    ]
    live = live_problem(problem, position, open_tests, settings.search_minutes)
    return _View(problem, position, settings, live, bits[open_tests], live.costs(live.start)[0])


def _in_turn(view: _View) -> int | None:
    """Return the test whose turn it is: the cheapest class that tells enough, or None where none pays."""
    worth = [n for n in range(len(view.bits)) if view.saves[n] > 0] or _hopeful(view)
    if not worth:
        return None
    gate = view.settings.gate_bits
    telling = [n for n in worth if view.bits[n] >= gate] or worth
    if view.settings.order == "cheapest":
        return min(telling, key=lambda n: (view.tier(n), round(float(view.minutes[n]), 9), *view.per_minute(n)))
    lowest = min(view.tier(n) for n in telling)
    return min((n for n in worth if view.tier(n) == lowest), key=view.per_minute)


def _hopeful(view: _View) -> list[int]:
    """Return tests that pay only together with others, while the stage is still open."""
    belief = view.position.belief
    if float((view.problem.stage_shares @ belief).max()) >= view.settings.settled_stage:
        return []
    doubt = -float(np.sum(belief * np.log2(np.maximum(belief, 1e-300))))
    return [n for n in range(len(view.bits)) if view.bits[n] / doubt * view.now > 2.0 * view.minutes[n]]


def _best_repair(view: _View) -> int | None:
    """Return the live repair to begin with, or None where a search by hand takes less, or none is left."""
    first = view.live.first_repair(view.live.start)
    return first if first >= 0 else None


def _settling_test(view: _View) -> tuple[int, Literal["stage", "part"]] | None:
    """Return the test to ask before a repair is proposed and what it settles, or None where nothing is to settle.

    Changing parts while the stage is still open looks cheap one step ahead and is dear in the long run: the
    odds of a part rest on priors that no bench keeps to.
    """
    settings, problem = view.settings, view.problem
    if not settings.careful and len(view.live.kept) <= settings.exact:
        return None
    if not _stage_is_settled(view):
        asked = _most_telling(view, problem.stage_shares, _LIFTED - 1)
        if asked is not None:
            return asked, "stage"
    if len(problem.repairs) and float((problem.cures @ view.position.belief).max()) < settings.settled_part:
        asked = _most_telling(view, problem.cures, _LIFTED if settings.careful else _LIFTED - 1)
        if asked is not None:
            return asked, "part"
    return None


def _most_telling(view: _View, groups: Floats, highest: int = _LIFTED) -> int | None:
    """Return the test that tells most for its minutes about which group holds the fault, if any tells enough.

    Tests of a class above ``highest`` are left out.  Lifting a part tells about that part and little of the stage;
    where several have to be lifted, a search by hand does it in one go with less running to and fro.
    """
    settings = view.settings
    least = settings.careful_bits if settings.careful else settings.settled_bits
    tiers = np.array([view.tier(n) for n in range(len(view.bits))], dtype=int)
    able = np.flatnonzero((view.bits >= least) & (tiers <= highest))
    bits = np.zeros(len(view.bits))
    bits[able] = _group_bits(view, groups, able)
    telling = [n for n in range(len(bits)) if bits[n] >= least]
    if not telling:
        return None
    if settings.order == "cheapest":
        much = [n for n in telling if bits[n] >= settings.gate_bits] or telling
        return min(much, key=lambda n: (view.tier(n), round(float(view.minutes[n]), 9), *view.per_minute(n)))
    return min(telling, key=lambda n: (-round(float(bits[n]) / float(view.felt[n]), 9), view.key(n)))


def _group_bits(view: _View, groups: Floats, tests: NDArray[np.intp]) -> Floats:
    """Return how much some live tests tell about the group that the fault is in [bit]; no more than in all."""
    tables, belief = view.live.tables[tests], view.live.start.beliefs[0]
    groups = groups[:, view.live.kept]
    shares = np.concatenate([groups, np.maximum(1.0 - groups.sum(axis=0, keepdims=True), 0.0)]) * belief
    shares = shares[shares.sum(axis=1) > 1e-6]
    joint = tables @ shares.T
    outcome, group = joint.sum(axis=2, keepdims=True), joint.sum(axis=1, keepdims=True)
    ratio = np.where(joint > 0, joint / np.maximum(outcome * group, 1e-300), 1.0)
    return np.asarray((joint * np.log2(ratio)).sum(axis=(1, 2)), dtype=float)


def _stage_is_settled(view: _View) -> bool:
    enough = view.settings.careful_stage if view.settings.careful else view.settings.settled_stage
    return float((view.problem.stage_shares @ view.position.belief).max()) >= enough


def _looked_ahead(view: _View, in_turn: int | None, repair: int | None) -> Step | None:
    """Return the test to ask after a look ahead, or None where repairing is as good as any."""
    tests = _candidates(view, in_turn)
    if not tests:
        return None
    carried = _carried(view, tests)
    small = _restricted(view, carried)
    firsts = [First(test=carried.index(n)) for n in tests]
    if repair is not None:
        places = np.flatnonzero(small.repairs == view.live.repairs[repair])
        firsts += [First(repair=int(n)) for n in places]
    else:
        firsts.append(First())
    outlook = _outlook(view, small, firsts)
    turn = tests.index(in_turn) if in_turn is not None else len(tests)
    if turn == len(firsts):
        return None
    best = _better(outlook, turn, view.settings.guard)
    if best >= len(tests):
        return None
    dearer = in_turn is not None and view.tier(tests[best]) > view.tier(in_turn)
    saved = float(outlook.minutes[turn] - outlook.minutes[best])
    return view.step(tests[best], saved if dearer else None, out_of_turn=dearer)


def _outlook(view: _View, live: Live, firsts: list[First]) -> Outlook:
    if live.start.beliefs.shape[1] <= view.settings.small:
        return follow_all(live, firsts)
    return follow_sampled(live, firsts, view.settings.futures)


def _better(outlook: Outlook, turn: int, guard: float) -> int:
    """Return the first step that certainly beats the one whose turn it is, else that one."""
    for n in np.argsort(np.round(outlook.minutes, 6), kind="stable"):
        if outlook.minutes[turn] - outlook.minutes[n] <= _CLOSE_MINUTES:
            return turn
        if outlook.certain(int(n), turn, guard):
            return int(n)
    return turn


def _candidates(view: _View, in_turn: int | None) -> list[int]:
    """Return the tests that the look ahead compares: in turn, most per minute, most saving."""
    everyone = range(len(view.bits))
    by_minute = sorted(everyone, key=view.per_minute)
    by_saving = sorted(everyone, key=lambda n: (-round(float(view.saves[n]), 9), view.key(n)))
    wanted = [] if in_turn is None else [in_turn]
    for pair in zip(by_saving, by_minute, strict=True):
        wanted += [n for n in pair if n not in wanted]
    return list(dict.fromkeys(wanted))[: view.settings.candidates]


def _carried(view: _View, tests: Sequence[int]) -> list[int]:
    by_minute = sorted(range(len(view.bits)), key=view.per_minute)
    return list(dict.fromkeys([*tests, *by_minute]))[: max(view.settings.carried, len(tests))]


def _restricted(view: _View, carried: Sequence[int]) -> Live:
    chosen = [int(view.live.tests[n]) for n in carried]
    return live_problem(view.problem, view.position, chosen, view.settings.search_minutes, _LEAST_AHEAD)


def _repair_step(view: _View, repair: int | None) -> Step:
    """Return the repair, or for a part that can hardly be had the test that still tells about it."""
    if repair is None:
        if not len(view.live.repairs):
            return Step("end")
        return Step("search", SEARCHED, view.live.search_cost(view.live.start))
    part = view.problem.repairs[int(view.live.repairs[repair])]
    if part.last_resort and len(view.bits):
        about = _group_bits(view, part.cures[None].astype(float), np.arange(len(view.bits)))
        telling = [n for n in range(len(about)) if about[n] >= view.settings.floor_bits]
        if telling:
            best = min(
                telling, key=lambda n: (-round(float(about[n]) / max(float(view.minutes[n]), 0.1), 9), view.key(n))
            )
            return view.step(best, before=part.key)
    return Step("repair", part.key, view.problem.repair_way(part, view.position))
