"""Phase detector, lock, bars and direct sync of the horizontal oscillator."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.horizontal import (
    detector_slope,
    hold_range_hz,
    line_lock,
    phase_detector,
    sawtooth_at_sync_v,
    static_phase_s,
)
from backporch.engine.circuits.horizontal_loop import (
    AfcFilter,
    damping_ratio,
    direct_share,
    hum_shift_s,
    hunting,
    natural_frequency_hz,
    pull_in_range_hz,
    settling_s,
)
from backporch.engine.circuits.horizontal_picture import (
    bend_drift_hz,
    diagonal_bars,
    direct_sync_lowest_hz,
    floating_widths_per_s,
    trigger_jitter_s,
)
from backporch.engine.errors import OutOfRange

LINE = 15750.0
FILTER = AfcFilter(470e3, 22e3, 0.1e-6, 1e-9)


def _detected(sawtooth=4.0, up=30.0, down=30.0, first=470e3, second=470e3, **given):
    return phase_detector(sawtooth, up, down, first, second, **({"sync_s": 4.76e-6, "line_hz": LINE} | given))


class TestPhaseDetector:
    def test_balanced_detector_gives_the_sawtooth(self):
        """With equal pulses, loads and diodes the output is the sawtooth at the sync."""
        assert math.isclose(4.0, _detected().output_v, rel_tol=1e-6)

    def test_unequal_pulses_give_half_their_difference(self):
        """One pulse 6 V smaller than the other shifts the output by 3 V less the pulse's share of the line."""
        assert math.isclose(4.0 + 3.0 * (1 - 4.76e-6 * LINE), _detected(up=24.0).output_v, rel_tol=1e-6)

    def test_one_missing_pulse_shifts_the_output_far(self):
        """With one phase of the sync missing the output is off by many volts."""
        assert _detected(up=0.0, sawtooth_v=16.0).output_v > _detected().output_v + 5.0

    def test_dead_diode_leaves_the_other_alone(self):
        """A dead diode leaves the output at the other's level."""
        assert math.isclose(
            4.0 + 30.0 * (1 - 4.76e-6 * LINE), _detected(first_diode_ohm=1e12).output_v, rel_tol=0.01
        )

    def test_drifted_load_unbalances(self):
        """A load resistor gone high pulls the output towards the other diode."""
        assert _detected(first=940e3).output_v > _detected().output_v + 5.0

    def test_leaky_coupling_capacitor_shifts_the_output(self):
        """A leak from the plate of the sync splitter pulls the control voltage up."""
        assert _detected(first_leak_ohm=1e6, splitter_v=150.0).output_v > _detected().output_v + 1.0

    def test_leaky_filter_divides(self):
        """Leakage of the filter takes its share of the control voltage."""
        assert 0.3 * 4.0 < _detected(output_load_ohm=250e3).output_v < 0.6 * 4.0

    def test_slope_is_that_of_the_sawtooth(self):
        """The slope of the detector is the slope of the sawtooth on its retrace."""
        small = 0.01

        assert math.isclose(
            sawtooth_at_sync_v(20.0, small, 0.15) / small, detector_slope(20.0, 0.15), rel_tol=1e-9
        )

    def test_sawtooth_reaches_half_its_height(self):
        """At the end of the retrace the sawtooth stands at half its height."""
        assert math.isclose(10.0, sawtooth_at_sync_v(20.0, 0.15 * math.pi, 0.15), rel_tol=1e-9)

    @given(st.floats(-20.0, 20.0))
    @settings(max_examples=25)
    def test_sawtooth_repeats_with_the_line(self, phase):
        """A whole line later the sawtooth stands where it stood."""
        assert math.isclose(
            sawtooth_at_sync_v(20.0, phase, 0.15),
            sawtooth_at_sync_v(20.0, phase + 2 * math.pi, 0.15),
            abs_tol=1e-6,
        )


