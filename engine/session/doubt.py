# SPDX-License-Identifier: MIT
"""What would be believed if one witness were wrong: the careful mode asks until no stage rests on one alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from backporch.engine.ranking import Evidence, rank
from backporch.engine.session.assess import Assessment

__all__ = ["belief_without_one"]

Floats = NDArray[np.float64]


def belief_without_one(assessment: Assessment, stage_of: Sequence[str]) -> Floats:
    """Return the belief without the test that the leading stage rests on most; as it is where none carries it.

    All answers of one cause of error, such as the meter at one stage, are one witness.  What was seen at the
    beginning is never left out.

    Args:
        assessment: Where the diagnosis stands.
        stage_of: Stage of each hypothesis.
    """
    ranking = assessment.ranking
    leading = np.array([stage == ranking.stages[0][0] for stage in stage_of])
    found = ranking.hypotheses
    for witness in sorted({_witness(e) for e in assessment.evidence} - {""}):
        gone = {e.statement for e in assessment.evidence if _witness(e) == witness}
        left = [e for e in assessment.evidence if _witness(e) != witness]
        findings = [f for f in ranking.findings if not f.support & gone]
        without = rank(assessment.prior, stage_of, findings, left).hypotheses
        if without[leading].sum() < found[leading].sum():
            found = without
    return found


def _witness(evidence: Evidence) -> str:
    """Return what a test shares its error with, else the test itself; "" for what was seen or changed."""
    if evidence.offer.startswith(("symptom:", "repair:", "search:")):
        return ""
    return evidence.cause or evidence.offer
