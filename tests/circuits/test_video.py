"""Detector, gain, band, tilt, smear and sharpness of the video stages."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.formula import explain
from backporch.engine.circuits.video import (
    bypass_shelf,
    cascade_upper_hz,
    detector,
    lower_half_power_hz,
    resolution_lines,
    rise_time_s,
    smear,
    stage_gain,
    tilt_share,
    triode_gain,
    upper_half_power_hz,
)
from backporch.engine.errors import OutOfRange

OHMS = st.floats(1e2, 1e5)
FARADS = st.floats(2e-12, 1e-9)


class TestDetector:
    def test_perfect_diode_gives_the_peak(self):
        """A diode without resistance gives the peak of the carrier."""
        assert math.isclose(4.0, detector(4.0, 3900.0, 1e-3, 10e-12).output_v, rel_tol=1e-3)

    def test_perfect_diode_damps_with_half_the_load(self):
        """The input resistance of a perfect detector is half its load."""
        assert math.isclose(1950.0, detector(4.0, 3900.0, 1e-3, 10e-12).input_ohm, rel_tol=1e-3)

    def test_open_diode_gives_nothing(self):
        """An open diode leaves no video."""
        assert detector(4.0, 3900.0, 1e9, 10e-12).output_v < 1e-4

    def test_open_load_loses_all_detail(self):
        """With the load open the output cannot follow the picture."""
        found = detector(4.0, 1e9, 200.0, 10e-12)

        assert found.efficiency > 0.99
        assert found.time_constant_s > 100 * 64e-6

    @given(OHMS, st.floats(10.0, 1e4), st.floats(1.05, 5.0))
    @settings(max_examples=30)
    def test_more_diode_resistance_means_less(self, load, diode, factor):
        """The efficiency falls as the diode's resistance grows."""
        worse = detector(1.0, load, diode * factor, 10e-12)

        assert worse.efficiency < detector(1.0, load, diode, 10e-12).efficiency

    @pytest.mark.parametrize("argument", ["load_ohm", "diode_ohm", "capacitance_f"])
    def test_no_part_may_be_zero(self, argument):
        """A part of no size is refused by name."""
        parts = {"carrier_v": 4.0, "load_ohm": 3900.0, "diode_ohm": 200.0, "capacitance_f": 10e-12}
        with pytest.raises(OutOfRange, match=argument):
            detector(**(parts | {argument: 0.0}))


class TestGain:
    def test_pentode_gain_is_transconductance_times_load(self):
        """With a large plate resistance the gain is transconductance times load."""
        assert math.isclose(42.9, stage_gain(11e-3, 3900.0), rel_tol=1e-6)

    def test_open_load_gives_the_amplification_factor(self):
        """The gain of any stage stays below the amplification factor."""
        assert math.isclose(11e-3 * 93e3, stage_gain(11e-3, 1e12, 93e3), rel_tol=1e-4)

    def test_shorted_load_gives_nothing(self):
        """A shorted load has no gain."""
        assert stage_gain(11e-3, 1e-3, 93e3) < 1e-4

    @given(st.floats(1e-4, 2e-2), OHMS, st.floats(1e3, 1e6), st.floats(0.0, 1e4))
    @settings(max_examples=30)
    def test_two_forms_agree(self, transconductance, load, plate, cathode):
        """The gain from the amplification factor is the gain from the transconductance."""
        pentode = stage_gain(transconductance, load, plate, cathode)

        assert math.isclose(pentode, triode_gain(transconductance * plate, plate, load, cathode), rel_tol=1e-9)

    def test_open_bypass_takes_gain(self):
        """A cathode resistor without its bypass takes gain away."""
        whole = stage_gain(11e-3, 3900.0, 93e3)

        assert 0.4 < stage_gain(11e-3, 3900.0, 93e3, 100.0) / whole < 0.6

    def test_negative_transconductance_is_refused(self):
        """A negative transconductance has no meaning."""
        with pytest.raises(OutOfRange, match=r"gm_a_per_v is -0\.01"):
            stage_gain(-0.01, 3900.0)


