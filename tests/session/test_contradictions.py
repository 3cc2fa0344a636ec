"""Answers that cannot both be true are noticed, named, and left out until one is taken back."""

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.knowledge.library import shipped
from backporch.engine.session.assess import assess
from backporch.engine.session.contradictions import Clash, clashes, sign_in_words
from backporch.engine.session.entry import Entry

LIBRARY = shipped()
DARK, ROLLS, GOOD = (
    Entry("symptom", "no-raster"),
    Entry("symptom", "picture-rolls"),
    Entry("symptom", "sound-good"),
)
FULL = Entry("circumstance", "supply-aid", "full-mains")


@pytest.fixture(scope="module")
def workbench():
    """Give a bench with one chassis."""
    return make_workbench("plover-17")


class TestTable:
    def test_every_sign_is_known(self):
        """Each sign is a symptom, an outcome of a test, or a reading that is none."""
        wrong = []
        for name, row in LIBRARY.contradictions.items():
            for sign in (*row.one, *row.other, *row.unless):
                key, _, outcome = sign.partition("=")
                measurement = LIBRARY.measurements.get(key)
                test = measurement is not None and (outcome in measurement.outcomes or outcome == "none")
                if not (test if outcome else key in LIBRARY.symptoms):
                    wrong.append((name, sign))

        assert wrong == []

    def test_every_sign_has_words(self):
        """Each sign can be said to a person."""
        signs = {s for row in LIBRARY.contradictions.values() for s in (*row.one, *row.other)}

        assert all(sign_in_words(LIBRARY, sign) for sign in signs)


class TestClashes:
    def test_two_answers_that_exclude_each_other_are_named(self, workbench):
        """A dark screen and a rolling picture do not go together."""
        found = clashes(workbench, [DARK, ROLLS, GOOD])

        assert [(c.one, c.other) for c in found] == [("no-raster", "picture-rolls")]

    def test_what_comes_and_goes_may_show_both(self, workbench):
        """Where the picture fades, both may be true one after the other."""
        assert clashes(workbench, [DARK, ROLLS, Entry("symptom", "dark-then-flash-off")]) == ()

    def test_a_reading_can_contradict_what_is_seen(self, workbench):
        """No B+ at all and good sound do not go together."""
        found = clashes(workbench, [GOOD, Entry("answer", "read-b-plus", "0 V")])

        assert [c.one for c in found] == ["read-b-plus=none"]

    def test_a_good_reading_contradicts_nothing(self, workbench):
        """A B+ that is there goes with good sound."""
        band = workbench.faults.bins("read-b-plus")

        assert (
            clashes(workbench, [GOOD, Entry("answer", "read-b-plus", f"{(band.low + band.high) / 2:.0f} V")]) == ()
        )


class TestAssess:
    def test_neither_side_counts(self, workbench):
        """With two answers that exclude each other the ranking stands as without both."""
        both, none = assess(workbench, [FULL, DARK, ROLLS, GOOD]), assess(workbench, [FULL, GOOD])

        assert both.clashes == (Clash("no-raster", "picture-rolls", both.clashes[0].says),)
        assert [s for s, _ in both.ranking.stages][:5] == [s for s, _ in none.ranking.stages][:5]

    def test_taking_one_back_makes_the_other_count(self, workbench):
        """Once one of the two is gone, nothing clashes and the other counts."""
        assessment = assess(workbench, [FULL, DARK, GOOD])

        assert assessment.clashes == ()
        assert assessment.ranking.findings
