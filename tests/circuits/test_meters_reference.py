"""Meter loading, probes and waveform readings agree with worked cases, a simulator and integrals."""

import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.integrate import quad

from backporch.engine.circuits.meters import DIGITAL_10_M, NEEDLE_1_K, NEEDLE_20_K, loaded_v, reading, two_ranges
from backporch.engine.circuits.meters_probes import (
    high_voltage_probe,
    multiplier_ohm,
    probe_corner_hz,
    probe_impedance_ohm,
    probed_share,
)
from backporch.engine.circuits.meters_waveform import half_wave_shown, pulse_shown, sawtooth_shown, sine_shown

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "meters.yaml"
FORM = math.pi / (2.0 * math.sqrt(2.0))

ROWS = {
    "100 V behind 1 M, 1 k per volt": lambda: reading(100.0, 1e6, NEEDLE_1_K).shown_v,
    "100 V behind 1 M, 20 k per volt": lambda: reading(100.0, 1e6, NEEDLE_20_K).shown_v,
    "100 V behind 1 M, 11 M": lambda: loaded_v(100.0, 1e6, 11e6),
    "100 V behind 1 M, 10 M": lambda: loaded_v(100.0, 1e6, 10e6),
    "-40 V behind 470 k, 10 M": lambda: reading(-40.0, 470e3, DIGITAL_10_M).shown_v,
    "-40 V behind 470 k, 20 k per volt": lambda: reading(-40.0, 470e3, NEEDLE_20_K).shown_v,
    "two ranges: source": lambda: two_ranges(83.33, 5e6, 50.0, 1e6).source_ohm,
    "two ranges: voltage": lambda: two_ranges(83.33, 5e6, 50.0, 1e6).true_v,
    "multiplier for 11 M, hundredfold": lambda: multiplier_ohm(11e6, 100.0),
    "high-voltage probe at 15 kV behind 5 M": lambda: (
        high_voltage_probe(15e3, 5e6, 989e6, 11e6, 1e3 / 11.0).point_v
    ),
    "12 pF at line rate": lambda: probe_impedance_ohm(15750.0, 12e-12, 1e12),
    "12 pF on 100 k, corner": lambda: probe_corner_hz(100e3, 12e-12, 1e12),
    "probe on 470 k at line rate": lambda: probed_share(15750.0, 470e3, 12e-12),
    "half-wave string on 230 V: true RMS": lambda: half_wave_shown(230.0).rms_v,
    "half-wave string on 230 V: DC meter": lambda: half_wave_shown(230.0).dc_v,
    "half-wave string on 230 V: averaging meter": lambda: half_wave_shown(230.0).averaging_v,
    "pulses of 100 V, a tenth: averaging meter": lambda: pulse_shown(0.0, 100.0, 0.1).averaging_v,
    "sawtooth 0 to 80 V: averaging meter": lambda: sawtooth_shown(0.0, 80.0).averaging_v,
    "sine of 20 V on 6 V: averaging meter without capacitor": lambda: sine_shown(6.0, 20.0).averaging_direct_v,
}


def averaged(wave, *, blocked=True, breaks=()):
    """Return what an averaging meter shows of one period of a wave, by quadrature."""
    mean = quad(wave, 0.0, 1.0, points=breaks or None, limit=200)[0] if blocked else 0.0
    return FORM * quad(lambda t: abs(wave(t) - mean), 0.0, 1.0, points=breaks or None, limit=200)[0]


class TestIntegrated:
    def test_half_wave_string(self):
        """The averaging reading of half-waves meets quadrature."""
        peak = 230.0 * math.sqrt(2.0)
        got = averaged(lambda t: max(peak * math.sin(2 * math.pi * t), 0.0), breaks=(0.5,))

        assert math.isclose(got, half_wave_shown(230.0).averaging_v, rel_tol=1e-6)

    def test_sine_on_a_small_direct_voltage(self):
        """The reading without a capacitor meets quadrature where the sine crosses zero."""
        got = averaged(lambda t: 6.0 + 20.0 * math.sin(2 * math.pi * t), blocked=False)

        assert math.isclose(got, sine_shown(6.0, 20.0).averaging_direct_v, rel_tol=1e-6)


@pytest.mark.spice
class TestSimulated:
    def test_loaded_divider(self, spice):
        """A meter on a divider reads what a simulation of all three resistors gives."""
        found = spice("divider\nv1 a 0 280\nr1 a b 1meg\nr2 b 0 470k\nrm b 0 5meg\n.op\n", ["v(b)"])
        true, source = 280.0 * 0.47 / 1.47, 1e6 * 0.47 / 1.47

        assert math.isclose(found["v(b)"][0], loaded_v(true, source, 5e6), rel_tol=0.005)

    def test_probe_at_line_rate(self, spice):
        """A probe on a node of 470 k takes off what a simulation says."""
        net = "probe\nv1 a 0 sin(0 10 15750)\nr1 a b 470k\nrp b 0 10meg\ncp b 0 12p\n.tran 50n 1.27m 1.016m 50n\n"
        found = spice(net, ["v(b)"])

        assert math.isclose(np.ptp(found["v(b)"]) / 20.0, probed_share(15750.0, 470e3, 12e-12), rel_tol=0.005)


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text(encoding="utf-8")), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = ROWS[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)
