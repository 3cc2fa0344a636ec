"""Readings typed as they are found, in any order, and the probe on the wrong pin."""

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.found import compared, looks_found, read_found
from backporch.engine.session.places import pin_of
from backporch.engine.session.reading import read_reading
from backporch.engine.session.wrong_pin import likelier_pin


@pytest.fixture(scope="module")
def bench():
    """The workbench of a shipped chassis."""
    return make_workbench("plover-17")


@pytest.fixture(scope="module")
def read(bench):
    """Read a line of findings."""
    return lambda line: read_found(bench, line, lambda text: find_symptoms(bench.library, text))


class TestInAnyOrder:
    def test_a_line_of_three_is_taken_as_three(self, read):
        """A pin, a rail by its everyday name and something seen stand in one line."""
        found = read("V7 pin1 1.2, boost 310, hold at its end")

        assert [one.entry for one in found] == [
            Entry("answer", "read-video-cathode", "1.2"),
            Entry("answer", "read-boosted-b-plus", "310"),
            Entry("symptom", "hold-at-end"),
        ]

    @pytest.mark.parametrize("place", ["V11 pin 1", "v11 pin1:", "V11/1", "V11.1 =", "pin 1 of V11 is", "V11 p1"])
    def test_every_way_to_write_a_pin_is_understood(self, read, place):
        """Tube and pin may be written in any usual way."""
        assert read(f"{place} 40 V")[0].entry == Entry("answer", "read-separator-plate", "40 V")

    def test_says_how_each_stands_to_a_healthy_set(self, bench, read):
        """A reading outside the healthy band is low or high, one inside is neither."""
        how = [compared(bench, one) for one in read("b+ 280; boost 310; V14 pin 2 900 V")]

        assert how == ["", "low", "high"]

    def test_a_point_that_must_not_be_measured_is_told_and_not_weighed(self, read):
        """A reading at a forbidden point is no evidence; the point is named."""
        one = read("V14 pin 9 210")[0]

        assert one.forbidden == "vertical-output-plate"
        assert one.entry.kind == "note"

    def test_a_pin_without_test_point_becomes_a_note(self, read):
        """A reading for which nothing is computed is kept as a note."""
        assert read("V7 pin 3 6.3")[0].entry == Entry("note", "", "V7 pin 3 6.3")

    @pytest.mark.parametrize("line", ["V99 pin 1 62", "V7 pin 1 lots", "boost 310, xyzzy plugh", "picture rolls"])
    def test_nothing_is_taken_of_a_line_that_is_not_understood(self, read, line):
        """One piece that is not understood refuses the line, so that nothing is half taken."""
        with pytest.raises(BackporchError):
            read(line)

    @given(st.text(max_size=60))
    @settings(max_examples=60, deadline=None)
    def test_any_text_is_read_or_refused_in_words(self, read, text):
        """Whatever is typed gives findings or a sentence, and no other error."""
        with suppress(BackporchError):
            assert read(text)

    def test_plain_answers_are_left_alone(self):
        """Numbers, units and ranges are answers to the question and no findings."""
        assert not any(looks_found(t) for t in ("62", "1, 3", "62 V", "180-220 wandering", "OL", "0.25 A", ""))


class TestWrongPin:
    def test_asks_where_a_reading_fits_the_next_pin_far_better(self, bench):
        """The plate voltage typed for the grid of the same tube is noticed."""
        belief = assess(bench, []).ranking.hypotheses
        asked = bench.faults.offers["read-separator-grid"]
        band = bench.faults.bins("read-separator-plate")
        doubt = likelier_pin(bench, asked, read_reading(f"{(band.low + band.high) / 2:.4g}", "V"), belief)

        assert doubt is not None
        assert (str(doubt.asked), str(doubt.other)) == ("V11 pin 2", "V11 pin 1")

    def test_a_healthy_reading_is_believed(self, bench):
        """No reading in the middle of its healthy band is doubted."""
        belief = assess(bench, []).ranking.hypotheses
        for offer in bench.faults.offers.values():
            reading = offer.measurement.reading
            if reading is None or pin_of(bench, offer) is None:
                continue
            band = bench.faults.bins(offer.id)
            middle = read_reading(f"{(band.low + band.high) / 2:.4g}", reading.unit)
            assert likelier_pin(bench, offer, middle, belief) is None
