"""Yoke current, retrace, boost and width follow their parts as a bench shows it."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.flyback import (
    effective_inductance_h,
    half_period_s,
    retrace,
    retrace_peak_v,
    shorted_turns,
    tuning_capacitance_f,
)
from backporch.engine.circuits.flyback_boost import boost, boost_capacitor_share, boost_ripple_v, scan_loss_ohm
from backporch.engine.circuits.flyback_stage import FlybackParts, output_stage, red_plate_s
from backporch.engine.circuits.flyback_yoke import (
    deflection_current_a,
    folded_share,
    full_scan_a,
    scan_voltage_v,
    width_share,
    yoke_current_a,
    yoke_energy_j,
)
from backporch.engine.errors import OutOfRange

LINE = 15750.0
WINDING = {"inductance_h": 14.3e-3, "trace_s": 54e-6, "line_hz": LINE, "knee_v": 40.0}
PARTS = FlybackParts(
    plate_ratio=1.8,
    high_voltage_ratio=5.5,
    primary_h=0.15,
    yoke_h=12e-3,
    yoke_ohm=14.0,
    yoke_share=0.85,
    tuning_f=550e-12,
    shunt_ohm=70e3,
    knee_v=40.0,
    damper_ohm=60.0,
    boost_f=0.1e-6,
    load_ohm=60e3,
)


def _stage(parts=PARTS, supply_v=270.0, **given):
    drive = {"drive_a": 75e-3, "peak_a": 0.3, "beam_a": 80e-6} | given
    return output_stage(parts, supply_v, LINE, **drive)


class TestYoke:
    @pytest.mark.parametrize(
        ("inductance", "current", "trace", "volts"),
        [(10.3e-3, 1.04, 54e-6, 198), (12e-3, 1.35, 55e-6, 295), (10.3e-3, 1.04, 83e-6, 129)],
    )
    def test_scan_voltage_of_common_yokes(self, inductance, current, trace, volts):
        """Worked examples for 70 and 90 degrees at 525 lines and for 405 lines hold."""
        assert volts == round(scan_voltage_v(current, inductance, trace))

    def test_current_without_resistance_is_the_straight_line(self):
        """An ideal yoke takes voltage times time over inductance."""
        assert math.isclose(198.0 * 54e-6 / 10.3e-3, yoke_current_a(198.0, 10.3e-3, 54e-6), rel_tol=1e-9)

    @pytest.mark.parametrize(
        ("angle", "neck", "anode", "inductance", "current"),
        [
            (70, 36.5e-3, 14e3, 10.3e-3, 1.04),
            (90, 36.5e-3, 16e3, 12e-3, 1.35),
            (90, 36.5e-3, 16e3, 4.2e-3, 2.25),
            (110, 28.6e-3, 16e3, 2.9e-3, 2.9),
            (110, 28.6e-3, 16e3, 18e-3, 1.2),
        ],
    )
    def test_one_constant_gives_all_classes_of_yokes(self, angle, neck, anode, inductance, current):
        """The usual yokes for 70 to 110 degrees take the current of the law within 5 %."""
        found = full_scan_a(inductance, anode, math.radians(angle), neck)

        assert found == pytest.approx(current, rel=0.05)

    def test_a_narrow_neck_pays_for_the_wider_angle(self):
        """110 degrees with the narrow neck take only slightly more than 90 with the wide one, as published."""
        wide, wider = (full_scan_a(1e-2, 16e3, math.radians(a), n) for a, n in ((90, 36.5e-3), (110, 28.6e-3)))

        assert 1.0 < (wider / wide) ** 2 < 1.25

    def test_open_yoke_carries_nothing(self):
        """A broken yoke lead leaves no current."""
        assert yoke_current_a(300.0, 12e-3, 54e-6, 1e9) < 1e-6

    @pytest.mark.parametrize(
        ("inductance", "current", "energy"),
        [
            (8.3e-3, 0.9, 0.84),
            (10.3e-3, 1.04, 1.39),
            (12e-3, 1.35, 2.73),
            (4.2e-3, 2.25, 2.66),
            (2.9e-3, 2.9, 3.05),
        ],
    )
    def test_energy_of_common_yokes(self, inductance, current, energy):
        """Peak energies of yokes from 50 to 110 degrees hold."""
        assert energy == round(yoke_energy_j(current, inductance) * 1e3, 2)

    def test_lower_anode_voltage_needs_less_current(self):
        """From 14 kV to 12 kV the same raster needs 0.926 of the current."""
        assert round(deflection_current_a(1.0, 12e3, 14e3), 3) == 0.926

    def test_width_grows_as_the_anode_voltage_falls(self):
        """A tenth less anode voltage widens the raster by 5.4 per cent."""
        assert round(width_share(1.0, 1.0, 12.6e3, 14e3), 3) == 1.054

    def test_retrace_inside_the_blanking_folds_nothing(self):
        """A short retrace leaves no fold-over."""
        assert folded_share(9e-6, 10.5e-6, LINE) == 0.0

    @given(st.floats(1e-3, 50e-3), st.floats(1.1, 3.0))
    @settings(max_examples=25)
    def test_more_inductance_means_less_current(self, inductance, factor):
        """A yoke of more inductance scans less at the same voltage."""
        assert yoke_current_a(300.0, inductance * factor, 54e-6) < yoke_current_a(300.0, inductance, 54e-6)


class TestRetrace:
    def test_tuning_capacitor_of_a_common_yoke(self):
        """Half a period of 8.5 us with 12 mH asks for 610 pF."""
        assert round(tuning_capacitance_f(8.5e-6, 12e-3) * 1e12) == 610

    @pytest.mark.parametrize(
        ("retrace_s", "ratio"),
        [(7e-6, 12.68), (8e-6, 10.90), (8.5e-6, 10.16), (9e-6, 9.51), (9.5e-6, 8.93), (10e-6, 8.40)],
    )
    def test_pulse_ratios_at_525_lines(self, retrace_s, ratio):
        """The table of pulse over scan voltage for 525 lines holds."""
        pulse = retrace_peak_v(1.0, 1 / LINE - retrace_s, retrace_s)

        assert math.isclose(ratio, pulse, abs_tol=0.006)

    def test_energy_and_zero_average_agree(self):
        """The pulse by energy is the pulse by zero average voltage within one per cent."""
        line = retrace(295.0, 12e-3, 610e-12, LINE)

        assert math.isclose(
            line.pulse_v, retrace_peak_v(295.0, line.trace_s, half_period_s(12e-3, 610e-12)), rel_tol=0.01
        )

    def test_less_tuning_capacitance_raises_the_pulse(self):
        """A tuning capacitor gone low raises the pulse and shortens the retrace."""
        healthy, low = (retrace(295.0, 12e-3, c, LINE) for c in (610e-12, 400e-12))

        assert low.pulse_v > 1.2 * healthy.pulse_v
        assert low.retrace_s < healthy.retrace_s

    def test_heavy_loss_leaves_current_times_resistance(self):
        """Without capacitance the pulse is what the loss makes of the current."""
        line = retrace(300.0, 12e-3, 1e-15, LINE, 10e3)

        assert math.isclose(300.0 * line.trace_s / 12e-3 * 10e3, line.pulse_v, rel_tol=0.01)

    @given(st.floats(5e-3, 30e-3), st.floats(100e-12, 1e-9))
    @settings(max_examples=25)
    def test_line_is_trace_and_retrace(self, inductance, capacitance):
        """Trace and retrace add up to the line."""
        line = retrace(300.0, inductance, capacitance, LINE)

        assert math.isclose(1 / LINE, line.trace_s + line.retrace_s, rel_tol=1e-6)


class TestShortedTurns:
    def test_no_shorted_turns_change_nothing(self):
        """A sound winding keeps its inductance and has no loss."""
        left = shorted_turns(15e-3, 0.0, 0.3, 0.98, 55e3)

        assert math.isclose(15e-3, left.inductance_h, rel_tol=1e-6)
        assert left.loss_ohm > 1e9

    def test_tight_short_is_only_a_load(self):
        """With full coupling the loop looks like its resistance times the square of the turns."""
        left = shorted_turns(15e-3, 0.01, 0.3, 1.0, 55e3)

        assert math.isclose(0.3 / 0.01**2, left.loss_ohm, rel_tol=1e-6)
        assert math.isclose(15e-3, left.inductance_h, rel_tol=1e-6)

    def test_dead_short_leaves_the_leakage(self):
        """At high rates a dead short leaves one less coupling squared of the inductance."""
        left = shorted_turns(15e-3, 0.01, 1e-9, 0.9, 1e6)

        assert math.isclose(15e-3 * (1 - 0.81), left.inductance_h, rel_tol=1e-3)

    @given(st.floats(0.001, 0.05), st.floats(1.2, 4.0))
    @settings(max_examples=25)
    def test_more_shorted_turns_leave_less_inductance(self, turns, factor):
        """The more turns are shorted the lower the inductance."""
        few, many = (shorted_turns(15e-3, turns * k, 0.3 * k, 0.95, 55e3) for k in (1.0, factor))

        assert many.inductance_h < few.inductance_h


class TestBoost:
    def test_drive_lost_leaves_about_the_supply(self):
        """Without drive the boosted rail is B+ less the drop of the damper."""
        rail = boost(270.0, 0.0, 1.8, 7000.0, 60e3, damper_ohm=60.0, steady_a=0.2, **WINDING)

        assert 0.93 * 270.0 < rail.boost_v < 270.0
        assert rail.scan_v == 0.0

    def test_open_damper_leaves_near_zero(self):
        """With the damper open the boosted rail is near zero, not B+."""
        rail = boost(270.0, 75e-3, 1.8, 7000.0, 60e3, damper_ohm=1e9, **WINDING)

        assert abs(rail.boost_v) < 1.0

    def test_shorted_boost_capacitor_leaves_the_supply(self):
        """A shorted boost capacitor ties the rail to B+."""
        rail = boost(270.0, 75e-3, 1.8, 7000.0, 60e3, damper_ohm=60.0, leak_ohm=1e-3, **WINDING)

        assert math.isclose(270.0, rail.boost_v, rel_tol=0.01)
        assert rail.scan_v < 10.0

    def test_open_boost_capacitor_loses_the_scan(self):
        """An open boost capacitor leaves B+ and no scan."""
        rail = boost(270.0, 75e-3, 1.8, 7000.0, 60e3, damper_ohm=60.0, boost_f=1e-15, **WINDING)

        assert rail.scan_v < 1.0
        assert 240.0 < rail.boost_v < 271.0

    def test_shorted_load_pulls_the_rail_down(self):
        """A shorted load of the boosted rail leaves nothing and draws amperes."""
        rail = boost(270.0, 75e-3, 1.8, 7000.0, 1e-3, damper_ohm=60.0, **WINDING)

        assert rail.boost_v < 0.1
        assert rail.supply_a > 1.0

    @given(st.floats(10e3, 200e3), st.floats(1.1, 3.0))
    @settings(max_examples=25)
    def test_lighter_load_raises_the_boost(self, load, factor):
        """Lifting a load of the boosted rail raises it."""
        loaded, lighter = (
            boost(270.0, 60e-3, 1.8, 7000.0, load * k, damper_ohm=60.0, **WINDING).boost_v for k in (1.0, factor)
        )

        assert lighter >= loaded - 1e-9

    @given(st.floats(3e3, 1e6))
    @settings(max_examples=25)
    def test_power_is_kept(self, leak):
        """What the supply gives is what plate, loads, leak and losses take, within the damper's share."""
        rail = boost(270.0, 60e-3, 1.8, 7000.0, 60e3, damper_ohm=1.0, leak_ohm=leak, **WINDING)
        spent = rail.plate_a * rail.plate_low_v + rail.boost_v**2 / 60e3 + rail.scan_v**2 / 7000.0
        spent += (rail.boost_v - 270.0) ** 2 / leak

        assert math.isclose(270.0 * rail.supply_a, spent, rel_tol=0.02)

    def test_capacitor_share_has_its_limits(self):
        """A large boost capacitor leaves all, an open one nothing."""
        assert boost_capacitor_share(1.0, 14e-3, 54e-6) > 0.999
        assert boost_capacitor_share(1e-15, 14e-3, 54e-6) < 1e-3

    def test_ripple_falls_with_the_capacitor(self):
        """Twice the boost capacitor halves the ripple."""
        assert boost_ripple_v(270.0, 54e-6, 14e-3, 1.8, 1e-7) == 2 * boost_ripple_v(270.0, 54e-6, 14e-3, 1.8, 2e-7)

    def test_loss_of_a_lossless_winding_is_its_copper(self):
        """With nothing lost in the retrace the yoke's copper remains."""
        loss = scan_loss_ohm(14e-3, 54e-6, LINE, 1e12, 1.0, 12.0, 12e-3, 1.0)

        assert math.isclose(12.0 / (12.0 * (54e-6 / (12e-3 + 6.0 * 54e-6)) ** 2), loss, rel_tol=1e-3)