class TestLock:
    def test_hold_is_wider_than_pull_in(self):
        """What is inside the hold range but outside the pull-in range stays locked and does not catch."""
        hold = hold_range_hz(8.0, -60.0)
        state = line_lock(LINE - 300.0, LINE, hold, pull_in_range_hz(FILTER, hold))

        assert (state.holds, state.pulls_in, state.rate_hz) == (1.0, 0.0, LINE - 300.0)

    def test_inside_the_pull_in_it_runs_at_line_rate(self):
        """A small error is pulled in."""
        assert line_lock(LINE + 30.0, LINE, 480.0, 100.0).rate_hz == LINE

    def test_static_phase_of_a_detuned_hold(self):
        """100 Hz of error with 30 V/rad and 60 Hz/V shift the picture by 0.56 us, less than a note allows."""
        shift = static_phase_s(LINE + 100.0, LINE, 30.0, 60.0)

        assert math.isclose(0.561e-6, shift, rel_tol=1e-3)

    def test_no_hold_range_without_a_sawtooth(self):
        """Without control voltage nothing holds."""
        assert hold_range_hz(0.0, -60.0) == 0.0


class TestLoop:
    def test_shorted_anti_hunt_resistor_takes_the_damping(self):
        """With the anti-hunt resistor shorted the loop hardly damps."""
        healthy, shorted = (damping_ratio(AfcFilter(470e3, r, 0.1e-6), 20.0, 60.0) for r in (22e3, 1e-3))

        assert healthy > 0.2 > 0.04 > shorted

    def test_open_anti_hunt_capacitor_makes_the_loop_fast(self):
        """With the anti-hunt branch open the crossover goes up many times and the margin shrinks."""
        healthy, opened = (
            hunting(AfcFilter(470e3, 22e3, c, 5e-9), 20.0, 60.0, LINE, 60.0) for c in (0.1e-6, 1e-15)
        )

        assert opened.crossover_hz > 2 * healthy.crossover_hz
        assert opened.phase_margin_rad < healthy.phase_margin_rad

    def test_too_much_gain_hunts(self):
        """A filter that is gone and a steep oscillator hunt without end."""
        state = hunting(AfcFilter(1.0, 1.0, 1e-15, 1e-15), 200.0, 200.0, LINE, 60.0)

        assert state.phase_margin_rad < 0.0

    def test_natural_frequency_goes_with_the_root_of_the_gain(self):
        """Four times the slope doubles the natural frequency."""
        assert math.isclose(
            2.0 * natural_frequency_hz(FILTER, 20.0, 60.0), natural_frequency_hz(FILTER, 80.0, 60.0), rel_tol=1e-9
        )

    def test_leak_divides_the_direct_voltage(self):
        """A leak as large as the series resistance halves the hold range."""
        assert direct_share(AfcFilter(470e3, 22e3, 1e-7, leak_ohm=470e3)) == 0.5

    def test_loop_takes_most_of_slow_hum(self):
        """A working AFC leaves a small part of the bend that a dead one shows."""
        working, dead = (hum_shift_s(FILTER, k, 60.0, 0.1, 60.0, LINE) for k in (40.0, 0.0))

        assert working < 0.5 * dead

    def test_hum_without_loop_is_the_integral(self):
        """Without AFC the bend is slope times hum over the angular rate and the line rate."""
        assert math.isclose(
            60.0 * 0.1 / (2 * math.pi * 60.0 * LINE), hum_shift_s(FILTER, 0.0, 60.0, 0.1, 60.0, LINE), rel_tol=1e-9
        )

    def test_poorly_damped_loop_flags_longer(self):
        """Less damping makes a longer flag at the top of the picture."""
        assert settling_s(AfcFilter(470e3, 2.2e3, 1e-7), 20.0, 60.0) > 3 * settling_s(FILTER, 20.0, 60.0)

    @given(st.floats(2e3, 400e3), st.floats(1.1, 2.0))
    @settings(max_examples=20)
    def test_more_damping_resistor_pulls_in_farther(self, resistor, factor):
        """The pull-in range grows with the anti-hunt resistor and never exceeds the hold range."""
        small, large = (pull_in_range_hz(AfcFilter(470e3, r, 1e-7), 480.0) for r in (resistor, resistor * factor))

        assert small < large <= 480.0

    @pytest.mark.parametrize(
        "network",
        [
            AfcFilter(1e-3, 1e-3, 1e-15),
            AfcFilter(1e9, 1e9, 1e-15, 1e-15, 1e3),
            AfcFilter(1e6, 1e-3, 1e-6, 1e-6, 1e3),
        ],
    )
    def test_every_answer_stays_finite_at_fault_values(self, network):
        """Shorted and open parts of the filter give finite answers."""
        answers = [
            natural_frequency_hz(network, 20.0, 60.0),
            damping_ratio(network, 20.0, 60.0),
            pull_in_range_hz(network, 480.0),
            hum_shift_s(network, 20.0, 60.0, 0.1, 60.0, LINE),
            settling_s(network, 20.0, 60.0),
            *vars(hunting(network, 0.0, 60.0, LINE, 60.0)).values(),
        ]

        assert np.all(np.isfinite(answers))

    def test_batch_is_one_call(self):
        """Ten thousand filters come back as one array."""
        drawn = AfcFilter(np.linspace(1e5, 1e6, 10_000), 22e3, 0.1e-6, 1e-9)

        assert pull_in_range_hz(drawn, 480.0).shape == (10_000,)
        assert hunting(drawn, 20.0, 60.0, LINE, 60.0).phase_margin_rad.shape == (10_000,)


