"""What each answer to a question would mean, said before it is given."""

from __future__ import annotations

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview
from backporch.engine.session.meanings import meanings_of

OPENING = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
    "hearing": "hears",
}
BEGUN = [
    Entry("start", "chassis", "plover-17"),
    *(Entry("circumstance", key, value) for key, value in OPENING.items()),
]


@pytest.fixture(scope="module")
def interview():
    """The questions of one chassis."""
    return Interview(make_workbench("plover-17"))


def asked(interview, *symptoms):
    """Return the entries after some symptoms, and the test that is asked then."""
    standing = [*BEGUN, *(Entry("symptom", name) for name in symptoms), Entry("symptoms-done", "")]
    return standing, interview.turn(standing)


class TestMeanings:
    @pytest.mark.parametrize("symptoms", [("picture-rolls-up", "sound-good"), ("line-across", "sound-good")])
    def test_what_was_said_of_an_answer_is_what_then_stands(self, interview, symptoms):
        """The odds that a named answer is said to bring are those shown after it is given."""
        standing, turn = asked(interview, *symptoms)

        found = meanings_of(interview, turn, standing)

        assert {m.outcome for m in found} == set(turn.offer.measurement.outcomes)
        for meaning in found:
            after = interview.turn([*standing, Entry("answer", turn.offer.id, meaning.outcome)])
            odds = dict(after.assessment.ranking.stages)
            for stage, _, then in (*meaning.raises, *meaning.lowers):
                assert then == pytest.approx(odds[stage]), (meaning.outcome, stage)

    def test_the_chances_of_all_outcomes_make_one(self, interview):
        """Of the outcomes of a test one will come."""
        standing, turn = asked(interview, "picture-rolls-up")

        assert sum(m.chance for m in meanings_of(interview, turn, standing)) == pytest.approx(1.0)

    def test_an_opening_question_has_no_meaning_for_stages(self, interview):
        """Before a test is asked nothing is said of stages."""
        assert meanings_of(interview, interview.turn(BEGUN[:1]), BEGUN[:1]) == ()
