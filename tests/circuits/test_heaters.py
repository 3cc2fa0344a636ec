"""Heaters, lamps, thermistors, series strings, windings and the limiter lamp."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.circuits.heaters import (
    Lamp,
    Thermistor,
    dropper_ohm,
    heater_current_a,
    heater_ohm,
    lamp_ohm,
    thermistor_ohm,
    tungsten_ohm,
)
from backporch.engine.circuits.heaters_string import (
    Heater,
    StringFeed,
    cold_inrush_a,
    heater_string,
    open_heater_reading_v,
)
from backporch.engine.circuits.heaters_supply import lamp_limiter, parallel_winding
from backporch.engine.errors import BadInput, OutOfRange

VOLTS = (21.5, 17.0, 16.0, 16.0, 9.0, 6.3, 6.3, 6.3, 6.3, 7.0, 15.0, 6.3, 19.0, 6.3)
STRING = [Heater(volts, 0.3) for volts in VOLTS]
FEED = StringFeed(195.0, thermistor=Thermistor())


def _with(place, **fault):
    changed = list(STRING)
    changed[place] = replace(changed[place], **fault)
    return changed


class TestElements:
    def test_heater_hot_and_cold(self):
        """A heater has its rated resistance at its rated current and a seventh of it cold."""
        assert math.isclose(21.0, heater_ohm(0.3, 6.3, 0.3), rel_tol=1e-12)
        assert math.isclose(3.0, heater_ohm(0.0, 6.3, 0.3), rel_tol=1e-12)

    def test_heater_current_undoes_the_resistance(self):
        """The current at the rated voltage is the rated current."""
        assert math.isclose(0.6, heater_current_a(6.3, 6.3, 0.6), rel_tol=1e-9)

    def test_lamp_rises_more_than_a_heater(self):
        """A lamp's resistance rises more from cold to hot than a heater's."""
        lamp = lamp_ohm(0.5, 230.0, 115.0) / lamp_ohm(0.0, 230.0, 115.0)
        heater = heater_ohm(0.3, 6.3, 0.3) / heater_ohm(0.0, 6.3, 0.3)

        assert lamp > 2.0 * heater

    @settings(max_examples=40, deadline=None)
    @given(st.floats(0.0, 1.0), st.floats(0.001, 1.0))
    def test_resistance_rises_with_current(self, current, more):
        """Tungsten rises and a thermistor falls with current."""
        assert heater_ohm(current + more, 6.3, 0.3) > heater_ohm(current, 6.3, 0.3)
        assert thermistor_ohm(current + more, Thermistor()) < thermistor_ohm(current, Thermistor())

    @settings(max_examples=40, deadline=None)
    @given(st.floats(1e-6, 10.0))
    def test_thermistor_balances_its_power(self, current):
        """The temperature that belongs to the resistance gives off the power that is taken."""
        ohm = thermistor_ohm(current, Thermistor())
        steep = math.log(5500.0 / 40.0) / (1 / 298.15 - 1 / 523.15)
        kelvin = 1.0 / (1.0 / 298.15 + math.log(ohm / 5500.0) / steep)

        assert math.isclose(
            0.3**2 * 40.0 / 225.0 * (kelvin - 298.15), current**2 * ohm, rel_tol=1e-5, abs_tol=1e-11
        )


class TestString:
    def test_healthy_string(self):
        """A string designed by the dropper formula takes its rated current."""
        feed = replace(FEED, dropper_ohm=dropper_ohm(230.0, sum(VOLTS), 0.3, 12.0))
        found = heater_string(230.0, STRING, feed)

        assert math.isclose(0.3, found.current_a, rel_tol=1e-6)
        assert found.heater_v == pytest.approx(VOLTS, rel=1e-5)
        assert found.node_v[0] == pytest.approx(sum(VOLTS), rel=1e-5)

    def test_voltages_add_up_to_the_mains(self):
        """Dropper, thermistor and heaters share the mains."""
        found = heater_string(240.0, STRING, FEED)

        assert math.isclose(240.0, found.dropper_v + found.thermistor_v + found.heater_v.sum(), rel_tol=1e-6)

    def test_more_mains_less_than_as_much_more_current(self):
        """Mains 5 % up raise the current by less, as the heaters rise."""
        low, high = (heater_string(volts, STRING, FEED).current_a for volts in (230.0, 241.5))

        assert 1.02 < high / low < 1.05

    @pytest.mark.parametrize("place", [0, 6, 13])
    def test_open_heater_puts_the_mains_across_the_break(self, place):
        """All nodes up to the break have the mains, all beyond have nothing, and no heater glows."""
        found = heater_string(230.0, _with(place, series_ohm=1e9), FEED)

        assert found.node_v[: place + 1] == pytest.approx(230.0, rel=1e-3)
        assert found.node_v[place + 1 :] == pytest.approx(0.0, abs=1e-3)
        assert found.heat_share.max() < 1e-9

    def test_meter_at_the_nodes_of_an_open_string(self):
        """A meter on the mains side of the break reads the mains less its own small share of the cold chain."""
        found = heater_string(230.0, _with(6, series_ohm=1e9), FEED)
        chain = 5500.0 + 195.0 + sum(VOLTS[:6]) / 0.3 / 7.0

        assert (found.node_v * 1e6 / (1e6 + found.node_source_ohm))[6] == pytest.approx(
            open_heater_reading_v(230.0, chain, 1e6), rel=1e-3
        )
        assert (found.node_v * 2e4 / (2e4 + found.node_source_ohm))[6] == pytest.approx(
            230.0 * 2e4 / (2e4 + chain), rel=1e-3
        )

    def test_heater_cathode_short(self):
        """Tubes towards the mains are over-run, those from the short on are dark."""
        found = heater_string(230.0, _with(6, cathode_ohm=5.0), FEED)

        assert found.heat_share[:6].min() > 1.5
        assert found.heat_share[6:].max() < 0.05

    def test_short_near_the_chassis_does_less(self):
        """The nearer to the chassis end the short, the fewer are dark and the less the others are over-run."""
        early, late = (heater_string(230.0, _with(place, cathode_ohm=1.0), FEED) for place in (3, 12))

        assert early.heat_share[0] > late.heat_share[0] > 1.0
        assert (early.heat_share < 0.1).sum() > (late.heat_share < 0.1).sum()

    def test_tube_of_half_the_current(self):
        """A heater of half the string's current is over-run in it, the others run a little cool."""
        found = heater_string(230.0, _with(6, rated_v=12.6, rated_a=0.15), FEED)

        assert found.heat_share[6] > 3.0
        assert 0.6 < found.heat_share[0] < 0.95

    def test_shunt_saves_the_small_heater(self):
        """A resistor that takes the rest of the current gives a small heater its own."""
        found = heater_string(230.0, _with(6, rated_v=12.6, rated_a=0.15, shunt_ohm=84.0), FEED)

        assert 0.9 < found.heat_share[6] < 1.1

    def test_tube_of_more_current_runs_cold(self):
        """A heater of more current than the string's stays dull."""
        assert heater_string(230.0, _with(6, rated_v=6.3, rated_a=0.6), FEED).heat_share[6] < 0.25

    def test_lamp_leaves_half(self):
        """A lamp of 60 W leaves a 0.3 A string on 230 V little more than half its current."""
        found = heater_string(230.0, STRING, replace(FEED, lamp=Lamp(230.0, 60.0)))

        assert 0.14 < found.current_a < 0.2
        assert found.after_lamp_v < 0.6 * 230.0
        assert found.heat_share.max() < 0.4

    def test_half_wave_string(self):
        """A diode gives a string the RMS of half-waves."""
        half = heater_string(230.0, STRING, replace(FEED, half_wave=True))
        full = heater_string(230.0 / math.sqrt(2.0), STRING, FEED)

        assert math.isclose(full.current_a, half.current_a, rel_tol=1e-12)

    def test_batch_with_faults_stays_finite(self):
        """Ten thousand draws with opens and shorts give finite values that respect the mains."""
        rng = np.random.default_rng(3)
        n = 10_000
        tubes = [
            Heater(
                v * rng.normal(1.0, 0.05, n), 0.3, 10 ** rng.uniform(-3, 9, n), 1e12, 10 ** rng.uniform(-3, 12, n)
            )
            for v in (20.0, 60.0, 80.0)
        ]
        found = heater_string(230.0, tubes, FEED)

        assert np.isfinite(found.heat_share).all()
        assert found.node_v.max() <= 230.0 * (1 + 1e-9)
        assert np.abs(found.dropper_v + found.thermistor_v + found.node_v[0] - 230.0).max() < 1e-3

    def test_batch_is_what_single_calls_give(self):
        """A draw in a batch gives what it gives alone, as a float."""
        batch = heater_string(np.array([200.0, 230.0]), STRING, FEED)
        alone = heater_string(230.0, STRING, FEED)

        assert isinstance(alone.current_a, float)
        assert math.isclose(alone.current_a, batch.current_a[1], rel_tol=1e-12)


