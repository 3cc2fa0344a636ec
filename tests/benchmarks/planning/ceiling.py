"""What any order of testing could know at best: the odds once every test up to a cost class is answered.

``python tests/benchmarks/planning/ceiling.py`` takes every sixth fault that shows, counted alike, and 120 faults
of every chassis drawn as often as they are expected.  Nothing is saved and nothing is left out; the planner cannot
know more than this before it lifts parts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from study import CHASSIS, Job, cases_of, interview

from backporch.engine.planning.problem import Problem
from backporch.engine.planning.trials import Case, ruled_by_cause
from backporch.engine.session.drawn import likely_faults, showing_faults

SEED = 2026
CLASSES = {
    2: "looks, listening, controls and rails",
    3: "and tubes exchanged",
    5: "and meter and oscilloscope",
    6: "and parts lifted",
}
HEADER = "| answered | stage | stage, or a twin's | part, or a twin | of three | of three, or a twin |"


def known(problem: Problem, case: Case, highest: int) -> tuple[bool, ...]:
    """Tell what is right once all tests up to a class are answered."""
    told = [
        (test.cause, np.maximum(test.table[case.answers[n]], 1e-9))
        for n, test in enumerate(problem.tests)
        if test.tier <= highest
    ]
    belief = ruled_by_cause(case.start.belief, told)
    leads = int((problem.stage_shares @ belief).argmax())
    parts = np.argsort(-(problem.cures @ belief), kind="stable")[:3]
    alike = [case.truth, *sorted(case.twins)]
    return (
        bool(problem.stage_shares[leads, case.truth]),
        bool(problem.stage_shares[leads, alike].any()),
        bool(problem.cures[parts[0], alike].any()),
        bool(problem.cures[parts, case.truth].any()),
        bool(problem.cures[parts][:, alike].any()),
    )


def lines(faults: dict[str, Sequence[int]]) -> Iterator[str]:
    """Give the lines of one table."""
    found: dict[int, list[tuple[bool, ...]]] = {highest: [] for highest in CLASSES}
    for chassis, some in faults.items():
        problem, cases, _ = cases_of(Job(chassis, tuple(some), 0, SEED, 0.0, ()))
        for highest, rows in found.items():
            rows += [known(problem, case, highest) for case in cases]
    yield f"\n{len(found[2])} faults\n{HEADER}\n|{' --- |' * 6}"
    for highest, name in CLASSES.items():
        share = np.mean(np.array(found[highest], dtype=float), axis=0)
        yield f"| {name} | " + " | ".join(f"{x:.1%}" for x in share) + " |"


if __name__ == "__main__":
    print("\n".join(lines({c: showing_faults(interview(c))[::6] for c in CHASSIS})))
    print("\n".join(lines({c: likely_faults(interview(c), 120, SEED) for c in CHASSIS})))
