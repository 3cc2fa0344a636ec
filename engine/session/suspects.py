# SPDX-License-Identifier: MIT
"""The parts to check, likeliest first, with how each is tested."""

from __future__ import annotations

from dataclasses import dataclass

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.safety.advice import Advice, advice
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.assess import Assessment
from backporch.engine.session.danger import safety_state
from backporch.engine.session.needs import needs_of_part_test
from backporch.engine.session.workbench import Workbench

__all__ = ["Suspect", "proof_of", "suspects"]


@dataclass(frozen=True)
class Suspect:
    """One suspected fault."""

    id: str
    part: str
    """The part or tube that would be replaced, or ""."""
    stage: str
    title: str
    share: float
    how_to_test: str
    """How it is proved; where the gate withholds that now, why and what to do instead."""
    held: bool
    """Whether the gate withholds the test now."""
    before: tuple[str, ...]
    """Cautions that come before the test."""


def suspects(workbench: Workbench, assessment: Assessment, most: int) -> tuple[Suspect, ...]:
    """Return the ``most`` likeliest faults in a fixed order."""
    hypotheses, shares = workbench.faults.hypotheses, assessment.ranking.hypotheses
    order = sorted(range(len(shares)), key=lambda n: (-round(float(shares[n]), 9), hypotheses[n].id))
    state = safety_state(workbench, assessment.entries)
    return tuple(_suspect(workbench, hypotheses[n], float(shares[n]), state) for n in order[:most])


def proof_of(workbench: Workbench, part: str, state: SafetyState) -> tuple[str, Advice]:
    """Return how a part is proved, in words, and the gate's word; withheld, the words say why and what else."""
    word = advice(needs_of_part_test(workbench, part), state, workbench.library.cautions)
    if not word.allowed:
        return f"Not now: {word.holds[0].because} {word.holds[0].instead}", word
    return workbench.how_to_test(part), word


def _suspect(workbench: Workbench, hypothesis: Hypothesis, share: float, state: SafetyState) -> Suspect:
    how, word = proof_of(workbench, hypothesis.owner, state)
    return Suspect(
        id=hypothesis.id,
        part=hypothesis.owner,
        stage=hypothesis.stage,
        title=hypothesis.title,
        share=share,
        how_to_test=how,
        held=not word.allowed,
        before=word.before,
    )
