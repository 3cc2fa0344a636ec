"""The separator biases itself on the sync tips, follows what changes, and its faults lose sync or pass picture."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.scanning import STANDARDS, standard
from backporch.engine.circuits.sync_clipper import SeparatorPlate, clipped_sync, driven_grid
from backporch.engine.circuits.sync_recovery import droop_share, field_recovery, hum_at_grid_v
from backporch.engine.circuits.sync_separator import (
    SeparatorParts,
    SeparatorSignal,
    line_signal,
    separator_grid,
)
from backporch.engine.errors import OutOfRange

SIGNAL = SeparatorSignal(12.0, 28.0, 150.0, 4.7e-6, 64e-6, white_share=0.4)
PARTS = SeparatorParts(22e3, 22e-9, 1e6)
NOISE = {"noise_ohm": 330e3, "noise_f": 270e-12}
PENTODE_PLATE = SeparatorPlate(200.0, 47e3, 220e3, 100e3, 0.1e-6)
LEAKS = st.floats(2e5, 1e12)
FAULTS = {
    "coupling open": {"coupling_f": 1e-15},
    "coupling shorted": {"coupling_leak_ohm": 1e-3},
    "coupling leaky": {"coupling_leak_ohm": 1e6},
    "grid leak open": {"grid_leak_ohm": 1e9},
    "grid shorted": {"grid_leak_ohm": 1e-3},
    "series resistor open": {"series_ohm": 1e9},
    "series resistor shorted": {"series_ohm": 1e-3},
    "noise resistor open": {"noise_ohm": 1e9, "noise_f": 270e-12},
    "noise capacitor open": {"noise_ohm": 330e3, "noise_f": 1e-15},
    "no grid current": {"grid_ohm": 1e9},
    "gas": {"gas_a": 2e-5},
}


def _grid(**changes):
    return separator_grid(SIGNAL, dataclasses.replace(PARTS, **changes))


def _numbers(made):
    return np.array([float(value) for value in dataclasses.astuple(made)])


class TestGrid:
    def test_bias_is_negative_and_tips_are_clamped(self):
        """The bias stands far below zero while the tips stand just above."""
        made = _grid()

        assert made.mean_v < -10.0
        assert 0.0 < made.tip_v < 1.0

    def test_charge_is_in_balance(self):
        """What the tips bring in the grid leak takes out over the line."""
        made = _grid()
        tip = made.tip_v / 1000.0

        assert math.isclose(tip * made.tip_share, -made.mean_v / 1e6, rel_tol=0.01)

    def test_without_signal_there_is_no_bias(self):
        """Without signal the grid rests at its return."""
        made = separator_grid(dataclasses.replace(SIGNAL, sync_v=0.0, picture_v=0.0), PARTS)

        assert math.isclose(0.0, made.mean_v, abs_tol=1e-4)

    @given(scale=st.floats(0.1, 5.0))
    @settings(max_examples=30)
    def test_bias_follows_the_signal(self, scale):
        """Twice the signal makes twice the bias."""
        bigger = dataclasses.replace(SIGNAL, sync_v=12.0 * scale, picture_v=28.0 * scale)

        assert math.isclose(scale * _grid().mean_v, separator_grid(bigger, PARTS).mean_v, rel_tol=1e-4)

    @given(leaks=st.tuples(LEAKS, LEAKS))
    @settings(max_examples=40)
    def test_more_leak_lifts_the_grid(self, leaks):
        """The leakier the coupling capacitor, the higher the grid stands."""
        worse, better = (_grid(coupling_leak_ohm=leak).mean_v for leak in sorted(leaks))

        assert worse >= better - 1e-9

    @given(leaks=st.tuples(st.floats(1e4, 1e9), st.floats(1e4, 1e9)))
    @settings(max_examples=40)
    def test_greater_grid_leak_deepens_the_bias(self, leaks):
        """The greater the grid leak, the deeper the bias."""
        less, more = (_grid(grid_leak_ohm=leak).mean_v for leak in sorted(leaks))

        assert more <= less + 1e-9

    def test_open_grid_leak_clamps_the_tip_itself(self):
        """With the grid leak open the tips stand at the start of grid current."""
        made = _grid(grid_leak_ohm=1e9)

        assert math.isclose(0.0, made.tip_v, abs_tol=0.01)
        assert math.isclose(-12.0, made.blanking_v, abs_tol=0.05)

    def test_leak_puts_the_blanking_at_grid_current(self):
        """A coupling capacitor of 2 megohms of leak from 150 V lets the grid conduct at blanking level."""
        made = _grid(coupling_leak_ohm=2e6)

        assert made.blanking_v > 0.0
        assert made.mean_v > 0.65 * _grid().mean_v

    def test_open_coupling_capacitor_leaves_nothing(self):
        """An open coupling capacitor leaves neither bias nor signal."""
        made = _grid(coupling_f=1e-15)

        assert max(abs(made.mean_v), abs(made.white_v)) < 1e-3

    def test_gas_lifts_the_grid(self):
        """A gassy tube makes less bias."""
        assert _grid(gas_a=5e-6).mean_v > _grid().mean_v + 0.5

    def test_noise_network_takes_some_of_the_bias(self):
        """A noise network charges in the pulse and leaves its mark on the blanking level in front of the next."""
        made, plain_one = _grid(**NOISE), _grid()

        assert plain_one.mean_v < made.mean_v < 0.9 * plain_one.mean_v
        assert made.blanking_v > plain_one.blanking_v + 1.0

    def test_shorted_noise_capacitor_is_no_network(self):
        """A noise network whose resistor is shorted is not there."""
        assert math.isclose(_grid().mean_v, _grid(noise_ohm=1e-3, noise_f=270e-12).mean_v, rel_tol=1e-9)

    @pytest.mark.parametrize("fault", FAULTS)
    def test_faults_stay_finite_and_within_the_signal(self, fault):
        """Whatever fails, the grid stays between the supply's height above zero and the signal below."""
        made = _grid(**FAULTS[fault])

        assert np.all(np.isfinite(_numbers(made)))
        assert -41.0 < made.white_v <= made.mean_v <= max(made.tip_v, made.blanking_v) <= 150.0

    def test_batch_is_the_single_calls(self):
        """A batch of parts gives what each set alone gives."""
        leaks = np.array([1e12, 1e6, 1e3])
        batch = _grid(coupling_leak_ohm=leaks)

        assert np.allclose([_grid(coupling_leak_ohm=leak).mean_v for leak in leaks], batch.mean_v)

    @pytest.mark.parametrize(
        ("signal", "parts", "said"),
        [
            ({"sync_v": -1.0}, {}, "sync_v is -1"),
            ({"sync_s": 70e-6}, {}, "sync_s_over_pitch_s is 1.09"),
            ({"white_share": 0.95}, {}, "white_share_and_sync is -0.02"),
            ({}, {"grid_leak_ohm": 0.0}, "grid_leak_ohm is 0"),
            ({}, {"gas_a": -1e-6}, "gas_a is -1e-06"),
        ],
    )
    def test_what_has_no_meaning_is_refused(self, signal, parts, said):
        """The message names the argument and its value."""
        with pytest.raises(OutOfRange, match=said):
            separator_grid(dataclasses.replace(SIGNAL, **signal), dataclasses.replace(PARTS, **parts))


