"""Line oscillators, the drive they make and the bias of the output tube."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.horizontal_drive import (
    GridCircuit,
    charged_sawtooth_v,
    drive_at_grid_v,
    grid_bias,
    output_drive,
    varistor_bias_v,
)
from backporch.engine.circuits.horizontal_multivibrator import MultivibratorParts, control_slope, multivibrator
from backporch.engine.circuits.horizontal_multivibrator_cycle import TriodeFit, plate_current
from backporch.engine.circuits.horizontal_oscillator import (
    reactance_tube_f,
    sine_oscillator_hz,
    sine_oscillator_slope,
)
from backporch.engine.errors import OutOfRange

TRIODE = TriodeFit(mu=22.01, exponent=1.32, kg1=1294.0, kp=119.8, kvb=1041.0)
PARTS = MultivibratorParts(10e3, 390e-12, 82e3, 1500.0, 100e3, 680e-12)
TUBE = {"screen_v": 150.0, "screen_mu": 4.3, "tube_perv": 1.36e-3}


def _rate(control_v=0.0, first=TRIODE, second=TRIODE, supply_v=250.0, **changed):
    return multivibrator(replace(PARTS, **changed), first, second, supply_v, control_v).frequency_hz


class TestGridBias:
    def test_drive_makes_its_own_bias(self):
        """80 V of drive bias the grid to about minus half of it, its tip just above zero."""
        bias = grid_bias(GridCircuit(80.0, 470e3))

        assert -46.0 < bias.mean_v < -38.0
        assert 0.0 < bias.tip_v < 6.0

    def test_lost_drive_leaves_no_bias(self):
        """Without drive a grid leak leaves next to no bias."""
        assert abs(grid_bias(GridCircuit(0.0, 470e3)).mean_v) < 0.01

    def test_open_grid_leak_keeps_the_bias(self):
        """An open grid leak leaves the capacitor charged to the tip."""
        assert grid_bias(GridCircuit(80.0, 1e9)).tip_v < 0.2

    def test_leaky_coupling_capacitor_takes_the_bias(self):
        """A leak from the oscillator's plate makes the grid less negative."""
        sound, leaky = (
            grid_bias(GridCircuit(80.0, 470e3, coupling_leak_ohm=r, leak_from_v=150.0)).mean_v for r in (1e12, 2e5)
        )

        assert leaky > sound + 5.0

    def test_leak_without_drive_is_held_by_grid_current(self):
        """A dead short of the coupling capacitor cannot lift the grid as the divider alone would."""
        bias = grid_bias(GridCircuit(0.0, 470e3, coupling_leak_ohm=100e3, leak_from_v=150.0))

        assert 0.0 < bias.mean_v < 10.0

    @given(st.floats(1.0, 200.0), st.floats(1.05, 3.0))
    @settings(max_examples=25)
    def test_more_drive_means_more_bias(self, drive, factor):
        """The bias grows with the drive."""
        small, large = (grid_bias(GridCircuit(drive * k, 470e3)).mean_v for k in (1.0, factor))

        assert large < small < 0.0


