"""Heaters agree with published figures, with worked cases, and with a circuit simulator."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from scipy.optimize import brentq

from backporch.engine.circuits.heaters import (
    Lamp,
    Thermistor,
    dropper_ohm,
    heater_current_a,
    heater_ohm,
    lamp_ohm,
    thermistor_ohm,
)
from backporch.engine.circuits.heaters_string import (
    Heater,
    StringFeed,
    cold_inrush_a,
    heater_string,
    open_heater_reading_v,
)
from backporch.engine.circuits.heaters_supply import lamp_limiter

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "heaters.yaml"
VOLTS = (21.5, 17.0, 16.0, 16.0, 9.0, 6.3, 6.3, 6.3, 6.3, 7.0, 15.0, 6.3, 19.0, 6.3)
STRING = [Heater(volts, 0.3) for volts in VOLTS]
FEED = StringFeed(195.0)


def _with(place, **fault):
    changed = list(STRING)
    changed[place] = replace(changed[place], **fault)
    return changed


FAULTS = {
    "healthy": STRING,
    "sixth short to cathode": _with(5, cathode_ohm=10.0),
    "leak of 500 ohm at the third": _with(2, cathode_ohm=500.0),
    "tenth of 0.15 A": _with(9, rated_v=12.6, rated_a=0.15),
    "contact of 50 ohm": _with(3, series_ohm=50.0),
}


def _netlist(tubes):
    """Return the string as parts: each heater a voltage that its own current makes, by the law of its wire."""
    lines = ["heater string", "vm mains 0 230", f"rd mains n0 {FEED.dropper_ohm}"]
    for k, tube in enumerate(tubes):
        hot, cold, bend = tube.rated_v / tube.rated_a, 1.0 / 7.0, 0.65 / (1.0 - 1.0 / 7.0)
        law = f"i(vs{k})*{hot}*({cold}+{1 - cold}*(abs(i(vs{k}))/{tube.rated_a}+1e-6)^{bend})"
        lines += [
            f"rc{k} n{k} s{k} {tube.series_ohm + 1e-6}",
            f"vs{k} s{k} h{k} 0",
            f"b{k} h{k} n{k + 1} v={law}",
            f"rk{k} n{k} 0 {tube.cathode_ohm}",
        ]
    return "\n".join([*lines, f"re n{len(tubes)} 0 1e-6", ".op"]) + "\n"


ROWS = {
    **{
        f"string current, {name}": (lambda t=tubes: heater_string(230.0, t, FEED).current_a)
        for name, tubes in FAULTS.items()
    },
    **{
        f"voltage at the fourth node, {name}": (lambda t=tubes: float(heater_string(230.0, t, FEED).node_v[3]))
        for name, tubes in FAULTS.items()
    },
    "dropper of a 0.6 A string": lambda: dropper_ohm(117.0, 68.75, 0.6),
    "dropper of a 0.3 A string with thermistor": lambda: dropper_ohm(230.0, 158.3, 0.3, 13.2),
    "inrush without thermistor": lambda: cold_inrush_a(230.0, STRING, FEED),
    "inrush with thermistor": lambda: cold_inrush_a(230.0, STRING, replace(FEED, thermistor=Thermistor())),
    "10 M across an open in 110 ohm": lambda: open_heater_reading_v(117.0, 110.0, 10e6),
    "6.3 V, 0.3 A heater cold": lambda: heater_ohm(0.0, 6.3, 0.3),
    "current at 5 % more heater voltage": lambda: heater_current_a(1.05 * 6.3, 6.3, 0.3) / 0.3,
    "lamp of 60 W on 230 V, hot": lambda: lamp_ohm(60.0 / 230.0, 230.0, 60.0),
    "lamp of 100 W on 120 V, cold": lambda: lamp_ohm(0.0, 120.0, 100.0),
    "thermistor at 0.1 A": lambda: thermistor_ohm(0.1, Thermistor()),
    "limiter of 100 W before 150 W: current": lambda: (
        lamp_limiter(230.0, 230.0**2 / 150.0, Lamp(230.0, 100.0)).current_a
    ),
}


def thermistor_by_balance(current):
    """Return the resistance of the default thermistor from its balance of power, solved by itself."""
    steep = math.log(5500.0 / 40.0) / (1 / 298.15 - 1 / 523.15)

    def ohm(kelvin):
        return 5500.0 * math.exp(steep * (1 / kelvin - 1 / 298.15))

    return ohm(brentq(lambda k: current**2 * ohm(k) - 0.3**2 * 40.0 / 225.0 * (k - 298.15), 298.15, 2000.0))


class TestPublished:
    def test_five_per_cent_more_voltage(self):
        """Five per cent more heater voltage drives three per cent more current (van-de-walle-heaters)."""
        assert math.isclose(1.03, heater_current_a(1.05, 1.0, 1.0), abs_tol=0.002)

    def test_inrush_is_within_the_measured_span(self):
        """Cold resistance gives an inrush within 2.7 to 7.2 times the rated current (heater-inrush-2004)."""
        assert 2.7 < heater_ohm(0.3, 6.3, 0.3) / heater_ohm(0.0, 6.3, 0.3) < 7.2

    def test_cold_lamp(self):
        """A lamp of 100 W and 120 V has about 9.5 ohm cold and 144 ohm hot (lamp-cold-note)."""
        assert math.isclose(9.5, lamp_ohm(0.0, 120.0, 100.0), rel_tol=0.02)
        assert math.isclose(144.0, lamp_ohm(100.0 / 120.0, 120.0, 100.0), rel_tol=1e-9)


class TestSolved:
    @pytest.mark.parametrize("current", [0.003, 0.03, 0.1, 0.3, 0.6])
    def test_thermistor(self, current):
        """The thermistor settles where a root finder finds the balance of power."""
        assert math.isclose(thermistor_by_balance(current), thermistor_ohm(current, Thermistor()), rel_tol=1e-6)

    def test_string_with_lamp_and_thermistor(self):
        """String, lamp and thermistor share the mains at the current that a root finder finds."""
        feed = StringFeed(195.0, thermistor=Thermistor(), lamp=Lamp(230.0, 60.0))

        def left(current):
            chain = sum(heater_ohm(current, volts, 0.3) for volts in VOLTS) + 195.0
            return 230.0 - current * (chain + thermistor_by_balance(current) + lamp_ohm(current, 230.0, 60.0))

        assert math.isclose(brentq(left, 0.05, 0.5), heater_string(230.0, STRING, feed).current_a, rel_tol=1e-5)


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("name", FAULTS)
    def test_nodes(self, spice, name):
        """Every node of the string meets a simulation of its parts within half a per cent."""
        tubes = FAULTS[name]
        nodes = [f"v(n{k})" for k in range(len(tubes))]
        found = spice(_netlist(tubes), nodes)
        state = heater_string(230.0, tubes, FEED)

        assert state.node_v == pytest.approx([found[node][0] for node in nodes], rel=0.005, abs=0.01)


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text(encoding="utf-8")), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = ROWS[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)
