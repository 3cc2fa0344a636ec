"""The high-voltage rectifier agrees with a circuit simulator, the discharge with an integration."""

import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.integrate import solve_ivp

from backporch.engine.circuits.high_voltage import coating_capacitance_f, rectified_pulse, ripple_v
from backporch.engine.circuits.high_voltage_charge import discharge, touch_comparison

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "high_voltage.yaml"
LINE_HZ = 15750.0
DESIGN = {
    "pulse": 13e3,
    "base": 500.0,
    "retrace": 10e-6,
    "source": 200e3,
    "beam": 100e-6,
    "filter": 1e-9,
    "leak": 1e12,
}
DESIGNS = {
    "100 uA": {},
    "20 uA": {"beam": 20e-6},
    "300 uA": {"beam": 300e-6},
    "tired rectifier": {"source": 1e6},
    "leaky anode lead": {"leak": 100e6},
    "short pulse": {"retrace": 7e-6, "pulse": 16e3},
}


def _netlist(design):
    """Return pulse source, rectifier, filter and load as parts; the pulse is half a sine once a line."""
    line, width = 1 / LINE_HZ, design["retrace"]
    phase = f"(time-{line}*floor(time/{line}))"
    wave = f"{phase}<{width} ? {design['base']}+{design['pulse']}*sin(3.14159265*{phase}/{width}) : -2000"
    return f"""high-voltage rectifier
b1 pulse 0 v={wave}
r1 pulse plate {design["source"]}
d1 plate anode rectifier
.model rectifier d(is=1e-9 n=0.5)
c1 anode 0 {design["filter"]} ic={0.9 * design["pulse"]}
i1 anode 0 {design["beam"]}
r2 anode 0 {design["leak"]}
.tran 0.1u {900 * line} {896 * line} 0.2u uic
"""


def _simulated(spice, design):
    found = spice(_netlist(design), ["v(anode)"])
    late = found["time"] > found["time"][-1] - 2 / LINE_HZ
    time, anode = found["time"][late], found["v(anode)"][late]
    return np.trapezoid(anode, time) / (time[-1] - time[0]), anode.max() - anode.min()


def _computed(design):
    return rectified_pulse(
        design["pulse"],
        design["base"],
        design["retrace"],
        LINE_HZ,
        design["source"],
        design["beam"],
        design["leak"],
    ).anode_v


CASES = {
    **{f"anode, {name}": (lambda d=change: _computed(DESIGN | d)) for name, change in DESIGNS.items()},
    "ripple, 100 uA on 1 nF": lambda: ripple_v(13e3, 100e-6, 1e-9, LINE_HZ),
    "discharge, 2 nF from 18 kV to 50 V by 1 M": lambda: discharge(18e3, 50.0, 2e-9, 1e6).time_s,
    "coating, 0.15 m2 on 5 mm": lambda: coating_capacitance_f(0.15, 5e-3),
    "touch limit, 45 uC at 15 kV": lambda: touch_comparison(15e3, 3e-9).limit_share,
    "touch limit, 350 mJ at 20 kV": lambda: touch_comparison(20e3, 1.75e-9).limit_share,
}


class TestIntegrated:
    def test_discharge(self):
        """The time to a stated voltage meets the integration of the discharge."""
        time = discharge(18e3, 50.0, 2e-9, 1e6).time_s
        found = solve_ivp(lambda _, v: -v / 2e-3, (0, time), [18e3], rtol=1e-10, atol=1e-6)

        assert math.isclose(50.0, found.y[0][-1], rel_tol=0.005)

    def test_charge_balance_of_the_rectifier(self):
        """At the anode voltage found the pulse brings what the beam takes."""
        anode = _computed(DESIGN)
        time = np.linspace(0.0, DESIGN["retrace"], 200_001)
        wave = DESIGN["base"] + DESIGN["pulse"] * np.sin(np.pi * time / DESIGN["retrace"])
        charge = np.trapezoid(np.maximum(wave - anode, 0.0) / DESIGN["source"], time)

        assert math.isclose(DESIGN["beam"] / LINE_HZ, charge, rel_tol=0.005)


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("name", DESIGNS)
    def test_anode_voltage(self, spice, name):
        """The anode voltage meets a simulation of the rectifier within three per cent."""
        design = DESIGN | DESIGNS[name]
        anode, _ = _simulated(spice, design)

        assert math.isclose(anode, _computed(design), rel_tol=0.03)

    def test_ripple(self, spice):
        """The simulated ripple stays below the upper bound and near it."""
        _, ripple = _simulated(spice, DESIGN)
        bound = ripple_v(_computed(DESIGN), DESIGN["beam"], DESIGN["filter"], LINE_HZ)

        assert 0.9 * bound < ripple < 1.02 * bound


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text()), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = CASES[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)