class TestOutputDrive:
    def test_driven_tube_works_in_pulses(self):
        """A sound drive leaves nothing steady and cuts the tube off in the retrace."""
        driven = output_drive(GridCircuit(70.0, 470e3), **TUBE)

        assert driven.steady_a == 0.0
        assert 0.05 < driven.pulsed_a < 0.15
        assert driven.peak_a > 3 * driven.pulsed_a

    def test_lost_drive_with_grid_leak_is_all_heat(self):
        """Without drive the bias is near zero and a quarter of an ampere flows steadily."""
        lost = output_drive(GridCircuit(0.0, 470e3), **TUBE)

        assert abs(lost.bias_v) < 0.1
        assert lost.steady_a > 0.2
        assert lost.pulsed_a < 1e-3

    def test_cathode_resistor_keeps_part_of_the_bias(self):
        """With a cathode resistor a lost drive still leaves some bias and half the current or less."""
        bare, held = (output_drive(GridCircuit(0.0, 470e3), **TUBE, cathode_ohm=r) for r in (1e-3, 150.0))

        assert held.bias_v < -10.0
        assert held.steady_a < 0.5 * bare.steady_a

    def test_cathode_voltage_is_current_times_resistance(self):
        """The cathode stands at its current times its resistor."""
        held = output_drive(GridCircuit(60.0, 470e3), **TUBE, cathode_ohm=100.0)

        assert math.isclose(100.0 * held.cathode_a, held.cathode_v, rel_tol=1e-6)

    def test_low_emission_lowers_every_current(self):
        """Half the emission halves currents when the grid rules."""
        good, tired = (
            output_drive(GridCircuit(60.0, 470e3), **(TUBE | {"tube_perv": p})).peak_a for p in (1.36e-3, 0.68e-3)
        )

        assert math.isclose(good / 2, tired, rel_tol=1e-6)

    def test_batch_is_one_call_and_finite_at_faults(self):
        """Ten thousand draws with faults among them come back finite."""
        rng = np.random.default_rng(5)
        grid = GridCircuit(
            rng.uniform(0, 150, 10_000), 10 ** rng.uniform(-3, 9, 10_000), coupling_leak_ohm=1e3, leak_from_v=200.0
        )
        result = output_drive(grid, **(TUBE | {"tube_perv": rng.uniform(0, 2e-3, 10_000)}), cathode_ohm=100.0)

        for field in fields(result):
            assert np.shape(getattr(result, field.name)) == (10_000,)
            assert np.all(np.isfinite(getattr(result, field.name)))

    def test_stabilizer_loses_its_bias_with_the_pulses(self):
        """Pulses make the bias; without them only the reference is left."""
        assert varistor_bias_v(300.0, 0.15, 4.0) < -60.0
        assert varistor_bias_v(0.0, 0.15, 4.0, 5.0) == 5.0

    def test_stabilizer_balances_its_charge(self):
        """The charge through the resistor in the pulse is the charge of the rest of the line."""
        mean = varistor_bias_v(300.0, 0.15, 4.0)
        high, low = 300.0 * 0.85 + mean, 300.0 * 0.15 - mean

        assert math.isclose(0.15 * high**4, 0.85 * low**4, rel_tol=1e-9)


class TestSawtooth:
    def test_leaky_sawtooth_capacitor_loses_drive(self):
        """A leak across the sawtooth capacitor takes drive."""
        sound, leaky = (charged_sawtooth_v(250.0, 470e3, 680e-12, 54e-6, r) for r in (1e12, 100e3))

        assert leaky < 0.8 * sound

    def test_open_coupling_capacitor_loses_all_drive(self):
        """An open coupling capacitor leaves no drive."""
        assert drive_at_grid_v(100.0, 1e-15, 30e-12) < 0.01

    def test_short_line_is_a_straight_line(self):
        """A small part of the exponential is current times time over capacitance."""
        assert math.isclose(250.0 / 1e6 * 1e-6 / 1e-9, charged_sawtooth_v(250.0, 1e6, 1e-9, 1e-6), rel_tol=1e-3)


