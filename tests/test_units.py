"""Engineering notation is read and written as a restorer writes it on a schematic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.errors import BadInput
from backporch.engine.units import parse, show


class TestParse:
    @pytest.mark.parametrize(
        ("text", "unit", "value"),
        [
            ("22 nF", "F", 22e-9),
            ("0.047uF", "F", 47e-9),
            ("470 mmfd", "F", 470e-12),
            ("0.05 mfd", "F", 50e-9),
            ("4k7", "ohm", 4700.0),
            ("2R2", "ohm", 2.2),
            ("1.5 M", "ohm", 1.5e6),
            ("470k", "ohm", 470e3),
            ("-18V", "V", -18.0),
            ("63.5 us", "s", 63.5e-6),
            ("1,200 V", "V", 1200.0),
        ],
    )
    def test_reads_what_a_schematic_says(self, text, unit, value):
        """Values are read as they stand on a schematic."""
        assert math.isclose(value, parse(text, unit), rel_tol=1e-9)

    @pytest.mark.parametrize("text", ["", "abc", "22 nH", "5k", "5 M", "nan", "inf", "1e999", "5 V V", "--3"])
    def test_refuses_what_is_no_capacitance(self, text):
        """A wrong unit, a word or an infinite number is refused with an example."""
        with pytest.raises(BadInput):
            parse(text, "F")

    @given(st.floats(min_value=1e-12, max_value=1e9))
    def test_reads_back_what_it_shows(self, value):
        """A value shown and read again is the same within the digits shown."""
        assert math.isclose(value, parse(show(value, "Hz", digits=6), "Hz"), rel_tol=1e-5)
