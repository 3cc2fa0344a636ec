"""Peaking coils, ringing and sound traps."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.video import upper_half_power_hz
from backporch.engine.circuits.video_network import network_share, network_upper_hz, pulse_shape
from backporch.engine.circuits.video_peaking import (
    cathode_trap_share,
    parallel_trap_share,
    peaking_coil_h,
    series_trap_share,
    shunt_overshoot_share,
    shunt_peaked_upper_hz,
    trap_hz,
)
from backporch.engine.errors import OutOfRange

STAGE = {"load_ohm": 3900.0, "plate_f": 8e-12, "output_f": 12e-12}
UNIT_H = 3900.0**2 * 20e-12
PEAKED = STAGE | {"shunt_h": 36e-6, "series_h": 158e-6}


class TestShuntCoil:
    def test_shorted_coil_leaves_the_bare_stage(self):
        """Without its coil the stage has its bare band."""
        bare = upper_half_power_hz(3900.0, 20e-12)

        assert math.isclose(bare, shunt_peaked_upper_hz(3900.0, 20e-12, 0.0), rel_tol=1e-6)

    def test_no_overshoot_up_to_a_quarter(self):
        """A coil of a quarter does not overshoot."""
        assert shunt_overshoot_share(3900.0, 20e-12, 0.25 * UNIT_H) == 0.0

    @given(st.floats(0.26, 20.0), st.floats(1.05, 3.0))
    @settings(max_examples=30)
    def test_larger_coils_overshoot_more(self, ratio, factor):
        """Overshoot grows with the coil."""
        less = shunt_overshoot_share(3900.0, 20e-12, ratio * UNIT_H)

        assert shunt_overshoot_share(3900.0, 20e-12, factor * ratio * UNIT_H) > less

    @given(st.floats(500.0, 2e4), st.floats(5e-12, 1e-10), st.floats(0.0, 2.0))
    @settings(max_examples=30)
    def test_half_power_is_half_power(self, load, farads, ratio):
        """At the frequency found, half the power is left."""
        coil = peaking_coil_h(load, farads, ratio + 1e-6)
        upper = shunt_peaked_upper_hz(load, farads, coil)
        left = network_share(upper, load, 1e-6 * farads, (1 - 1e-6) * farads, coil)

        assert math.isclose(math.sqrt(0.5), left, rel_tol=1e-4)

    def test_negative_coil_is_refused(self):
        """A negative coil has no meaning."""
        with pytest.raises(OutOfRange, match="coil_h is -1"):
            shunt_overshoot_share(3900.0, 20e-12, -1.0)


class TestNetwork:
    def test_bare_network_is_the_bare_stage(self):
        """Without coils the network has the band of the bare stage."""
        assert math.isclose(upper_half_power_hz(3900.0, 20e-12), network_upper_hz(**STAGE), rel_tol=1e-6)

    def test_both_coils_widen_the_band(self):
        """Shunt and series coil together more than double the band."""
        assert network_upper_hz(**PEAKED) > 2.2 * network_upper_hz(**STAGE)

    def test_exchanged_capacitances_stand_for_a_load_at_the_far_end(self):
        """With all the load's capacitance at one end the coil does nothing, at the other all."""
        near = network_share(3e6, 3900.0, 20e-12, 1e-15, 0.0, 158e-6)
        far = network_share(3e6, 3900.0, 1e-15, 20e-12, 0.0, 158e-6)

        assert math.isclose(network_share(3e6, **STAGE), near, rel_tol=1e-2)
        assert far > 1.2 * near

    def test_open_series_coil_passes_only_what_its_damping_does(self):
        """With the series coil open the damping resistor alone carries the picture, and detail is gone."""
        open_coil = PEAKED | {"series_h": 1e3, "series_damping_ohm": 22e3}

        assert network_share(10.0, **open_coil) > 0.9
        assert network_share(2e6, **open_coil) < 0.5 * network_share(2e6, **PEAKED)

    def test_open_damping_rings(self):
        """Without its damping resistor the series coil rings harder and longer."""
        damped = pulse_shape(**PEAKED, series_damping_ohm=4700.0)
        ringing = pulse_shape(**PEAKED, series_damping_ohm=1e9)

        assert ringing.overshoot_share > damped.overshoot_share
        assert ringing.ring_cycles > damped.ring_cycles

    def test_bare_stage_neither_overshoots_nor_rings(self):
        """One time constant neither overshoots nor rings."""
        found = pulse_shape(**STAGE)

        assert found.overshoot_share < 1e-3
        assert found.ring_cycles == 0.0

    def test_rise_time_of_the_bare_stage(self):
        """The bare stage rises in 2.2 time constants."""
        assert math.isclose(math.log(9) * 3900 * 20e-12, pulse_shape(**STAGE).rise_s, rel_tol=0.01)

    @given(st.floats(0.26, 3.0))
    @settings(max_examples=15)
    def test_step_by_step_meets_the_closed_form(self, ratio):
        """The overshoot of a shunt coil is the same by steps as by its formula."""
        closed = shunt_overshoot_share(3900.0, 20e-12, ratio * UNIT_H)
        stepped = pulse_shape(3900.0, 1e-15, 20e-12, ratio * UNIT_H).overshoot_share

        assert abs(closed - stepped) < 4e-3

    @pytest.mark.parametrize("load", [1e-3, 1e9])
    @pytest.mark.parametrize("farads", [1e-15, 1e-6])
    @pytest.mark.parametrize("coil", [0.0, 1e3])
    def test_faults_stay_finite(self, load, farads, coil):
        """Open and shorted parts give finite numbers."""
        parts = (load, 8e-12, farads, coil, coil, 22e3, 22e3, 93e3)
        shape = pulse_shape(*parts)
        found = [network_upper_hz(*parts), network_share(1e6, *parts), shape.rise_s, shape.overshoot_share]

        assert np.all(np.isfinite(found))
        assert np.all(np.asarray(found) >= 0)

    def test_a_batch_gives_what_single_calls_give(self):
        """Arrays of loads are one call."""
        loads = np.array([2000.0, 3900.0, 8200.0])
        batch = network_upper_hz(loads, 8e-12, 12e-12, 36e-6, 158e-6)
        shapes = pulse_shape(loads, 8e-12, 12e-12, 36e-6, 158e-6)
        single = pulse_shape(3900.0, 8e-12, 12e-12, 36e-6, 158e-6)

        assert math.isclose(network_upper_hz(**PEAKED), batch[1], rel_tol=1e-6)
        assert math.isclose(single.overshoot_share, shapes.overshoot_share[1], rel_tol=1e-6)


