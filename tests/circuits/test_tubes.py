"""Curves of tubes, diodes, grids, operating points and heater leaks: limits, trends and refusals."""

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.quick_root import quick_root
from backporch.engine.circuits.tube_curves import TubeModel, currents
from backporch.engine.circuits.tube_diodes import DiodeModel, diode_current_a, diode_drop_v
from backporch.engine.circuits.tube_fits import tube_model, weakened
from backporch.engine.circuits.tube_grid import contact_bias_v, gas_rise_v, grid_leak_bias_v, grid_source
from backporch.engine.circuits.tube_heater import heater_leak
from backporch.engine.circuits.tube_point import operating_point
from backporch.engine.circuits.tubes import (
    cut_off_v,
    grid_current_a,
    plate_current_a,
    screen_current_a,
    small_signal,
)
from backporch.engine.errors import OutOfRange, UnknownWord

TRIODE = TubeModel(mu=20.4, exponent=1.34, kg1=1598.0, kp=167.0, kvb=407.0)
PENTODE = TubeModel(40.0, 1.37, 1200.0, 200.0, 5.0, kg2=1950.0, returned_share=0.3, plate_share=0.004)
VARIABLE = TubeModel(34.0, 1.25, 540.0, 680.0, 8.0, kg2=1400.0, tail_share=0.005, tail_mu=2.6)
MODEST = settings(max_examples=25, deadline=None)
VOLTS = st.floats(20.0, 400.0)
BIAS = st.floats(-30.0, 5.0)


