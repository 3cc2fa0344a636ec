"""Beam, light, spot and raster of the picture tube."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.picture_tube import (
    beam_current_a,
    brightness_share,
    cut_off_v,
    drive_for_beam_v,
    mean_beam_a,
    raster_share,
    spot_size_share,
    sweep_current_a,
)
from backporch.engine.errors import OutOfRange

GUN = {"rated_cut_off_v": 50.0, "rated_first_anode_v": 300.0}


def _beam(bias, first=300.0, **more):
    return beam_current_a(bias, first, **GUN, **more)


class TestCutOff:
    @given(st.floats(0.0, 800.0), st.floats(0.0, 3.0))
    @settings(max_examples=25)
    def test_scales_with_the_first_anode(self, first, factor):
        """Cut-off goes with the first-anode voltage."""
        assert math.isclose(factor * cut_off_v(first, **GUN), cut_off_v(factor * first, **GUN), abs_tol=1e-9)

    @pytest.mark.parametrize("first", [0.0, -60.0])
    def test_no_first_anode_no_beam(self, first):
        """Without voltage on the first anode there is no beam at any bias."""
        assert _beam(0.0, first) == 0.0


class TestBeam:
    def test_cut_off_is_dark(self):
        """At cut-off the beam is nothing, just above it is something."""
        assert _beam(-50.0) == 0.0
        assert _beam(-49.0) > 0.0

    @given(st.floats(-49.0, -1.0), st.floats(0.1, 20.0), st.floats(0.05, 1.0))
    @settings(max_examples=30)
    def test_less_bias_more_beam(self, bias, more, emission):
        """The beam grows as the bias falls."""
        assert _beam(min(bias + more, 0.0), emission_share=emission) > _beam(bias, emission_share=emission)

    def test_scales_with_the_power_of_three_halves(self):
        """With all voltages doubled the beam grows by two to three halves."""
        double = beam_current_a(-40.0, 600.0, **GUN, most_a=1e3)

        assert math.isclose(2**1.5, double / _beam(-20.0, most_a=1e3), rel_tol=1e-6)

    def test_positive_grid_counts_as_zero_bias(self):
        """A grid above its cathode gives no more than zero bias."""
        assert _beam(20.0) == _beam(0.0)

    def test_dead_cathode_is_dark(self):
        """Without emission there is no beam."""
        assert _beam(0.0, emission_share=0.0) < 1e-12

    def test_tired_cathode_fails_in_white_first(self):
        """Low emission leaves greys alone and takes white."""
        grey, white = (_beam(bias, emission_share=0.05) / _beam(bias) for bias in (-40.0, 0.0))

        assert grey > 0.99
        assert white < 0.3

    def test_drive_is_the_inverse(self):
        """The drive found gives the beam asked for."""
        drive = drive_for_beam_v(100e-6, 300.0, **GUN)

        assert math.isclose(100e-6, _beam(drive - 50.0, most_a=1e3), rel_tol=1e-6)

    def test_emission_above_new_is_refused(self):
        """More emission than a new cathode has is refused."""
        with pytest.raises(OutOfRange, match="emission_share is 2"):
            _beam(0.0, emission_share=2.0)


class TestMeanBeam:
    def test_no_drive_is_the_beam_at_rest(self):
        """Without video the mean is the beam at rest, less blanking."""
        mean = mean_beam_a(0.0, 40.0, 340.0, **GUN, blanked_share=0.25)

        assert math.isclose(0.75 * _beam(-40.0), mean, rel_tol=1e-9)

    def test_cathode_drive_beats_grid_drive(self):
        """The same volts at the cathode draw more beam, since they also raise the first anode against it."""
        cathode = mean_beam_a(0.0, 75.0, 525.0, **GUN, cathode_drive_v=40.0)

        assert cathode > 1.1 * mean_beam_a(0.0, 75.0, 525.0, **GUN, grid_drive_v=40.0)

    def test_negative_picture_is_dark_at_white(self):
        """Reversed drive from cut-off gives no beam."""
        assert mean_beam_a(0.0, 90.0, 525.0, **GUN, cathode_drive_v=-40.0) == 0.0


class TestLight:
    def test_dead_voltage_is_dark(self):
        """At two kilovolts the screen stays dark."""
        assert brightness_share(100e-6, 100e-6, 2e3, 14e3) == 0.0

    @given(st.floats(3e3, 20e3), st.floats(1.01, 2.0))
    @settings(max_examples=25)
    def test_more_voltage_more_light(self, anode, factor):
        """Light grows with anode voltage and beam."""
        less = brightness_share(100e-6, 100e-6, anode, 14e3)

        assert brightness_share(100e-6, 100e-6, anode * factor, 14e3) > less
        assert math.isclose(3.0 * less, brightness_share(300e-6, 100e-6, anode, 14e3), rel_tol=1e-9)

    def test_rated_voltage_at_the_dead_one_is_refused(self):
        """A rated voltage that leaves the screen dark is refused."""
        with pytest.raises(OutOfRange, match="rated_anode_v"):
            brightness_share(1e-4, 1e-4, 1e3, 1.5e3)

    def test_spot_grows_with_beam_and_shrinks_with_voltage(self):
        """The spot is larger with more beam and with less anode voltage."""
        assert spot_size_share(300e-6, 100e-6, 14e3, 14e3) > 1.0
        assert spot_size_share(100e-6, 100e-6, 10e3, 14e3) > 1.0
        assert spot_size_share(100e-6, 100e-6, 14e3, 14e3) == 1.0


class TestRaster:
    @given(st.floats(0.5, 2.0))
    @settings(max_examples=25)
    def test_small_angles_go_with_the_root(self, ratio):
        """At small angles the size goes with one over the root of the anode voltage."""
        assert math.isclose(ratio**-0.5, raster_share(14e3 * ratio, 14e3), rel_tol=1e-9)

    def test_small_angle_is_the_limit(self):
        """A narrow flat screen comes to the limit."""
        assert math.isclose(raster_share(12e3, 14e3), raster_share(12e3, 14e3, 1.0, 0.01), rel_tol=1e-4)

    def test_wide_tubes_bloom_more(self):
        """The same loss of voltage widens a 110 degree raster more than one of 70 degrees."""
        narrow, wide = raster_share(12600.0, 14e3, 1.0, np.radians([70.0, 110.0]))

        assert wide > narrow > raster_share(12600.0, 14e3)

    def test_lost_yoke_current_is_a_line(self):
        """Without yoke current there is no size."""
        assert raster_share(14e3, 14e3, 0.0, 1.2) == 0.0

    def test_low_voltage_stays_finite(self):
        """A few volts on the anode give a finite size."""
        assert raster_share(1.0, 14e3, 1.0, 1.9) <= 10.0

    def test_degrees_are_refused(self):
        """An angle in degrees is refused."""
        with pytest.raises(OutOfRange, match="radians"):
            raster_share(14e3, 14e3, 1.0, 110.0)

    def test_wider_angles_take_more_current(self):
        """90 degrees take more current than 70, and a higher voltage more than a lower one."""
        currents = sweep_current_a(
            1.0, np.array([14e3, 14e3, 18e3]), 14e3, np.radians([70, 90, 90]), math.radians(70)
        )

        assert currents[0] == pytest.approx(1.0)
        assert np.all(np.diff(currents) > 0)
