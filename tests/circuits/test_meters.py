"""What meters and probes show, and what they do to a point."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.meters import (
    DIGITAL_10_M,
    ELECTRONIC_11_M,
    NEEDLE_1_K,
    NEEDLE_20_K,
    Meter,
    loaded_v,
    meter_ohm,
    range_v,
    reading,
    two_ranges,
    unloaded_v,
)
from backporch.engine.circuits.meters_probes import (
    high_voltage_probe,
    multiplier_ohm,
    probe_corner_hz,
    probe_impedance_ohm,
    probed_share,
)
from backporch.engine.circuits.meters_waveform import (
    half_wave_shown,
    pulse_shown,
    sampled_shown,
    sawtooth_shown,
    sine_shown,
)
from backporch.engine.errors import BadInput, OutOfRange

VOLTS = st.floats(-500.0, 500.0).filter(lambda v: abs(v) > 1e-3)
OHMS = st.floats(1.0, 1e7)


class TestLoading:
    def test_a_stiff_point_is_read_right(self):
        """A point without resistance reads true on any meter."""
        assert loaded_v(100.0, 0.0, 250e3) == 100.0

    def test_an_open_point_reads_nothing(self):
        """A point behind an open resistor reads next to nothing."""
        assert abs(loaded_v(100.0, 1e12, 10e6)) < 0.01

    @settings(max_examples=60, deadline=None)
    @given(VOLTS, OHMS, OHMS)
    def test_unloading_undoes_loading(self, volts, source, meter):
        """The true voltage comes back from the reading."""
        assert math.isclose(volts, unloaded_v(loaded_v(volts, source, meter), source, meter), rel_tol=1e-9)

    @settings(max_examples=60, deadline=None)
    @given(VOLTS, OHMS, OHMS)
    def test_a_better_meter_loads_less(self, volts, source, meter):
        """A reading never exceeds the voltage and nears it with the meter's resistance."""
        poor, good = abs(loaded_v(volts, source, meter)), abs(loaded_v(volts, source, 2.0 * meter))

        assert poor < good <= abs(volts)

    @settings(max_examples=60, deadline=None)
    @given(VOLTS, OHMS, st.floats(1e5, 1e7), st.floats(0.05, 0.8))
    def test_two_ranges_find_the_source(self, volts, source, first, share):
        """Two loaded readings give voltage and resistance of the point."""
        readings = [loaded_v(volts, source, ohm) for ohm in (first, share * first)]
        found = two_ranges(readings[0], first, readings[1], share * first)

        assert math.isclose(volts, found.true_v, rel_tol=1e-4)
        assert math.isclose(source, found.source_ohm, rel_tol=1e-3, abs_tol=0.1)


class TestRanges:
    @pytest.mark.parametrize(
        ("meter", "volts", "expected"),
        [
            (NEEDLE_20_K, 100.0, 250.0),
            (NEEDLE_20_K, 50.0, 50.0),
            (NEEDLE_1_K, -7.0, 10.0),
            (DIGITAL_10_M, 250.0, 1000.0),
        ],
    )
    def test_lowest_range_that_holds_the_voltage(self, meter, volts, expected):
        """The range is the lowest whose full scale holds the voltage, whatever its sign."""
        assert range_v(volts, meter) == expected

    def test_ohms_follow_the_range(self):
        """A needle meter's resistance goes with its range, that of the others does not."""
        assert meter_ohm(NEEDLE_1_K, np.array([10.0, 250.0])).tolist() == [1e4, 2.5e5]
        assert meter_ohm(ELECTRONIC_11_M, np.array([15.0, 500.0])).tolist() == [11e6, 11e6]

    def test_a_range_that_is_set_counts(self):
        """A reading on a higher range loads less."""
        low, high = (reading(40.0, 1e6, NEEDLE_20_K, scale).shown_v for scale in (50.0, 250.0))

        assert low == pytest.approx(20.0)
        assert high == pytest.approx(40.0 * 5.0 / 6.0)

    def test_beyond_the_rating(self):
        """A voltage above the rating is marked as one not to connect to."""
        assert reading(1200.0, 1e3, ELECTRONIC_11_M).beyond_rating is True
        assert reading(-450.0, 1e3, ELECTRONIC_11_M).beyond_rating is False
        assert reading(600.0, 1e3, NEEDLE_1_K).beyond_rating is True

    def test_error_of_scale_or_of_reading(self):
        """A needle is off by a share of its scale, digits by a share of the reading."""
        assert reading(100.0, 0.0, NEEDLE_20_K).error_v == pytest.approx(7.5)
        assert reading(100.0, 0.0, DIGITAL_10_M).error_v == pytest.approx(1.0)

    def test_batches(self):
        """A batch of points chooses a range for each."""
        found = reading(np.array([5.0, -90.0, 3000.0]), np.array([1e3, 1e6, 0.0]), NEEDLE_20_K)

        assert found.range_v.tolist() == [10.0, 250.0, 1000.0]
        assert found.beyond_rating.tolist() == [False, False, True]


