"""Differentiator and integrator have the right limits, scale as they should, and refuse what has no meaning."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.scanning import STANDARDS, plain_source, standard
from backporch.engine.circuits.sync_integrator import integrated_field_pulse, integrator_waveform
from backporch.engine.circuits.sync_networks import Ladder, differentiator, ladder_modes
from backporch.engine.errors import BadInput, OutOfRange

LINE = {"pulse_s": 4.76e-6, "line_hz": 15750.0}
TWO = Ladder((22e3, 22e3), (5e-9, 5e-9))
THREE = Ladder((22e3, 8.2e3, 8.2e3), (2e-9, 5e-9, 5e-9))
OHMS = st.floats(1e3, 200e3)
FARADS = st.floats(0.5e-9, 50e-9)
FAULTS = {
    "first resistor open": {"section_ohm": (1e9, 8.2e3, 8.2e3)},
    "middle resistor open": {"section_ohm": (22e3, 1e9, 8.2e3)},
    "all resistors shorted": {"section_ohm": (1e-3, 1e-3, 1e-3)},
    "first capacitor open": {"section_f": (1e-15, 5e-9, 5e-9)},
    "all capacitors open": {"section_f": (1e-15, 1e-15, 1e-15)},
    "first capacitor shorted": {"leak_ohm": (1e-3, 1e12, 1e12)},
    "last capacitor leaky": {"leak_ohm": (1e12, 1e12, 1e3)},
    "everything shorted or open": {"section_ohm": (1e-3, 1e9, 1e-3), "section_f": (1e-15, 1e-15, 1e-15)},
}


def _faulty(name):
    return dataclasses.replace(THREE, **FAULTS[name])


class TestDifferentiator:
    def test_width_to_a_tenth_is_the_time_constant_times_the_logarithm(self):
        """A spike of 1 us time constant falls to a tenth in 2.303 us."""
        made = differentiator(10.0, 100e-12, 10e3, rise_s=1e-12, **LINE)

        assert math.isclose(2.303e-6, made.width_s, rel_tol=1e-3)

    def test_open_capacitor_passes_nothing(self):
        """An open capacitor leaves a thousandth of the pulse or less."""
        assert differentiator(10.0, 1e-15, 10e3, **LINE).peak_v < 0.01

    def test_open_resistor_keeps_the_shape_of_the_pulse(self):
        """Without its resistor the network passes the pulse whole, balanced about zero."""
        made = differentiator(10.0, 100e-12, 1e9, **LINE)

        assert math.isclose(10.0 * (1.0 - 4.76e-6 * 15750.0), made.peak_v, rel_tol=0.01)
        assert math.isclose(made.peak_v, made.end_v, rel_tol=0.01)

    def test_shorted_resistor_leaves_nothing(self):
        """Across a shorted resistor there is no pulse."""
        assert abs(differentiator(10.0, 100e-12, 1e-3, source_ohm=5e3, **LINE).peak_v) < 1e-5

    def test_shorted_capacitor_passes_the_pulse(self):
        """A capacitor of 1 milliohm of leak is a wire: the pulse comes by the divider of source and resistor."""
        made = differentiator(10.0, 100e-12, 10e3, source_ohm=10e3, leak_ohm=1e-3, **LINE)

        assert math.isclose(5.0, made.end_v, rel_tol=1e-3)
        assert math.isclose(4.76e-6 - 0.25e-6, made.width_s, rel_tol=1e-6)

    def test_source_resistance_lowers_and_widens_the_spike(self):
        """Half of the resistance in the source halves the spike and doubles its time constant."""
        made = differentiator(10.0, 100e-12, 10e3, source_ohm=10e3, rise_s=1e-12, **LINE)

        assert math.isclose(5.0, made.peak_v, rel_tol=1e-2)
        assert math.isclose(2e-6, made.time_constant_s, rel_tol=1e-6)

    @given(step=st.floats(-100.0, 100.0), ohm=OHMS)
    @settings(max_examples=30)
    def test_spike_scales_with_the_pulse(self, step, ohm):
        """A pulse of the other sign makes the spikes of the other sign."""
        up, down = (differentiator(sign * step, 100e-12, ohm, **LINE) for sign in (1.0, -1.0))

        assert math.isclose(up.peak_v, -down.peak_v, abs_tol=1e-9)
        assert math.isclose(up.back_v, -down.back_v, abs_tol=1e-9)

    @given(ohm=OHMS, farad=st.floats(20e-12, 500e-12))
    @settings(max_examples=30)
    def test_more_capacitance_makes_a_wider_spike(self, ohm, farad):
        """A greater capacitor never makes a narrower spike."""
        one, two = (differentiator(10.0, c, ohm, **LINE) for c in (farad, 1.5 * farad))

        assert two.width_s >= one.width_s * (1.0 - 1e-9)

    def test_no_capacitor_is_refused(self):
        """A capacitance of zero has no time constant; an open one is a very small one."""
        with pytest.raises(OutOfRange, match="series_f is 0"):
            differentiator(10.0, 0.0, 10e3, **LINE)

    def test_batch_is_the_single_calls(self):
        """An array of resistors gives an array of spikes."""
        ohms = np.array([5e3, 10e3, 1e9])
        singles = [differentiator(10.0, 100e-12, ohm, **LINE).peak_v for ohm in ohms]

        assert np.allclose(singles, differentiator(10.0, 100e-12, ohms, **LINE).peak_v)


class TestLadder:
    def test_one_section_is_one_exponential(self):
        """A single section has the rate 1 / R C and passes all of a lasting step."""
        modes = ladder_modes(Ladder((10e3,), (5e-9,)))

        assert math.isclose(1.0 / 50e-6, modes.rate.item(), rel_tol=1e-6)
        assert math.isclose(1.0, modes.weight.item(), rel_tol=1e-6)

    def test_leak_divides_a_lasting_step(self):
        """A leak as great as the resistance in front of it leaves half."""
        modes = ladder_modes(Ladder((22e3, 22e3), (5e-9, 5e-9), (1e12, 44e3)))

        assert math.isclose(0.5, modes.weight.sum(), rel_tol=1e-6)

    @given(ohms=st.tuples(OHMS, OHMS, OHMS), farads=st.tuples(FARADS, FARADS, FARADS))
    @settings(max_examples=40)
    def test_sound_ladder_passes_all_of_a_lasting_step(self, ohms, farads):
        """Without leaks the weights sum to one and the response starts at zero with no slope."""
        modes = ladder_modes(Ladder(ohms, farads))

        assert math.isclose(1.0, modes.weight.sum(), rel_tol=1e-5)
        assert abs((modes.weight * modes.rate).sum()) < 1e-6 * np.abs(modes.weight * modes.rate).max()

    def test_source_resistance_counts_with_the_first_resistor(self):
        """The source's resistance is in series with the first resistor."""
        apart, together = (
            ladder_modes(one) for one in (Ladder((17e3,), (5e-9,), source_ohm=5e3), Ladder((22e3,), (5e-9,)))
        )

        assert np.allclose(apart.rate, together.rate)

    def test_load_counts_with_the_last_leak(self):
        """A load across the end leaks like the last capacitor."""
        loaded, leaky = (
            ladder_modes(one) for one in (Ladder((22e3,), (5e-9,), load_ohm=1e5), Ladder((22e3,), (5e-9,), (1e5,)))
        )

        assert np.allclose(loaded.weight, leaky.weight, rtol=1e-6)

    @pytest.mark.parametrize(
        ("ladder", "said"),
        [
            (Ladder((), ()), "0 resistors"),
            (Ladder((1e3,) * 4, (1e-9,) * 4), "4 resistors"),
            (Ladder((1e3, 1e3), (1e-9,)), "2 resistors, 1 capacitors"),
            (Ladder((1e3,), (1e-9,), (1e9, 1e9)), "2 leaks"),
        ],
    )
    def test_unequal_sections_are_refused(self, ladder, said):
        """The ladder has one to three sections, each with its capacitor."""
        with pytest.raises(BadInput, match=said):
            ladder_modes(ladder)

    def test_negative_resistor_is_refused_by_its_place(self):
        """The message names which resistor is negative."""
        with pytest.raises(OutOfRange, match=r"section_ohm\[1\] is -1"):
            ladder_modes(Ladder((22e3, -1.0), (5e-9, 5e-9)))