class TestLineSignal:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_sync_and_picture_are_the_whole_swing(self, name):
        """Sync and picture add up to the swing of the plate in front."""
        made = line_signal(standard(name), 60.0, 150.0)

        assert math.isclose(60.0, made.sync_v + made.picture_v)

    def test_dark_picture_makes_less_bias(self):
        """A dark picture stands nearer to the tips, so that the grid makes less bias."""
        dark, bright = (separator_grid(line_signal(standard("625"), 40.0, 150.0, m), PARTS) for m in (0.1, 0.9))

        assert dark.mean_v > bright.mean_v + 10.0


class TestDroop:
    def test_droop_of_the_worked_values(self):
        """0.01 uF and 470 k lose 1.34 % in a line of 525 and 97 % in a field."""
        line, field = (droop_share(time, 470e3, 0.01e-6) for time in (1 / 15750, 1 / 60))

        assert math.isclose(0.0134, line, rel_tol=5e-3)
        assert math.isclose(0.97, field, rel_tol=5e-3)

    def test_no_time_no_droop(self):
        """Nothing leaks away in no time."""
        assert droop_share(0.0, 1e6, 0.1e-6) == 0.0

    @given(leaks=st.tuples(st.floats(1e3, 1e12), st.floats(1e3, 1e12)))
    @settings(max_examples=30)
    def test_greater_leak_droops_less(self, leaks):
        """The greater the grid leak, the less droops."""
        less, more = sorted(leaks)

        assert droop_share(64e-6, more, 1e-8) <= droop_share(64e-6, less, 1e-8)


