"""Bench minutes of several orders of testing on the faults of a chassis; prints, and gates on nothing slow.

Every eighth fault by default; BACKPORCH_EVERY=1 takes every single one.  RESULTS.md says what was taken.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.baselines import baselines, ours
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.trials import Policy, Trial, play
from backporch.engine.session.drawn import (
    drawn_case,
    expected_faults,
    likely_faults,
    showing_faults,
    twins_of,
)
from backporch.engine.session.interview import Interview

EVERY = int(os.environ.get("BACKPORCH_EVERY", "8"))
REPORTED = 2026
"""Seed of the reported figures; settings were compared on seed 1 with other faults drawn."""
HEADER = (
    "| order | tests min | total min (s.e.) | median | p95 | worst | less ours (s.e.) | questions "
    "| parts changed | stage leads | part leads | stage named | part named | of three |"
)


@pytest.fixture(scope="module")
def interview() -> Interview:
    """The demonstration chassis on the common bench."""
    return Interview(make_workbench("plover-17"))


def policies() -> tuple[Policy, ...]:
    """Return ours first, then everything that it is held against."""
    return (
        ours("ours", Settings()),
        ours("ours, one step", Settings(futures=0)),
        ours("strict cheapest", Settings(order="cheapest")),
        ours("careful", Settings(careful=True)),
        *baselines(),
    )


def line(name: str, trials: Sequence[Trial], against: Sequence[Trial]) -> str:
    """Return one line of the table."""
    total = np.array([t.total_minutes for t in trials])
    less = total - np.array([t.total_minutes for t in against])
    root = len(total) ** 0.5

    def mean(field: str) -> float:
        return float(np.mean([getattr(t, field) for t in trials]))

    return (
        f"| {name} | {mean('test_minutes'):.1f} | {total.mean():.1f} ({total.std() / root:.1f}) | "
        f"{np.median(total):.1f} | {np.percentile(total, 95):.0f} | {total.max():.0f} | "
        f"{less.mean():+.1f} ({less.std() / root:.1f}) | {mean('questions'):.1f} | {mean('parts_changed'):.1f} | "
        f"{mean('stage_right'):.1%} | {mean('part_right'):.1%} | {mean('named_stage'):.1%} | "
        f"{mean('named_part'):.1%} | {mean('among_three'):.1%} |"
    )


def reliability(trials: Sequence[Trial]) -> tuple[list[str], float]:
    """Return the lines of the reliability table and the expected calibration error."""
    moments = [m for t in trials for m in t.moments]
    said, right = np.array([m[0] for m in moments]), np.array([m[1] for m in moments], dtype=float)
    lines, error = [], 0.0
    for low in np.arange(0.0, 1.0, 0.1):
        inside = (said >= low) & ((said < low + 0.1) | (low > 0.85))
        if inside.any():
            lines.append(
                f"| {low:.0%} to {low + 0.1:.0%} | {inside.sum()} | {said[inside].mean():.1%} | "
                f"{right[inside].mean():.1%} |"
            )
            error += inside.mean() * abs(said[inside].mean() - right[inside].mean())
    return lines, float(error)


@pytest.mark.benchmark
@pytest.mark.parametrize("drawn", [False, True], ids=["every fault alike", "as often as expected"])
@pytest.mark.parametrize("wrong", [0.0, 0.1], ids=["true answers", "one in ten wrong"])
def test_orders(interview: Interview, wrong: float, drawn: bool, capsys: pytest.CaptureFixture[str]) -> None:
    """Each order meets the same faults with the same answers; the table is printed."""
    every = EVERY if not wrong else 2 * EVERY
    faults = showing_faults(interview)[::every]
    if drawn:
        faults = likely_faults(interview, len(faults), REPORTED)
    twins = twins_of(interview)
    cases = [
        replace(drawn_case(interview, n, [REPORTED, k], wrong), twins=twins.get(n, frozenset()))
        for k, n in enumerate(faults)
    ]
    owners = [h.owner for h in interview.workbench.faults.hypotheses]
    alike = [len({owners[n] for n in c.twins | {c.truth}}) for c in cases]
    played = {p.name: [play(interview.problem, c, p) for c in cases] for p in policies()}
    silent = len([h for h in interview.workbench.faults.hypotheses if h.part]) - len(showing_faults(interview))
    with capsys.disabled():
        print(f"\n{len(cases)} faults of plover-17 ({silent} silent ones apart), {wrong:.0%} of answers wrong,")
        print(
            f"{'drawn as often as expected' if drawn else 'each counted alike'}; parts in a group of twins: ",
            end="",
        )
        print(f"{np.mean(alike):.1f} in the mean, at most {max(alike)}")
        print(HEADER + "\n|" + " --- |" * 14)
        for name, trials in played.items():
            print(line(name, trials, played["ours"]))

    means = {name: np.mean([t.total_minutes for t in trials]) for name, trials in played.items()}
    assert all(np.isfinite(list(means.values())))


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("off", "wrong", "shared", "most"),
    [(1.0, 0.0, 0.0, 0.25), (2.0, 0.07, 0.07, 0.3)],
    ids=["as the model", "priors off by two, errors doubled, one shared per stage"],
)
def test_calibration(
    interview: Interview, off: float, wrong: float, shared: float, most: float, capsys: pytest.CaptureFixture[str]
) -> None:
    """The share that the leading stage is given is as often right, on faults as frequent as expected."""
    count = max(600 // EVERY, 50)
    faults = expected_faults(interview, count, REPORTED, off)
    cases = [drawn_case(interview, n, [REPORTED, k], wrong, shared) for k, n in enumerate(faults)]
    policy = ours("ours, one step", Settings(futures=0))
    trials = [play(interview.problem, c, policy) for c in cases]
    lines, error = reliability(trials)
    with capsys.disabled():
        print(f"\nReliability over {count} diagnoses, expected calibration error {error:.3f}")
        print("| said | moments | mean said | right |\n| --- | --- | --- | --- |\n" + "\n".join(lines))

    assert error < most


BENCHES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "all that is common": ((), ()),
    "no oscilloscope": ((), ("oscilloscope",)),
    "cheap needle meter, no oscilloscope": (("cheap-meter",), ("meter", "oscilloscope", "energy-meter")),
    "neon tester": (("neon-tester",), ("meter", "oscilloscope", "energy-meter", "bias-supply")),
    "eyes and ears": ((), ("meter", "oscilloscope", "energy-meter", "bias-supply")),
}
"""What is at hand beyond the common things, and what of them is not."""


@pytest.mark.benchmark
def test_benches(capsys: pytest.CaptureFixture[str]) -> None:
    """A poorer bench meets the same faults with the same seeds."""
    policy, played = ours("ours, one step", Settings(futures=0)), {}
    for name, (owned, lacking) in BENCHES.items():
        interview = Interview(make_workbench("plover-17", owned, lacking))
        faults, twins = likely_faults(interview, max(200 // EVERY, 25), REPORTED), twins_of(interview)
        played[name] = [
            play(
                interview.problem,
                replace(drawn_case(interview, n, [REPORTED, k]), twins=twins.get(n, frozenset())),
                policy,
            )
            for k, n in enumerate(faults)
        ]
    with capsys.disabled():
        print(f"\n{len(faults)} faults of plover-17, drawn as often as expected\n{HEADER}\n|" + " --- |" * 14)
        for name, trials in played.items():
            print(line(name, trials, played["all that is common"]))

    assert all(trials for trials in played.values())