class TestTraps:
    @pytest.mark.parametrize("carrier", [4.5e6, 5.5e6])
    def test_tuned_traps_take_the_sound_out(self, carrier):
        """Tuned to the sound each kind of trap leaves less than a quarter of it."""
        farads = 100e-12
        coil = 1 / ((2 * math.pi * carrier) ** 2 * farads)
        big = coil / 10

        assert math.isclose(carrier, trap_hz(coil, farads), rel_tol=1e-9)
        assert series_trap_share(carrier, 3900.0, coil, farads) < 0.01
        assert parallel_trap_share(carrier, 3900.0, coil, farads) < 0.25
        assert cathode_trap_share(carrier, 11e-3, big, farads * 10) < 0.25

    @pytest.mark.parametrize("trap", [series_trap_share, parallel_trap_share])
    def test_drifted_trap_lets_sound_through(self, trap):
        """A trap whose capacitor has drifted by a tenth lets more sound through."""
        coil = 1 / ((2 * math.pi * 4.5e6) ** 2 * 50e-12)

        assert trap(4.5e6, 3900.0, coil, 55e-12) > 1.5 * trap(4.5e6, 3900.0, coil, 50e-12)

    def test_open_series_trap_is_not_there(self):
        """A series trap with its capacitor open takes nothing."""
        assert series_trap_share(4.5e6, 3900.0, 25e-6, 1e-15) > 0.99

    def test_shorted_parallel_trap_is_not_there(self):
        """A parallel trap with its coil shorted takes nothing."""
        assert parallel_trap_share(4.5e6, 3900.0, 1e-12, 100e-12) > 0.99

    def test_traps_leave_low_frequencies_alone(self):
        """At a tenth of a megahertz the traps take next to nothing."""
        assert parallel_trap_share(1e5, 3900.0, 12.5e-6, 100e-12) > 0.99
        assert series_trap_share(1e5, 3900.0, 25e-6, 50e-12) > 0.98

    @given(st.floats(5.0, 200.0), st.floats(1.2, 4.0))
    @settings(max_examples=20)
    def test_better_coils_trap_deeper(self, quality, factor):
        """A coil with less loss traps deeper."""
        coil = 1 / ((2 * math.pi * 4.5e6) ** 2 * 100e-12)
        worse = parallel_trap_share(4.5e6, 3900.0, coil, 100e-12, quality)

        assert parallel_trap_share(4.5e6, 3900.0, coil, 100e-12, factor * quality) < worse