class TestPicture:
    @pytest.mark.parametrize(
        ("rate", "count", "lean"), [(15450.0, 5.0, -1.0), (16350.0, 10.0, 1.0), (15750.0, 0.0, 0.0)]
    )
    def test_bars_count_the_error_in_fields(self, rate, count, lean):
        """Bars are the error over the field rate; slow runs down to the left, fast to the right."""
        bars = diagonal_bars(rate, LINE, 60.0)

        assert (bars.count, bars.lean) == (count, lean)

    def test_bars_seen_in_a_drawn_field(self):
        """Counting the blanking along each line of a drawn field gives the same number and lean."""
        rate, field = 15450.0, 60.0
        starts = np.arange(round(rate / field)) / rate
        position = np.mod(-starts * LINE, 1.0)
        steps = np.mod(np.diff(position) + 0.5, 1.0) - 0.5

        assert round(abs(steps.sum())) == diagonal_bars(rate, LINE, field).count
        assert np.sign(steps.mean()) == diagonal_bars(rate, LINE, field).lean

    def test_floating_picture_moves_with_the_error(self):
        """Two hertz fast floats two widths to the right in a second."""
        assert floating_widths_per_s(LINE + 2.0, LINE) == 2.0

    def test_hum_on_a_foreign_mains_weaves(self):
        """50 Hz hum on 60 fields weaves at 10 Hz; 60 Hz on 59.94 takes 16.7 s for a screen."""
        assert bend_drift_hz(50.0, 60.0) == 10.0
        assert round(1.0 / bend_drift_hz(60.0, 59.94), 1) == 16.7
        assert bend_drift_hz(120.0, 60.0) == 0.0

    @pytest.mark.parametrize(("sync", "lowest"), [(5.0, 49.6), (2.0, 55.5)])
    def test_direct_lock_range_of_the_worked_example(self, sync, lowest):
        """A grid that comes back from -80 V to -14.7 V locks down to the published worked values."""
        assert lowest == round(direct_sync_lowest_hz(60.0, sync, -80.0, -14.7), 1)

    def test_no_sync_locks_only_at_the_rate_itself(self):
        """Without sync there is no range."""
        assert direct_sync_lowest_hz(LINE, 0.0, -20.0, -5.0) == LINE

    def test_noise_fires_early(self):
        """More noise fires earlier, none not at all."""
        assert trigger_jitter_s(0.0, -5.0, 50e-6) == 0.0
        assert trigger_jitter_s(1.0, -5.0, 50e-6) > trigger_jitter_s(0.5, -5.0, 50e-6)


class TestRefusals:
    @pytest.mark.parametrize(
        ("function", "arguments", "name"),
        [
            (sawtooth_at_sync_v, (20.0, 0.0, 1.0), "trace_share"),
            (detector_slope, (-1.0, 0.1), "sawtooth_v"),
            (diagonal_bars, (0.0, LINE, 60.0), "oscillator_hz"),
            (direct_sync_lowest_hz, (LINE, 1.0, -5.0, -10.0), "fire_v_less_lowest_v"),
            (pull_in_range_hz, (AfcFilter(0.0, 1.0, 1.0), 480.0), "series_ohm"),
            (natural_frequency_hz, (FILTER, -1.0, 60.0), "detector_slope"),
        ],
    )
    def test_senseless_values_are_refused_by_name(self, function, arguments, name):
        """A value without meaning is refused with the name of its argument."""
        with pytest.raises(OutOfRange, match=name):
            function(*arguments)
