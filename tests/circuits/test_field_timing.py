"""Periods, free-running rate, roll and sawtooth go the way that physics goes, and to the right limits."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.circuits.field_timing import (
    field_period_s,
    free_running_hz,
    line_period_s,
    roll_hz,
    sawtooth_v,
)
from backporch.engine.circuits.flyback_boost import plate_pulse_v
from backporch.engine.circuits.vertical import charged_sawtooth
from backporch.engine.errors import OutOfRange
from backporch.engine.units import parse, show

RATES = st.floats(1.0, 1e5)
OHMS = st.floats(1e3, 1e7)
FARADS = st.floats(1e-10, 1e-6)


class TestPeriods:
    @given(RATES)
    def test_period_and_rate_are_inverse(self, rate):
        """The inverse of a period is the rate again, for lines and for fields."""
        assert math.isclose(rate, 1.0 / line_period_s(rate))
        assert math.isclose(rate, 1.0 / field_period_s(rate))

    @given(RATES)
    def test_units_make_the_round_trip(self, rate):
        """A period that is shown in engineering notation reads back as itself to three digits."""
        period = field_period_s(rate)

        assert math.isclose(period, parse(show(period, "s"), "s"), rel_tol=5e-3)

    def test_no_rate_is_refused(self):
        """A rate of zero has no period."""
        with pytest.raises(OutOfRange, match="field_hz is 0"):
            field_period_s(0.0)


class TestFreeRunning:
    @given(OHMS, FARADS, st.floats(1.1, 20.0), st.floats(1.01, 3.0))
    def test_more_resistance_capacitance_or_charge_slows_it(self, ohm, farad, ratio, more):
        """Each of resistance, capacitance and charge makes the oscillator slower as it grows."""
        rate = free_running_hz(ohm, farad, ratio, 1e-4)

        assert free_running_hz(more * ohm, farad, ratio, 1e-4) < rate
        assert free_running_hz(ohm, more * farad, ratio, 1e-4) < rate
        assert free_running_hz(ohm, farad, more * ratio, 1e-4) < rate

    def test_without_capacitance_only_the_pulse_is_left(self):
        """As the capacitance goes to nothing the period goes to the length of the pulse."""
        assert math.isclose(1e4, free_running_hz(1e6, 1e-18, 5.0, 1e-4), rel_tol=1e-6)

    @given(RATES, RATES)
    def test_roll_turns_round_with_the_error(self, field, free):
        """Oscillator and signal exchanged, the picture rolls the other way; in step it stands."""
        assert roll_hz(field, free) == -roll_hz(free, field)
        assert roll_hz(field, field) == 0.0


class TestSawtooth:
    @given(st.floats(1.0, 800.0), OHMS, FARADS, st.floats(1e-5, 2e-2))
    def test_is_that_of_the_vertical_stage(self, supply, ohm, farad, trace):
        """It is the sawtooth of the vertical stage without leak and foot."""
        found = charged_sawtooth(supply, ohm, farad, trace).amplitude_v

        assert math.isclose(found, sawtooth_v(supply, ohm, farad, trace), rel_tol=1e-4, abs_tol=1e-9)

    def test_limits(self):
        """No capacitance reaches the supply, endless resistance or capacitance reaches nothing."""
        assert math.isclose(300.0, sawtooth_v(300.0, 1e6, 1e-15, 1e-2))
        assert sawtooth_v(300.0, 1e15, 1e-7, 1e-2) < 1e-4
        assert sawtooth_v(300.0, 1e6, 1.0, 1e-2) < 1e-4


class TestPlatePulse:
    @given(st.floats(0.0, 900.0), st.floats(1.0, 3.0), st.floats(0.0, 5000.0))
    def test_stands_on_the_boosted_rail(self, rail, ratio, pulse):
        """The pulse at the plate is never below the boosted rail, and grows with ratio and pulse."""
        peak = plate_pulse_v(rail, ratio, pulse)

        assert peak >= rail
        assert plate_pulse_v(rail, 1.1 * ratio, pulse) >= peak
        assert plate_pulse_v(rail, ratio, pulse + 1.0) > peak