class TestCurves:
    @MODEST
    @given(VOLTS, BIAS)
    def test_more_plate_voltage_draws_more(self, plate, grid):
        """Plate current grows with plate voltage, in triodes and in pentodes."""
        for tube in (TRIODE, PENTODE, VARIABLE):
            assert plate_current_a(tube, plate + 1.0, grid, 150.0) >= plate_current_a(tube, plate, grid, 150.0)

    @MODEST
    @given(VOLTS, BIAS)
    def test_a_more_positive_grid_draws_more(self, plate, grid):
        """Plate current never falls with grid voltage."""
        for tube in (TRIODE, PENTODE, VARIABLE):
            assert plate_current_a(tube, plate, grid + 0.5, 150.0) >= plate_current_a(tube, plate, grid, 150.0)

    def test_no_current_without_plate_voltage(self):
        """A plate at or below the cathode draws nothing."""
        assert plate_current_a(TRIODE, 0.0, 0.0) == 0.0
        assert plate_current_a(PENTODE, -5.0, 0.0, 150.0) == 0.0

    def test_deep_cut_off_draws_nothing(self):
        """A grid far below cut-off leaves less than a picoampere."""
        assert plate_current_a(TRIODE, 250.0, -60.0) < 1e-12

    def test_large_positive_grid_stays_finite(self):
        """A grid driven 200 V positive gives a finite current."""
        assert math.isfinite(plate_current_a(TRIODE, 100.0, 200.0))

    def test_a_low_plate_returns_current_to_the_screen(self):
        """The screen of a pentode takes more as the plate falls below its knee."""
        high, low = screen_current_a(PENTODE, np.array([200.0, 5.0]), 0.0, 150.0)

        assert low > 1.2 * high

    def test_a_triode_has_no_screen_current(self):
        """A tube without a screen draws no screen current."""
        assert screen_current_a(TRIODE, 200.0, 0.0, 150.0) == 0.0

    def test_remote_cut_off(self):
        """A graded grid leaves conductance where a plain one is long cut off."""
        graded = small_signal(VARIABLE, 200.0, -20.0, 100.0).transconductance_a_per_v
        plain = small_signal(PENTODE, 200.0, -20.0, 100.0).transconductance_a_per_v

        assert graded > 5e-5
        assert plain < 1e-9

    @pytest.mark.parametrize("tube", [TRIODE, PENTODE, VARIABLE])
    def test_slopes_are_the_derivatives(self, tube):
        """All slopes meet differences of the currents."""
        at = [np.array(90.0), np.array(-3.0), np.array(120.0)]
        found = currents(tube, *at)

        def slope(which, name):
            moved = [[*at[:which], at[which] + step, *at[which + 1 :]] for step in (1e-4, -1e-4)]
            up, down = (getattr(currents(tube, *m), name) for m in moved)
            return (up - down) / 2e-4

        expected = [slope(w, n) for n in ("plate", "screen") for w in (1, 0, 2)]
        got = [found.by_grid, found.by_plate, found.by_screen]
        got += [found.screen_by_grid, found.screen_by_plate, found.screen_by_screen]
        assert np.allclose(expected, got, rtol=1e-5, atol=1e-12)

    def test_emission_scales_all_currents(self):
        """Half the emission halves plate, screen and grid current."""
        weak = weakened(PENTODE, 0.5)

        assert math.isclose(
            2.0 * plate_current_a(weak, 200.0, -1.0, 150.0), plate_current_a(PENTODE, 200.0, -1.0, 150.0)
        )
        assert math.isclose(
            2.0 * screen_current_a(weak, 200.0, -1.0, 150.0), screen_current_a(PENTODE, 200.0, -1.0, 150.0)
        )
        assert math.isclose(2.0 * grid_current_a(weak, 5.0), grid_current_a(PENTODE, 5.0))

    def test_cut_off_is_where_the_current_is(self):
        """At the cut-off found, the plate current is the one asked for."""
        cut = cut_off_v(TRIODE, 250.0, 5e-5)

        assert math.isclose(5e-5, plate_current_a(TRIODE, 250.0, cut), rel_tol=1e-6)

    def test_amplification_is_the_product_of_the_slopes(self):
        """Amplification is mutual conductance times plate resistance, near the fitted number in a triode."""
        found = small_signal(TRIODE, 250.0, -8.0)

        assert math.isclose(found.amplification, found.transconductance_a_per_v * found.plate_resistance_ohm)
        assert math.isclose(20.4, found.amplification, rel_tol=0.05)

    @pytest.mark.parametrize(
        ("change", "name"),
        [({"mu": 0.0}, "mu"), ({"kg1": -1.0}, "kg1"), ({"emission_share": 1.5}, "emission_share")],
    )
    def test_refuses_impossible_numbers(self, change, name):
        """A number out of its bounds is refused by name."""
        bad = tube_model({"mu": 20.0, "exponent": 1.3, "kg1": 1e3, "kp": 100.0, "kvb": 300.0} | change)

        with pytest.raises(OutOfRange, match=name):
            plate_current_a(bad, 250.0, -8.0)

    def test_refuses_a_voltage_that_is_none(self):
        """A voltage that is no number is refused."""
        with pytest.raises(OutOfRange, match="grid_v"):
            plate_current_a(TRIODE, 250.0, math.nan)

    def test_refuses_an_unknown_number(self):
        """A misspelt number of a fit is refused, with the right spelling near it."""
        with pytest.raises(UnknownWord, match="kvb"):
            tube_model({"kv": 300.0})


class TestGridCurrent:
    def test_the_tail_is_that_of_a_hot_cathode(self):
        """Well below zero the grid current falls by e in nine hundredths of a volt."""
        ratio = grid_current_a(TRIODE, -1.2) / grid_current_a(TRIODE, -1.2 - 0.13 / 1.5)

        assert math.isclose(math.e, ratio, rel_tol=0.01)

    @MODEST
    @given(st.floats(4.0, 7.5))
    def test_a_larger_leak_makes_more_contact_bias(self, power):
        """Contact bias goes down with the leak, by tenths of a volt for each decade."""
        small, large = (contact_bias_v(TRIODE, 10.0**p) for p in (power, power + 1.0))

        assert -0.3 < large - small < 0.0

    def test_contact_bias_balances(self):
        """At the contact bias the leak carries the grid current."""
        bias = contact_bias_v(TRIODE, 4.7e6)

        assert math.isclose(-bias / 4.7e6, grid_current_a(TRIODE, bias), rel_tol=1e-3)

    def test_drive_biases_to_its_peak(self):
        """A large sine wave behind a large leak biases itself to within a tenth of its peak."""
        bias = grid_leak_bias_v(TRIODE, np.array([10.0, 40.0]), 1e6)

        assert np.all((bias < -0.9 * np.array([10.0, 40.0])) & (bias > -1.1 * np.array([10.0, 40.0])))

    def test_gas_takes_bias_away(self):
        """Gas current drives a self-biased grid upwards."""
        assert grid_leak_bias_v(TRIODE, 10.0, 1e6, gas_a=5e-6) > grid_leak_bias_v(TRIODE, 10.0, 1e6)

    def test_gas_rise_is_ohms_law(self):
        """Gas through the grid leak raises the grid by their product."""
        assert math.isclose(2.35, gas_rise_v(5e-6, 470e3))

    def test_a_perfect_capacitor_changes_nothing(self):
        """A coupling capacitor without a leak leaves source and resistance as they are."""
        found = grid_source(-3.0, 1e6, 200.0, 1e15)

        assert math.isclose(-3.0, found.source_v, rel_tol=1e-6)
        assert math.isclose(1e6, found.leak_ohm, rel_tol=1e-6)

    def test_published_case_of_a_leaky_capacitor(self):
        """10 M of leak from 200 V into 1 M lifts the grid by 18 V, as the restorers' rule works out."""
        assert round(grid_source(0.0, 1e6, 200.0, 10e6).source_v) == 18


