"""Readings are understood as people write them down."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.errors import BadInput
from backporch.engine.session.reading import read_reading


class TestReadReading:
    @pytest.mark.parametrize(
        ("text", "unit", "shape", "low", "high"),
        [
            ("-18", "V", "value", -18, -18),
            ("-18V", "V", "value", -18, -18),
            ("\u221218 V", "V", "value", -18, -18),
            ("1.2k", "ohm", "value", 1200, 1200),
            ("4k7", "ohm", "value", 4700, 4700),
            ("62 Vpp", "V", "value", 62, 62),
            ("62vpp", "V", "value", 62, 62),
            ("about 60", "V", "value", 60, 60),
            ("85 mA", "A", "value", 0.085, 0.085),
            ("180-220", "V", "range", 180, 220),
            ("180 to 220 V", "V", "range", 180, 220),
            ("-20--10", "V", "range", -20, -10),
            ("-20 to -10", "V", "range", -20, -10),
            ("1.2k-1.5k", "ohm", "range", 1200, 1500),
            ("<5", "V", "below", -math.inf, 5),
            ("< 5 k", "ohm", "below", 0, 5000),
            (">400 V", "V", "above", 400, math.inf),
            ("OL", "ohm", "overload", math.inf, math.inf),
            ("none", "V", "none", 0, 0),
            ("?", "V", "unsure", -math.inf, math.inf),
        ],
    )
    def test_understands_common_ways_of_writing(self, text, unit, shape, low, high):
        """Each common way of writing a reading gives its shape and bounds."""
        got = read_reading(text, unit)

        assert (shape, pytest.approx(low), pytest.approx(high)) == (got.shape, got.low, got.high)

    @pytest.mark.parametrize("text", ["180-220 wandering", "180-220, wandering", "wanders 180 to 220"])
    def test_keeps_that_a_reading_wanders(self, text):
        """A wandering reading is kept as such."""
        assert read_reading(text, "V").wandering

    @pytest.mark.parametrize(
        ("text", "unit"),
        [("12 ohm", "V"), ("60 V", "ohm"), ("nan", "V"), ("", "V"), ("5 5", "V"), ("hello", "V")],
    )
    def test_refuses_what_is_no_such_reading(self, text, unit):
        """A wrong unit or a word is refused."""
        with pytest.raises(BadInput):
            read_reading(text, unit)

    @given(st.text(max_size=40))
    def test_never_fails_in_another_way(self, text):
        """Whatever is typed gives a reading or one clear refusal."""
        try:
            got = read_reading(text, "V")
        except BadInput:
            return
        assert got.low <= got.high

    @given(st.floats(-2000, 2000), st.sampled_from(["", " V", "V", " volts"]))
    def test_a_written_number_comes_back(self, value, tail):
        """A number written with or without its unit is read exactly."""
        assert read_reading(f"{value:.4f}{tail}", "V").low == pytest.approx(value, abs=1e-4)
