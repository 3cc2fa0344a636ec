"""Supplies agree with a circuit simulator, with integrations of their own, and with published figures."""

import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.integrate import quad, solve_ivp

from backporch.engine.circuits.supply import (
    bridge_output,
    cascade_doubler_output,
    full_wave_doubler_output,
    full_wave_output,
    half_wave_output,
)
from backporch.engine.circuits.supply_filters import choke_section, rc_section
from backporch.engine.circuits.supply_rectifiers import (
    hum_bars,
    ripple_bound_v,
    tube_rectifier,
)
from backporch.engine.circuits.supply_times import bleed_down, charging_s

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "supply.yaml"
PERVEANCE = 0.225 / 44.0**1.5
TUBE = tube_rectifier(44.0, 0.225)

FULL = {"winding_v": 325.0, "mains_hz": 60.0, "source_ohm": 100.0, "reservoir_f": 80e-6, "load_ohm": 1469.0}
HALF = {"mains_v": 117.0, "mains_hz": 60.0, "source_ohm": 22.0, "reservoir_f": 100e-6, "load_ohm": 654.0}
BRIDGE = {"mains_v": 230.0, "mains_hz": 50.0, "source_ohm": 30.0, "reservoir_f": 100e-6, "load_ohm": 930.0}
CASCADE = {
    "mains_v": 117.0,
    "mains_hz": 60.0,
    "source_ohm": 5.0,
    "series_f": 200e-6,
    "reservoir_f": 100e-6,
    "load_ohm": 923.0,
}
DOUBLER = {
    "mains_v": 117.0,
    "mains_hz": 60.0,
    "source_ohm": 5.0,
    "upper_f": 100e-6,
    "lower_f": 100e-6,
    "load_ohm": 937.0,
}
"""Loads that take the currents of the published check cases."""


def _element(name, plate, cathode, parts, share):
    """Return a rectifier as parts: a tube by its law, or a diode behind its share of resistance."""
    if parts.get("rectifier") is TUBE:
        law = f"{PERVEANCE * share}*v({plate},{cathode})^1.5"
        return f"b{name} {plate} {cathode} i=v({plate},{cathode})>0 ? {law} : 0\n"
    if share == 0.0:
        return ""
    return f"d{name} {plate} {cathode} ideal\n"


def _head(parts, phases):
    """Return title, sources with their resistance, and models."""
    peak = math.sqrt(2.0) * parts.get("winding_v", parts.get("mains_v"))
    rate, source = parts["mains_hz"], parts["source_ohm"]
    lines = ["supply", ".model ideal d(is=1e-12 n=0.02)"]
    for node, phase in phases.items():
        lines += [f"v{node} {node} 0 sin(0 {peak} {rate} 0 0 {phase})", f"r{node} {node} {node}s {source}"]
    return "\n".join(lines) + "\n"


def _tail(parts, cycles):
    period = 1.0 / parts["mains_hz"]
    times = (period / 400, cycles * period, (cycles - 2) * period, period / 400)
    return f"r1 out 0 {parts['load_ohm']}\n.tran {' '.join(map(str, times))} uic\n"


def _full_wave(parts):
    net = _head(parts, {"a": 0, "b": 180})
    net += _element("1", "as", "out", parts, parts.get("first_share", 1.0))
    net += _element("2", "bs", "out", parts, parts.get("second_share", 1.0))
    net += f"c1 out 0 {parts['reservoir_f']} ic=300\nr2 out 0 {parts.get('leak_ohm', 1e12)}\n"
    return net + _tail(parts, 60)


def _half_wave(parts):
    net = _head(parts, {"a": 0}) + _element("1", "as", "out", parts, parts.get("rectifier_share", 1.0))
    return net + f"c1 out 0 {parts['reservoir_f']} ic=120\n" + _tail(parts, 60)


def _bridge(parts):
    peak, rate = math.sqrt(2.0) * parts["mains_v"], parts["mains_hz"]
    net = f"bridge\n.model ideal d(is=1e-12 n=0.02)\nva a b sin(0 {peak} {rate})\nra a as {parts['source_ohm']}\n"
    net += "d1 as out ideal\nd2 b out ideal\nd3 0 as ideal\nd4 0 b ideal\nrg b 0 1e9\n"
    return net + f"c1 out 0 {parts['reservoir_f']} ic=250\n" + _tail(parts, 60)