class TestMultivibrator:
    def test_tube_fit_meets_its_datum_point(self):
        """The fit of the 6CG7 gives 9 mA and 2.6 mA/V at 250 V and -8 V."""
        current, slope = plate_current(TRIODE, np.asarray(250.0), np.asarray(-8.0))

        assert math.isclose(9e-3, current, rel_tol=0.05)
        assert math.isclose(2.6e-3, slope, rel_tol=0.05)

    def test_positive_control_voltage_slows_it(self):
        """A more positive control voltage lowers the rate."""
        assert _rate(-2.0) > _rate(0.0) > _rate(2.0)
        assert control_slope(PARTS, TRIODE, TRIODE, 250.0, 0.0) < 0.0

    @pytest.mark.parametrize(
        "change", [{"grid_leak_ohm": 100e3}, {"coupling_f": 500e-12}, {"discharge_f": 900e-12}]
    )
    def test_larger_parts_slow_it(self, change):
        """A drifted grid leak or a larger capacitor lowers the rate."""
        assert _rate(**change) < 0.95 * _rate()

    def test_leaky_coupling_capacitor_quickens_it(self):
        """A leaky coupling capacitor pulls the second grid up and raises the rate."""
        assert _rate(coupling_leak_ohm=5e6) > 1.1 * _rate()

    @pytest.mark.parametrize(
        "dead",
        [
            {"coupling_f": 1e-15},
            {"grid_leak_ohm": 1e-3},
            {"cathode_ohm": 1e9},
            {"cathode_ohm": 1e-3},
            {"discharge_leak_ohm": 1e-3},
            {"first_plate_ohm": 1e-3},
            {"first": replace(TRIODE, emission_share=0.0)},
            {"second": replace(TRIODE, emission_share=0.0)},
        ],
    )
    def test_broken_loop_stands_still(self, dead):
        """An oscillator with its loop broken has rate zero."""
        assert _rate(**dead) == 0.0

    def test_coil_holds_the_rate_against_drift(self):
        """With a stabilizing coil a drifted grid leak moves the rate a fraction as far."""
        coil = {"coil_h": 27e-3, "coil_f": 3.9e-9, "coil_loss_ohm": 40e3}
        plain = _rate(grid_leak_ohm=90e3) / _rate(grid_leak_ohm=75e3)
        held = _rate(grid_leak_ohm=90e3, **coil) / _rate(grid_leak_ohm=75e3, **coil)

        assert abs(held - 1.0) < 0.4 * abs(plain - 1.0)

    def test_batch_is_one_call_and_agrees_with_one(self):
        """Ten thousand draws come back finite, and each as if computed alone."""
        leaks = np.linspace(60e3, 150e3, 10_000)
        batch = _rate(grid_leak_ohm=leaks)

        assert np.all(np.isfinite(batch))
        assert math.isclose(_rate(grid_leak_ohm=float(leaks[1234])), batch[1234], rel_tol=1e-9)


class TestSineOscillator:
    def test_common_values_run_at_line_rate(self):
        """20 mH with 5.1 nF in all run near 15,750 Hz."""
        assert math.isclose(15750.0, sine_oscillator_hz(20e-3, 4.1e-9, 1e-9), rel_tol=0.01)

    def test_dead_reactance_tube_leaves_the_tank(self):
        """Without mutual conductance the tube adds nothing and the rate rises."""
        assert reactance_tube_f(0.0, 10e3, 100e-12) == 0.0
        assert sine_oscillator_hz(20e-3, 4.1e-9) > sine_oscillator_hz(20e-3, 4.1e-9, 1e-9)

    def test_slope_is_the_derivative(self):
        """The slope agrees with a small step of the mutual conductance."""
        step = 1e-4 * 0.3e-3
        ends = [
            sine_oscillator_hz(20e-3, 4.1e-9, reactance_tube_f(1e-3 + sign * step, 10e3, 100e-12))
            for sign in (1, -1)
        ]

        assert math.isclose(
            (ends[0] - ends[1]) / 2e-4,
            sine_oscillator_slope(20e-3, 4.1e-9, 1e-3, 0.3e-3, 10e3, 100e-12),
            rel_tol=1e-4,
        )


class TestRefusals:
    @pytest.mark.parametrize(
        ("function", "arguments", "name"),
        [
            (charged_sawtooth_v, (250.0, 0.0, 1e-9, 1e-6), "charging_ohm"),
            (drive_at_grid_v, (100.0, 1e-9, -1.0), "shunt_f"),
            (grid_bias, (GridCircuit(-1.0, 470e3),), "drive_v"),
            (grid_bias, (GridCircuit(80.0, 470e3, trace_share=1.2),), "trace_share"),
            (output_drive, (GridCircuit(80.0, 470e3), 150.0, 0.0, 1e-3), "screen_mu"),
            (varistor_bias_v, (300.0, 1.0, 4.0), "rest_of_the_line"),
            (sine_oscillator_hz, (0.0, 1e-9), "coil_h"),
            (multivibrator, (replace(PARTS, coupling_f=0.0), TRIODE, TRIODE, 250.0, 0.0), "coupling_f"),
            (multivibrator, (PARTS, replace(TRIODE, emission_share=1.5), TRIODE, 250.0, 0.0), "emission_share"),
        ],
    )
    def test_senseless_values_are_refused_by_name(self, function, arguments, name):
        """A value without meaning is refused with the name of its argument."""
        with pytest.raises(OutOfRange, match=name):
            function(*arguments)
