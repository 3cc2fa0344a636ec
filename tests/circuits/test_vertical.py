"""Vertical oscillators, lock, sawtooth and output stage: limits, trends, faults and refusals."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.circuits.tube_fits import weakened
from backporch.engine.circuits.vertical import charged_sawtooth, ideal_peaking_ohm, trapezoid, vertical_lock
from backporch.engine.circuits.vertical_multivibrator import (
    CathodeCoupledParts,
    PlateCoupledParts,
    cathode_coupled_multivibrator,
    plate_coupled_multivibrator,
)
from backporch.engine.circuits.vertical_oscillator import BlockingParts, blocking_oscillator, hold_range
from backporch.engine.circuits.vertical_output import (
    OutputDrive,
    OutputParts,
    height_fraction,
    retrace_pulse_v,
    vertical_output,
    yoke_voltage,
)
from backporch.engine.errors import OutOfRange

MODEST = settings(max_examples=12, deadline=None)
FEW = settings(max_examples=5, deadline=None)
SMALL = TubeModel(20.0, 1.238, 1291.0, 89.4, 383.2, contact_v=0.094)
LARGE = TubeModel(17.04, 1.336, 1079.0, 116.9, 406.1, grid_perv=1e-3)
FRAME = TubeModel(9.127, 1.53, 1033.0, 36.28, 16.62, kg2=23430.0, returned_share=0.54, plate_share=0.023)
BLOCKING = BlockingParts(1.2e6, 0.01e-6, 3.0, turns_ratio=0.5, charging_ohm=2.2e6, sawtooth_f=0.047e-6)
DIRECT = BlockingParts(1.2e6, 0.01e-6, 3.0, turns_ratio=0.5)
PLATE = PlateCoupledParts(100e3, 47e3, 1e6, 100e3, 0.01e-6, 0.01e-6)
CATHODE = CathodeCoupledParts(47e3, 0.01e-6, 1e6, 1e3, 2.2e6, 0.047e-6)
TRIODE = OutputParts(12.0, 20.0, 42e-3, 45.0, 390.0, 2.2e6, 0.1e-6)
PENTODE = OutputParts(7.5, 20.0, 85e-3, 40.0, 430.0, 1.5e6, 0.1e-6, screen_ohm=1e3, stray_f=2e-9)
DRIVE = OutputDrive(25.0, 0.9, 15.0)
FAULT_VALUES = {
    "ohm": (1e-3, 1e3, 1e5, 1e9),
    "f": (1e-15, 1e-3),
    "h": (1e-9, 1e3),
    "v": (-100.0, 300.0),
    "a": (1e-6, 1e-5),
}


def _blocking(parts, supply=250.0, emission=1.0):
    return blocking_oscillator(parts, weakened(SMALL, emission), supply)


def _plate(parts, emission=1.0):
    return plate_coupled_multivibrator(parts, weakened(SMALL, emission), SMALL, 250.0)


def _cathode(parts, emission=1.0):
    return cathode_coupled_multivibrator(parts, SMALL, weakened(SMALL, emission), 250.0, 400.0)


def _triode(parts=TRIODE, drive=DRIVE, emission=1.0):
    return vertical_output(parts, drive, weakened(LARGE, emission), 280.0, 60.0)


def _pentode(parts=PENTODE, drive=DRIVE, emission=1.0):
    return vertical_output(parts, drive, weakened(FRAME, emission), 200.0, 50.0, 200.0)


def _faults(parts):
    """Give the parts with each of them, in turn, open, shorted or far off."""
    for field in fields(parts):
        for value in FAULT_VALUES.get(field.name.rsplit("_", 1)[-1], (0.01, 0.9)):
            yield field.name, value, replace(parts, **{field.name: value})


OSCILLATORS = [
    pytest.param(_blocking, BLOCKING, id="blocking with sawtooth"),
    pytest.param(_blocking, DIRECT, id="blocking"),
    pytest.param(_plate, PLATE, id="plate-coupled"),
    pytest.param(_cathode, CATHODE, id="cathode-coupled"),
]


class TestOscillators:
    @pytest.mark.parametrize(("rate", "parts"), OSCILLATORS)
    def test_faults_stay_finite(self, rate, parts):
        """With any part open, shorted or far off every result is finite and no rate is negative."""
        for name, value, faulty in _faults(parts):
            found = rate(faulty)

            assert all(math.isfinite(v) for v in vars(found).values()), (name, value)
            assert found.frequency_hz >= 0.0, (name, value)

    @pytest.mark.parametrize(("rate", "parts"), OSCILLATORS)
    @pytest.mark.parametrize("emission", [0.0, 0.2, 0.6])
    def test_low_emission(self, rate, parts, emission):
        """A dead tube stands still; a weak one runs or stands still, and stays finite."""
        found = rate(parts, emission=emission)

        assert all(math.isfinite(v) for v in vars(found).values())
        assert (found.frequency_hz > 0.0) == (emission > 0.0)

    def test_open_grid_capacitor_stops_it(self):
        """Without its grid capacitor the blocking oscillator stands still and draws its plate down."""
        found = _blocking(replace(BLOCKING, grid_f=1e-15))

        assert found.frequency_hz == 0.0
        assert found.mean_plate_v < 20.0

    def test_open_winding_stops_it(self):
        """An open winding stops the oscillator."""
        assert _blocking(replace(DIRECT, plate_winding_ohm=1e9)).frequency_hz == 0.0
        assert _blocking(replace(DIRECT, grid_winding_ohm=1e9)).frequency_hz == 0.0

    def test_shorted_turns_stop_it(self):
        """Shorted turns, a heavy loss and hardly any inductance, stop the oscillator."""
        assert _blocking(replace(DIRECT, loss_ohm=100.0, plate_winding_h=1e-3)).frequency_hz == 0.0

    @FEW
    @given(st.floats(0.5e6, 3e6))
    def test_more_grid_resistance_slows_it(self, grid):
        """Each oscillator slows down as its timing resistance grows."""
        for rate, parts, name in (
            (_blocking, DIRECT, "grid_ohm"),
            (_plate, PLATE, "first_grid_ohm"),
            (_cathode, CATHODE, "grid_ohm"),
        ):
            fast, slow = (rate(replace(parts, **{name: r})).frequency_hz for r in (grid, 1.2 * grid))

            assert 0.8 * fast < slow < fast

    @FEW
    @given(st.floats(1.2, 5.0))
    def test_a_larger_capacitor_lengthens_the_cycle(self, factor):
        """The long part grows with the timing capacitor, and less than it: the short part no longer fills it."""
        one, more = (_plate(replace(PLATE, to_first_f=c)).long_s for c in (10e-9, factor * 10e-9))

        assert 1.0 + 0.7 * (factor - 1.0) < more / one < 1.02 * factor

    @FEW
    @given(st.floats(1.2, 2.5))
    def test_a_moderate_change_scales_the_period(self, factor):
        """Up to two and a half times, the long part grows as the timing capacitor does."""
        one, more = (_plate(replace(PLATE, to_first_f=c)).long_s for c in (10e-9, factor * 10e-9))

        assert math.isclose(factor, more / one, rel_tol=0.15)

    def test_it_fires_volts_before_cut_off_by_amplification(self):
        """The tail of the curve fires a tube well before supply over amplification factor."""
        found = _blocking(DIRECT)

        assert found.fire_v < -1.3 * 250.0 / 20.0
        assert found.lowest_v < 3.0 * found.fire_v

    def test_a_leak_from_the_sync_speeds_it_up(self):
        """A leak from a positive plate lifts the grid and raises the rate."""
        leaky = replace(DIRECT, sync_leak_ohm=50e6, sync_leak_from_v=150.0)

        assert _blocking(leaky).frequency_hz > 1.01 * _blocking(DIRECT).frequency_hz

    def test_the_meter_shows_a_negative_mean(self):
        """The mean of the grid lies between its lowest value and where it fires or rests."""
        for found in (_blocking(DIRECT), _plate(PLATE), _cathode(CATHODE)):
            assert found.lowest_v < found.mean_grid_v < 0.0

    def test_refusals(self):
        """Parts that cannot be are refused by name."""
        with pytest.raises(OutOfRange, match="grid_ohm"):
            _blocking(replace(DIRECT, grid_ohm=0.0))
        with pytest.raises(OutOfRange, match="coupling"):
            _blocking(replace(DIRECT, coupling=1.5))
        with pytest.raises(OutOfRange, match="to_first_f"):
            _plate(replace(PLATE, to_first_f=-1e-9))
        with pytest.raises(OutOfRange, match="cathode_ohm"):
            _cathode(replace(CATHODE, cathode_ohm=-1.0))

    def test_a_batch_meets_the_single_answers(self):
        """A batch of ten thousand is one call, and each answer is that of its draw alone."""
        grids = np.linspace(0.8e6, 1.8e6, 10_000)
        for rate, parts, name in (
            (_blocking, DIRECT, "grid_ohm"),
            (_plate, PLATE, "first_grid_ohm"),
            (_cathode, CATHODE, "grid_ohm"),
        ):
            found = rate(replace(parts, **{name: grids})).frequency_hz
            single = rate(replace(parts, **{name: grids[5000]})).frequency_hz

            assert found.shape == grids.shape
            assert math.isclose(single, found[5000], rel_tol=1e-3)


class TestHoldRange:
    def test_the_ends_of_the_control(self):
        """The hold control of a blocking oscillator sweeps from the rate at its top to that at its bottom."""
        found = hold_range(lambda r: _blocking(replace(DIRECT, grid_ohm=r)).frequency_hz, 0.6e6, 1.6e6)

        assert math.isclose(_blocking(replace(DIRECT, grid_ohm=0.6e6)).frequency_hz, found.highest_hz)
        assert math.isclose(_blocking(replace(DIRECT, grid_ohm=1.6e6)).frequency_hz, found.lowest_hz)

    def test_refuses_no_resistance(self):
        """A control without resistance is refused by name."""
        with pytest.raises(OutOfRange, match="least_ohm"):
            hold_range(lambda r: r, 0.0, 1e6)


class TestLock:
    def test_slightly_slow_with_sync_locks(self):
        """An oscillator a little slower than the field locks under sync."""
        assert vertical_lock(57.0, 60.0, 5.0, -80.0, -15.0).locked == 1.0

    def test_slower_without_sync_rolls_up(self):
        """Without sync an oscillator slower than the signal rolls the picture up, at the difference."""
        found = vertical_lock(57.0, 60.0, 0.0, -80.0, -15.0)

        assert found.locked == 0.0
        assert math.isclose(3.0, found.roll_hz, rel_tol=1e-3)

    def test_faster_rolls_down(self):
        """An oscillator faster than the signal rolls down, whatever the sync."""
        found = vertical_lock(62.0, 60.0, 5.0, -80.0, -15.0)

        assert found.locked == 0.0
        assert found.roll_hz < -1.9

    def test_wrong_polarity_does_not_lock(self):
        """Sync of the wrong polarity does not hold a picture."""
        assert vertical_lock(57.0, 60.0, -5.0, -80.0, -15.0).locked == 0.0

    def test_a_still_oscillator_neither_locks_nor_rolls(self):
        """An oscillator that stands still neither locks nor rolls."""
        found = vertical_lock(0.0, 60.0, 5.0, -80.0, -15.0)

        assert (found.locked, found.rate_hz, found.roll_hz) == (0.0, 0.0, 0.0)

    @MODEST
    @given(st.floats(0.5, 20.0))
    def test_more_sync_reaches_lower(self, sync):
        """The range of lock widens with the sync and ends at the field rate without any."""
        less, more = (vertical_lock(57.0, 60.0, s, -80.0, -15.0).lowest_free_hz for s in (sync, 1.3 * sync))

        assert more < less < 60.0

    def test_a_positive_return_narrows_the_range(self):
        """A positive return crosses the firing point steeply, so that the same sync reaches less."""
        plain = vertical_lock(57.0, 60.0, 5.0, -80.0, -15.0).lowest_free_hz
        steep = vertical_lock(57.0, 60.0, 5.0, -80.0, -15.0, rest_v=100.0).lowest_free_hz

        assert steep > plain

    def test_refuses_no_field_rate(self):
        """A field rate of zero is refused by name."""
        with pytest.raises(OutOfRange, match="field_hz"):
            vertical_lock(57.0, 0.0, 5.0, -80.0, -15.0)


class TestSawtooth:
    @MODEST
    @given(st.floats(1e5, 1e7), st.floats(1e-9, 1e-6))
    def test_stays_below_its_supply(self, series, farads):
        """The sawtooth never exceeds its supply, and what is missing of linearity is its share of it."""
        found = charged_sawtooth(400.0, series, farads, 16e-3)

        assert 0.0 < found.amplitude_v <= 400.0
        assert math.isclose(found.linearity_error, found.amplitude_v / 400.0, rel_tol=1e-4)

    def test_an_open_resistor_makes_nothing(self):
        """An open charging resistor leaves no height."""
        assert charged_sawtooth(400.0, 1e9, 0.047e-6, 16e-3).amplitude_v < 0.2

    def test_a_leak_bends_and_shrinks_it(self):
        """A leaky capacitor makes less height and a more bent ramp."""
        good, leaky = (charged_sawtooth(400.0, 2.2e6, 0.1e-6, 16e-3, leak_ohm=r) for r in (1e12, 1e6))

        assert leaky.amplitude_v < good.amplitude_v
        assert leaky.slope_ratio < good.slope_ratio

    def test_an_open_capacitor_reaches_the_supply(self):
        """Without its capacitor the node stands at the supply at once."""
        found = charged_sawtooth(400.0, 2.2e6, 1e-15, 16e-3)

        assert math.isclose(400.0, found.mean_v, rel_tol=1e-3)

    def test_peaking_makes_the_pulse(self):
        """No peaking resistor, no pulse; a large one no more than the foot of the sawtooth allows."""
        assert trapezoid(70.0, 0.047e-6, 0.0, 0.7e-3, 40.0).pulse_v == 0.0
        assert trapezoid(70.0, 0.047e-6, 1e6, 0.7e-3, 40.0).pulse_v == 40.0

    def test_ideal_peaking_goes_with_the_yoke(self):
        """A yoke of twice the inductance needs twice the peaking."""
        assert math.isclose(2.0, ideal_peaking_ohm(0.1, 60.0, 47e-9) / ideal_peaking_ohm(0.05, 60.0, 47e-9))

    def test_refusals(self):
        """What cannot be is refused by name."""
        with pytest.raises(OutOfRange, match="sawtooth_f"):
            charged_sawtooth(400.0, 2.2e6, 0.0, 16e-3)
        with pytest.raises(OutOfRange, match="retrace_s"):
            trapezoid(70.0, 0.047e-6, 1e3, 0.0, 40.0)


class TestOutputStage:
    def test_many_at_once_are_as_each_alone(self):
        """What a stage gives does not depend on the stages that are computed beside it."""
        cathodes_ohm = np.array([5.0, 150.0, 390.0, 1e3, 1e5])

        together = vars(_triode(replace(TRIODE, cathode_ohm=cathodes_ohm)))

        for place, cathode_ohm in enumerate(cathodes_ohm):
            alone = vars(_triode(replace(TRIODE, cathode_ohm=float(cathode_ohm))))
            for name, value in alone.items():
                both = np.broadcast_to(together[name], cathodes_ohm.shape)
                assert both[place] == pytest.approx(value, rel=1e-9, abs=1e-9), (name, cathode_ohm)

    @pytest.mark.parametrize(("stage", "parts"), [(_triode, TRIODE), (_pentode, PENTODE)])
    def test_faults_stay_physical(self, stage, parts):
        """With any part open or shorted everything is finite, and no direct voltage beyond the supplies."""
        for name, value, faulty in _faults(parts):
            found = stage(faulty)

            assert all(math.isfinite(v) for v in vars(found).values()), (name, value)
            assert -1.0 <= found.cathode_v <= 330.0, (name, value)
            assert found.plate_low_v > -30.0, (name, value)
            assert 0.0 <= found.fold_top <= 1.0, (name, value)

    @pytest.mark.parametrize("stage", [_triode, _pentode])
    def test_a_dead_tube_leaves_a_line(self, stage):
        """Without emission there is no deflection, and the plate stands at the supply."""
        found = stage(emission=0.0)

        assert found.yoke_pp_a < 1e-6
        assert found.cathode_v < 1e-6

    @pytest.mark.parametrize("stage", [_triode, _pentode])
    def test_a_weak_tube_loses_height(self, stage):
        """Low emission takes height and cathode voltage."""
        good, weak = stage(), stage(emission=0.4)

        assert weak.yoke_pp_a < 0.85 * good.yoke_pp_a
        assert weak.cathode_v < good.cathode_v

    def test_a_weak_tube_compresses_the_bottom(self):
        """A weak pentode cannot reach the end of the scan: the bottom crowds more than that of a good one."""
        drive = OutputDrive(14.0, 0.92, 6.0, 0.8e-3)

        assert _triode(emission=0.4).bottom_slope < _triode().bottom_slope
        assert _pentode(drive=drive).bottom_slope < 1.0

    def test_a_leaky_coupling_capacitor_folds_the_bottom(self):
        """A leak pulls the grid up, raises the cathode, crowds the bottom and at last folds it."""
        leaky = replace(TRIODE, coupling_leak_ohm=1e6, leak_from_v=120.0)
        good, bad = _triode(), _triode(leaky)

        assert bad.grid_v > good.grid_v + 3.0
        assert bad.cathode_v > good.cathode_v + 2.0
        assert bad.bottom_slope < good.bottom_slope
        assert bad.fold_bottom > 0.05

    def test_a_slow_retrace_folds_the_top(self):
        """A retrace that outlasts the blanking folds the top."""
        assert _triode(drive=replace(DRIVE, retrace_s=3e-3)).fold_top > 0.05
        assert _triode().fold_top == 0.0

    def test_an_open_yoke_leaves_a_line_and_a_higher_pulse(self):
        """An open yoke takes the deflection away and leaves the transformer's own pulse."""
        good, bad = _triode(), _triode(replace(TRIODE, yoke_ohm=1e9))

        assert bad.yoke_pp_a < 1e-3
        assert bad.plate_peak_v > good.plate_peak_v

    def test_an_open_bypass_costs_gain(self):
        """Without its bypass the stage gives less."""
        assert _triode(replace(TRIODE, bypass_f=1e-15)).yoke_pp_a < 0.85 * _triode().yoke_pp_a

    def test_a_shorted_bypass_takes_the_bias(self):
        """A shorted bypass leaves the tube without cathode bias and raises its current."""
        good, bad = _pentode(), _pentode(replace(PENTODE, bypass_leak_ohm=1e-3))

        assert bad.cathode_v < 0.01
        assert bad.plate_a > 1.5 * good.plate_a

    def test_gas_runs_the_tube_up(self):
        """Gas current lifts the grid and the plate current."""
        assert _triode(replace(TRIODE, gas_a=3e-6)).plate_a > _triode().plate_a

    def test_the_plate_loses_what_the_primary_drops(self):
        """The mean plate voltage is the supply less the drop in the primary."""
        found = _triode()

        assert math.isclose(280.0 - 400.0 * found.plate_a, found.plate_v, rel_tol=0.01)
        assert math.isclose(390.0 * found.plate_a, found.cathode_v, rel_tol=0.02)

    @MODEST
    @given(st.floats(5.0, 20.0))
    def test_more_drive_more_height(self, drive):
        """Height grows with drive."""
        less, more = (_triode(drive=OutputDrive(v, 0.9, 10.0)).yoke_pp_a for v in (drive, 1.2 * drive))

        assert less < more < 1.3 * less

    def test_half_the_ratio_half_the_pulse(self):
        """The pulse by the yoke goes with the ratio of the transformer, and needs no ratio at the yoke."""
        assert math.isclose(12.0, retrace_pulse_v(0.05, 0.3, 7e-4, 12.0) / retrace_pulse_v(0.05, 0.3, 7e-4))

    def test_yoke_without_inductance_needs_its_ramp_only(self):
        """Without inductance the yoke needs resistance times current."""
        assert math.isclose(15.0, yoke_voltage(1e-9, 50.0, 0.3, 16e-3), rel_tol=1e-6)

    def test_height_is_a_share(self):
        """The current that fills the mask makes a height of one."""
        assert height_fraction(0.35, 0.35) == 1.0

    def test_refusals(self):
        """What cannot be is refused by name."""
        with pytest.raises(OutOfRange, match="retrace_s"):
            _triode(drive=OutputDrive(25.0, 0.9, 15.0, 9e-3))
        with pytest.raises(OutOfRange, match="primary_h"):
            _triode(replace(TRIODE, primary_h=0.0))
        with pytest.raises(OutOfRange, match="sawtooth_v"):
            _triode(drive=OutputDrive(-1.0))

    def test_a_batch_meets_the_single_answers(self):
        """A batch of ten thousand is one call, and each answer is that of its draw alone."""
        cathodes = np.linspace(200.0, 800.0, 10_000)
        found = _triode(replace(TRIODE, cathode_ohm=cathodes))
        single = _triode(replace(TRIODE, cathode_ohm=cathodes[3000]))

        assert found.yoke_pp_a.shape == cathodes.shape
        assert math.isclose(single.yoke_pp_a, found.yoke_pp_a[3000], rel_tol=3e-3)
        assert math.isclose(single.cathode_v, found.cathode_v[3000], rel_tol=3e-3)