def _cascade(parts):
    net = _head(parts, {"a": 0}) + f"c1 x as {parts['series_f']} ic=130\n"
    net += f"d1 x out ideal\nd2 0 x ideal\nr3 x as {parts.get('series_leak_ohm', 1e12)}\n"
    net += f"c2 out 0 {parts['reservoir_f']} ic=250\n"
    return net + _tail(parts, 60)


def _doubler(parts):
    net = _head(parts, {"a": 0}).replace("0 sin", "m sin") + "d1 as out ideal\nd2 0 as ideal\n"
    net += f"c1 out m {parts['upper_f']} ic=130\nc2 m 0 {parts['lower_f']} ic=130\nr3 m 0 1e9\n"
    return net + _tail(parts, 60)


CIRCUITS = {
    "full wave": (full_wave_output, _full_wave, FULL),
    "half wave": (half_wave_output, _half_wave, HALF),
    "bridge": (bridge_output, _bridge, BRIDGE),
    "cascade doubler": (cascade_doubler_output, _cascade, CASCADE),
    "full-wave doubler": (full_wave_doubler_output, _doubler, DOUBLER),
}
DESIGNS = {
    "full wave": ("full wave", {}),
    "full wave, 170 ohm, 40 uF": ("full wave", {"source_ohm": 170.0, "reservoir_f": 40e-6, "load_ohm": 1312.0}),
    "full wave, tube": ("full wave", {"source_ohm": 60.0, "rectifier": TUBE}),
    "full wave, worn tube": ("full wave", {"rectifier": TUBE, "first_share": 0.3, "second_share": 0.3}),
    "full wave, one half worn": ("full wave", {"rectifier": TUBE, "second_share": 0.2}),
    "full wave, one half dead": ("full wave", {"second_share": 0.0}),
    "full wave, reservoir at 5 uF": ("full wave", {"reservoir_f": 5e-6}),
    "full wave, reservoir dried out": ("full wave", {"reservoir_f": 1e-9}),
    "full wave, leaky reservoir": ("full wave", {"leak_ohm": 2000.0}),
    "half wave": ("half wave", {}),
    "half wave, 230 V": (
        "half wave",
        {"mains_v": 230.0, "mains_hz": 50.0, "source_ohm": 50.0, "reservoir_f": 200e-6, "load_ohm": 775.0},
    ),
    "half wave, tube": ("half wave", {"rectifier": TUBE, "mains_v": 230.0}),
    "bridge": ("bridge", {}),
    "cascade doubler": ("cascade doubler", {}),
    "cascade doubler, 100 uF": ("cascade doubler", {"series_f": 100e-6, "load_ohm": 859.0}),
    "cascade doubler, series at 10 uF": ("cascade doubler", {"series_f": 10e-6}),
    "cascade doubler, reservoir at 10 uF": ("cascade doubler", {"reservoir_f": 10e-6}),
    "cascade doubler, reservoir open": ("cascade doubler", {"reservoir_f": 1e-9}),
    "cascade doubler, leaky series": ("cascade doubler", {"series_leak_ohm": 500.0}),
    "full-wave doubler": ("full-wave doubler", {}),
    "full-wave doubler, one at 20 uF": ("full-wave doubler", {"lower_f": 20e-6}),
    "full-wave doubler, one open": ("full-wave doubler", {"lower_f": 1e-9}),
}


def _computed(name):
    circuit, changes = DESIGNS[name]
    function, _, base = CIRCUITS[circuit]
    return function(**(base | changes))


def _simulated(spice, name):
    """Return direct voltage, ripple and peak current of the first source, from the parts."""
    circuit, changes = DESIGNS[name]
    _, netlist, base = CIRCUITS[circuit]
    parts = base | changes
    found = spice(netlist(parts), ["v(out)", "i(va)"])
    late = found["time"] > found["time"][-1] - 1.0 / parts["mains_hz"]
    time, volts = found["time"][late], found["v(out)"][late]
    mean = np.trapezoid(volts, time) / (time[-1] - time[0])
    return mean, np.ptp(volts), np.abs(found["i(va)"][late]).max()


