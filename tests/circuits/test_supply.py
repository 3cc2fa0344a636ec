"""Rectifiers, their faults, filter sections and times."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.supply import (
    Rectifier,
    bridge_output,
    cascade_doubler_output,
    full_wave_doubler_output,
    full_wave_output,
    half_wave_output,
)
from backporch.engine.circuits.supply_filters import (
    choke_section,
    decoupled_rail,
    dropper,
    least_leak_ohm,
    rail_impedance_ohm,
    rc_section,
)
from backporch.engine.circuits.supply_rectifiers import (
    hum_bars,
    ripple_bound_v,
    selenium_rectifier,
    triangular_ripple_rms_v,
    tube_rectifier,
    winding_source_ohm,
)
from backporch.engine.circuits.supply_times import bleed_down, charging_s, mains_current_a, shorted_reservoir_a
from backporch.engine.errors import OutOfRange

PEAK = 325.0 * math.sqrt(2.0)


def _full(**changed):
    parts = {"winding_v": 325.0, "mains_hz": 60.0, "source_ohm": 100.0, "reservoir_f": 80e-6, "load_ohm": 1470.0}
    return full_wave_output(**(parts | changed))


def _cascade(**changed):
    parts = {"mains_v": 117.0, "mains_hz": 60.0, "source_ohm": 5.0, "series_f": 200e-6, "reservoir_f": 100e-6}
    return cascade_doubler_output(**(parts | {"load_ohm": 900.0} | changed))


def _doubler(**changed):
    parts = {"mains_v": 117.0, "mains_hz": 60.0, "source_ohm": 5.0, "upper_f": 100e-6, "lower_f": 100e-6}
    return full_wave_doubler_output(**(parts | {"load_ohm": 900.0} | changed))


class TestLimits:
    def test_no_load_stands_at_the_peak(self):
        """Without load the reservoir stands at the peak of the winding."""
        found = _full(load_ohm=1e12)

        assert math.isclose(PEAK, found.dc_v, rel_tol=1e-3)
        assert found.ripple_v < 0.1

    def test_no_load_doubles(self):
        """Without load both doublers give twice the peak."""
        assert math.isclose(2.0 * 117.0 * math.sqrt(2.0), _cascade(load_ohm=1e9).dc_v, rel_tol=1e-3)
        assert math.isclose(2.0 * 117.0 * math.sqrt(2.0), _doubler(load_ohm=1e9).dc_v, rel_tol=1e-3)

    def test_no_capacitor_leaves_the_bare_half_waves(self):
        """A dried-out reservoir leaves the mean of the rectified wave behind the divider of source and load."""
        found = _full(reservoir_f=1e-9)

        assert math.isclose(2.0 / math.pi * PEAK * 1470.0 / 1570.0, found.dc_v, rel_tol=1e-3)
        assert math.isclose(PEAK * 1470.0 / 1570.0, found.ripple_v, rel_tol=0.01)

    def test_shorted_reservoir(self):
        """A shorted reservoir leaves nothing, and the peak current is that of the source alone."""
        found = _full(leak_ohm=1e-3)

        assert found.dc_v < 0.01
        assert math.isclose(PEAK / 100.0, found.peak_a, rel_tol=0.02)

    def test_no_mains_no_output(self):
        """Without mains there is nothing, and no error."""
        assert _full(winding_v=0.0).dc_v == pytest.approx(0.0, abs=1e-6)

    def test_load_as_a_current_is_met(self):
        """A load stated as a current takes that current on the mean."""
        assert math.isclose(0.25, _full(load_ohm=1e12, load_a=0.25).load_a, rel_tol=1e-3)

    def test_power_balance(self):
        """Power from the source is that of load and series resistance."""
        found = _full(reservoir_f=2000e-6)

        assert math.isclose(found.dc_v**2 / 1470.0 + found.source_a**2 * 100.0, found.source_w, rel_tol=2e-3)

    def test_half_wave_is_a_full_wave_with_one_half_dead(self):
        """One half dead leaves what a half-wave rectifier gives."""
        dead, half = _full(second_share=0.0), half_wave_output(325.0, 60.0, 100.0, 80e-6, 1470.0)

        assert math.isclose(half.dc_v, dead.dc_v, rel_tol=1e-9)

    def test_bridge_has_two_drops(self):
        """A bridge loses the drop of two diodes where a centre tap loses one."""
        tap = _full(rectifier=Rectifier(2.0)).dc_v
        bridge = bridge_output(325.0, 60.0, 100.0, 80e-6, 1470.0, rectifier=Rectifier(1.0)).dc_v

        assert math.isclose(tap, bridge, rel_tol=1e-9)


class TestFaults:
    @pytest.mark.parametrize("dead", ["first_share", "second_share"])
    def test_one_half_dead_gives_ripple_at_mains_rate(self, dead):
        """With one half dead the ripple doubles, at mains rate, and B+ sags."""
        sound, found = _full(), _full(**{dead: 0.0})

        assert (sound.ripple_hz, found.ripple_hz) == (120.0, 60.0)
        assert found.ripple_v > 1.9 * sound.ripple_v
        assert 0.8 * sound.dc_v < found.dc_v < 0.95 * sound.dc_v

    def test_one_weak_half_shows_as_mains_rate(self):
        """A tube with one worn section adds ripple at mains rate before anything fails."""
        found = _full(rectifier=tube_rectifier(44.0, 0.225), second_share=0.3)

        assert found.mains_rate_v > 1.0
        assert found.dc_v < _full(rectifier=tube_rectifier(44.0, 0.225)).dc_v

    def test_leak_is_an_extra_load(self):
        """A leaky reservoir acts as the same load beside the real one."""
        leaky = _full(leak_ohm=2000.0)
        loaded = _full(load_ohm=1.0 / (1.0 / 1470.0 + 1.0 / 2000.0))

        assert math.isclose(loaded.dc_v, leaky.dc_v, rel_tol=1e-9)
        assert leaky.load_a < loaded.load_a

    def test_cascade_with_open_series_capacitor(self):
        """An open series capacitor leaves next to nothing."""
        assert _cascade(series_f=1e-9).dc_v < 1.0

    def test_cascade_with_open_reservoir(self):
        """An open reservoir leaves about half, with ripple of nearly twice the peak at mains rate."""
        found = _cascade(reservoir_f=1e-9)

        assert 0.4 * _cascade().dc_v < found.dc_v < 0.65 * _cascade().dc_v
        assert found.ripple_v > 1.8 * 117.0 * math.sqrt(2.0)
        assert found.ripple_hz == 60.0

    @pytest.mark.parametrize("part", ["upper_f", "lower_f"])
    def test_full_wave_doubler_with_one_capacitor_open(self, part):
        """Either capacitor open leaves about half, with ripple at mains rate."""
        found = _doubler(**{part: 1e-9})

        assert 0.45 * _doubler().dc_v < found.dc_v < 0.65 * _doubler().dc_v
        assert found.ripple_hz == 60.0

    def test_clamp_rectifier_open(self):
        """With the clamp open the reversed series capacitor conducts: about half is left."""
        found = _cascade(clamp_share=0.0)

        assert 0.4 * _cascade().dc_v < found.dc_v < 0.65 * _cascade().dc_v
        assert found.first_capacitor_v < 0.0

    def test_dead_tube_gives_nothing(self):
        """A rectifier tube without emission leaves no B+."""
        assert _full(rectifier=tube_rectifier(44.0, 0.225), first_share=0.0, second_share=0.0).dc_v < 1.0

    def test_aged_selenium_lowers_the_voltage(self):
        """A tired selenium stack drops more than a new one, and both more than silicon."""
        volts = [_cascade(rectifier=selenium_rectifier(5.0, 0.35, age)).dc_v for age in (1.0, 3.0, 8.0)]

        assert _cascade(rectifier=Rectifier(0.8)).dc_v > volts[0] > volts[1] > volts[2]


class TestBatches:
    def test_ten_thousand_draws_with_faults_stay_physical(self):
        """A batch with open, leaky and worn parts gives finite values between zero and the peak."""
        rng = np.random.default_rng(7)
        n = 10_000
        found = _full(
            reservoir_f=10 ** rng.uniform(-15, -3, n),
            leak_ohm=10 ** rng.uniform(-3, 12, n),
            load_ohm=10 ** rng.uniform(2, 9, n),
            source_ohm=10 ** rng.uniform(-3, 3, n),
            first_share=rng.choice([0.0, 0.2, 1.0], n),
            rectifier=tube_rectifier(44.0, 0.225),
        )

        assert all(np.isfinite(value).all() for value in vars(found).values())
        assert found.dc_v.min() >= -1e-6
        assert found.dc_v.max() <= PEAK * 1.001

    def test_doublers_stay_physical(self):
        """A batch of doublers with any parts gives finite values up to twice the peak."""
        rng = np.random.default_rng(8)
        n = 2000
        farads = {name: 10 ** rng.uniform(-15, -3, n) for name in ("series_f", "reservoir_f")}
        leaks = {name: 10 ** rng.uniform(-3, 12, n) for name in ("series_leak_ohm", "leak_ohm")}
        found = _cascade(**farads, **leaks, clamp_share=rng.choice([0.0, 1.0], n))

        assert all(np.isfinite(value).all() for value in vars(found).values())
        assert found.dc_v.min() >= -1e-3
        assert found.dc_v.max() <= 2.0 * 117.0 * math.sqrt(2.0) * 1.001

    def test_batch_is_what_single_calls_give(self):
        """A draw in a batch gives what it gives alone."""
        farads = np.array([20e-6, 80e-6, 300e-6])
        batch = _full(
            reservoir_f=farads, second_share=np.array([1.0, 0.0, 0.5]), rectifier=tube_rectifier(44.0, 0.2)
        )
        alone = _full(reservoir_f=80e-6, second_share=0.0, rectifier=tube_rectifier(44.0, 0.2))

        assert math.isclose(alone.dc_v, batch.dc_v[1], rel_tol=1e-9)
        assert isinstance(alone.dc_v, float)


class TestMonotone:
    @settings(max_examples=40, deadline=None)
    @given(st.floats(1e-6, 1e-3), st.floats(300.0, 1e5), st.floats(1.0, 500.0))
    def test_more_load_or_more_source_resistance_lowers_the_voltage(self, farads, load, source):
        """B+ falls with load and with source resistance and rises with the mains."""
        base = _full(reservoir_f=farads, load_ohm=load, source_ohm=source).dc_v

        assert _full(reservoir_f=farads, load_ohm=0.8 * load, source_ohm=source).dc_v < base
        assert _full(reservoir_f=farads, load_ohm=load, source_ohm=1.2 * source).dc_v < base

    @settings(max_examples=30, deadline=None)
    @given(st.floats(1e-6, 1e-3), st.floats(300.0, 1e5))
    def test_ripple_stays_under_its_bound(self, farads, load):
        """The ripple never exceeds the charge of a whole period over the reservoir."""
        found = _full(reservoir_f=farads, load_ohm=load)

        assert found.ripple_v <= ripple_bound_v(found.load_a, farads, 120.0) * 1.001

    @settings(max_examples=30, deadline=None)
    @given(st.floats(0.2, 5.0))
    def test_voltages_scale_with_the_winding(self, times):
        """With ideal rectifiers all voltages scale with the winding."""
        assert math.isclose(times * _full().dc_v, _full(winding_v=325.0 * times).dc_v, rel_tol=1e-9)

    @settings(max_examples=30, deadline=None)
    @given(st.floats(0.05, 0.95))
    def test_less_emission_less_voltage(self, share):
        """B+ falls as the rectifier tube wears."""
        worn = _full(rectifier=tube_rectifier(44.0, 0.225), first_share=share, second_share=share).dc_v

        assert worn < _full(rectifier=tube_rectifier(44.0, 0.225)).dc_v


class TestRectifierParts:
    def test_tube_meets_its_point(self):
        """The perveance gives back the point that it was made from."""
        assert math.isclose(0.225, tube_rectifier(44.0, 0.225).perveance_perv * 44.0**1.5, rel_tol=1e-12)

    def test_winding_resistance_is_referred_by_the_square(self):
        """The primary counts with the square of the turns ratio."""
        assert winding_source_ohm(50.0, 4.0, 3.0) == 86.0

    def test_triangular_rms(self):
        """The RMS of a triangle of 26 V is 7.5 V."""
        assert math.isclose(7.506, triangular_ripple_rms_v(26.0), rel_tol=1e-3)

    def test_hum_bars(self):
        """Mains rate lays one bar, twice mains rate two, and 60 Hz hum on a 50 Hz picture weaves at 10 Hz."""
        assert hum_bars(60.0, 60.0).count == 1.0
        assert hum_bars(120.0, 60.0).count == 2.0
        assert hum_bars(50.0, 60.0).drift_hz == 10.0


class TestFilters:
    def test_rc_by_hand(self):
        """A choke without inductance is a resistor."""
        resistor = rc_section(300.0, 10.0, 120.0, 1e3, 40e-6, 10e3)
        choke = choke_section(300.0, 10.0, 120.0, 0.0, 1e3, 40e-6, 10e3)

        assert resistor == choke

    def test_open_capacitor_passes_the_ripple(self):
        """With the filter capacitor open the ripple is that of the bare divider."""
        found = choke_section(300.0, 16.0, 120.0, 0.0, 100.0, 1e-15, 1500.0)

        assert math.isclose(1500.0 / 1600.0, found.ripple_share, rel_tol=1e-6)

    def test_a_drying_capacitor_may_resonate_with_the_choke(self):
        """Near resonance there is more ripple behind the choke than before it."""
        farads = 1.0 / ((2 * math.pi * 60.0) ** 2 * 2.0)

        assert choke_section(300.0, 16.0, 60.0, 2.0, 60.0, farads, 3000.0).ripple_share > 1.0

    @settings(max_examples=40, deadline=None)
    @given(st.floats(1e-6, 1e-3), st.floats(10.0, 1e5))
    def test_twice_the_capacitor_half_the_ripple(self, farads, ohm):
        """Where the capacitor dominates, its double halves the ripple."""
        if 2 * math.pi * 120.0 * farads * ohm < 50.0:
            return
        ripple = [rc_section(300.0, 10.0, 120.0, ohm, c, 1e9).ripple_v for c in (farads, 2.0 * farads)]

        assert math.isclose(2.0, ripple[0] / ripple[1], rel_tol=1e-3)

    def test_leaky_decoupling_capacitor_burns_its_feed(self):
        """A shorted decoupling capacitor leaves no rail and puts the whole supply on its feed resistor."""
        found = decoupled_rail(280.0, 0.2, 120.0, 10e3, 10e-6, 20e3, leak_ohm=1e-3)

        assert found.dc_v < 0.001
        assert math.isclose(280.0**2 / 10e3, found.feed_w, rel_tol=1e-6)

    def test_open_feed_leaves_nothing(self):
        """An open feed resistor leaves the rail dead."""
        assert decoupled_rail(280.0, 0.2, 120.0, 1e9, 10e-6, 20e3).dc_v < 0.01

    def test_open_decoupling_raises_the_impedance_to_the_feed(self):
        """Without its capacitor a rail has the impedance of feed and load in parallel."""
        assert math.isclose(1e3, rail_impedance_ohm(2e3, 1e-15, 60.0, 2e3), rel_tol=1e-6)

    def test_dropper_and_leak_rule(self):
        """A dropper follows Ohm, a screen fed by 100 k wants a capacitor of 2 M or better."""
        assert dropper(15.0, 0.25).resistance_ohm == 60.0
        assert least_leak_ohm(100e3) == 2e6


class TestTimes:
    def test_bleed_down_by_hand(self):
        """300 V on 100 uF fall to 50 V in 17.9 s through 100 k and in 0.18 s through 1 k."""
        found = bleed_down(300.0, 50.0, 100e-6, np.array([100e3, 1e3]))

        assert found.time_s == pytest.approx([17.92, 0.1792], rel=1e-3)
        assert found.energy_j == pytest.approx(4.5)

    def test_nothing_to_bleed(self):
        """A capacitor below the voltage asked for takes no time."""
        assert bleed_down(20.0, 50.0, 100e-6, 1e3).time_s == 0.0

    def test_charging_scales(self):
        """Charging time goes with resistance and capacitance, and is nothing for nothing."""
        assert math.isclose(2.0 * charging_s(0.9, 100.0, 2e-4), charging_s(0.9, 200.0, 2e-4), rel_tol=1e-12)
        assert charging_s(0.0, 100.0, 2e-4) == pytest.approx(0.0, abs=1e-12)

    def test_mains_current_of_sines_adds_up(self):
        """Where the pulses are a sine in phase the currents add."""
        assert math.isclose(1.5, mains_current_a(117.0, 1.0, 117.0, 0.5 * 117.0), rel_tol=1e-12)

    def test_shorted_reservoir_current(self):
        """Full wave gives the whole RMS, half wave less by the square root of two."""
        assert math.isclose(23.4, shorted_reservoir_a(117.0, 5.0), rel_tol=1e-12)
        assert math.isclose(23.4 / math.sqrt(2.0), shorted_reservoir_a(117.0, 5.0, half_waves=1.0), rel_tol=1e-12)


class TestRefusals:
    @pytest.mark.parametrize(
        ("name", "value"),
        [("mains_hz", 0.0), ("reservoir_f", 0.0), ("load_ohm", -1.0), ("source_ohm", -1.0), ("winding_v", -1.0)],
    )
    def test_bad_part_is_named(self, name, value):
        """A part without meaning is refused by name and value."""
        expected = "source_v" if name == "winding_v" else "first_f" if name == "reservoir_f" else name
        with pytest.raises(OutOfRange, match=f"{expected} is {value:g}"):
            _full(**{name: value})

    def test_bad_share(self):
        """A share above one is refused."""
        with pytest.raises(OutOfRange, match=r"first_share is 1\.5"):
            _full(first_share=1.5)

    def test_charging_to_the_peak(self):
        """Charging to the very peak takes for ever and is refused."""
        with pytest.raises(OutOfRange, match="to_share is 1"):
            charging_s(1.0, 100.0, 2e-4)

    @pytest.mark.parametrize("call", [lambda: dropper(1.0, 0.0), lambda: rc_section(1.0, 1.0, 0.0, 1.0, 1.0, 1.0)])
    def test_zero_where_it_has_no_meaning(self, call):
        """Zero current and zero rate are refused."""
        with pytest.raises(OutOfRange, match="expected above zero"):
            call()
