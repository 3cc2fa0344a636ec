"""After a part was changed the diagnosis goes on with what remains."""

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import UnknownWord
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview
from backporch.engine.session.repairs import reaches, remaining, repaired_part


@pytest.fixture(scope="module")
def interview():
    """An interview over a shipped chassis."""
    return Interview(make_workbench("plover-17"))


USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
}
OPENING = tuple(Entry("circumstance", key, value) for key, value in USUAL.items())
SEEN = (
    Entry("symptom", "picture-rolls-up"),
    Entry("symptoms-done", ""),
    Entry("answer", "read-separator-plate", "40"),
    Entry("answer", "read-reservoir", "300"),
    Entry("note", "", "smells of tar"),
)


class TestWhatRemains:
    def test_keeps_what_the_changed_part_could_not_reach(self, interview):
        """A reading that the part cannot reach still holds; one that it can is open again, notes stay."""
        bench = interview.workbench
        near = (h.owner for h in bench.faults.hypotheses if reaches(bench, h.owner, "read-separator-plate"))
        load = next(part for part in near if not reaches(bench, part, "read-reservoir"))
        left = remaining(interview.workbench, [*SEEN, Entry("repair", load, "partly")])

        assert [e.key for e in left] == ["read-reservoir", "", load]

    def test_asks_anew_what_is_seen(self, interview):
        """After a part that was bad the complaint is a new one."""
        turn = interview.turn([*OPENING, *SEEN, Entry("repair", "C26", "partly")])

        assert turn.question.kind == "symptoms"

    def test_asks_at_once_what_a_change_did(self, interview):
        """Once a part is said to be changed, nothing else is asked before what that did."""
        turn = interview.turn([*SEEN, Entry("repair", "C26", "open")])

        assert (turn.question.kind, turn.question.id) == ("repair", "C26")

    def test_not_cured_clears_the_part(self, interview):
        """A part that was changed in vain is no longer suspected."""
        odds = [
            sum(
                p
                for h, p in zip(interview.workbench.faults.hypotheses, a.ranking.hypotheses, strict=True)
                if h.owner == "C26"
            )
            for a in (
                assess(interview.workbench, [*OPENING, *SEEN]),
                assess(interview.workbench, [*OPENING, *SEEN, Entry("repair", "C26", "not-cured")]),
            )
        ]

        assert odds[1] < 0.1 * odds[0]

    def test_a_cured_session_that_goes_on_asks_how_the_set_is(self, interview):
        """A session taken up after its cure asks whether the fault is back."""
        turn = interview.turn([*OPENING, *SEEN, Entry("repair", "C26", "cured"), Entry("resumed", "")])

        assert turn.question.kind == "returned"

    def test_a_part_is_found_in_any_case_and_a_wrong_one_named(self, interview):
        """Parts are written as one likes; one that is not there is named with the nearest."""
        assert repaired_part(interview.workbench, "c26.") == "C26"
        with pytest.raises(UnknownWord, match="Did you mean"):
            repaired_part(interview.workbench, "C266")
