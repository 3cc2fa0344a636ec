"""High voltage, its filter and what a picture tube stores."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.high_voltage import (
    band_area_m2,
    coating_capacitance_f,
    raster_size_share,
    rectified_pulse,
    regulated_anode_v,
    ripple_v,
    source_resistance_ohm,
)
from backporch.engine.circuits.high_voltage_charge import (
    discharge,
    returned_v,
    stored_charge_c,
    stored_energy_j,
    touch_comparison,
)
from backporch.engine.errors import OutOfRange

LINE = 15750.0


def _anode_v(**given):
    case = {"pulse_v": 13e3, "base_v": 500.0, "retrace_s": 10e-6, "line_hz": LINE, "source_ohm": 200e3}
    return rectified_pulse(**(case | {"beam_a": 100e-6} | given)).anode_v


class TestRectifiedPulse:
    def test_no_load_charges_to_the_peak(self):
        """Without beam the filter stands at the peak of the pulse."""
        assert math.isclose(13.5e3, _anode_v(beam_a=0.0), rel_tol=1e-3)

    def test_shorted_filter_leaves_nothing(self):
        """A short from anode to chassis leaves no anode voltage."""
        assert _anode_v(leak_ohm=1e-3) < 1.0

    def test_dead_rectifier_leaves_nothing(self):
        """A rectifier without emission brings no beam current."""
        assert _anode_v(emission_share=0.0) < 1.0

    def test_tired_rectifier_costs_more_under_load(self):
        """Low emission shows under beam current, hardly without."""
        drop = _anode_v() - _anode_v(emission_share=0.3)

        assert drop > 500.0
        assert _anode_v(beam_a=0.0) - _anode_v(beam_a=0.0, emission_share=0.3) < 10.0

    @given(st.floats(1e-6, 500e-6), st.floats(1.1, 3.0))
    @settings(max_examples=25)
    def test_more_beam_means_less_voltage(self, beam, factor):
        """The anode voltage falls as the beam grows."""
        assert _anode_v(beam_a=beam * factor) < _anode_v(beam_a=beam)

    def test_batch_is_one_call(self):
        """Ten thousand draws come back finite and not negative, with faults among them."""
        rng = np.random.default_rng(3)
        drawn = _anode_v(leak_ohm=10 ** rng.uniform(-3, 12, 10_000), emission_share=rng.uniform(0, 1, 10_000))

        assert drawn.shape == (10_000,)
        assert np.all(np.isfinite(drawn) & (drawn >= 0.0))


class TestFilter:
    def test_ripple_of_the_worked_example(self):
        """100 uA on 1000 pF at 525 lines ripples 6.35 V."""
        assert round(ripple_v(14e3, 100e-6, 1e-9, LINE), 2) == 6.35

    def test_foil_band_is_filter_enough(self):
        """A foil band over a quarter of a small tube's flare keeps ripple to a small part of a per cent."""
        area = band_area_m2(0.12, 0.03, 0.14, 0.25)
        ripple = ripple_v(12e3, 100e-6, coating_capacitance_f(area, 4e-3), LINE)

        assert ripple / 12e3 < 0.004

    def test_no_coating_at_all_still_leaves_a_picture(self):
        """Strays of a dozen picofarads ripple by some per cent, which is no dead tube."""
        assert ripple_v(12e3, 100e-6, 12e-12, LINE) / 12e3 < 0.06

    def test_ripple_never_exceeds_the_voltage(self):
        """Even with the filter open the ripple stays below the anode voltage."""
        assert ripple_v(12e3, 100e-6, 1e-15, LINE) <= 12e3

    @pytest.mark.parametrize(("area", "glass", "farads"), [(0.15, 5e-3, 1.86e-9), (0.01, 3e-3, 207e-12)])
    def test_coating_capacitances_of_the_worked_examples(self, area, glass, farads):
        """A coating of 0.15 m2 and a foil of 100 cm2 give their published worked values."""
        assert math.isclose(farads, coating_capacitance_f(area, glass), rel_tol=3e-3)

    @given(st.floats(0.001, 0.5), st.floats(1e-3, 10e-3), st.floats(1.1, 4.0))
    @settings(max_examples=25)
    def test_capacitance_goes_with_area_over_thickness(self, area, glass, factor):
        """Twice the area doubles, twice the glass halves the capacitance."""
        once = coating_capacitance_f(area, glass)

        assert math.isclose(once * factor, coating_capacitance_f(area * factor, glass), rel_tol=1e-9)
        assert math.isclose(once / factor, coating_capacitance_f(area, glass * factor), rel_tol=1e-9)


