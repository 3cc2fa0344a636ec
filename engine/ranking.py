# SPDX-License-Identifier: MIT
"""Turns findings and readings into odds of parts and stages.

A finding of the rules moves all hypotheses of its stage.  An answer moves each hypothesis by its likelihood
there.  Where both speak of one sign that was seen, two opinions on the stages are pooled (a logarithmic opinion
pool: weighted products of what each says), and what the simulated faults say *within* each stage counts in
full: which words a picture gets is uncertain, what a test answers is far less so, and there both count in
full.  All that was seen may have been misjudged together, and then it tells nothing.  Answers that share a
cause of error (one observer, meter or oscilloscope at one stage) are trusted together or not at all, so that
five readings of one wrong place do not count as five witnesses.  Nothing
depends on the order in which the answers came.

Source: logarithmic opinion pools, Genest and Zidek, Combining probability distributions, Statistical Science
1(1), 1986.  The weights add up to more than 1, since the two opinions do not rest on the same knowledge; they
were chosen on drawn faults and on documented repairs together (tests/benchmarks/planning).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backporch.engine.inference import Conclusion, Deduction, Statement

__all__ = [
    "MISJUDGED",
    "SHARED_ERROR",
    "Evidence",
    "Opinion",
    "Ranking",
    "WeighedFinding",
    "pooled",
    "rank",
    "weigh_findings",
]

Floats = NDArray[np.float64]

SHARED_ERROR = 0.04
"""How often all answers of one cause are wrong together: our judgement, no source."""
_RULES, _SIMULATED = 0.8, 0.6
"""Weights of the rules and of the simulated faults on the stages, where both speak of one sign."""
MISJUDGED = 0.05
"""How often what was seen was misjudged, or got the wrong words, and tells nothing: our judgement, no source."""
_SIGN = "Symptom"


@dataclass(frozen=True)
class WeighedFinding:
    """A finding with the weight that it has in this ranking."""

    deduction: Deduction
    stage: str
    log_ratio: float
    support: frozenset[Statement]
    counted: bool
    """False where a finding that rests on more of the same observations already speaks for the stage."""


@dataclass(frozen=True)
class Evidence:
    """One answer: what was tested, how likely it is under each hypothesis, and its statement for rules."""

    offer: str
    likelihood: Floats
    """Shape (hypotheses,), each above 0."""
    statement: Statement | None = None
    cause: str = ""
    """What its error is shared with, such as the meter at one stage; "" for nothing."""


@dataclass(frozen=True)
class Opinion:
    """What rules and simulated faults, each by itself, say of a stage from what both of them weigh."""

    stage: str
    rules: float
    """Share of the stage by priors and rules alone."""
    simulated: float
    """Share of the stage among the simulated faults that show what was seen."""


@dataclass(frozen=True)
class Ranking:
    """Probabilities of hypotheses and stages."""

    hypotheses: Floats
    """Shape (hypotheses,); sums to 1."""
    stages: tuple[tuple[str, float], ...]
    """Every stage with its probability, likeliest first; equals in alphabetical order."""
    findings: tuple[WeighedFinding, ...]
    log_evidence: float
    """How well the best explanation fits, as the log of the summed weight; falls with contradiction."""
    opinions: tuple[Opinion, ...] = ()
    """The two opinions that were pooled, in the order of ``stages``; none where only one of them speaks."""

    def probability(self, stage: str) -> float:
        """Return the probability of one stage."""
        return dict(self.stages).get(stage, 0.0)

    def place(self, stage: str) -> int:
        """Return the place of a stage in the ranking, 1 for the first."""
        return [name for name, _ in self.stages].index(stage) + 1


def weigh_findings(
    conclusion: Conclusion, strengths: Mapping[str, float], explaining: frozenset[Statement] = frozenset()
) -> tuple[WeighedFinding, ...]:
    """Return the findings with their weights; for each stage every observation is counted once.

    Among findings for one stage that rest on the same observation, the one resting on more
    observations counts (it knows more); of two that rest on as many, a rule before a usual suspect,
    since a rule weighs circumstances too, and then the stronger.  A finding that takes the place of
    others says no less than they would have said together, and a weak word more.

    Args:
        conclusion: what the rules concluded.
        strengths: likelihood ratio of each word for a strength, above 1.
        explaining: observations that the arithmetic weighs; findings that rest on one explain and do not count.
    Returns:
        All findings, in a fixed order, each marked as counted or not.
    """
    candidates = []
    for deduction in conclusion.findings:
        sign = 1.0 if deduction.concluded.get("direction") == "for" else -1.0
        weight = sign * math.log(strengths[deduction.concluded.get("strength")])
        support = conclusion.support(deduction)
        candidates.append((deduction.concluded.get("stage"), support, weight, deduction))
    candidates.sort(key=lambda c: (c[0], -len(c[1]), c[3].usual, -abs(c[2]), c[3]))
    by_stage: dict[str, list[WeighedFinding]] = {}
    for stage, support, weight, deduction in candidates:
        by_stage.setdefault(stage, []).append(WeighedFinding(deduction, stage, weight, support, False))
    more = math.log(min(strengths.values()))
    return tuple(f for some in by_stage.values() for f in _counted_once(_no_less(some, more), explaining))


def _counted_once(
    findings: Sequence[WeighedFinding], explaining: frozenset[Statement] = frozenset()
) -> list[WeighedFinding]:
    """Return the findings for one stage, in their order, each marked as counted or not."""
    taken: set[Statement] = set(explaining)
    marked = []
    for finding in findings:
        counted = not (finding.support & taken)
        if counted:
            taken |= finding.support
        marked.append(replace(finding, counted=counted))
    return marked


def _no_less(findings: Sequence[WeighedFinding], more: float) -> list[WeighedFinding]:
    """Let each finding for one stage say ``more`` than those together that rest on fewer of its observations."""
    raised: list[WeighedFinding] = []
    for finding in reversed(findings):
        parts = [f for f in raised if f.support < finding.support]
        net = sum(f.log_ratio for f in _counted_once(parts) if f.counted)
        sign = math.copysign(1.0, finding.log_ratio)
        most = max(abs(finding.log_ratio), sign * net + more if sign * net > 0.0 else 0.0)
        raised.insert(0, replace(finding, log_ratio=sign * most))
    return raised


def rank(
    prior: Floats,
    stage_of: Sequence[str],
    findings: Sequence[WeighedFinding],
    evidence: Sequence[Evidence],
) -> Ranking:
    """Return the ranking that follows from priors, findings and answers.

    Args:
        prior: Probability of each hypothesis before anything was seen, shape (hypotheses,), sums to 1.
        stage_of: Stage of each hypothesis.
        findings: From :func:`weigh_findings`.
        evidence: The answers; their order has no effect.
    """
    names = sorted(set(stage_of))
    index = np.array([names.index(stage) for stage in stage_of])
    counted = [f for f in findings if f.counted and f.stage in names]
    by_stage = np.asarray(np.bincount(index, weights=prior, minlength=len(names)), dtype=float)
    by_rules = frozenset().union(*(f.support for f in counted))
    shown = {e.statement for e in evidence if e.statement is not None and e.statement.kind == _SIGN}
    signs = by_rules & shown
    found = np.zeros((3, len(names)))
    """What findings say of each stage: of signs that simulated faults show too, of other signs, of tests."""
    for finding in counted:
        sort = 0 if finding.support & signs else 1 if any(s.kind == _SIGN for s in finding.support) else 2
        found[sort, names.index(finding.stage)] += finding.log_ratio * (_RULES if sort == 0 else 1.0)
    shared, alone, tests = _told(evidence, signs, prior)
    peak = float(shared.max())
    simulated = peak + np.log(_stage_mean(np.exp(shared - peak), prior, index, by_stage))
    seen = (found[0] + found[1] - (1.0 - _SIMULATED) * simulated)[index] + shared + alone
    log_weight = np.log(np.maximum(prior, 1e-300)) + _doubted(seen, prior) + found[2][index] + tests
    top = float(log_weight.max())
    weight = np.exp(log_weight - top)
    total = float(weight.sum())
    shares = np.bincount(index, weights=weight / total, minlength=len(names))
    order = sorted(range(len(names)), key=lambda n: (-round(float(shares[n]), 12), names[n]))
    rules = (found[0] / _RULES) + found[1] + found[2]
    each = (_shares(np.log(np.maximum(by_stage, 1e-300)) + says) for says in (rules, simulated))
    opinions = [Opinion(*one) for one in zip(names, *(s.tolist() for s in each), strict=True)]
    return Ranking(
        hypotheses=weight / total,
        stages=tuple((names[n], float(shares[n])) for n in order),
        findings=tuple(findings),
        log_evidence=top + math.log(total),
        opinions=tuple(opinions[n] for n in order) if signs else (),
    )


def _told(
    evidence: Sequence[Evidence], signs: frozenset[Statement], prior: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the log likelihood of the signs that rules weigh too, of other signs, and of tests."""
    told: tuple[list[tuple[str, Floats]], ...] = ([], [], [])
    for item in sorted(evidence, key=lambda e: e.offer):
        is_sign = item.statement is not None and item.statement.kind == _SIGN
        sort = 2 if not is_sign else 0 if item.statement in signs else 1
        told[sort].append((item.cause, np.maximum(item.likelihood, 1e-9)))
    return pooled(told[0], prior), pooled(told[1], prior), pooled(told[2], prior)