class TestHum:
    def test_slow_bias_passes_the_hum(self):
        """A bias that needs seconds leaves all hum at the grid."""
        assert math.isclose(5.0, hum_at_grid_v(5.0, 60.0, 1.0), rel_tol=1e-4)

    def test_quick_bias_takes_the_hum_out(self):
        """A bias that follows within a line leaves next to none."""
        assert hum_at_grid_v(5.0, 60.0, 64e-6) < 0.13

    @given(rate=st.floats(10.0, 500.0))
    @settings(max_examples=30)
    def test_quicker_hum_passes_better(self, rate):
        """Hum at twice the rate is taken out less."""
        assert hum_at_grid_v(1.0, 2.0 * rate, 2e-3) > hum_at_grid_v(1.0, rate, 2e-3)


class TestRecovery:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_field_sync_pulls_the_grid_down(self, name):
        """Behind the broad pulses the grid stands too low, by less than the sync with usual parts."""
        made = field_recovery(line_signal(standard(name), 40.0, 150.0), PARTS, standard(name))

        assert 0.0 < made.dip_share < 0.6

    def test_smaller_capacitor_dips_deeper_and_recovers_sooner(self):
        """A coupling capacitor that has lost its capacitance dips deeper and comes back sooner."""
        one, small = (
            field_recovery(SIGNAL, dataclasses.replace(PARTS, coupling_f=c), standard("625"))
            for c in (22e-9, 2e-9)
        )

        assert small.dip_v > one.dip_v
        assert small.recovery_s < one.recovery_s

    def test_blank_lines_pull_further_down(self):
        """With usual parts the lines without picture keep the grid too low until the picture starts."""
        made = field_recovery(SIGNAL, PARTS, standard("625"))

        assert made.picture_dip_v > made.dip_v

    def test_dark_picture_only_has_the_dip(self):
        """With a picture as dark as the blanking a small capacitor has recovered where the picture starts."""
        dark = dataclasses.replace(SIGNAL, white_share=0.0)
        made = field_recovery(dark, dataclasses.replace(PARTS, coupling_f=2e-9), standard("625"))

        assert made.picture_dip_v < 0.1 * made.dip_v

    @pytest.mark.parametrize("fault", FAULTS)
    def test_faults_stay_finite(self, fault):
        """Whatever fails, the figures are finite."""
        made = field_recovery(SIGNAL, dataclasses.replace(PARTS, **FAULTS[fault]), standard("405"))

        assert np.all(np.isfinite(_numbers(made)))