class TestInrush:
    def test_with_and_without_thermistor(self):
        """A thermistor brings the first current from three times the rated one down to a seventh of it."""
        bare = cold_inrush_a(230.0, STRING, StringFeed(195.0))

        assert math.isclose(0.85, bare, rel_tol=0.01)
        assert math.isclose(0.040, cold_inrush_a(230.0, STRING, FEED), rel_tol=0.01)

    def test_mixed_cold_chain(self):
        """The chain of an open string is the cold one."""
        assert cold_inrush_a(230.0, _with(2, series_ohm=1e9), FEED) < 1e-6


class TestWinding:
    def test_one_open_leaves_the_rest(self):
        """One heater open leaves the others a little brighter."""
        tubes = [Heater(6.3, 0.6)] * 4
        sound = parallel_winding(6.8, 0.2, tubes)
        found = parallel_winding(6.8, 0.2, [replace(tubes[0], series_ohm=1e9), *tubes[1:]])

        assert found.heat_share[0] < 1e-9
        assert 1.0 < found.heat_share[1] / sound.heat_share[1] < 1.1

    def test_bad_contact_dims_one(self):
        """A contact of an ohm costs its own tube heat and leaves the others."""
        found = parallel_winding(6.3, 0.0, [Heater(6.3, 0.6, series_ohm=1.0), Heater(6.3, 0.6)])

        assert found.heat_share[0] < 0.95
        assert math.isclose(1.0, found.heat_share[1], rel_tol=1e-6)

    @settings(max_examples=30, deadline=None)
    @given(st.floats(3.0, 9.0), st.floats(0.0, 2.0))
    def test_winding_obeys_ohm(self, volts, ohm):
        """The winding loses its resistance times the whole current."""
        found = parallel_winding(volts, ohm, [Heater(6.3, 0.3), Heater(6.3, 0.6)])

        assert math.isclose(volts, found.winding_v + ohm * found.total_a, rel_tol=1e-6)