class TestProbes:
    def test_a_stiff_point_does_not_notice(self):
        """A probe on a point without resistance takes nothing off."""
        assert probed_share(1e6, 0.0, 12e-12) == 1.0

    def test_half_power_at_the_corner(self):
        """At the corner frequency 0.707 of what the resistances leave is left."""
        corner = probe_corner_hz(100e3, 12e-12)
        direct = probed_share(1e-3, 100e3, 12e-12)

        assert math.isclose(direct / math.sqrt(2.0), probed_share(corner, 100e3, 12e-12), rel_tol=1e-9)

    def test_impedance_falls_with_frequency(self):
        """At low frequency a probe is its resistance, at high frequency its capacitance."""
        assert math.isclose(10e6, probe_impedance_ohm(1e-3, 12e-12), rel_tol=1e-6)
        assert math.isclose(1.0 / (2 * math.pi * 1e8 * 12e-12), probe_impedance_ohm(1e8, 12e-12), rel_tol=1e-4)

    def test_matched_high_voltage_probe_reads_true(self):
        """A probe on the meter that it was made for reads a stiff supply right."""
        assert math.isclose(15e3, high_voltage_probe(15e3, 0.0, multiplier_ohm(11e6, 100.0), 11e6, 100.0).shown_v)

    def test_wrong_meter_behind_a_probe(self):
        """A probe for 11 M reads about 9 % low on 10 M."""
        assert 0.90 < high_voltage_probe(15e3, 0.0, 1089e6, 10e6, 100.0).shown_v / 15e3 < 0.92


WAVES = {
    "pulse": (lambda t: np.where(t < 0.07, 90.0, -10.0), pulse_shown(-10.0, 100.0, 0.07)),
    "sawtooth across zero": (lambda t: -20.0 + 80.0 * t, sawtooth_shown(-20.0, 60.0)),
    "sawtooth below zero": (lambda t: -70.0 + 50.0 * t, sawtooth_shown(-70.0, -20.0)),
    "ripple on a rail": (lambda t: 250.0 + 20.0 * np.sin(2 * np.pi * t), sine_shown(250.0, 20.0)),
    "sine across zero": (lambda t: -6.0 + 20.0 * np.sin(2 * np.pi * t), sine_shown(-6.0, 20.0)),
    "half-waves": (
        lambda t: np.maximum(230.0 * np.sqrt(2.0) * np.sin(2 * np.pi * t), 0.0),
        half_wave_shown(230.0),
    ),
}


class TestWaveforms:
    @pytest.mark.parametrize("name", WAVES)
    def test_closed_forms_meet_samples(self, name):
        """Each closed form is what a hundred thousand samples give."""
        wave, closed = WAVES[name]
        sampled = sampled_shown(wave((np.arange(100_000) + 0.5) / 100_000))

        assert list(vars(sampled).values()) == pytest.approx(list(vars(closed).values()), rel=1e-3, abs=1e-3)

    def test_sine_reads_its_rms_on_every_ac_meter(self):
        """All AC meters agree on a sine without a direct part."""
        found = sine_shown(0.0, math.sqrt(2.0))

        assert [found.rms_v, found.averaging_v, found.averaging_direct_v, found.half_wave_v, found.peaks_v] == (
            pytest.approx([1.0] * 5)
        )

    def test_narrow_pulses_hide_from_an_averaging_meter(self):
        """A meter that averages shows a small part of the height of narrow pulses."""
        found = pulse_shown(0.0, 100.0, 0.05)

        assert found.averaging_v < 11.0
        assert found.peak_to_peak_v == 100.0

    def test_steady_voltage(self):
        """A pulse that never ends is a direct voltage."""
        found = pulse_shown(10.0, 5.0, 1.0)

        assert (found.dc_v, found.averaging_v, found.peak_to_peak_v) == (15.0, 0.0, 0.0)

    @settings(max_examples=60, deadline=None)
    @given(VOLTS, st.floats(0.0, 500.0))
    def test_rms_is_never_below_the_mean(self, level, peak):
        """True RMS is at least the mean, for ripple and for sawtooth."""
        assert sine_shown(level, peak).rms_v >= abs(level) * (1 - 1e-12)
        assert sawtooth_shown(level, level + peak).rms_v >= abs(sawtooth_shown(level, level + peak).dc_v) * (
            1 - 1e-12
        )

    def test_batch_of_samples(self):
        """A batch of waveforms gives an array, a single one a float."""
        assert sampled_shown(np.array([[1.0, -1.0], [2.0, 2.0]])).dc_v.tolist() == [0.0, 2.0]
        assert isinstance(sampled_shown([1.0, -1.0]).dc_v, float)


class TestRefusals:
    def test_meters_that_make_no_sense(self):
        """A meter needs one kind of input and ranges that rise."""
        with pytest.raises(BadInput, match="either ohms_per_volt or input_ohm"):
            Meter("odd", (10.0,), 500.0, 0.03)
        with pytest.raises(BadInput, match="full scales that rise"):
            Meter("odd", (10.0, 5.0), 500.0, 0.03, input_ohm=1e7)

    @pytest.mark.parametrize("readings", [(50.0, 5e6, 83.0, 1e6), (50.0, 5e6, 5.0, 1e6), (50.0, 5e6, -30.0, 1e6)])
    def test_readings_of_two_different_points(self, readings):
        """Two readings that no source can give are refused."""
        with pytest.raises(OutOfRange, match=r"second_v is .* expected two readings of one point"):
            two_ranges(*readings)

    def test_bad_values_are_named(self):
        """A negative source, a duty above one and a single sample are refused."""
        with pytest.raises(OutOfRange, match="source_ohm is -1"):
            loaded_v(1.0, -1.0, 1e6)
        with pytest.raises(OutOfRange, match="duty_share is 2"):
            pulse_shown(0.0, 1.0, 2.0)
        with pytest.raises(BadInput, match="fewer than two samples"):
            sampled_shown([1.0])
