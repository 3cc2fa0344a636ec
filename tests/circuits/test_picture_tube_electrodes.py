"""What leaks, shorts, open pins, exchanged electrodes and the ion trap do to the picture tube."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.picture_tube_electrodes import Gun, gun_state, heater_hum_v, swapped
from backporch.engine.circuits.picture_tube_ion_trap import ion_trap
from backporch.engine.errors import OutOfRange, UnknownWord

GOOD = Gun(30.0, 100e3, 80.0, 100e3, 450.0, 470e3)


def _settled(**change):
    return gun_state(replace(GOOD, **change), 50.0, 300.0)


class TestLeaks:
    def test_good_tube_stands_at_its_supplies(self):
        """Without faults the electrodes stand at their supplies, the cathode lifted by its beam."""
        found = gun_state(GOOD, 50.0, 300.0)

        assert found.grid_v == pytest.approx(30.0, abs=0.1)
        assert found.cathode_v == pytest.approx(80.0 + 100e3 * found.beam_a, abs=0.1)

    def test_heater_short_is_bright(self):
        """A heater-cathode short pulls the cathode down: full beam, no control."""
        found = _settled(heater_cathode_leak_ohm=1.0)

        assert abs(found.cathode_v) < 0.1
        assert found.beam_a > 1e-3

    def test_heater_short_to_a_high_heater_can_be_dark(self):
        """A short to a heater that stands high in the string cuts the beam off."""
        assert _settled(heater_cathode_leak_ohm=1.0, heater_v=150.0).beam_a == 0.0

    @given(st.floats(1e3, 1e9), st.floats(1.1, 10.0))
    @settings(max_examples=25)
    def test_worse_grid_leaks_are_brighter(self, leak, factor):
        """A leak from grid to cathode takes bias away, more the worse it is."""
        better = _settled(grid_cathode_leak_ohm=leak * factor)
        worse = _settled(grid_cathode_leak_ohm=leak)

        assert worse.beam_a >= better.beam_a
        assert worse.cathode_v - worse.grid_v <= better.cathode_v - better.grid_v + 1e-6

    def test_gas_lifts_the_grid(self):
        """Gas lifts the grid through its resistor and brightens."""
        assert _settled(gas_a=50e-6).beam_a > _settled().beam_a

    def test_first_anode_bypass_leak_dims(self):
        """A leak across the first anode's bypass lowers cut-off and beam."""
        assert _settled(first_anode_leak_ohm=1e6).beam_a < 0.2 * _settled().beam_a

    def test_negative_supply_resistance_is_refused(self):
        """A supply of negative resistance is refused by name."""
        with pytest.raises(OutOfRange, match="cathode_ohm"):
            _settled(cathode_ohm=-1.0)


class TestOpenPins:
    def test_open_grid_is_bright_without_control(self):
        """With the grid open its leaks bring it to the cathode, and brightness does nothing."""
        dark, bright = _settled(grid_ohm=1e9, grid_v=0.0), _settled(grid_ohm=1e9, grid_v=60.0)

        assert dark.beam_a > 10 * _settled().beam_a
        assert math.isclose(dark.beam_a, bright.beam_a, rel_tol=0.02)

    def test_open_cathode_is_dark(self):
        """With the cathode open there is no way back for the beam."""
        assert _settled(cathode_ohm=1e9).beam_a < 1e-7

    def test_open_cathode_with_a_leak_is_not(self):
        """With the cathode open a leaky heater lets some beam through."""
        assert _settled(cathode_ohm=1e9, heater_cathode_leak_ohm=1e6).beam_a > 10e-6

    @pytest.mark.parametrize("fault", [{"first_anode_ohm": 1e9}, {"first_anode_v": 0.0}])
    def test_missing_first_anode_is_dark(self, fault):
        """An open or dead first anode leaves a dark screen."""
        assert _settled(**fault).beam_a == 0.0

    @pytest.mark.parametrize("ohms", [1e-3, 1e9])
    @pytest.mark.parametrize("leak", [1e-3, 1e12])
    def test_faults_stay_finite(self, ohms, leak):
        """Open pins and shorts in any mixture give finite voltages."""
        found = _settled(
            grid_ohm=ohms, first_anode_ohm=1e9, grid_cathode_leak_ohm=leak, grid_first_anode_leak_ohm=leak
        )

        assert np.all(np.isfinite([found.grid_v, found.cathode_v, found.first_anode_v, found.beam_a]))