class TestDiode:
    def test_drop_and_current_are_inverse(self):
        """The drop at the current that a voltage drives is that voltage."""
        rectifier = DiodeModel(plate_perv=7.7e-4)

        assert math.isclose(30.0, diode_drop_v(rectifier, diode_current_a(rectifier, 30.0)))

    def test_no_current_backwards(self):
        """A diode draws nothing backwards."""
        assert diode_current_a(DiodeModel(1e-3), -100.0) == 0.0

    def test_a_worn_diode_loses_more(self):
        """At a quarter of the emission the drop is 2.5 times as high."""
        new, worn = (diode_drop_v(DiodeModel(1e-3, emission_share=e), 0.1) for e in (1.0, 0.25))

        assert math.isclose(4.0 ** (2 / 3), worn / new)

    def test_a_dead_diode_stays_finite(self):
        """A diode without emission loses a large, finite voltage."""
        assert math.isfinite(diode_drop_v(DiodeModel(1e-3, emission_share=0.0), 0.1))

    def test_refuses_a_negative_current(self):
        """A negative current is refused."""
        with pytest.raises(OutOfRange, match="plate_a"):
            diode_drop_v(DiodeModel(1e-3), -0.1)


HEALTHY = {"supply_v": 250.0, "load_ohm": 47e3, "cathode_ohm": 1500.0, "grid_leak_ohm": 1e6}
SCREENED = {**HEALTHY, "load_ohm": 100e3, "screen_supply_v": 250.0, "screen_ohm": 220e3}