class TestClipper:
    def _made(self, tube, plate=PENTODE_PLATE, **changes):
        parts = dataclasses.replace(PARTS, **changes)
        return clipped_sync(driven_grid(SIGNAL, parts, tube), plate, tube)

    def test_sound_pentode_passes_sync_and_no_picture(self, tube):
        """A pentode on a low screen gives sync of most of the rail and less than a volt of picture."""
        made = self._made(tube("ECL80-pentode"))

        assert made.sync_v > 0.9 * 200.0
        assert made.picture_v < 1.0
        assert made.base_share < 1.0

    def test_leaky_coupling_passes_picture(self, tube):
        """A leaky coupling capacitor lets more picture through than sync."""
        made = self._made(tube("ECL80-pentode"), coupling_leak_ohm=2e6)

        assert made.picture_v > made.sync_v
        assert made.base_share > 1.0

    def test_drifted_plate_load_lowers_the_tip(self, tube):
        """A plate load that has risen gives more swing from the same tube."""
        pentode = tube("ECL80-pentode")
        low, high = (
            self._made(pentode, dataclasses.replace(PENTODE_PLATE, plate_ohm=ohm)) for ohm in (22e3, 220e3)
        )

        assert high.tip_v < low.tip_v

    def test_open_plate_load_pulls_the_plate_down(self, tube):
        """Through an open plate load the plate has hardly any voltage left at the tips."""
        made = self._made(tube("ECL80-pentode"), dataclasses.replace(PENTODE_PLATE, plate_ohm=1e9))

        assert made.tip_v < 1.0
        assert made.tip_a < 1e-6

    def test_risen_screen_dropper_raises_the_base(self, tube):
        """A screen dropper that has risen lowers screen and sync and cuts nearer to the tips."""
        made, risen = (
            self._made(tube("ECL80-pentode"), dataclasses.replace(PENTODE_PLATE, screen_ohm=ohm))
            for ohm in (220e3, 1e6)
        )

        assert risen.screen_v < 0.5 * made.screen_v
        assert risen.sync_v < made.sync_v
        assert made.base_v < risen.base_v < 0.0

    def test_leaky_screen_bypass_is_a_shunt(self, tube):
        """A shorted screen bypass takes the screen away and most of the sync with it."""
        made = self._made(tube("ECL80-pentode"), dataclasses.replace(PENTODE_PLATE, screen_shunt_ohm=1e-3))

        assert made.screen_v < 0.01
        assert made.sync_v < 0.25 * 200.0

    def test_open_screen_bypass_lets_the_screen_sag(self, tube):
        """Without bypass the screen sags in every pulse and stands higher in between: less sync, a higher mean."""
        made, without = (
            self._made(tube("ECL80-pentode"), dataclasses.replace(PENTODE_PLATE, screen_bypass_f=farad))
            for farad in (0.1e-6, 1e-15)
        )

        assert without.sync_v < 0.95 * made.sync_v
        assert without.screen_v > made.screen_v

    def test_full_screen_voltage_passes_picture(self, tube):
        """A shorted screen dropper puts the base deep into the picture."""
        made = self._made(tube("ECL80-pentode"), SeparatorPlate(200.0, 47e3, 1e-3))

        assert made.base_share > 2.0
        assert made.picture_v > made.sync_v

    @given(emission=st.floats(0.01, 0.9))
    @settings(max_examples=20, deadline=None)
    def test_weaker_tube_gives_less_sync(self, tube, emission):
        """The weaker the tube, the smaller the current at the tips."""
        good, weak = (dataclasses.replace(tube("12AU7"), emission_share=share) for share in (1.0, emission))
        plate = SeparatorPlate(75.0, 47e3)

        assert self._made(weak, plate).tip_a <= self._made(good, plate).tip_a + 1e-9

    def test_dead_tube_gives_nothing(self, tube):
        """A tube without emission neither clamps nor draws."""
        dead = dataclasses.replace(tube("12AU7"), emission_share=0.0)
        made = self._made(dead, SeparatorPlate(75.0, 47e3))

        assert math.isclose(75.0, made.plate_v, rel_tol=1e-3)
        assert driven_grid(SIGNAL, PARTS, dead).mean_v > -0.1

    def test_no_rail_gives_nothing(self, tube):
        """Without supply there is no sync."""
        made = self._made(tube("12AU7"), SeparatorPlate(0.0, 47e3))

        assert (made.sync_v, made.plate_v) == (0.0, 0.0)

    @pytest.mark.parametrize("fault", FAULTS)
    @pytest.mark.parametrize("name", ["12AU7", "ECL80-pentode"])
    def test_faults_stay_finite_and_within_the_rail(self, tube, fault, name):
        """Whatever fails around the grid, the plate stays between ground and rail."""
        made = self._made(tube(name), **FAULTS[fault])

        assert np.all(np.isfinite(_numbers(made)))
        assert -1e-6 <= made.tip_v <= made.plate_v <= 200.0 + 1e-6

    def test_batch_is_the_single_calls(self, tube):
        """A batch of tubes and resistors gives what each alone gives."""
        loads, shares = np.array([22e3, 47e3, 1e9]), np.array([1.0, 0.3, 0.0])
        plate = dataclasses.replace(PENTODE_PLATE, plate_ohm=loads)
        batch = self._made(dataclasses.replace(tube("ECL80-pentode"), emission_share=shares), plate)
        singles = [
            self._made(
                dataclasses.replace(tube("ECL80-pentode"), emission_share=one),
                dataclasses.replace(PENTODE_PLATE, plate_ohm=load),
            ).sync_v
            for load, one in zip(loads, shares, strict=True)
        ]

        assert np.allclose(singles, batch.sync_v, atol=0.02)

    def test_negative_load_is_refused(self, tube):
        """A plate load below zero has no meaning."""
        with pytest.raises(OutOfRange, match="plate_ohm is -1"):
            self._made(tube("12AU7"), SeparatorPlate(75.0, -1.0))
