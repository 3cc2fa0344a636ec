"""A reading may be told in a word, and then stands for its side of the healthy band."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.correct import corrected
from backporch.engine.session.entry import Entry
from backporch.engine.session.reading import read_reading
from backporch.engine.session.said_reading import in_figures

SIZES = st.floats(0.5, 900.0)


class TestWords:
    @given(SIZES, st.floats(1.05, 2.0))
    def test_words_lie_on_their_side_of_the_band(self, low, ratio):
        """Low lies below, high above and normal within the band of a point that is positive."""
        band = SimpleNamespace(low=low, high=ratio * low)
        below, above, within = (read_reading(in_figures(w, band, "V"), "V") for w in ("low", "high", "normal"))

        assert (below.shape, above.shape, within.shape) == ("below", "above", "range")
        assert below.high == pytest.approx(low, rel=1e-3)
        assert above.low == pytest.approx(band.high, rel=1e-3)
        assert (within.low, within.high) == pytest.approx((low, band.high), rel=1e-3)

    @given(SIZES, st.floats(1.05, 2.0))
    def test_a_low_bias_stands_nearer_to_zero(self, size, ratio):
        """At a point that is negative a low reading is one of less size, and a high one of more."""
        band = SimpleNamespace(low=-ratio * size, high=-size)
        low, high = (read_reading(in_figures(w, band, "V"), "V") for w in ("Too low.", "high"))

        assert low.shape == "above"
        assert low.low == pytest.approx(-size, rel=1e-3)
        assert high.shape == "below"
        assert high.high == pytest.approx(band.low, rel=1e-3)

    @pytest.mark.parametrize("text", ["310", "-18 V", "none", "OL", "?", "180-220 wandering", "lowish"])
    def test_figures_stay_as_they_are(self, text):
        """Whatever is no such word is left as it was typed."""
        assert in_figures(text, SimpleNamespace(low=1.0, high=2.0), "V") == text


def test_a_reading_is_corrected_by_a_word():
    """Where an answer is corrected, a word for the reading is taken like figures."""
    bench = make_workbench("plover-17")
    new = corrected(bench, Entry("answer", "read-b-plus", "300 V"), "low", lambda _text: [])

    assert read_reading(new.value, "V").shape == "below"
