"""Automatic gain control agrees with published figures, a circuit simulator and integration."""

import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.optimize import brentq

from backporch.engine.circuits.agc import agc_line_v, keyed_agc, simple_agc
from backporch.engine.circuits.agc_levels import mean_level_share, snow
from backporch.engine.circuits.agc_tube import gain_slope_per_v

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "agc.yaml"
LINE_HZ = 15750.0
RECEIVER = {"full_gain": 64e3, "control_per_v": 0.6}
KEYED = RECEIVER | {"threshold_v": 3.0, "gm_a_per_v": 4e-3, "pulse_v": 400.0, "pulse_s": 8e-6}
KEYED |= {"line_hz": LINE_HZ, "load_ohm": 100e3, "line_ohm": 1e6}
SIGNALS = {
    "1 mV": (1e-3, {}),
    "30 mV": (30e-3, {}),
    "1 mV, tired keyed tube": (1e-3, {"gm_a_per_v": 0.5e-3}),
    "1 mV, bypass leaks 1 M": (1e-3, {"leak_ohm": 1e6}),
    "1 mV, leak of 4 M to -40 V": (1e-3, {"leak_ohm": 4e6, "leak_to_v": -40.0}),
}


def _keyed(signal, change):
    return keyed_agc(signal, **(KEYED | change))


CASES = {
    **{f"keyed video, {name}": (lambda c=case: _keyed(*c).video_v) for name, case in SIGNALS.items()},
    **{f"keyed line, {name}": (lambda c=case: _keyed(*c).agc_v) for name, case in SIGNALS.items()},
    "simple loop, 2 mV": lambda: simple_agc(2e-3, **RECEIVER, delay_v=1.0).video_v,
    "simple loop, 200 mV": lambda: simple_agc(0.2, **RECEIVER, delay_v=1.0).video_v,
    "line with a bypass of 2 M": lambda: agc_line_v(8.0, 2e6, 2e6),
    "mean level, negative, grey": lambda: mean_level_share(0.5, sync_duty=4.7 / 64, blank_duty=12 / 64),
    "mean level, positive, dark": lambda: mean_level_share(0.1, 0.0, 0.3, 1.0, 4.7 / 64, 12 / 64),
    "range of the remote tube, dB": lambda: (
        20 / math.log(10) * 14.08 * gain_slope_per_v(4e-3, -1.92, 100e-6, -16.0)
    ),
    "snow, 100 uV": lambda: snow(100e-6, 10.0).snow_share,
}


class TestPublished:
    def test_range_of_a_remote_tube(self):
        """From 4000 to 100 micromhos are 32 dB (ge-6386-1954)."""
        assert math.isclose(32.04, CASES["range of the remote tube, dB"](), rel_tol=0.005)


class TestIntegrated:
    @pytest.mark.parametrize(("name", "signal"), [("2 mV", 2e-3), ("200 mV", 0.2)])
    def test_simple_loop(self, name, signal):
        """The simple loop meets a root found in decibels."""

        def short(level):
            return math.log(signal * 64e3) - 0.6 * max(math.exp(level) - 1.0, 0.0) - level

        found = math.exp(brentq(short, -10.0, 20.0))

        assert math.isclose(found, CASES[f"simple loop, {name}"](), rel_tol=0.005)

    @pytest.mark.parametrize(
        ("name", "levels", "scene"),
        [("negative, grey", (1.0, 0.75, 0.125), 0.5), ("positive, dark", (0.0, 0.3, 1.0), 0.1)],
    )
    def test_mean_of_a_line(self, name, levels, scene):
        """The mean level meets the mean of a line drawn point by point."""
        tip, blank, white = levels
        time = (np.arange(64_000) + 0.5) / 1000
        line = np.where(time < 4.7, tip, np.where(time < 12.0, blank, blank + scene * (white - blank)))

        assert math.isclose(line.mean(), CASES[f"mean level, {name}"](), rel_tol=0.005)

    def test_snow_of_a_noisy_carrier(self):
        """The snow meets the detected noise of a carrier with noise on it, drawn at random."""
        noise = np.random.default_rng(7).standard_normal((2, 400_000)) * snow(100e-6, 10.0).noise_v
        carrier = math.sqrt(2) * 100e-6
        detected = np.hypot(carrier + noise[0], noise[1])

        assert math.isclose(detected.std() / (0.625 * carrier), CASES["snow, 100 uV"](), rel_tol=0.02)


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("name", SIGNALS)
    def test_keyed_loop(self, spice, name):
        """Video and line voltage of the keyed loop meet a simulation line by line within two per cent."""
        signal, change = SIGNALS[name]
        found = spice(self._netlist(signal, KEYED | change), ["v(video)", "v(line)"])
        late = found["time"] > found["time"][-1] - 3 / LINE_HZ
        time = found["time"][late]
        video, line = (np.trapezoid(found[key][late], time) / np.ptp(time) for key in ("v(video)", "v(line)"))

        assert math.isclose(video, CASES[f"keyed video, {name}"](), rel_tol=0.02)
        assert math.isclose(line, CASES[f"keyed line, {name}"](), rel_tol=0.02)

    def _netlist(self, signal, parts):
        """Return receiver, keyed tube, its pulse and the filter as parts."""
        period = 1 / LINE_HZ
        return f"""keyed agc
b1 video 0 v={signal * parts["full_gain"]}*exp(-min({parts["control_per_v"]}*max(-v(line),0),7))
v1 plate made pulse(0 {parts["pulse_v"]} 1u 10n 10n {parts["pulse_s"]} {period})
b2 plate 0 i={parts["gm_a_per_v"]}*max(v(video)-{parts["threshold_v"]},0)*max(v(plate),0)/(max(v(plate),0)+40)
c1 made 0 0.1u
r1 made 0 {parts["load_ohm"]}
e1 drive 0 made 0 1
r2 drive line {parts["line_ohm"]}
r3 line leak {parts.get("leak_ohm", 1e12)}
v2 leak 0 {parts.get("leak_to_v", 0.0)}
c2 line 0 2n
.tran 0.5u 120m 119m 1u
"""

    def test_leaky_line(self, spice):
        """The line with its leak meets the simulation."""
        net = "line\nv1 1 0 -8\nr1 1 line 2meg\nr2 line 0 2meg\n.op\n"

        assert math.isclose(
            spice(net, ["v(line)"])["v(line)"][0], CASES["line with a bypass of 2 M"](), rel_tol=1e-3
        )


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text()), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = CASES[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)
