"""Faults that come and go: what was done and when, and what a test made meanwhile is worth."""

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BadInput
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview
from backporch.engine.session.watch import happenings, said_by_log, speaks_for, watched

USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
}


@pytest.fixture(scope="module")
def interview():
    """An interview over a shipped chassis."""
    return Interview(make_workbench("plover-17"))


def at(minute, kind, key, value=""):
    """An entry at a minute of one hour."""
    return Entry(kind, key, value, f"2026-11-25T10:{minute:02d}:00+00:00")


def moment(minute, value):
    """The fault comes or goes at a minute."""
    return at(minute, "circumstance", "moment", value)


@pytest.fixture
def rolling():
    """A set that rolls now and then, with all opening questions answered."""
    said = [Entry("circumstance", k, v) for k, v in USUAL.items()]
    symptoms = [Entry("symptom", "picture-rolls-up"), Entry("symptom", "worse-when-warm")]
    return [*said, *symptoms, Entry("symptoms-done", "")]


class TestTheLog:
    LOG = (
        at(0, "watch", "on", "5"),
        moment(1, "quiet"),
        at(7, "watch", "tap", "V13"),
        moment(7, "happening"),
        moment(9, "quiet"),
        moment(20, "happening"),
    )

    def test_knows_the_time_since_switch_on_and_what_was_done(self):
        """Each coming of the fault has its minutes since switch-on and what was done just before."""
        came = [(h.minutes_on, h.after, h.where) for h in happenings(self.LOG) if h.came]

        assert came == [(12.0, "tap", "V13"), (25.0, "", "")]

    def test_says_it_in_sentences(self):
        """The log is told in words that a person can use."""
        assert said_by_log(self.LOG) == (
            "It happened twice, 12 and 25 min after switch-on.",
            "Once of 2 within a minute after it was tapped (V13).",
            "Once by itself.",
        )

    def test_a_tap_that_brings_it_on_becomes_a_symptom(self):
        """What the log shows counts as seen."""
        assert speaks_for(self.LOG[:4]) == ("changes-when-tapped",)
        assert speaks_for(self.LOG) == ()

    @pytest.mark.parametrize(
        ("typed", "entry"),
        [
            ("tapped V5", Entry("watch", "tap", "V5")),
            ("COOL R38", Entry("watch", "cool", "R38")),
            ("on 12 min ago", Entry("watch", "on", "12")),
            ("dip", Entry("watch", "dip")),
        ],
    )
    def test_what_is_done_is_typed_in_a_word(self, typed, entry):
        """A word and a place log what was done."""
        assert watched(typed) == entry

    @pytest.mark.parametrize("typed", ["dance", "on soon", "on -3", "on inf", ""])
    def test_anything_else_is_refused_with_the_words(self, typed):
        """What cannot be logged is refused."""
        with pytest.raises(BadInput):
            watched(typed)


class TestHealthyMoments:
    def test_asks_whether_it_is_there_now(self, interview, rolling):
        """Before the first test of a fault that comes and goes, the tool asks whether it is there."""
        assert interview.turn(rolling).question.id == "moment"

    def test_waits_while_all_is_well_and_says_where_to_leave_the_meter(self, interview, rolling):
        """While the fault is asleep no test is asked; a reading to leave the meter at is named."""
        turn = interview.turn([*rolling, Entry("circumstance", "moment", "quiet")])

        assert turn.question.kind == "watch"
        assert turn.offer.measurement.reading is not None
        assert turn.offer.measurement.power == "on"

    def test_a_test_made_while_all_is_well_clears_no_stage(self, interview, rolling):
        """The same answer that moves the ranking while the fault is there moves nothing while it is asleep."""
        answer = Entry("answer", "turn-vertical-hold", "locks")
        odds = [
            dict(assess(interview.workbench, entries).ranking.stages)
            for entries in (
                [*rolling, Entry("circumstance", "moment", "quiet")],
                [*rolling, Entry("circumstance", "moment", "quiet"), answer],
                [*rolling, Entry("circumstance", "moment", "happening"), answer],
            )
        ]

        assert odds[0] == odds[1]
        assert odds[0] != odds[2]

    def test_a_wrong_reading_counts_even_then(self, interview, rolling):
        """A reading outside the healthy band while all is well counts all the same."""
        quiet = [*rolling, Entry("circumstance", "moment", "quiet")]
        low = Entry("answer", "read-separator-plate", "40")

        before, after = (assess(interview.workbench, e).ranking.stages for e in (quiet, [*quiet, low]))
        assert before != after

    def test_it_may_be_tested_again_when_it_happens(self, interview, rolling):
        """What was tested while all was well is open again once the fault is there."""
        answer = Entry("answer", "look-at-the-blanking-bar", "same-grey")
        quiet = [*rolling, Entry("circumstance", "moment", "quiet"), answer]
        assessment = assess(interview.workbench, [*quiet, Entry("circumstance", "moment", "happening")])

        assert "look-at-the-blanking-bar" not in interview.position(assessment).done
        assert "look-at-the-blanking-bar" in interview.position(assess(interview.workbench, quiet)).done
