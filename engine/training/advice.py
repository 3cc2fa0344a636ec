# SPDX-License-Identifier: MIT
"""Ways through a lesson that do not know what is hidden: the tool's advice, a diagnosis, the teacher's path.

The best plan of a lesson is the quickest of them that ends with a supported and right name.  Limits: it is the
best of these plans on this set with its true answers, not of all plans that there could be.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.planning.choose import Settings, Step, next_step
from backporch.engine.safety.gate import gate
from backporch.engine.session.needs import needs_of
from backporch.engine.training.act import Act
from backporch.engine.training.course import Course
from backporch.engine.training.glow import HEATERS_LOOK, ONE_DARK
from backporch.engine.training.run import Run
from backporch.engine.training.support import SUPPORT

__all__ = [
    "Plan",
    "bench_acts_before",
    "known_part",
    "leading_part",
    "plans",
    "proof_of",
    "quickest",
    "tool_plan",
    "tool_test",
]

Floats = NDArray[np.float64]
Chooser = Callable[[Course, Run], str | None]

_MOST_STEPS = 60
_TELLS_BITS = 0.005
_KEEN = 1.25
"""Power of the information: above 1 one good test is asked before many that tell little."""
_LOST_MINUTES = 0.5
"""What every test costs beside its minutes, so that looks which tell next to nothing are left out [min]."""


@dataclass(frozen=True)
class Plan:
    """One way through a lesson."""

    name: str
    run: Run

    @property
    def found(self) -> bool:
        """Whether it ended with the right part, supported by its answers."""
        return self.run.ending == "found"

    @property
    def minutes(self) -> float:
        """Minutes of searching, without changing the part named [min]."""
        return self.run.searched


def tool_test(course: Course, run: Run) -> str | None:
    """Return the test that the tool advises, which tells most about the part for its minutes, or None.

    A lesson aims at a name that the answers support; a diagnosis at the bench aims at a set that works again, and
    may change a cheap part sooner.
    """
    return _most_per_minute(course, run)


def leading_part(course: Course, run: Run) -> tuple[str, str, float]:
    """Return the likeliest part, its stage, and its share."""
    belief = course.belief(run)
    names = sorted(set(course.owners.tolist()) - {""})
    shares = [float(belief[course.owners == name].sum()) for name in names]
    best = int(np.argmax(np.round(shares, 12)))
    return names[best], course.workbench.stage_of(names[best], belief), shares[best]


def known_part(course: Course, run: Run) -> tuple[str, str] | None:
    """Return the part that the answers allow to name, with its stage, or None; a part proved bad comes first."""
    proved = sorted(course.proved(run), key=lambda part: -course.support(run, part))
    if proved:
        return proved[0], course.workbench.stage_of(proved[0], course.belief(run))
    part, stage, share = leading_part(course, run)
    return (part, stage) if share >= SUPPORT else None


def bench_acts_before(course: Course, run: Run, test: str) -> tuple[Act, ...]:
    """Return what must be done at the bench before a test, so that it is not unsafe."""
    state = course.safety(run)
    acts: list[Act] = []
    if state.live_chassis:
        acts.append(Act("bench", "isolate"))
    first = gate(needs_of(course.workbench, course.offer(test)), state).first
    if "set-off" in first:
        acts.append(Act("bench", "plug-out"))
    if "set-off" in first or "set-off-discharged" in first:
        acts.append(Act("bench", "discharge"))
    return tuple(acts)


def tool_plan(course: Course) -> Plan:
    """Return the way of somebody who does what the tool advises."""
    return _followed(course, "tool", tool_test)


def plans(course: Course) -> tuple[Plan, ...]:
    """Return every way that is compared, the tool's first."""
    found = [
        tool_plan(course),
        _followed(course, "diagnosis", _diagnosis),
        _followed(course, "looking ahead", _looking_ahead),
    ]
    if course.variant.path:
        found.append(_followed(course, "teacher", _teacher))
    return tuple(found)


def quickest(known: Sequence[Plan]) -> Plan:
    """Return the quickest of ``known`` that ends with the right part, supported by its answers; else the first."""
    right = [plan for plan in known if plan.found]
    return min(right, key=lambda plan: plan.minutes) if right else known[0]


