"""Rules and physics agree: what a simulated fault shows must not lead the rules away from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from backporch.engine.chassis.hypotheses import Hypothesis, all_hypotheses, priors
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch, with_fault_draws
from backporch.engine.chassis.simulator import simulate
from backporch.engine.chassis.words import check_words, symptoms_of
from backporch.engine.facts import Symptom
from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.ranking import Ranking, rank, weigh_findings
from backporch.engine.session.evidence import chassis_facts
from backporch.rules import BOOKS

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")
CLEARED = 1 / 9.0
"""A stage counts as cleared where the rules leave it less than this of its odds."""


@dataclass(frozen=True)
class Case:
    """A fault with what it shows and where the rules then stand."""

    fault: Hypothesis
    words: tuple[str, ...]
    against: float
    before: Ranking
    after: Ranking

    @property
    def speaks(self) -> bool:
        """The guilty stage has risen and half of all stages have fallen."""
        was, now = dict(self.before.stages), dict(self.after.stages)
        fallen = sum(now[stage] < was[stage] for stage in was)
        return now[self.fault.stage] > was[self.fault.stage] and fallen >= len(was) / 2


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base."""
    return shipped()


@pytest.fixture(scope="module")
def inference(library: Library) -> Inference:
    """Build the rule base once."""
    return Inference(BOOKS, library.usual_suspects)


@pytest.fixture(scope="module", params=CHASSIS)
def cases(request: pytest.FixtureRequest, library: Library, inference: Inference) -> list[Case]:
    """Run every single fault of a receiver and give the rules its words."""
    chassis = load_chassis(request.param, library)
    everything = all_hypotheses(chassis, library)
    listed = [h for h in everything if h.part]
    prior, stages = priors(everything, library), [h.stage for h in everything]
    before = rank(prior, stages, [], [])
    circumstances = list(chassis_facts(library, chassis))
    batch = with_fault_draws(healthy_batch(chassis), [h.fault for h in listed], seed=5)
    picture = simulate(chassis, batch).picture
    known: dict[tuple[str, ...], tuple[object, Ranking]] = {}
    found = []
    for n, fault in enumerate(listed):
        words = symptoms_of(picture, library.picture_words, n)
        if words in ((), ("sound-good",)):
            continue
        if words not in known:
            conclusion = inference.run([*circumstances, *(Symptom(name=w) for w in words)])
            weighed = weigh_findings(conclusion, library.strengths)
            known[words] = weighed, rank(prior, stages, weighed, [])
        weighed, after = known[words]
        net = sum(w.log_ratio for w in weighed if w.counted and w.stage == fault.stage)
        found.append(Case(fault, words, math.exp(net), before, after))
    return found


def test_every_symptom_and_quantity_is_known(library: Library) -> None:
    """The picture words use names that exist."""
    check_words(library)


def test_no_guilty_stage_is_cleared(cases: list[Case]) -> None:
    """No fault shows words by which the rules clear its own stage."""
    wrong = [f"{case.fault.id} shows {', '.join(case.words)}" for case in cases if case.against < CLEARED]

    assert wrong == []


def test_the_rules_speak(cases: list[Case]) -> None:
    """For most faults the guilty stage rises and half of the others fall."""
    share = np.mean([case.speaks for case in cases])

    assert share >= 0.7