class TestOperatingPoint:
    def test_the_resistors_agree_with_the_currents(self):
        """Plate, cathode and screen stand where Ohm's law puts them."""
        found = operating_point(PENTODE, **SCREENED)

        assert math.isclose(250.0 - 100e3 * found.plate_a, found.plate_v, rel_tol=1e-4)
        assert math.isclose(1500.0 * (found.plate_a + found.screen_a), found.cathode_v, rel_tol=1e-4)
        assert math.isclose(250.0 - 220e3 * found.screen_a, found.screen_v, rel_tol=1e-4)

    @pytest.mark.parametrize(
        "fault",
        [
            {"cathode_ohm": 1e9},
            {"cathode_ohm": 1e-3},
            {"load_ohm": 1e9},
            {"load_ohm": 1e-3},
            {"grid_leak_ohm": 1e9},
            {"supply_v": 0.0},
            {"gas_a": 1e-4},
            {"screen_ohm": 1e9},
            {"screen_ohm": 1e-3},
            {"screen_supply_v": 0.0},
            {"grid_source_v": 80.0},
            {"grid_source_v": -200.0},
        ],
    )
    @pytest.mark.parametrize("emission", [0.0, 0.3, 1.0])
    def test_faults_stay_physical(self, fault, emission):
        """With any part open or shorted every voltage stays between the rails."""
        for tube, parts in ((TRIODE, HEALTHY), (PENTODE, SCREENED)):
            given_parts = {k: v for k, v in fault.items() if k in SCREENED or k in ("gas_a", "grid_source_v")}
            if tube is TRIODE:
                given_parts = {k: v for k, v in given_parts.items() if "screen" not in k}
            found = operating_point(weakened(tube, emission), **(parts | given_parts))

            assert all(math.isfinite(v) for v in vars(found).values())
            assert -1e-6 <= found.cathode_v <= 250.0
            assert -1e-6 <= found.plate_v <= 250.0 + 1e-6

    @MODEST
    @given(st.floats(100.0, 5000.0))
    def test_more_cathode_resistance_draws_less(self, cathode):
        """Plate current falls and bias grows with the cathode resistor."""
        less, more = (operating_point(TRIODE, **(HEALTHY | {"cathode_ohm": r})) for r in (cathode, 1.1 * cathode))

        assert more.plate_a < less.plate_a
        assert more.bias_v < less.bias_v

    def test_a_weak_tube_stands_high(self):
        """Low emission raises the plate and lowers the cathode."""
        good, weak = (operating_point(weakened(TRIODE, e), **HEALTHY) for e in (1.0, 0.4))

        assert weak.plate_v > good.plate_v
        assert weak.cathode_v < good.cathode_v

    def test_gas_lifts_grid_and_cathode(self):
        """A gassy tube shows a positive grid and a higher cathode."""
        good, gassy = (operating_point(TRIODE, **HEALTHY, gas_a=g) for g in (0.0, 3e-6))

        assert 2.0 < gassy.grid_v < 3.1
        assert gassy.cathode_v > good.cathode_v + 1.0

    def test_grid_leak_bias_holds_without_a_cathode_resistor(self):
        """Behind 10 M a grounded-cathode triode settles on contact bias."""
        found = operating_point(TRIODE, 250.0, 220e3, grid_leak_ohm=10e6)

        assert -1.1 < found.bias_v < -0.6
        assert found.plate_v < 200.0

    def test_refuses_a_negative_resistance(self):
        """A negative resistance is refused by name."""
        with pytest.raises(OutOfRange, match="cathode_ohm"):
            operating_point(TRIODE, 250.0, cathode_ohm=-1.0)

    def test_a_batch_is_one_call(self):
        """Ten thousand draws take less than a second and meet the single answers."""
        loads = np.linspace(30e3, 60e3, 10_000)
        start = time.perf_counter()
        found = operating_point(PENTODE, **(SCREENED | {"load_ohm": loads}))
        seconds = time.perf_counter() - start

        assert seconds < 1.0
        assert math.isclose(
            operating_point(PENTODE, **(SCREENED | {"load_ohm": loads[77]})).plate_v,
            found.plate_v[77],
            rel_tol=1e-5,
        )


class TestHeaterLeak:
    def test_a_cathode_at_the_chassis_shows_no_hum(self):
        """Without a cathode resistor a leaky heater brings no hum."""
        assert heater_leak(60.0, 100e3, 1e-3).hum_rms_v < 1e-6

    def test_a_bypass_takes_the_hum_away(self):
        """A bypass of 100 uF lowers the hum a hundredfold."""
        bare, bypassed = (heater_leak(60.0, 50e3, 10e3, 1e-3, bypass_f=c).hum_rms_v for c in (0.0, 100e-6))

        assert bypassed < bare / 30.0

    def test_a_short_shows_the_whole_heater_voltage(self):
        """A dead short puts the heater's voltage on a floating cathode."""
        assert math.isclose(60.0, heater_leak(60.0, 1e-3, 1e9).hum_rms_v, rel_tol=1e-6)

    def test_the_leak_lies_across_the_cathode_resistor(self):
        """A leak as large as the cathode resistor halves it."""
        assert math.isclose(500.0, heater_leak(6.3, 1e3, 1e3).cathode_ohm)


class TestQuickRoot:
    @MODEST
    @given(st.floats(0.01, 0.99))
    def test_finds_the_crossing(self, place):
        """A crooked falling function is solved to a billionth of the interval."""
        found = quick_root(lambda x: (place - x) ** 3 + 1e-3 * (place - x), 0.0, 1.0)

        assert math.isclose(place, float(found), abs_tol=1e-7)

    def test_no_crossing_ends_at_the_bound(self):
        """Without a change of sign it ends on the side of the missing crossing."""
        found = quick_root(lambda x: np.array([1.0, -1.0]) - 0.0 * x, np.zeros(2), np.ones(2))

        assert found.tolist() == [1.0, 0.0]