class TestRegulation:
    def test_probe_on_a_five_megohm_source(self):
        """A probe that draws 15 uA from 15 kV behind 5 Mohm reads 14.93 kV."""
        assert round(regulated_anode_v(15e3, 5e6, 15e-6 * 14.93 / 15.0) / 1e3, 2) == 14.93

    def test_source_resistance_comes_back(self):
        """Two values of a supply give the resistance that made them."""
        assert math.isclose(4e6, source_resistance_ohm(15e3, regulated_anode_v(15e3, 4e6, 1e-4), 1e-4))

    def test_blooming_of_a_tenth(self):
        """A tenth less anode voltage enlarges the raster by 5.4 per cent."""
        assert round(raster_size_share(0.9, 1.0), 3) == 1.054


class TestStoredCharge:
    @pytest.mark.parametrize(
        ("farads", "volts", "charge", "energy"),
        [(1.5e-9, 16e3, 24e-6, 0.192), (2e-9, 18e3, 36e-6, 0.324), (2.5e-9, 20e3, 50e-6, 0.50)],
    )
    def test_charge_and_energy_of_worked_examples(self, farads, volts, charge, energy):
        """Charge and energy of three tubes hold."""
        assert math.isclose(charge, stored_charge_c(farads, volts), rel_tol=1e-9)
        assert math.isclose(energy, stored_energy_j(farads, volts), rel_tol=1e-9)

    def test_discharge_of_the_worked_example(self):
        """2 nF from 18 kV to 50 V through 1 Mohm takes 11.8 ms and starts with 18 mA."""
        drained = discharge(18e3, 50.0, 2e-9, 1e6)

        assert round(drained.time_s * 1e3, 1) == 11.8
        assert math.isclose(0.018, drained.peak_a)
        assert math.isclose(324.0, drained.peak_w)

    def test_discharge_from_below_takes_no_time(self):
        """A tube already below the voltage asked for needs no time."""
        assert discharge(10.0, 50.0, 2e-9, 1e6).time_s == 0.0

    def test_open_bleeder_takes_seconds_or_more(self):
        """A bleeder gone open makes the time a thousand times longer."""
        assert discharge(18e3, 50.0, 2e-9, 1e9).time_s > 11.0

    @pytest.mark.parametrize(
        ("volts", "farads", "share"),
        [
            (18e3, 2e-9, 0.324 / 0.35),
            (20e3, 2.5e-9, 0.5 / 0.35),
            (12e3, 2e-9, 24.0 / 45.0),
            (300.0, 100e-6, 1000.0),
            (40.0, 100e-6, 0.0),
        ],
    )
    def test_each_band_of_voltage_has_its_limit(self, volts, farads, share):
        """Capacitance, charge or energy is compared, whichever the clause names at that voltage."""
        assert math.isclose(share, touch_comparison(volts, farads).limit_share, rel_tol=1e-9)

    def test_absorbed_charge_comes_back(self):
        """Two per cent of 15 kV are 300 V after a discharge that was thought complete."""
        assert returned_v(15e3, 0.02) == 300.0

    def test_batches_keep_their_shape(self):
        """Arrays of capacitance give arrays of comparison."""
        found = touch_comparison(np.full(10_000, 16e3), np.linspace(1e-10, 3e-9, 10_000))

        assert found.limit_share.shape == (10_000,)
        assert np.all(np.diff(found.limit_share) > 0.0)


class TestRefusals:
    @pytest.mark.parametrize(
        ("function", "arguments", "name"),
        [
            (ripple_v, (12e3, 1e-4, 0.0, LINE), "capacitance_f"),
            (coating_capacitance_f, (0.1, 0.0), "glass_m"),
            (discharge, (18e3, 0.0, 2e-9, 1e6), "down_to_v"),
            (discharge, (18e3, 50.0, 2e-9, -1e6), "bleeder_ohm"),
            (touch_comparison, (-1.0, 2e-9), "anode_v"),
            (returned_v, (15e3, 2.0), "absorbed_share"),
            (raster_size_share, (0.0, 1.0), "anode_v"),
        ],
    )
    def test_senseless_values_are_refused_by_name(self, function, arguments, name):
        """A value without meaning is refused with the name of its argument."""
        with pytest.raises(OutOfRange, match=name):
            function(*arguments)
