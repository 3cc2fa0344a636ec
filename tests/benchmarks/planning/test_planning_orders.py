"""Bench minutes of several orders of testing, calibration, and poorer benches; prints, and gates on nothing slow.

The tables of RESULTS.md over all faults come from study.py beside this file.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import replace
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.baselines import ours
from backporch.engine.planning.choose import Settings
from backporch.engine.planning.trials import Trial, play
from backporch.engine.session.drawn import (
    drawn_case,
    expected_faults,
    likely_faults,
    twins_of,
)
from backporch.engine.session.interview import Interview

EVERY = int(os.environ.get("BACKPORCH_EVERY", "8"))
REPORTED = 2026
"""Seed of the reported figures; settings were compared on seed 1 with other faults drawn."""


def _study() -> ModuleType:
    """Return the study of all orders, a program of its own that stands beside this file."""
    spec = spec_from_file_location("planning_study", Path(__file__).parent / "study.py")
    assert spec is not None
    assert spec.loader is not None
    study = module_from_spec(spec)
    sys.modules["planning_study"] = study
    spec.loader.exec_module(study)
    return study


STUDY = _study()


@pytest.fixture(scope="module")
def interview() -> Interview:
    """The demonstration chassis on the common bench."""
    return Interview(make_workbench("plover-17"))


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
def test_orders(capsys: pytest.CaptureFixture[str]) -> None:
    """Each order meets the same faults of every chassis with the same answers; the table is printed."""
    with capsys.disabled():
        STUDY.main(["--every", str(8 * EVERY), "--workers", "1"])


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
        print(f"\n{len(faults)} faults of plover-17, drawn as often as expected\n{STUDY.HEADER}")
        for name, trials in played.items():
            print(STUDY.line(name, trials, played["all that is common"]))

    assert all(trials for trials in played.values())