class TestCorners:
    @given(OHMS, FARADS, st.floats(1.1, 10.0))
    @settings(max_examples=30)
    def test_band_narrows_as_the_load_rises(self, load, farads, factor):
        """A load that has drifted high narrows the band in proportion."""
        narrow = upper_half_power_hz(load * factor, farads)

        assert math.isclose(upper_half_power_hz(load, farads) / factor, narrow, rel_tol=1e-6)

    def test_open_coupling_passes_no_picture(self):
        """An open coupling capacitor passes nothing below many megahertz."""
        assert lower_half_power_hz(3900.0, 470e3, 1e-15) > 1e8

    def test_two_corners_lie_below_either(self):
        """Two stages together pass less than either."""
        assert cascade_upper_hz(3e6, 5e6) < 3e6

    def test_far_corner_leaves_the_near_one(self):
        """A stage with a much wider band changes nothing."""
        assert math.isclose(3e6, cascade_upper_hz(3e6, 1e12), rel_tol=1e-6)

    def test_rise_time_of_one_corner(self):
        """A step through 3.5 MHz rises in a tenth of a microsecond."""
        assert math.isclose(100e-9, rise_time_s(3.5e6), rel_tol=2e-3)

    def test_shelf_of_an_open_bypass_lies_above_the_video(self):
        """With the bypass open all video has the gain of the shelf."""
        assert bypass_shelf(11e-3, 100.0, 1e-15).zero_hz > 1e9

    def test_shelf_without_gain_is_flat(self):
        """A tube without transconductance has no shelf."""
        assert math.isclose(bypass_shelf(0.0, 100.0, 100e-6).low_share, 1.0)


class TestTilt:
    def test_no_corner_no_tilt(self):
        """Direct coupling does not tilt."""
        assert tilt_share(0.0, 1 / 120) == 0.0

    def test_small_tilt_is_proportional(self):
        """A small tilt is 2 pi times corner times duration."""
        assert math.isclose(2 * math.pi * 0.1 * 1e-3, tilt_share(0.1, 1e-3), rel_tol=1e-3)

    def test_lost_capacitance_tilts_all_the_way(self):
        """A coupling that has lost its capacitance lets a field sag altogether."""
        assert tilt_share(lower_half_power_hz(3900.0, 470e3, 100e-12), 1 / 120) > 0.999


class TestSmear:
    def test_drifted_load_trails_white_behind_white(self):
        """High-frequency loss smears in the polarity of the block."""
        assert smear(0.0, 1.0, 1e-6, 10e-6, 52e-6).depth_share > 0

    def test_weak_coupling_trails_dark_behind_white(self):
        """Low-frequency loss smears in the other polarity."""
        assert smear(1.0, 0.0, 20e-6, 10e-6, 52e-6).depth_share < 0

    def test_low_frequency_streak_is_longer(self):
        """The streak of a weak coupling is longer than that of a drifted load."""
        fine = smear(0.0, 1.0, upper_time(12e3), 10e-6, 52e-6)
        coarse = smear(1.0, 0.0, 30e-6, 10e-6, 52e-6)

        assert coarse.length_s > 10 * fine.length_s

    def test_streak_that_cannot_be_seen_has_no_length(self):
        """A streak below what is seen has no length."""
        assert smear(1.0, 0.99, 1e-3, 10e-6, 52e-6).length_s == 0.0

    def test_streak_ends_at_the_edge(self):
        """No streak is wider than the picture."""
        assert smear(1.0, 0.0, 1.0, 1.0, 52e-6).width_share == 1.0


def upper_time(load):
    """Return the time constant of a load with 20 pF."""
    return load * 20e-12


class TestResolution:
    def test_half_the_band_half_the_lines(self):
        """Lines go with the band."""
        assert math.isclose(0.5 * resolution_lines(4e6, 52e-6), resolution_lines(2e6, 52e-6), rel_tol=1e-9)

    def test_more_scanning_lines_share_the_band(self):
        """The same band resolves less in a system with shorter lines."""
        assert resolution_lines(3e6, 81e-6) > resolution_lines(3e6, 52e-6)

    def test_band_is_not_negative(self):
        """A negative band is refused."""
        with pytest.raises(OutOfRange, match="upper_hz"):
            resolution_lines(-1.0, 52e-6)


class TestBatches:
    def test_ten_thousand_draws_are_one_call(self):
        """Arrays broadcast, and a batch gives what single calls give."""
        loads = np.linspace(1e3, 1e4, 10_000)
        found = detector(4.0, loads, 200.0, 10e-12)

        assert found.output_v.shape == (10_000,)
        assert math.isclose(detector(4.0, float(loads[77]), 200.0, 10e-12).output_v, found.output_v[77])

    def test_single_numbers_stay_numbers(self):
        """A call with numbers gives numbers."""
        assert isinstance(upper_half_power_hz(3900.0, 20e-12), float)

    def test_formula_explains_itself(self):
        """The formula shows the numbers that went in."""
        given_ = {"load_ohm": 3900.0, "capacitance_f": 20e-12, "plate_ohm": 93e3}

        assert "20 pF" in explain(upper_half_power_hz, given_, 2.1e6, result_unit="Hz").numbers
