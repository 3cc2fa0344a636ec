"""Contrast, direct voltages, leaks and overload between video tube and picture tube."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.video_drive import (
    black_shift_v,
    contrast_slider,
    drive_kept_share,
    electrode_v,
    plate_v,
    slider_voltage,
    video_levels,
)
from backporch.engine.errors import OutOfRange

TUBE = {"bias_v": -1.5, "cut_off_v": 6.0, "zero_bias_a": 40e-3, "supply_v": 250.0, "load_ohm": 3900.0}


class TestContrast:
    def test_ends_of_the_travel(self):
        """The slider passes nothing at one end and all at the other."""
        assert contrast_slider(0.0, 5e3).share == 0.0
        assert math.isclose(1.0, contrast_slider(1.0, 5e3).share, rel_tol=1e-6)

    def test_source_is_highest_half_way(self):
        """Half way the slider looks back into a quarter of the track."""
        sources = contrast_slider(np.array([0.2, 0.5, 0.8]), 5e3).source_ohm

        assert math.isclose(1250.0, sources[1], rel_tol=1e-6)
        assert sources[1] > max(sources[0], sources[2])

    def test_open_lower_end_leaves_contrast_full(self):
        """With the lower end open, turning the control changes little."""
        assert contrast_slider(0.1, 5e3, 1e6, 0.0, 1e9).share > 0.99

    def test_open_track_loses_the_picture(self):
        """An open feed leaves no picture."""
        assert contrast_slider(1.0, 5e3, feed_ohm=1e9).share < 1e-4

    def test_slider_beyond_its_end_is_refused(self):
        """A place beyond the end of the track is refused."""
        with pytest.raises(OutOfRange, match=r"position is 1\.2"):
            contrast_slider(1.2, 5e3)


class TestDirectVoltages:
    def test_open_lower_end_of_brightness(self):
        """With the lower end open the slider stands at the supply."""
        assert math.isclose(250.0, slider_voltage(250.0, 150e3, 100e3, 0.2, 1e9), rel_tol=1e-3)

    def test_shorted_coupling_puts_the_plate_on_the_electrode(self):
        """A shorted coupling joins electrode and plate."""
        assert math.isclose(172.0, electrode_v(60.0, 100e3, 172.0, 1e-3), rel_tol=1e-6)

    def test_open_feed_floats_to_the_leak(self):
        """An electrode without a feed goes where its leak leads."""
        assert math.isclose(172.0, electrode_v(60.0, 1e12, 172.0, 1e6), rel_tol=1e-3)

    @given(st.floats(1e4, 1e12), st.floats(1.1, 10.0))
    @settings(max_examples=30)
    def test_worse_leaks_shift_more(self, leak, factor):
        """The shift grows as the leak gets worse, and stays below the plate voltage."""
        worse = electrode_v(60.0, 100e3, 172.0, leak)

        assert 60.0 < electrode_v(60.0, 100e3, 172.0, leak * factor) < worse < 172.0

    def test_dead_tube_lifts_the_plate_to_the_supply(self):
        """Without plate current the plate stands at the supply."""
        assert plate_v(250.0, 3900.0, 0.0) == 250.0

    def test_plate_does_not_pass_zero(self):
        """No plate current takes the plate below zero."""
        assert plate_v(250.0, 1e9, 20e-3) == 0.0

    def test_short_takes_the_drive(self):
        """A short across the drive leaves none, no leak leaves all."""
        assert drive_kept_share(4700.0, 1e-3) < 1e-6
        assert drive_kept_share(4700.0, 1e12) > 0.999999

    def test_direct_coupling_keeps_black(self):
        """With direct coupling black stays where it is."""
        assert black_shift_v(80.0, 0.0, 1.0) == 0.0

    def test_dark_scenes_turn_grey_and_bright_ones_black(self):
        """A capacitor alone lifts black in dark scenes and sinks it in bright ones."""
        assert black_shift_v(80.0, 0.1) > 0 > black_shift_v(80.0, 0.9)


class TestOverload:
    def test_small_signal_keeps_its_sync(self):
        """A small signal keeps the sync it was sent with."""
        found = video_levels(0.01, **TUBE)

        assert math.isclose(2 / 7, found.sync_share, rel_tol=0.01)
        assert abs(found.crush_share) < 0.01

    def test_sync_towards_cut_off_is_crushed_first(self):
        """More signal crushes the sync where its tips go towards cut-off."""
        crushed = video_levels(np.array([1.0, 3.0, 5.0, 7.0]), **TUBE).crush_share

        assert np.all(np.diff(crushed) > 0)
        assert crushed[-1] == pytest.approx(1.0)

    def test_sync_the_other_way_is_crushed_by_grid_current(self):
        """With sync tips towards grid current, too much signal crushes them too."""
        well = video_levels(2.0, **(TUBE | {"bias_v": -3.0}), polarity=1.0)
        lost = video_levels(12.0, **(TUBE | {"bias_v": -3.0}), polarity=1.0)

        assert lost.crush_share > 0.5
        assert well.crush_share < 0.0

    def test_leak_that_takes_the_bias_crushes_white(self):
        """A tube whose bias is gone crushes white into grid current, and sync takes a larger share."""
        leaky = video_levels(2.0, **(TUBE | {"bias_v": 1.0, "load_ohm": 5600.0}))

        assert leaky.sync_share > 0.31

    def test_plate_stays_between_knee_and_supply(self):
        """Whatever comes, the plate stays between its knee and the supply."""
        found = video_levels(np.array([0.0, 5.0, 500.0]), **TUBE)
        levels = np.stack([found.tip_v, found.blank_v, found.white_v])

        assert np.all((levels >= 30.0) & (levels <= 250.0))

    def test_dead_tube_has_no_picture(self):
        """A tube without emission leaves the plate at the supply."""
        found = video_levels(3.0, **(TUBE | {"zero_bias_a": 0.0}))

        assert found.tip_v == found.white_v == 250.0

    def test_positive_modulation_has_sync_at_the_other_end(self):
        """With the levels of positive modulation the share of the sync is three tenths."""
        found = video_levels(0.01, **TUBE, polarity=1.0, tip_share=0.0, blank_share=0.3, white_share=1.0)

        assert math.isclose(0.3, found.sync_share, rel_tol=0.01)

    def test_cut_off_of_zero_is_refused(self):
        """A tube that cuts off at nothing is refused."""
        with pytest.raises(OutOfRange, match="cut_off_v"):
            video_levels(3.0, **(TUBE | {"cut_off_v": 0.0}))
