"""Gain control of tubes, the gated and the simple loop, overload and snow."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.agc import agc_line_v, keyed_agc, keyed_agc_v, recovery_s, simple_agc
from backporch.engine.circuits.agc_levels import mean_level_share, overload, snow, tuner_agc_v
from backporch.engine.circuits.agc_tube import controlled_gm_a_per_v, gain_slope_per_v, sharp_gm_a_per_v
from backporch.engine.errors import OutOfRange

KEYED = {
    "full_gain": 64e3,
    "control_per_v": 0.6,
    "threshold_v": 3.0,
    "gm_a_per_v": 4e-3,
    "pulse_v": 400.0,
    "pulse_s": 8e-6,
    "line_hz": 15750.0,
    "load_ohm": 100e3,
}
SIMPLE = {"full_gain": 64e3, "control_per_v": 0.6}
POSITIVE = {"tip_share": 0.0, "blank_share": 0.3, "white_share": 1.0}


class TestTubes:
    def test_slope_meets_both_points(self):
        """The exponential runs through both published points."""
        slope = gain_slope_per_v(4e-3, -1.92, 100e-6, -16.0)

        assert math.isclose(100e-6, controlled_gm_a_per_v(-16.0, 4e-3, -1.92, slope), rel_tol=1e-9)
        assert math.isclose(4e-3, controlled_gm_a_per_v(-1.92, 4e-3, -1.92, slope), rel_tol=1e-9)

    def test_biases_in_the_wrong_order_are_refused(self):
        """The more negative bias must come second."""
        with pytest.raises(OutOfRange, match="second_bias_v"):
            gain_slope_per_v(4e-3, -16.0, 100e-6, -1.92)

    @given(st.floats(-60.0, 0.0), st.floats(0.1, 10.0))
    @settings(max_examples=30)
    def test_more_bias_less_gain(self, bias, more):
        """Every controlled tube loses gain as its bias goes more negative."""
        assert controlled_gm_a_per_v(bias - more, 4e-3, -2.0, 0.2) < controlled_gm_a_per_v(bias, 4e-3, -2.0, 0.2)

    def test_sharp_tube_cuts_off_and_remote_does_not(self):
        """At -8 V a sharp cut-off tube is dead and a remote one is not."""
        assert sharp_gm_a_per_v(-8.0, 8e-3, 6.0) == 0.0
        assert controlled_gm_a_per_v(-8.0, 8e-3, 0.0, 0.2) > 1e-3

    def test_emission_takes_gain(self):
        """Half the emission is half the gain."""
        assert math.isclose(2e-3, controlled_gm_a_per_v(-2.0, 4e-3, -2.0, 0.2, 0.5), rel_tol=1e-9)


class TestKeyedTube:
    def test_missing_pulse_makes_no_voltage(self):
        """Without the flyback pulse there is no AGC voltage."""
        assert keyed_agc_v(2.0, 4e-3, 0.0, 8e-6, 15750.0, 100e3) == 0.0

    def test_no_drive_makes_no_voltage(self):
        """Below its cut-off the keyed tube makes no voltage."""
        assert keyed_agc_v(0.0, 4e-3, 400.0, 8e-6, 15750.0, 100e3) == 0.0

    @given(st.floats(0.0, 50.0), st.floats(1.0, 1000.0), st.floats(1e3, 1e9))
    @settings(max_examples=40)
    def test_never_more_than_the_pulse(self, drive, pulse, load):
        """The voltage stays below the pulse, however large the load."""
        assert 0.0 <= keyed_agc_v(drive, 4e-3, pulse, 8e-6, 15750.0, load) <= pulse

    def test_small_drive_is_mean_current_times_load(self):
        """With little drive the voltage is mean current times load."""
        mean = 4e-3 * 1e-3 * 8e-6 * 15750.0

        assert math.isclose(mean * 100e3, keyed_agc_v(1e-3, 4e-3, 1e5, 8e-6, 15750.0, 100e3), rel_tol=1e-3)


class TestLine:
    def test_shorted_bypass_leaves_nothing(self):
        """A shorted bypass leaves no AGC voltage."""
        assert abs(agc_line_v(8.0, 2e6, 1e-3)) < 1e-6

    def test_open_filter_leaves_nothing(self):
        """An open series resistor leaves the line to its leaks."""
        assert abs(agc_line_v(8.0, 1e9, 1e6)) < 0.01

    def test_leak_to_a_negative_rail_drags_the_line(self):
        """A leak to a negative rail makes the line more negative."""
        assert agc_line_v(2.0, 2e6, 2e6, -30.0) == -16.0

    def test_gas_makes_the_line_less_negative(self):
        """Gas current lifts the line through its resistance."""
        assert math.isclose(-6.0, agc_line_v(8.0, 2e6, 1e12, 0.0, 1e-6), rel_tol=1e-4)

    def test_grids_hold_a_line_that_would_go_positive(self):
        """A leaky coupling from B+ cannot lift the line far above chassis."""
        assert agc_line_v(0.0, 2e6, 1e6, 250.0) == 1.0


class TestLoops:
    def test_no_signal_no_video(self):
        """Without signal there is no video and no AGC voltage."""
        found = keyed_agc(0.0, **KEYED)

        assert found.video_v == pytest.approx(0.0, abs=1e-12)
        assert found.agc_v == pytest.approx(0.0, abs=1e-9)

    def test_weak_signal_keeps_full_gain(self):
        """A signal too weak for the threshold has full gain."""
        found = keyed_agc(10e-6, **KEYED)

        assert found.gain_share == 1.0
        assert math.isclose(0.64, found.video_v, rel_tol=1e-6)

    @given(st.floats(1e-6, 0.05), st.floats(1.01, 10.0))
    @settings(max_examples=30)
    def test_stronger_signals_give_more_video_and_more_bias(self, signal, factor):
        """Video and AGC voltage grow with the signal, and video more slowly."""
        weak, strong = keyed_agc(signal, **KEYED), keyed_agc(signal * factor, **KEYED)

        assert weak.video_v <= strong.video_v <= factor * weak.video_v * (1 + 1e-9)
        assert strong.agc_v <= weak.agc_v + 1e-9

    def test_keyed_loop_holds_better_than_a_simple_one(self):
        """A hundred times the signal moves the keyed loop less than the simple one."""
        keyed = keyed_agc(np.array([0.5e-3, 50e-3]), **KEYED).video_v
        simple = simple_agc(np.array([0.5e-3, 50e-3]), **SIMPLE).video_v

        assert keyed[1] / keyed[0] < 1.1 < simple[1] / simple[0]

    def test_loop_gain_is_what_holds_the_signal_back(self):
        """The video changes by the signal's change over one plus the loop gain."""
        here, there = keyed_agc(5e-3, **KEYED), keyed_agc(5e-3 * 1.01, **KEYED)
        change = math.log(there.video_v / here.video_v) / math.log(1.01)

        assert math.isclose(1 / (1 + here.loop_gain), change, rel_tol=0.02)

    @pytest.mark.parametrize(
        "fault",
        [{"pulse_v": 0.0}, {"leak_ohm": 1e-3}, {"gm_a_per_v": 0.0}, {"line_ohm": 1e9, "leak_ohm": 1e6}],
        ids=["no pulse", "bypass shorted", "keyed tube dead", "filter open"],
    )
    def test_lost_agc_overloads(self, fault):
        """Each way of losing the AGC multiplies the video."""
        assert keyed_agc(5e-3, **(KEYED | fault)).video_v > 10 * keyed_agc(5e-3, **KEYED).video_v

    def test_keyed_loop_fights_a_leak_from_b_plus(self):
        """A leak from B+ raises the video, and the keyed tube works harder to hold it."""
        leaky = keyed_agc(5e-3, **KEYED, leak_to_v=250.0, leak_ohm=5e6)
        well = keyed_agc(5e-3, **KEYED)

        assert 1.1 * well.video_v < leaky.video_v < 3.0 * well.video_v

    def test_line_too_negative_weakens_the_picture(self):
        """A leak to a negative rail weakens the picture below the threshold of the AGC."""
        leaky = keyed_agc(1e-3, **KEYED, leak_ohm=2e6, leak_to_v=-40.0)

        assert leaky.agc_v < -10.0
        assert leaky.video_v < 0.1 * keyed_agc(1e-3, **KEYED).video_v

    def test_range_ends(self):
        """Beyond the range of the controlled tubes the video grows with the signal again."""
        near, far = (keyed_agc(s, **(KEYED | {"control_range": 2.0})).video_v for s in (1.0, 2.0))

        assert math.isclose(2.0, far / near, rel_tol=1e-6)

    def test_dead_diode_loses_the_simple_loop(self):
        """Without its diode the simple loop does nothing."""
        assert math.isclose(64.0, simple_agc(1e-3, **SIMPLE, efficiency=0.0).video_v, rel_tol=1e-9)

    def test_mean_level_loop_follows_the_scene(self):
        """In positive modulation a mean-level loop turns a dark scene up."""
        levels = mean_level_share(np.array([0.1, 0.9]), **POSITIVE)
        video = simple_agc(5e-3, **SIMPLE, level_share=levels).video_v

        assert video[0] > 1.5 * video[1]

    def test_recovery_is_faster_in_a_tight_loop(self):
        """The loop is faster than its filter by one plus its gain."""
        assert math.isclose(11.0, recovery_s(1e6, 0.22e-6) / recovery_s(1e6, 0.22e-6, 10.0), rel_tol=1e-9)

    def test_ten_thousand_draws_are_one_call(self):
        """A batch gives what single calls give."""
        signals = np.geomspace(1e-5, 0.1, 10_000)
        batch = keyed_agc(signals, **KEYED)

        assert batch.video_v.shape == (10_000,)
        assert math.isclose(keyed_agc(float(signals[7000]), **KEYED).video_v, batch.video_v[7000], rel_tol=1e-9)

    def test_negative_signal_is_refused(self):
        """A negative signal is refused by name."""
        with pytest.raises(OutOfRange, match="input_v"):
            keyed_agc(-1e-3, **KEYED)