def _followed(course: Course, name: str, choose: Chooser) -> Plan:
    run = course.start()
    if course.safety(run).live_chassis:
        run = course.do(run, Act("bench", "isolate"))
    for _ in range(_MOST_STEPS):
        if run.ending:
            break
        known = known_part(course, run)
        test = choose(course, run) if known is None else None
        if test is None:
            part, stage = known or leading_part(course, run)[:2]
            run = course.do(run, Act("name", part, stage))
            continue
        for act in bench_acts_before(course, run, test):
            run = course.do(run, act)
        run = course.do(run, Act("test", test))
    return Plan(name, run)


def _diagnosis(course: Course, run: Run) -> str | None:
    """Return the next step of a careful diagnosis; a part that it would change is tested first."""
    return _proved_first(course, run, course.interview.turn(run.entries).step)


def _proved_first(course: Course, run: Run, step: Step | None) -> str | None:
    if step is None or step.kind == "end":
        return _most_per_minute(course, run)
    if step.kind == "test":
        return step.key
    proof = proof_of(course, run, step.key)
    allowed = proof is not None and _safe_to_make(course, run, proof)
    return proof if allowed else _most_per_minute(course, run)


def _safe_to_make(course: Course, run: Run, test: str) -> bool:
    state = replace(course.safety(run), isolation="isolated")
    return gate(needs_of(course.workbench, course.offer(test)), state).allowed


def proof_of(course: Course, run: Run, part: str) -> str | None:
    """Return the test by which a part or tube is proved good or bad on this bench, not made yet; or None."""
    offers = course.workbench.faults.offers
    for test in (f"part-test@{part}", f"test-tube@{part}", f"exchange-tube@{part}"):
        possible = test in offers and not course.missing_instruments(offers[test])
        if possible and course.answered(run, test) is None:
            return test
    return None


def _looking_ahead(course: Course, run: Run) -> str | None:
    """Return the step of the planner that looks ahead to a working set; a part it would change is tested first."""
    assessment = course.assessment(run)
    position = replace(course.interview.position(assessment), states=run.states, power=run.power)
    return _proved_first(course, run, next_step(course.interview.problem, position, Settings()))


def _teacher(course: Course, run: Run) -> str | None:
    left = [test for test in course.variant.path if course.answered(run, test) is None]
    return left[0] if left else _most_per_minute(course, run)


def _most_per_minute(course: Course, run: Run) -> str | None:
    """Return the open test that tells most about the part for its minutes, or None where none tells anything."""
    problem, belief = course.interview.problem, course.belief(run)
    bits = _part_bits(course, belief)
    assessment, state = course.assessment(run), replace(course.safety(run), isolation="isolated")
    best, score = None, 0.0
    for n, test in enumerate(problem.tests):
        offer = course.workbench.faults.offers[test.key]
        if bits[n] < _TELLS_BITS or course.answered(run, test.key) is not None:
            continue
        if not course.interview.may_offer(offer, assessment, state):
            continue
        value = float(bits[n]) ** _KEEN / (course.minutes(run, test.key) + _LOST_MINUTES)
        if value > score + 1e-12:
            best, score = test.key, value
    return best


def _part_bits(course: Course, belief: Floats) -> Floats:
    """Return how much each test is expected to tell about which part is faulty [bit]."""
    tables = course.interview.problem.tables
    names, place = np.unique(course.owners, return_inverse=True)
    live = belief > 1e-5
    shares = (place[live, None] == np.arange(len(names))) * belief[live, None]
    joint = tables[:, :, live] @ shares
    outcome, part = joint.sum(axis=2, keepdims=True), joint.sum(axis=1, keepdims=True)
    ratio = np.where(joint > 0, joint / np.maximum(outcome * part, 1e-300), 1.0)
    bits = np.asarray((joint * np.log2(ratio)).sum(axis=(1, 2)), dtype=float)
    return bits + _bits_of_the_dark_tube(course, joint)


def _bits_of_the_dark_tube(course: Course, joint: Floats) -> Floats:
    """Return what a look at the tubes tells beyond its table: which is the one that is dark [bit]."""
    more = np.zeros(len(joint))
    keys = [test.key for test in course.interview.problem.tests]
    if HEATERS_LOOK in keys:
        labels, _ = course.workbench.faults.outcome_table(HEATERS_LOOK)
        test = keys.index(HEATERS_LOOK)
        one = joint[test, labels.index(ONE_DARK)]
        more[test] = float(-(one * np.log2(np.maximum(one, 1e-300) / max(float(one.sum()), 1e-300))).sum())
    return more