def _rail(spice, netlist, parts, harmonic):
    """Return direct voltage and one component of the ripple, peak to peak, behind a filter added to a supply."""
    found = spice(netlist.replace(".tran", parts + ".tran"), ["v(p)"])
    late = found["time"] > found["time"][-1] - 1.0 / 60.0
    time, volts = found["time"][late], found["v(p)"][late]
    turn = np.exp(-2j * math.pi * 60.0 * harmonic * time)
    span = time[-1] - time[0]
    mean = np.trapezoid(volts, time) / span
    return mean, 4.0 * abs(np.trapezoid((volts - mean) * turn, time)) / span


SOURCES = {
    "full wave": (367.3, 16.1),
    "full wave, 170 ohm, 40 uF": (328.3, 28.7),
    "half wave": (130.8, 26.7),
    "half wave, 230 V": (232.4, 22.9),
    "cascade doubler": (277.0, 41.4),
    "cascade doubler, 100 uF": (257.6, 40.5),
    "full-wave doubler": (281.2, 35.1),
}
"""Direct voltage and ripple of the published check cases, at the same load currents (supply-check-cases)."""

ROWS = {
    **{
        f"{start}{name}: {what}": (lambda n=name, w=what: getattr(_computed(n), w))
        for start, names in (("", DESIGNS), ("check case, ", SOURCES))
        for name in names
        for what in ("dc_v", "ripple_v", "peak_a")
    },
    "ripple bound, 0.25 A, 80 uF, 120 Hz": lambda: ripple_bound_v(0.25, 80e-6, 120.0),
    "bleed-down, 300 V to 50 V, 100 uF, 100 k": lambda: bleed_down(300.0, 50.0, 100e-6, 100e3).time_s,
    "hum bars, 60 Hz under 59.94 Hz": lambda: hum_bars(60.0, 59.94).screen_s,
    "charging to 90 %, 100 ohm, 200 uF": lambda: charging_s(0.9, 100.0, 200e-6),
    "choke section behind a full-wave rectifier: ripple": lambda: _behind_choke().ripple_v,
    "resistor section behind a half-wave rectifier: ripple": lambda: _behind_resistor().ripple_v,
}


def _behind_choke():
    """Return the choke section behind the full-wave supply, whose load draws through it."""
    reservoir = full_wave_output(**(FULL | {"load_ohm": 60.0 + 1400.0}))
    return choke_section(reservoir.dc_v, reservoir.double_rate_v, 120.0, 2.0, 60.0, 40e-6, 1400.0)


def _behind_resistor():
    reservoir = half_wave_output(**(HALF | {"load_ohm": 600.0 + 2000.0}))
    return rc_section(reservoir.dc_v, reservoir.mains_rate_v, 60.0, 600.0, 50e-6, 2000.0)


class TestPublished:
    @pytest.mark.parametrize("name", SOURCES)
    def test_check_cases(self, name):
        """Direct voltage and ripple meet the check cases within one per cent."""
        volts, ripple = SOURCES[name]
        found = _computed(name)

        assert math.isclose(volts, found.dc_v, rel_tol=0.01)
        assert math.isclose(ripple, found.ripple_v, rel_tol=0.01)


