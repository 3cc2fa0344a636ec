# SPDX-License-Identifier: MIT
"""The parts to check, likeliest first, with how each is tested."""

from __future__ import annotations

from dataclasses import dataclass

from backporch.engine.session.assess import Assessment
from backporch.engine.session.workbench import Workbench

__all__ = ["Suspect", "suspects"]


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


def suspects(workbench: Workbench, assessment: Assessment, most: int) -> tuple[Suspect, ...]:
    """Return the ``most`` likeliest faults in a fixed order."""
    hypotheses, shares = workbench.faults.hypotheses, assessment.ranking.hypotheses
    order = sorted(range(len(shares)), key=lambda n: (-round(float(shares[n]), 9), hypotheses[n].id))
    return tuple(
        Suspect(
            id=h.id,
            part=h.owner,
            stage=h.stage,
            title=h.title,
            share=float(shares[n]),
            how_to_test=workbench.how_to_test(h.owner),
        )
        for n, h in ((n, hypotheses[n]) for n in order[:most])
    )
