"""The scanning standards are in order, and rates give the bars and drifts that a screen shows."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.scanning import (
    STANDARDS,
    active_line_s,
    diagonal_bar_count,
    half_line_s,
    hum_bar_count,
    hum_bar_drift_hz,
    line_period_s,
    lines_per_field,
    plain_source,
    standard,
)
from backporch.engine.errors import OutOfRange, UnknownWord

RATES = st.floats(40.0, 130.0)
FIELDS = st.floats(40.0, 70.0)


class TestStandard:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_short_form_names_the_same(self, name):
        """The number of lines alone names a standard."""
        assert standard(name) is standard(name[:3])

    def test_unknown_standard_is_refused(self):
        """A name that is none is refused with the nearest that is."""
        with pytest.raises(UnknownWord, match=r"no scanning standard '625/60'.*625/50"):
            standard("625/60")

    @pytest.mark.parametrize("name", STANDARDS)
    def test_field_has_a_half_line_over(self, name):
        """The lines of a field end in a half, which makes the interlace."""
        one = standard(name)

        assert lines_per_field(one.line_hz, one.field_hz) % 1.0 == 0.5

    @pytest.mark.parametrize("name", STANDARDS)
    def test_pulses_fit_into_their_places(self, name):
        """Sync lies inside the blanking, and broad and equalizing pulses are shorter than half a line."""
        one = standard(name)

        assert one.front_porch_s + one.line_sync_s < one.line_blanking_s
        assert max(one.broad_s, one.equalizing_s) < one.half_line_s

    @pytest.mark.parametrize("name", STANDARDS)
    def test_levels_rise_from_sync_to_white(self, name):
        """Blanking lies above the sync tip and black not below blanking."""
        one = standard(name)

        assert 0.0 < one.blanking_level <= one.black_level < 1.0

    @pytest.mark.parametrize("name", STANDARDS)
    def test_levels_follow_from_the_carrier(self, name):
        """The blanking level is the carrier's, counted from sync to white."""
        one = standard(name)
        share = (one.blanking_carrier - one.sync_carrier) / (one.white_carrier - one.sync_carrier)

        assert math.isclose(one.blanking_level, share, rel_tol=1e-9)

    @pytest.mark.parametrize("name", STANDARDS)
    def test_modulation_tells_where_the_sync_is(self, name):
        """With negative modulation the sync tips are the most carrier."""
        one = standard(name)

        assert (one.modulation == "negative") == (one.sync_carrier > one.white_carrier)


class TestPlainSource:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_fields_are_whole_lines(self, name):
        """Without interlace each field has a whole number of lines, one half less than the standard's."""
        made = plain_source(standard(name))

        assert (standard(name).lines - 1, 0.0) == (made.lines, made.lines / 2 % 1.0)

    def test_interlace_and_equalizing_can_stay(self):
        """A source that sends both is the standard itself."""
        assert standard("625") == plain_source(standard("625"), equalizing=True, interlaced=True)


class TestPeriods:
    def test_half_line_is_half_a_line(self):
        """Two half-lines are a line."""
        assert 2.0 * half_line_s(10125.0) == line_period_s(10125.0)

    def test_blanking_longer_than_the_line_is_refused(self):
        """A blanking that leaves no picture is refused."""
        with pytest.raises(OutOfRange, match=r"line_blanking_s is 6\.4e-05"):
            active_line_s(15625.0, 64e-6)

    @pytest.mark.parametrize("function", [half_line_s, line_period_s])
    def test_no_rate_is_refused(self, function):
        """A line rate of zero has no period."""
        with pytest.raises(OutOfRange, match="line_hz is 0"):
            function(0.0)


class TestBars:
    @pytest.mark.parametrize(("ripple", "field", "bars"), [(60, 60, 1), (120, 60, 2), (50, 60, 1), (100, 50, 2)])
    def test_bars_are_the_ripple_over_the_field(self, ripple, field, bars):
        """Ripple at mains rate makes one bar and at twice that rate two."""
        assert bars == hum_bar_count(ripple, field)

    def test_mains_and_field_at_one_rate_stand_still(self):
        """Bars stand where ripple is a whole multiple of the field rate."""
        assert hum_bar_drift_hz(120.0, 60.0) == 0.0

    def test_fifty_hertz_on_sixty_fields_weaves_at_ten(self):
        """A 60-field set on 50 Hz mains weaves at 10 Hz."""
        assert hum_bar_drift_hz(50.0, 60.0) == 10.0

    @given(ripple=RATES, field=FIELDS)
    @settings(max_examples=50)
    def test_drift_stays_below_half_the_field_rate(self, ripple, field):
        """The nearest multiple is never further than half a field rate, but for ripple below one and a half."""
        assert hum_bar_drift_hz(ripple, field) <= max(0.5 * field, field - ripple) + 1e-9

    def test_batch_is_the_single_calls(self):
        """An array of ripples gives an array of drifts."""
        ripples = np.array([50.0, 60.0, 100.0])

        assert [hum_bar_drift_hz(r, 60.0) for r in ripples] == hum_bar_drift_hz(ripples, 60.0).tolist()

    @given(error=st.floats(0.0, 3000.0), field=FIELDS)
    @settings(max_examples=30)
    def test_bars_grow_with_the_error(self, error, field):
        """Twice the error of the line rate makes twice the diagonal bars."""
        assert math.isclose(diagonal_bar_count(2.0 * error, field), 2.0 * diagonal_bar_count(error, field))

    def test_negative_error_is_refused(self):
        """The error is given without sign."""
        with pytest.raises(OutOfRange, match="line_error_hz is -5"):
            diagonal_bar_count(-5.0, 60.0)