class TestIntegrator:
    @pytest.mark.parametrize("name", STANDARDS)
    def test_field_pulse_rises_above_the_residue(self, name):
        """On every standard two sections make a field pulse well above the residue of line sync."""
        made = integrated_field_pulse(TWO, standard(name))

        assert made.first_peak_v > 1.15 * made.residue_v

    @pytest.mark.parametrize("name", STANDARDS)
    def test_residue_lies_about_the_mean_of_line_sync(self, name):
        """The output under line sync swings about sync length over line."""
        one = standard(name)
        made = integrated_field_pulse(THREE, one)
        mean = one.line_sync_s / one.line_s

        assert made.residue_v - made.ripple_v < mean < made.residue_v

    def test_voltages_scale_and_times_do_not(self):
        """Twice the sync makes twice the levels at the same times."""
        one, two = (integrated_field_pulse(TWO, standard("525"), volts) for volts in (10.0, 20.0))

        assert math.isclose(2.0 * one.first_peak_v, two.first_peak_v, rel_tol=1e-12)
        assert math.isclose(one.first_trigger_s, two.first_trigger_s, rel_tol=1e-9)

    @given(ohm=OHMS, farad=FARADS)
    @settings(max_examples=20, deadline=None)
    def test_greater_capacitor_lowers_the_peak(self, ohm, farad):
        """A greater capacitor in a single section never raises the peak."""
        one, two = (integrated_field_pulse(Ladder((ohm,), (c,)), standard("525")) for c in (farad, 1.3 * farad))

        assert two.first_peak_v <= one.first_peak_v + 1e-9

    def test_greater_capacitor_delays_the_trigger(self):
        """At a fixed level a greater capacitor triggers later, step by step."""
        farads = np.linspace(4e-9, 8e-9, 9)
        made = integrated_field_pulse(Ladder((22e3, 22e3), (farads, farads)), standard("525"), trigger_v=0.25)

        assert np.all(made.triggers == 1.0)
        assert np.all(np.diff(made.first_trigger_s) > 0.0)

    def test_open_capacitors_pass_all_sync(self):
        """Without capacitors the output is the sync itself, and line sync triggers as well as field sync does."""
        made = integrated_field_pulse(_faulty("all capacitors open"), standard("525"))

        assert min(made.residue_v, made.first_peak_v) > 0.99

    def test_open_resistor_leaves_nothing(self):
        """An open series resistor leaves no field pulse at the grid behind it."""
        ladder = dataclasses.replace(_faulty("first resistor open"), load_ohm=1e6)

        assert integrated_field_pulse(ladder, standard("525")).first_peak_v < 1e-3

    def test_shorted_capacitor_leaves_nothing(self):
        """A shorted capacitor leaves no field pulse."""
        made = integrated_field_pulse(_faulty("first capacitor shorted"), standard("525"))

        assert made.first_peak_v < 1e-6

    def test_shorted_capacitor_never_triggers(self):
        """A level above the peak is never reached, and the time is that of the peak."""
        made = integrated_field_pulse(_faulty("first capacitor shorted"), standard("525"), 20.0, trigger_v=5.0)

        assert made.triggers == 0.0
        assert 0.0 <= made.first_trigger_s < 1e-3

    def test_fixed_level_gives_more_interlace_error(self):
        """A fixed level sees the greater residue of the second field twice over."""
        own = integrated_field_pulse(TWO, standard("525"))
        fixed = integrated_field_pulse(TWO, standard("525"), trigger_v=0.5 * own.first_peak_v)

        assert fixed.interlace_error_s < own.interlace_error_s < 0.0

    def test_without_equalizing_pulses_the_fields_pair(self):
        """Without equalizing pulses the fields trigger further apart."""
        with_them, without = (
            integrated_field_pulse(TWO, plain_source(standard("525"), equalizing=keep, interlaced=True))
            for keep in (True, False)
        )

        assert abs(without.interlace_error_s) > 3.0 * abs(with_them.interlace_error_s)

    def test_without_interlace_there_is_no_error(self):
        """Fields of whole lines trigger alike."""
        made = integrated_field_pulse(TWO, plain_source(standard("625")))

        assert math.isclose(0.0, made.interlace_error_s, abs_tol=1e-12)

    def test_mean_and_least_level_are_those_of_the_waveform(self):
        """Mean and least level agree with those of the waveform at many moments of the frame."""
        made = integrated_field_pulse(TWO, standard("405"), 10.0)
        moments = np.linspace(0.0, 2.0 * standard("405").field_s, 400_001)[:-1]
        wave = integrator_waveform(TWO, standard("405"), moments, 10.0)

        assert math.isclose(wave.mean(), made.mean_v, rel_tol=1e-3)
        assert math.isclose(wave.min(), made.least_v, rel_tol=0.02)

    def test_drooping_broad_pulses_lower_the_peak(self):
        """Broad pulses of half the height make little more than half the peak."""
        whole, half = (integrated_field_pulse(TWO, standard("625"), 1.0, share) for share in (1.0, 0.5))

        assert 0.5 * whole.first_peak_v < half.first_peak_v < 0.65 * whole.first_peak_v

    @pytest.mark.parametrize("fault", FAULTS)
    @pytest.mark.parametrize("name", STANDARDS)
    def test_faults_stay_finite_and_within_the_sync(self, fault, name):
        """Whatever is open or shorted, levels stay within the sync and times within the field."""
        made = integrated_field_pulse(_faulty(fault), standard(name), 20.0, trigger_v=5.0)
        levels = [made.residue_v, made.ripple_v, made.first_peak_v, made.second_peak_v, made.first_before_v]

        assert all(-1e-9 <= level <= 20.0 + 1e-9 for level in levels)
        assert all(0.0 <= time < standard(name).field_s for time in (made.first_trigger_s, made.second_trigger_s))

    def test_batch_is_the_single_calls(self):
        """A batch of ladders gives what each alone gives."""
        ohms, farads = np.array([10e3, 22e3, 1e9]), np.array([5e-9, 1e-15, 5e-9])
        batch = integrated_field_pulse(Ladder((ohms, 22e3), (5e-9, farads)), standard("625"), 10.0)
        singles = [
            integrated_field_pulse(Ladder((ohm, 22e3), (5e-9, farad)), standard("625"), 10.0)
            for ohm, farad in zip(ohms, farads, strict=True)
        ]

        for field in dataclasses.fields(batch):
            wanted = [getattr(one, field.name) for one in singles]
            assert np.allclose(wanted, getattr(batch, field.name), rtol=1e-6, atol=1e-12)

    def test_negative_sync_is_refused(self):
        """The height of the sync is given without sign."""
        with pytest.raises(OutOfRange, match="pulse_v is -1"):
            integrated_field_pulse(TWO, standard("525"), -1.0)


class TestWaveform:
    def test_waveform_repeats_with_the_frame(self):
        """A frame later the output is where it was."""
        one = standard("405")
        times = np.linspace(-1e-3, 1e-3, 50)
        first = integrator_waveform(THREE, one, times)

        assert np.allclose(first, integrator_waveform(THREE, one, times + 2.0 * one.field_s))

    def test_greatest_value_is_the_peak(self):
        """The highest point of the waveform is the peak of the field pulse."""
        one = standard("525")
        times = np.linspace(0.0, 400e-6, 40_001)
        made = integrated_field_pulse(TWO, one, 20.0)

        assert math.isclose(made.first_peak_v, integrator_waveform(TWO, one, times, 20.0).max(), rel_tol=1e-5)

    def test_batch_is_refused(self):
        """A waveform is drawn of one network at a time."""
        with pytest.raises(BadInput, match="one network"):
            integrator_waveform(Ladder((np.array([1e3, 2e3]),), (5e-9,)), standard("525"), np.zeros(1))