class TestLimiter:
    def test_short_lights_the_lamp(self):
        """A shorted set lights the lamp fully and gets next to nothing."""
        found = lamp_limiter(230.0, 0.1, Lamp(230.0, 100.0))

        assert found.lamp_share > 0.98
        assert found.set_v < 1.0

    def test_big_lamp_before_a_small_load_lets_readings_count(self):
        """Before a small load the lamp stays cold and the set has nearly the mains."""
        found = lamp_limiter(230.0, 230.0**2 / 10.0, Lamp(230.0, 200.0))

        assert found.set_v > 0.95 * 230.0
        assert found.readings_count is True

    @settings(max_examples=30, deadline=None)
    @given(st.floats(1.0, 1e4), st.floats(25.0, 300.0))
    def test_heavier_set_brighter_lamp(self, ohm, watts):
        """The heavier the load the brighter the lamp."""
        lamp = Lamp(117.0, watts)

        assert lamp_limiter(117.0, ohm, lamp).lamp_share > lamp_limiter(117.0, 1.2 * ohm, lamp).lamp_share


class TestRefusals:
    def test_empty_string(self):
        """A string and a winding without heaters are refused."""
        with pytest.raises(BadInput, match="no heaters"):
            heater_string(230.0, [], FEED)
        with pytest.raises(BadInput, match="no heaters"):
            parallel_winding(6.3, 0.1, [])

    def test_bad_values_are_named(self):
        """A negative current, a cold share of one and a thermistor upside down are refused."""
        with pytest.raises(OutOfRange, match="current_a is -1"):
            heater_ohm(-1.0, 6.3, 0.3)
        with pytest.raises(OutOfRange, match="cold_share is 1"):
            tungsten_ohm(0.1, 0.3, 21.0, 1.0, 0.65)
        with pytest.raises(OutOfRange, match="hot point"):
            thermistor_ohm(0.1, Thermistor(cold_ohm=40.0, hot_ohm=5500.0))

    def test_too_many_heaters_for_the_mains(self):
        """Heaters that need more than the mains leave nothing to drop."""
        with pytest.raises(OutOfRange, match="heaters_v leaves -13 V"):
            dropper_ohm(117.0, 130.0, 0.3)