def _doubted(seen: Floats, prior: Floats) -> Floats:
    """Return what the signs say in all, short of the chance that they were misjudged and say nothing."""
    peak = float(seen.max())
    mean = peak + math.log(float(prior @ np.exp(seen - peak)))
    return np.logaddexp(math.log1p(-MISJUDGED) + seen, math.log(MISJUDGED) + mean)


def _shares(log_weight: Floats) -> Floats:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum(), dtype=float)


def pooled(told: Iterable[tuple[str, Floats]], prior: Floats) -> Floats:
    """Return the log likelihood of several answers, those of one cause pooled.

    .. math:: \\log L = \\sum_c \\log((1 - e) \\prod_{i \\in c} L_i + e \\prod_{i \\in c} \\bar L_i)

    A cause fails with the chance e; its answers then tell nothing, and each is as likely as in the mean.

    Args:
        told: Cause and likelihood of each answer, in a fixed order; "" shares nothing.
        prior: Probability of each hypothesis, for the mean; shape (hypotheses,).
    Returns:
        Shape (hypotheses,).
    Example: two readings that agree, once with causes of their own and once with one in common.
        >>> sure = np.array([0.9, 0.1])
        >>> own, common = (pooled([(a, sure), (b, sure)], np.array([0.5, 0.5])) for a, b in ("xy", "xx"))
        >>> [round(float(np.exp(log[0] - log[1])), 1) for log in (own, common)]
        [81.0, 40.2]
    """
    found = np.zeros_like(prior)
    causes: dict[str, list[Floats]] = {}
    for cause, likelihood in told:
        if cause:
            causes.setdefault(cause, []).append(likelihood)
        else:
            found = found + np.log(likelihood)
    for _, together in sorted(causes.items()):
        log = np.sum(np.log(together), axis=0)
        if len(together) > 1:
            flat = sum(math.log(float(prior @ likelihood)) for likelihood in together)
            log = np.logaddexp(math.log(1.0 - SHARED_ERROR) + log, math.log(SHARED_ERROR) + flat)
        found = found + log
    return np.asarray(found, dtype=float)


def _stage_mean(likelihood: Floats, prior: Floats, index: NDArray[np.intp], by_stage: Floats) -> Floats:
    """Return the likelihood of answers given only the stage."""
    sums = np.bincount(index, weights=prior * likelihood, minlength=len(by_stage))
    return np.where(by_stage > 0, np.maximum(sums, 1e-300) / np.maximum(by_stage, 1e-300), 1.0)
