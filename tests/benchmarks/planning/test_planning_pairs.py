"""Two faults at once: whether both are found by going on after the first repair; prints figures.

Twenty-five pairs by default; BACKPORCH_EVERY=1 plays two hundred, as in RESULTS.md.
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.drawn import likely_faults
from backporch.engine.session.interview import Interview
from backporch.engine.session.patient import Patient
from backporch.engine.session.replay import replay
from backporch.engine.session.scenario import Expectation, Scenario

COUNT = 200 // int(os.environ.get("BACKPORCH_EVERY", "8"))
MASKED = (("C38", "R49"), ("C34", "R41"), ("C3", "R51"), ("C26", "R34"))
"""Pairs of which one hides the other: leaky coupling and drifted resistor, low B+ and weak drive."""


def pairs(interview: Interview) -> list[tuple[int, int]]:
    """Return pairs of faults that show, drawn as often as expected, then the masked ones."""
    drawn = likely_faults(interview, 2 * COUNT, 2026)
    found = list(zip(drawn[::2], drawn[1::2], strict=True))
    hypotheses = interview.workbench.faults.hypotheses
    first = {h.owner: n for n, h in reversed(list(enumerate(hypotheses))) if h.part}
    found += [(first[a], first[b]) for a, b in MASKED if a in first and b in first]
    return [(a, b) for a, b in found if hypotheses[a].owner != hypotheses[b].owner]


def played(interview: Interview, pair: tuple[int, int], seed: int) -> tuple[int, float, int]:
    """Return how many of two faults were found, in how many minutes, with how many tests."""
    bench, hypotheses = interview.workbench, interview.workbench.faults.hypotheses
    faults = tuple(f"{hypotheses[n].part}={hypotheses[n].mode}" for n in pair)
    patient = Patient(bench.chassis, bench.library, hypotheses, faults, seed)
    scenario = Scenario(
        schema=2,
        title="",
        chassis="plover-17",
        faults=faults,
        circumstances={"condition": "partly-recapped"},
        expect=Expectation(stage=hypotheses[pair[0]].stage),
    )
    result = replay(scenario, interview, patient)
    good = {e.key for e in result.entries if e.kind == "repair" and e.value in ("cured", "partly")}
    return len(good & {hypotheses[n].owner for n in pair}), result.minutes, result.tests


@pytest.mark.benchmark
def test_pairs(capsys: pytest.CaptureFixture[str]) -> None:
    """Both faults of a pair are found without starting over in most pairs."""
    interview = Interview(make_workbench("plover-17"))
    results = [played(interview, pair, n) for n, pair in enumerate(pairs(interview))]
    found = np.array([r[0] for r in results])
    minutes = np.array([r[1] for r in results])
    shares = [float(np.mean(found == n)) for n in (2, 1, 0)]
    with capsys.disabled():
        print(f"\n{len(results)} pairs of plover-17, {len(MASKED)} of them masked")
        print("both found {:.0%}, one {:.0%}, none {:.0%}".format(*shares))
        print(f"minutes: mean {minutes.mean():.0f}, median {np.median(minutes):.0f}, worst {minutes.max():.0f}")

    assert found.max() == 2