class TestLevels:
    def test_peak_is_the_most(self):
        """No mean exceeds the peak."""
        assert mean_level_share(0.0) < 1.0

    def test_negative_modulation_falls_with_brightness(self):
        """In negative modulation a bright scene has the lower mean."""
        assert mean_level_share(0.9) < mean_level_share(0.1)

    def test_blanking_shorter_than_sync_is_refused(self):
        """Blanking that does not include its sync is refused."""
        with pytest.raises(OutOfRange, match="blank_duty"):
            mean_level_share(0.5, sync_duty=0.3, blank_duty=0.2)


class TestOverload:
    def test_small_signals_pass(self):
        """A small signal keeps its sync and its size."""
        found = overload(0.1, 8.0)

        assert math.isclose(2 / 7, found.sync_share, rel_tol=1e-4)
        assert math.isclose(0.0625, found.video_v, rel_tol=1e-4)

    @given(st.floats(0.1, 100.0), st.floats(1.05, 5.0))
    @settings(max_examples=30)
    def test_more_signal_crushes_more(self, detected, factor):
        """The share of the sync that is crushed grows with the signal."""
        assert overload(detected * factor, 8.0).crush_share >= overload(detected, 8.0).crush_share - 1e-9

    def test_no_signal_is_not_crushed(self):
        """Without signal nothing is crushed."""
        assert overload(0.0, 8.0).crush_share == 0.0

    def test_positive_modulation_loses_white_and_not_sync(self):
        """In positive modulation an overload crushes white, and sync takes a larger share."""
        found = overload(30.0, 8.0, **POSITIVE)

        assert found.crush_share == 0.0
        assert found.sync_share > 0.5


class TestSnow:
    @given(st.floats(1e-6, 0.1), st.floats(1.1, 10.0))
    @settings(max_examples=25)
    def test_more_signal_less_snow(self, signal, factor):
        """Snow falls as the signal grows."""
        assert snow(signal * factor, 10.0).snow_share <= snow(signal, 10.0).snow_share

    def test_dead_tuner_is_nothing_but_snow(self):
        """A tuner without gain leaves snow alone."""
        assert snow(1e-3, 0.0).snow_share == 1.0

    def test_tuner_with_gain_sets_the_noise(self):
        """Behind much gain only the tuner's own noise counts."""
        assert math.isclose(snow(1e-3, 1e4).noise_v, snow(1e-3, 1e4, if_noise=1.0).noise_v, rel_tol=1e-6)

    def test_noise_factor_below_one_is_refused(self):
        """No tube takes noise away."""
        with pytest.raises(OutOfRange, match="tuner_noise"):
            snow(1e-3, 10.0, tuner_noise=0.5)

    def test_lost_delay_takes_gain_from_the_tuner(self):
        """Without its delay the tuner is held back on a weak signal."""
        assert tuner_agc_v(-2.0, 4.0) == 0.0
        assert tuner_agc_v(-2.0, 0.0) == -2.0