class TestOutputStage:
    def test_healthy_stage_makes_a_boost_and_a_raster(self):
        """A sound stage lies in the range of published sets."""
        healthy = _stage()

        assert 450.0 < healthy.boost_v < 700.0
        assert 0.9 < healthy.yoke_pp_a < 1.4
        assert 10e3 < healthy.rectifier_peak_v < 16e3
        assert 4e3 < healthy.plate_peak_v < 7e3

    @pytest.mark.parametrize(
        "fault",
        [
            {"turns_share": 0.01, "loop_ohm": 0.3},
            {"load_ohm": 6e3},
            {"leak_ohm": 5e3},
            {"boost_f": 3e-9},
            {"damper_ohm": 2e3},
        ],
    )
    def test_faults_take_boost_and_high_voltage_down_together(self, fault):
        """Loads and losses of every kind lower boost, width and high voltage."""
        healthy, faulty = _stage(), _stage(replace(PARTS, **fault))

        assert faulty.boost_v < 0.9 * healthy.boost_v
        assert faulty.rectifier_peak_v < 0.9 * healthy.rectifier_peak_v
        assert faulty.yoke_pp_a < healthy.yoke_pp_a

    def test_smaller_tuning_capacitor_raises_the_anode_voltage(self):
        """A tuning capacitor gone low raises the pulse at the rectifier, which also raises X-radiation."""
        assert _stage(replace(PARTS, tuning_f=400e-12)).rectifier_peak_v > 1.08 * _stage().rectifier_peak_v

    def test_yoke_of_more_inductance_narrows_the_raster(self):
        """A yoke of 20 mH in place of 12 mH is scanned less."""
        assert _stage(replace(PARTS, yoke_h=20e-3)).yoke_pp_a < 0.75 * _stage().yoke_pp_a

    def test_open_yoke_slows_the_retrace(self):
        """With the yoke open the winding alone rings far more slowly."""
        assert _stage(replace(PARTS, yoke_ohm=1e9)).retrace_s > 2 * _stage().retrace_s

    def test_lost_drive_overheats_the_plate(self):
        """With the drive lost the plate takes many times its rating and is red within a minute."""
        lost = _stage(drive_a=0.0, peak_a=0.0, steady_a=0.25, beam_a=0.0)

        assert lost.dissipation_w > 50.0
        assert red_plate_s(lost.dissipation_w, 11.0) < 60.0

    def test_plate_within_its_rating_stays_dark(self):
        """A plate below its rating is never counted as red."""
        assert red_plate_s(8.0, 11.0) == 1e6

    def test_beam_current_takes_the_high_voltage_down(self):
        """More beam loads the pulse."""
        assert _stage(beam_a=300e-6).rectifier_peak_v < _stage(beam_a=0.0).rectifier_peak_v

    def test_batch_is_one_call(self):
        """Ten thousand draws come back as arrays of that length, all finite."""
        rng = np.random.default_rng(7)
        drawn = replace(
            PARTS, yoke_h=rng.uniform(10e-3, 14e-3, 10_000), damper_ohm=10 ** rng.uniform(1, 9, 10_000)
        )
        result = _stage(drawn)

        for field in fields(result):
            value = getattr(result, field.name)
            assert np.shape(value) == (10_000,)
            assert np.all(np.isfinite(value))

    def test_batch_agrees_with_single_numbers(self):
        """An array of one case gives what the numbers give."""
        batch = _stage(replace(PARTS, yoke_h=np.array([12e-3, 15e-3])))

        assert math.isclose(_stage(replace(PARTS, yoke_h=15e-3)).boost_v, batch.boost_v[1], rel_tol=1e-9)


class TestRefusals:
    @pytest.mark.parametrize(
        ("function", "arguments", "name"),
        [
            (scan_voltage_v, (1.0, -1.0, 54e-6), "yoke_h"),
            (yoke_current_a, (-1.0, 1e-3, 54e-6), "scan_v"),
            (retrace, (1.0, 1e-3, 0.0, LINE), "tuning_f"),
            (shorted_turns, (1e-3, 1.5, 1.0, 0.9, 1e3), "turns_share"),
            (effective_inductance_h, (1.0, 0.0, 1.0), "yoke_h"),
            (width_share, (1.0, 1.0, 0.0, 1.0), "anode_v"),
            (red_plate_s, (50.0, -1.0), "rated_w"),
        ],
    )
    def test_senseless_values_are_refused_by_name(self, function, arguments, name):
        """A value without meaning is refused with the name of its argument."""
        with pytest.raises(OutOfRange, match=name):
            function(*arguments)

    def test_ratio_of_one_is_refused(self):
        """A plate on the damper's tap makes no boost and is refused."""
        with pytest.raises(OutOfRange, match="plate_ratio"):
            boost(270.0, 75e-3, 1.0, 7000.0, 60e3, damper_ohm=60.0, **WINDING)
