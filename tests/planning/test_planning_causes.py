"""Readings that share a cause of error are trusted together, in whatever order they came."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.ranking import Evidence, pooled, rank

PRIOR = np.array([0.4, 0.3, 0.2, 0.1])
STAGES = ["sync", "sync", "video", "video"]
LIKELIHOOD = st.lists(st.floats(0.01, 1.0), min_size=4, max_size=4).map(np.array)
ANSWERS = st.lists(st.tuples(st.sampled_from(["", "meter at sync", "observer at video"]), LIKELIHOOD), max_size=6)


class TestOrder:
    @settings(max_examples=50, deadline=None)
    @given(answers=ANSWERS, random=st.randoms())
    def test_the_same_answers_in_any_order_give_the_same_ranking(self, answers: list, random: object) -> None:
        """Shuffled answers leave every probability as it was, to the last digit."""
        evidence = [Evidence(f"t{n}", likelihood, None, cause) for n, (cause, likelihood) in enumerate(answers)]
        turned = list(evidence)
        random.shuffle(turned)  # type: ignore[attr-defined]

        assert rank(PRIOR, STAGES, [], evidence).stages == rank(PRIOR, STAGES, [], turned).stages


class TestCauses:
    @settings(max_examples=50, deadline=None)
    @given(count=st.integers(2, 8))
    def test_one_wrong_place_cannot_outweigh_everything(self, count: int) -> None:
        """However many readings of one place agree, they count for less than as many witnesses of their own."""
        reading = np.array([0.9, 0.1, 0.1, 0.1])
        shared = pooled([("meter at sync", reading)] * count, PRIOR)
        single = pooled([("", reading)] * count, PRIOR)

        assert shared[0] - shared[1] < single[0] - single[1]

    def test_a_single_reading_counts_in_full(self) -> None:
        """One reading has its own reliability in its table already."""
        reading = np.array([0.9, 0.1, 0.1, 0.1])

        assert np.allclose(pooled([("meter at sync", reading)], PRIOR), np.log(reading))