class TestSwapped:
    def test_grid_and_first_anode_is_dark_and_harms_the_grid(self):
        """Grid and first anode exchanged: dark, and the grid draws current."""
        found = gun_state(swapped(GOOD, "grid-first-anode"), 50.0, 300.0)

        assert found.beam_a == 0.0
        assert found.grid_a > 300e-6

    def test_grid_and_cathode_is_bright(self):
        """Grid and cathode exchanged: the bias is reversed and the beam full."""
        assert gun_state(swapped(GOOD, "grid-cathode"), 50.0, 300.0).beam_a > 10 * _settled().beam_a

    def test_cathode_and_first_anode_is_dark(self):
        """Cathode and first anode exchanged: dark."""
        assert gun_state(swapped(GOOD, "cathode-first-anode"), 50.0, 300.0).beam_a == 0.0

    def test_twice_is_as_it_was(self):
        """Exchanged twice the gun is as it was."""
        assert swapped(swapped(GOOD, "grid-cathode"), "grid-cathode") == GOOD

    def test_unknown_pair_is_refused(self):
        """A pair that there is not is answered with the nearest one."""
        with pytest.raises(UnknownWord, match="grid-cathode"):
            swapped(GOOD, "grid-catode")


class TestHum:
    def test_no_leak_no_hum(self):
        """A good tube puts no hum on its cathode."""
        assert heater_hum_v(3.15, 47e3, 1e12) < 1e-6

    def test_short_puts_all_of_it_on(self):
        """A short puts the whole heater voltage on the cathode, peak to peak."""
        assert math.isclose(2 * math.sqrt(2) * 3.15, heater_hum_v(3.15, 47e3, 1e-3), rel_tol=1e-6)


class TestIonTrap:
    def test_missing_and_reversed_magnets_are_dark(self):
        """A missing magnet leaves next to nothing, a reversed one nothing."""
        assert ion_trap(strength_share=0.0).brightness_share < 1e-3
        assert ion_trap(turned_rad=math.pi).brightness_share < 1e-9

    @given(st.floats(0.0, 0.05), st.floats(1.05, 3.0))
    @settings(max_examples=25)
    def test_farther_away_is_darker(self, moved, factor):
        """The farther the magnet is from its place, the darker the raster, either way along the neck."""
        far = ion_trap(moved * factor).brightness_share

        assert far <= ion_trap(moved).brightness_share
        assert far == ion_trap(-moved * factor).brightness_share

    def test_straight_gun_needs_no_magnet_and_bears_none(self):
        """A straight gun is bright without a magnet and dark with one left on."""
        assert ion_trap(strength_share=0.0, bend_share=0.0).brightness_share == 1.0
        assert ion_trap(strength_share=1.0, bend_share=0.0).brightness_share < 1e-3

    def test_what_misses_shadows(self):
        """What does not pass the aperture heats its edge."""
        found = ion_trap(0.012)

        assert math.isclose(1.0, found.brightness_share + found.shadow_share, rel_tol=1e-9)


class TestBatches:
    def test_ten_thousand_draws_are_one_call(self):
        """A batch gives what single calls give."""
        grids = np.linspace(0.0, 80.0, 10_000)
        batch = gun_state(replace(GOOD, grid_v=grids), 50.0, 300.0)
        single = gun_state(replace(GOOD, grid_v=float(grids[6000])), 50.0, 300.0)

        assert batch.beam_a.shape == (10_000,)
        assert math.isclose(single.beam_a, batch.beam_a[6000], rel_tol=1e-9)
