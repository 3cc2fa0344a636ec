"""The minutes of a session are those of what was done, a search by hand among it."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.live import live_problem
from backporch.engine.planning.problem import Position
from backporch.engine.session.assess import assess
from backporch.engine.session.bench_costs import by_substitution, hand_minutes
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview
from backporch.engine.session.just_changed import changed_parts, idle_tests
from backporch.engine.session.questions import NONE_OF_THEM, Option, Question
from backporch.engine.session.search_entry import found_by_hand, parts_tested, searched

INTERVIEW = Interview(make_workbench("plover-17"))
REPAIRS = {repair.key: repair for repair in INTERVIEW.problem.repairs}
PARTS = st.lists(st.sampled_from(sorted(REPAIRS)), min_size=1, max_size=8, unique=True)
USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
}
SEEN = (
    *(Entry("circumstance", key, value) for key, value in USUAL.items()),
    Entry("symptom", "picture-snowy"),
    Entry("symptom", "picture-weak"),
    Entry("symptoms-done", ""),
)


def question(parts):
    """Return the question of a search by hand over some parts."""
    options = [Option(part, "") for part in (*parts, NONE_OF_THEM)]
    return Question("search", "search", "Test these parts", tuple(options))


def minutes(*entries):
    """Return all minutes that some entries take."""
    return sum(INTERVIEW.minutes_spent(entries))


class TestSearchByHand:
    @settings(max_examples=40, deadline=None)
    @given(PARTS, st.data())
    def test_it_costs_the_way_and_every_test_up_to_the_bad_part(self, parts, data):
        """A search that succeeds costs the way, the tests up to the part that is bad, its change and a run."""
        bad = data.draw(st.sampled_from(parts))
        tested = parts[: parts.index(bad) + 1]
        start = Position(assess(INTERVIEW.workbench, SEEN).ranking.hypotheses)
        way = live_problem(INTERVIEW.problem, start, (), 45.0, 0.0)
        spent = way.way_by_hand(way.start) + sum(REPAIRS[part].by_hand_minutes for part in tested)
        behind = REPAIRS[bad].access - INTERVIEW.problem.costs.search_access
        spent += sum(INTERVIEW.problem.costs.access_minutes[state] for state in behind)

        assert minutes(*searched(question(parts), bad)) == pytest.approx(
            spent + REPAIRS[bad].minutes + INTERVIEW.problem.costs.run_minutes
        )

    @settings(max_examples=40, deadline=None)
    @given(PARTS)
    def test_a_later_place_in_the_order_costs_more(self, parts):
        """The later the bad part stands in the order, the more the search itself takes."""
        spent = [minutes(searched(question(parts), part)[0]) for part in parts]

        assert all(before < after for before, after in pairwise(spent))

    @settings(max_examples=40, deadline=None)
    @given(PARTS)
    def test_in_vain_it_costs_the_tests_of_all(self, parts):
        """A search in vain costs as much as one whose last part is bad, without its change."""
        last_bad = searched(question(parts), parts[-1])[0]

        assert minutes(*searched(question(parts), NONE_OF_THEM)) == minutes(last_bad)

    @given(PARTS, st.data())
    def test_what_is_kept_says_what_was_tested(self, parts, data):
        """The kept entry names the parts tested, in their order, and the one that was bad."""
        bad = data.draw(st.sampled_from(parts))
        entry = searched(question(parts), bad)[0]

        assert parts_tested(entry) == tuple(parts[: parts.index(bad) + 1])
        assert found_by_hand(entry) == bad

    def test_parts_that_tested_good_are_suspected_less(self):
        """What tested good before the bad part is suspected less from then on."""
        owners = [h.owner for h in INTERVIEW.workbench.faults.hypotheses]
        shares = []
        for entries in (SEEN, (*SEEN, Entry("search", "search", "W1 L2=bad"))):
            odds = assess(INTERVIEW.workbench, entries).ranking.hypotheses
            shares.append({p: sum(o for o, w in zip(odds, owners, strict=True) if w == p) for p in ("W1", "L2")})

        assert shares[1]["W1"] < 0.2 * shares[0]["W1"]
        assert shares[1]["L2"] > shares[0]["L2"]


class TestWithoutAMeter:
    @pytest.mark.parametrize("part", ["R30", "C26", "C36"])
    def test_a_part_is_proved_by_a_good_one_in_its_place(self, part):
        """Where no meter is at hand, testing a part takes as long as changing it; any meter will do."""
        bare = make_workbench("plover-17", lacking=("meter",))
        needle = make_workbench("plover-17", ("cheap-meter",), ("meter",))

        assert by_substitution(bare, part)
        assert hand_minutes(bare, part) >= REPAIRS[part].minutes
        assert hand_minutes(needle, part) == REPAIRS[part].by_hand_minutes

    def test_a_tube_is_tested_as_ever(self):
        """A tube is proved by another one, meter or none."""
        assert (
            hand_minutes(make_workbench("plover-17", lacking=("meter",)), "V13") == REPAIRS["V13"].by_hand_minutes
        )


class TestJustChanged:
    CHANGED = (*SEEN, Entry("repair", "L2", "not-cured"))

    def test_a_part_just_changed_is_not_asked_for(self):
        """A part that was changed and tried is not tested again at once, though its fault still has a share."""
        found = assess(INTERVIEW.workbench, self.CHANGED)

        assert changed_parts(INTERVIEW.workbench, found) == {"L2"}
        assert "part-test@L2" in INTERVIEW.position(found).done
        assert INTERVIEW.turn(self.CHANGED).step.key != "part-test@L2"

    def test_other_parts_are_asked_for_as_before(self):
        """A test that tells of other parts as well stays open."""
        found = assess(INTERVIEW.workbench, self.CHANGED)

        assert set(idle_tests(INTERVIEW.workbench, INTERVIEW.problem, found, 0.0)) <= {"part-test@L2"}

    def test_a_reading_afterwards_that_speaks_for_it_asks_again(self):
        """A part test afterwards that finds the part bad speaks for it once more."""
        entries = (*self.CHANGED, Entry("answer", "part-test@L2", "bad"))

        assert changed_parts(INTERVIEW.workbench, assess(INTERVIEW.workbench, entries)) == frozenset()

    def test_without_a_change_nothing_is_idle(self):
        """Where nothing was changed, every test may be asked for."""
        found = assess(INTERVIEW.workbench, SEEN)

        assert list(idle_tests(INTERVIEW.workbench, INTERVIEW.problem, found, 0.02)) == []
