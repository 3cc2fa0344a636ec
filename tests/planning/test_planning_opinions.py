"""What rules and simulated faults say of the stages, and how the two are joined."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.deduction import Deduction, statement
from backporch.engine.facts import Answer, Symptom
from backporch.engine.ranking import MISJUDGED, Evidence, WeighedFinding, rank

SEEN = statement(Symptom(name="picture-rolls"))
STAGES = ["agc", "agc", "sound", "sound"]
PRIOR = np.array([0.4, 0.1, 0.3, 0.2])
CLAIM = Deduction(SEEN, "a-rule", "It points there.", "", "common practice", (SEEN,))


def finding(stage: str, log_ratio: float) -> WeighedFinding:
    """Return what a rule says of one stage on seeing the symptom."""
    return WeighedFinding(CLAIM, stage, log_ratio, frozenset({SEEN}), True)


def share(findings: Sequence[WeighedFinding], evidence: Sequence[Evidence]) -> float:
    """Return the probability of the first stage."""
    return rank(PRIOR, STAGES, findings, evidence).probability("agc")


SHOWN = Evidence("symptom:picture-rolls", np.array([0.9, 0.1, 0.2, 0.2]), SEEN)
FLAT = Evidence("symptom:picture-rolls", np.full(4, 0.5), SEEN)


class TestPool:
    def test_where_the_simulated_faults_tell_nothing_the_rule_still_moves_the_stage(self) -> None:
        """A rule that speaks for a stage raises it, by less than where no simulated fault shows the sign."""
        alone, beside = share([finding("agc", 2.0)], []), share([finding("agc", 2.0)], [FLAT])

        assert 0.5 < beside < alone

    def test_where_no_rule_speaks_the_simulated_faults_count_in_full(self) -> None:
        """A sign unknown to rules moves the stages as Bayes' rule says, short of a chance of misjudging."""
        bayes = PRIOR * SHOWN.likelihood / (PRIOR @ SHOWN.likelihood)
        doubted = (1.0 - MISJUDGED) * bayes + MISJUDGED * PRIOR

        assert share([], [SHOWN]) == pytest.approx(doubted[:2].sum())

    def test_what_was_seen_is_doubted_and_leaves_every_stage_some_chance(self) -> None:
        """However many signs speak against a stage, as much is left of it as signs are misjudged."""
        against = [Evidence("symptom:picture-rolls", np.array([1.0, 1.0, 1e-6, 1e-6]), SEEN)] * 3

        assert share([], against) == pytest.approx(1.0 - 0.5 * MISJUDGED)

    def test_rules_and_simulated_faults_both_count_in_full_on_a_test(self) -> None:
        """Of the answer to a test the rule's ratio and the likelihood multiply, with no weights."""
        told = statement(Answer(measurement="vertical-hold", outcome="locks"))
        claim = WeighedFinding(CLAIM, "agc", 1.0, frozenset({told}), True)
        odds = rank(PRIOR, STAGES, [claim], [Evidence("vertical-hold", SHOWN.likelihood, told)])
        bayes = PRIOR * SHOWN.likelihood * np.array([np.e, np.e, 1.0, 1.0])

        assert odds.probability("agc") == pytest.approx(bayes[:2].sum() / bayes.sum())

    def test_two_opinions_that_agree_say_more_than_either(self) -> None:
        """Where rule and simulated faults point to one stage, it stands above what each would give it."""
        both = rank(PRIOR, STAGES, [finding("agc", 1.0)], [SHOWN])
        opinion = both.opinions[0]

        assert opinion.stage == "agc"
        assert both.probability("agc") > max(opinion.rules, opinion.simulated)

    def test_within_a_stage_the_simulated_faults_count_in_full(self) -> None:
        """Inside one stage the odds of two faults move by the whole likelihood, whatever the rules say."""
        odds = rank(PRIOR, STAGES, [finding("agc", -1.5)], [SHOWN]).hypotheses
        believed = odds - MISJUDGED * PRIOR

        assert believed[0] / believed[1] == pytest.approx(4.0 * 9.0)

    @given(st.floats(-4, 4), st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4))
    def test_each_opinion_is_a_distribution(self, log_ratio: float, likelihood: list[float]) -> None:
        """The shares of all stages sum to one in the ranking and in each of the two opinions."""
        shown = Evidence("symptom:picture-rolls", np.array(likelihood), SEEN)
        ranking = rank(PRIOR, STAGES, [finding("agc", log_ratio)], [shown])

        assert sum(p for _, p in ranking.stages) == pytest.approx(1.0)
        assert sum(o.rules for o in ranking.opinions) == pytest.approx(1.0)
        assert sum(o.simulated for o in ranking.opinions) == pytest.approx(1.0)