class TestIntegrated:
    def test_worn_tube(self):
        """A worn tube with its three-halves law, integrated, meets the resistance that stands for it."""
        name = "full wave, worn tube"
        source, farads, load = FULL["source_ohm"], FULL["reservoir_f"], FULL["load_ohm"]
        peak, omega = 325.0 * math.sqrt(2.0), 2.0 * math.pi * 60.0

        def current(gap):
            low, high = 0.0, max(gap, 0.0)
            for _ in range(50):
                drop = 0.5 * (low + high)
                low, high = (drop, high) if drop + source * 0.3 * PERVEANCE * drop**1.5 < gap else (low, drop)
            return 0.3 * PERVEANCE * low**1.5

        def slope(t, v):
            return [(current(peak * abs(math.cos(omega * t)) - v[0]) - v[0] / load) / farads]

        found = solve_ivp(slope, (0.0, 0.5), [_computed(name).dc_v], max_step=2e-4, rtol=1e-6)
        late = found.t > 0.5 - 1.0 / 60.0
        mean = np.trapezoid(found.y[0][late], found.t[late]) / np.ptp(found.t[late])

        assert math.isclose(mean, _computed(name).dc_v, rel_tol=0.02)
        assert math.isclose(np.ptp(found.y[0][late]), _computed(name).ripple_v, rel_tol=0.03)

    def test_cascade_doubler(self):
        """The doubler integrated with rectifiers as switches meets the closed pieces."""
        p = CASCADE
        peak, omega, ohm = 117.0 * math.sqrt(2.0), 2.0 * math.pi * 60.0, p["source_ohm"]

        def slope(t, x):
            wave = peak * math.cos(omega * t)
            out, clamp = max(wave + x[0] - x[1], 0.0) / ohm, max(-wave - x[0], 0.0) / ohm
            return [(clamp - out) / p["series_f"], (out - x[1] / p["load_ohm"]) / p["reservoir_f"]]

        found = solve_ivp(slope, (0.0, 60.0 / 60.0), [140.0, 270.0], max_step=1e-4, rtol=1e-6)
        late = found.t > 59.0 / 60.0
        mean = np.trapezoid(found.y[1][late], found.t[late]) / np.ptp(found.t[late])

        assert math.isclose(mean, _computed("cascade doubler").dc_v, rel_tol=0.005)
        assert math.isclose(np.ptp(found.y[1][late]), _computed("cascade doubler").ripple_v, rel_tol=0.01)

    def test_charging_integral(self):
        """The charging time meets adaptive quadrature of the formula as it stands."""
        whole, _ = quad(lambda u: 1.0 / (math.sqrt(1.0 - u * u) - u * math.acos(u)), 0.0, 0.98)

        assert math.isclose(math.pi / 2.0 * 100.0 * 2e-4 * whole, charging_s(0.98, 100.0, 2e-4), rel_tol=1e-6)

    def test_charging_wave_by_wave(self):
        """A charge followed wave by wave takes the time of the mean current within one half-wave."""
        peak, omega, ohm, farads = 460.0, 2.0 * math.pi * 60.0, 100.0, 2e-3

        def slope(t, v):
            return [max(peak * abs(math.sin(omega * t)) - v[0], 0.0) / (ohm * farads)]

        def reached(_, v):
            return v[0] - 0.9 * peak

        reached.terminal = True
        found = solve_ivp(slope, (0.0, 5.0), [0.0], max_step=5e-4, events=reached)

        assert math.isclose(found.t[-1], charging_s(0.9, ohm, farads), abs_tol=1.0 / 120.0)


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("name", DESIGNS)
    def test_voltage_ripple_and_peak(self, spice, name):
        """Direct voltage, ripple and peak current meet a simulation of the parts within three per cent."""
        volts, ripple, peak = _simulated(spice, name)
        found = _computed(name)

        assert math.isclose(volts, found.dc_v, rel_tol=0.03)
        assert math.isclose(ripple, found.ripple_v, rel_tol=0.03)
        if name.startswith(("half", "bridge", "full wave")):
            assert math.isclose(peak, found.peak_a, rel_tol=0.03)

    def test_choke_section(self, spice):
        """Voltage and ripple behind a choke meet a simulation of rectifier and filter together."""
        parts = "lx out y 2 ic=0.25\nrx y p 60\ncx p 0 40u ic=340\nrl p 0 1400\n"
        volts, ripple = _rail(spice, _full_wave(FULL | {"load_ohm": 1e12}), parts, 2)

        assert math.isclose(volts, _behind_choke().dc_v, rel_tol=0.01)
        assert math.isclose(ripple, _behind_choke().ripple_v, rel_tol=0.03)

    def test_resistor_section(self, spice):
        """Voltage and ripple behind a resistor meet a simulation of rectifier and filter together."""
        parts = "rx out p 600\ncx p 0 50u ic=110\nrl p 0 2000\n"
        volts, ripple = _rail(spice, _half_wave(HALF | {"load_ohm": 1e12}), parts, 1)

        assert math.isclose(volts, _behind_resistor().dc_v, rel_tol=0.01)
        assert math.isclose(ripple, _behind_resistor().ripple_v, rel_tol=0.03)


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text(encoding="utf-8")), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = ROWS[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)
