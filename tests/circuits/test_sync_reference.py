"""Separator, differentiator and integrator agree with published figures, integration and a circuit simulator."""

import dataclasses
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.integrate import solve_ivp
from scipy.signal import StateSpace, lsim

from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.scanning_waveform import composite_sync, composite_video
from backporch.engine.circuits.sync_clipper import SeparatorPlate, clipped_sync, driven_grid
from backporch.engine.circuits.sync_integrator import integrated_field_pulse, integrator_waveform
from backporch.engine.circuits.sync_networks import Ladder, differentiator
from backporch.engine.circuits.sync_recovery import droop_share, field_recovery, hum_at_grid_v
from backporch.engine.circuits.sync_separator import (
    SeparatorParts,
    SeparatorSignal,
    line_signal,
    separator_grid,
)
from backporch.engine.circuits.tube_fits import tube_model

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "sync.yaml"
LADDERS = {
    "10 k / 5 nF": Ladder((10e3,), (5e-9,)),
    "22 k / 5 nF": Ladder((22e3,), (5e-9,)),
    "2 x 22 k / 5 nF": Ladder((22e3, 22e3), (5e-9, 5e-9)),
    "22 k / 2 nF, 2 x 8.2 k / 5 nF": Ladder((22e3, 8.2e3, 8.2e3), (2e-9, 5e-9, 5e-9)),
    "2 x 22 k / 5 nF, leak and load": Ladder((22e3, 22e3), (5e-9, 5e-9), (220e3, 1e12), 4.7e3, 470e3),
}
# residue, peak of field 1 and 2, trigger of field 1 and 2 in us: a sampled state-space simulation, source unnamed
SIMULATED = {
    "10 k / 5 nF": (0.127, 0.877, 0.877, 25.89, 25.89),
    "22 k / 5 nF": (0.097, 0.734, 0.735, 48.74, 48.44),
    "2 x 22 k / 5 nF": (0.076, 0.412, 0.414, 89.94, 88.79),
    "22 k / 2 nF, 2 x 8.2 k / 5 nF": (0.076, 0.381, 0.383, 87.44, 86.29),
}
SIGNAL = SeparatorSignal(12.0, 28.0, 150.0, 4.7e-6, 64e-6, white_share=0.4)
# a small coupling capacitor, so that the simulation settles within a few hundred lines
PARTS = SeparatorParts(22e3, 2.2e-9, 1e6, stray_f=1e-12)
GRIDS = {
    "sound": {},
    "leak of 5 M from 150 V": {"coupling_leak_ohm": 5e6},
    "leak of 2 M from 150 V": {"coupling_leak_ohm": 2e6},
    "leak of 300 k from 150 V": {"coupling_leak_ohm": 3e5},
    "grid leak 3.3 M": {"grid_leak_ohm": 3.3e6},
    "grid leak to 30 V": {"grid_leak_ohm": 3e6, "return_v": 30.0},
    "noise network": {"noise_ohm": 330e3, "noise_f": 270e-12},
    "noise network and leak of 2 M": {"noise_ohm": 330e3, "noise_f": 270e-12, "coupling_leak_ohm": 2e6},
    "coupling 100 pF": {"coupling_f": 100e-12},
    "gas 5 uA": {"gas_a": 5e-6},
}
FITS = yaml.safe_load((Path(__file__).parents[2] / "kb" / "tube_fits.yaml").read_text(encoding="utf-8"))[
    "tube_fits"
]
TRIODE, PENTODE = (tube_model(FITS[name]["model"]) for name in ("12AU7", "ECL80-pentode"))
TRIODE_PLATE = SeparatorPlate(75.0, 47e3)
PENTODE_PLATE = SeparatorPlate(200.0, 47e3, 220e3, 100e3, 5e-9)
PLATES = {
    "triode": (TRIODE, TRIODE_PLATE, {}),
    "triode, 5 % of its emission": (dataclasses.replace(TRIODE, emission_share=0.05), TRIODE_PLATE, {}),
    "triode, plate load 10 k": (TRIODE, SeparatorPlate(75.0, 10e3), {}),
    "triode, noise network": (TRIODE, TRIODE_PLATE, GRIDS["noise network"]),
    "pentode": (PENTODE, PENTODE_PLATE, {}),
    "pentode, plate load 220 k": (PENTODE, dataclasses.replace(PENTODE_PLATE, plate_ohm=220e3), {}),
    "pentode, screen dropper 680 k": (PENTODE, dataclasses.replace(PENTODE_PLATE, screen_ohm=680e3), {}),
    "pentode, screen bypass open": (PENTODE, dataclasses.replace(PENTODE_PLATE, screen_bypass_f=1e-12), {}),
}
RECOVERIES = [(name, farad) for name in ("525/60", "625/50", "405/50", "819/50") for farad in (5e-9, 2e-9)]


def _pulse(ladder):
    return integrated_field_pulse(LADDERS[ladder], standard("525"))


def _matrices(ladder):
    """Return the state-space matrices of a ladder from its node equations."""
    count = len(ladder.section_ohm)
    ohms = np.array(ladder.section_ohm, dtype=float)
    ohms[0] += ladder.source_ohm
    drains = 1.0 / np.array(ladder.leak_ohm or (1e12,) * count)
    drains[-1] += 1.0 / ladder.load_ohm
    a, b = np.zeros((count, count)), np.zeros((count, 1))
    for n, farad in enumerate(ladder.section_f):
        a[n, n] = -(1.0 / ohms[n] + drains[n] + (1.0 / ohms[n + 1] if n + 1 < count else 0.0)) / farad
        if n:
            a[n, n - 1] = 1.0 / ohms[n] / farad
        if n + 1 < count:
            a[n, n + 1] = 1.0 / ohms[n + 1] / farad
    b[0] = 1.0 / ohms[0] / ladder.section_f[0]
    return a, b


def _integrated(ladder, name, field):
    """Integrate the ladder from rest 60 lines before a field pulse to its end; return times and output."""
    one = standard(name)
    start = field * one.field_s
    train = composite_sync(one, 3)
    near = (train.on_s > start - 60 * one.line_s) & (train.on_s < start + 12 * one.line_s)
    edges = np.column_stack([train.on_s[near], train.off_s[near]]).ravel()
    a, b = _matrices(ladder)
    state, times, output = np.zeros(len(b)), [], []
    for n, (begin, end) in enumerate(pairwise(edges)):
        drive = b[:, 0] * (n % 2 == 0)
        steps = np.linspace(begin, end, 60)
        found = solve_ivp(
            lambda _, v, drive=drive: a @ v + drive, (begin, end), state, t_eval=steps, rtol=1e-9, atol=1e-12
        )
        state = found.y[:, -1]
        times.append(found.t - start)
        output.append(found.y[-1])
    return np.concatenate(times), np.concatenate(output)


def _first_reached(time, wave, level):
    n = np.argmax((wave >= level) & (time > 0.0))
    part = (level - wave[n - 1]) / (wave[n] - wave[n - 1])
    return time[n - 1] + part * (time[n] - time[n - 1])


def _points(one, fields, lead):
    """Return the sync of a standard as the corners of a piecewise linear source."""
    train = composite_sync(one, fields)
    points = ["0 0"]
    for on, off in zip(train.on_s + lead, train.off_s + lead, strict=True):
        points += [f"{on:.9e} 0", f"{on + 1e-9:.9e} 1", f"{off:.9e} 1", f"{off + 1e-9:.9e} 0"]
    return " ".join(points)


def _ladder_netlist(ladder, name):
    """Return an integrator as parts, driven by the true sync of three fields."""
    one = standard(name)
    lines = [f"vs s 0 pwl({_points(one, 3, 1e-3)})", f"r0 s n0 {ladder.source_ohm + 1e-3}"]
    leaks = ladder.leak_ohm or (1e12,) * len(ladder.section_ohm)
    for n, (ohm, farad, leak) in enumerate(zip(ladder.section_ohm, ladder.section_f, leaks, strict=True)):
        lines += [f"r{n + 1} n{n} n{n + 1} {ohm}", f"c{n} n{n + 1} 0 {farad}", f"rl{n} n{n + 1} 0 {leak}"]
    end = len(ladder.section_ohm)
    stop, start = 1e-3 + 2 * one.field_s + 8 * one.line_s, 1e-3 + one.field_s - 5 * one.line_s
    return (
        "integrator\n"
        + "\n".join(lines)
        + f"\nrload n{end} 0 {ladder.load_ohm}\n.options reltol=1e-4\n.tran 1u {stop} {start} 1u\n"
    )


def _composite_points(signal):
    """Return one line as corners: blanking, white in the middle, blanking, and the pulse at its end."""
    line, pulse, white, edge = signal.pitch_s, signal.sync_s, signal.white_share * signal.pitch_s, 5e-8
    start = 0.5 * (line - pulse - white)
    tip = signal.tip_v
    black, peak = tip - signal.sync_v, tip - signal.sync_v - signal.picture_v
    corners = [
        (0.0, black),
        (start, black),
        (start + edge, peak),
        (start + white, peak),
        (start + white + edge, black),
        (line - pulse, black),
        (line - pulse + edge, tip),
        (line - edge, tip),
        (line, black),
    ]
    return " ".join(f"{time:.9e} {volts:.6g}" for time, volts in corners)


def _separator_netlist(signal, parts, rest, lines):
    """Return the way to the grid of a separator as parts; ``rest`` is what hangs on the grid."""
    p = parts
    return f"""separator
vs s 0 pwl({_composite_points(signal)}) r=0
rs s n1 {p.series_ohm}
rn n1 n2 {p.noise_ohm}
cn n1 n2 {p.noise_f}
cc n2 g {p.coupling_f}
rl n2 g {p.coupling_leak_ohm}
cs g 0 {p.stray_f}
rg g ret {p.grid_leak_ohm}
vr ret 0 {p.return_v}
ig 0 g {p.gas_a}
{rest}
.options method=gear
.tran 0.2u {lines * signal.pitch_s} {(lines - 4) * signal.pitch_s} 0.2u
"""


def _grid_netlist(parts):
    diode = f"dg g x dg\n.model dg d(is=1e-9 n=0.02)\nrx x y {parts.grid_ohm}\nvx y 0 {parts.contact_v}"
    return _separator_netlist(SIGNAL, parts, diode, 150)


def _plate_netlist(parts, plate, tube, subcircuit):
    rest = [subcircuit.rstrip(), f"vb b 0 {plate.supply_v}", f"rp b p {plate.plate_ohm}", "cp p 0 5p"]
    if tube.screened:
        start = 0.6 * plate.supply_v * plate.screen_shunt_ohm / (plate.screen_ohm + plate.screen_shunt_ohm)
        rest += [f"rs2 b sc {plate.screen_ohm}", f"rd sc 0 {plate.screen_shunt_ohm}"]
        rest += [f"cb sc 0 {plate.screen_bypass_f} ic={start}", "x1 p g 0 sc tube"]
    else:
        rest.append("x1 p g 0 tube")
    return _separator_netlist(SIGNAL, parts, "\n".join(rest), 200)


def _levels(found, vector):
    """Return mean, tip, blanking in front of the pulse and white of a simulated node."""
    line, pulse, white = SIGNAL.pitch_s, SIGNAL.sync_s, SIGNAL.white_share * SIGNAL.pitch_s
    time = np.linspace(found["time"][0], found["time"][0] + 3.999 * line, 40_001)
    wave, phase = np.interp(time, found["time"], found[vector]), np.mod(time, line)
    start = 0.5 * (line - pulse - white)
    parts = (
        (phase > line - pulse + 2e-7) & (phase < line - 2e-7),
        (phase > line - pulse - 3e-6) & (phase < line - pulse - 1e-7),
        (phase > start + 0.3 * white) & (phase < start + 0.9 * white),
    )
    return [wave.mean(), *(wave[part].mean() for part in parts)]


def _stepped_bias(one, parts, hum_v=0.0, hum_hz=50.0, fields=4, step=2e-7):
    """Follow the voltage on the coupling capacitor in small steps through whole fields."""
    made = composite_video(one, fields, step, lambda across, _: np.where(np.abs(across - 0.5) < 0.25, 1.0, 0.0))
    source = 150.0 - 40.0 * made.level + 0.5 * hum_v * np.sin(2.0 * math.pi * hum_hz * made.time_s)
    grid_ohm = 1.0 / (1.0 / parts.grid_ohm + 1.0 / parts.grid_leak_ohm)
    on, off = 1.0 / (parts.series_ohm + grid_ohm), 1.0 / (parts.series_ohm + parts.grid_leak_ohm)
    stored, kept = float(separator_grid(line_signal(one, 40.0, 150.0), parts).stored_v), []
    for level in source.tolist():
        over = level - stored
        stored += step / parts.coupling_f * over * (on if over > 0.0 else off)
        kept.append(stored)
    return made.time_s, np.array(kept), source


def _stepped_dip(name, farad):
    """Return the dip of the grid behind the second field's broad pulses, from the stepped bias."""
    one, parts = standard(name), dataclasses.replace(PARTS, coupling_f=farad, stray_f=1e-15)
    time, stored, _ = _stepped_bias(one, parts, fields=3)
    start = 2 * one.field_s
    pitch = one.half_line_s if one.broad_count > 1 else one.line_s
    last = start + (one.broad_count - 1) * pitch + one.broad_s
    ahead = (time > start - one.field_lead_s - 21 * one.line_s) & (time < start - one.field_lead_s - one.line_s)
    return stored[np.searchsorted(time, last)] - stored[ahead].mean()


def _dip(name, farad):
    parts = dataclasses.replace(PARTS, coupling_f=farad, stray_f=1e-15)
    return field_recovery(line_signal(standard(name), 40.0, 150.0), parts, standard(name)).dip_v


def _grid(name):
    return separator_grid(SIGNAL, dataclasses.replace(PARTS, **GRIDS[name]))


def _clipped(name):
    tube, plate, changes = PLATES[name]
    return clipped_sync(driven_grid(SIGNAL, dataclasses.replace(PARTS, **changes), tube), plate, tube)


SPIKE = {"pulse_s": 4.76e-6, "line_hz": 15750.0, "rise_s": 1e-12}
CASES = {
    **{f"residue, {name}": (lambda name=name: _pulse(name).residue_v) for name in SIMULATED},
    **{f"peak, field 1, {name}": (lambda name=name: _pulse(name).first_peak_v) for name in SIMULATED},
    **{f"peak, field 2, {name}": (lambda name=name: _pulse(name).second_peak_v) for name in SIMULATED},
    **{f"trigger, field 1, {name}": (lambda name=name: _pulse(name).first_trigger_s) for name in SIMULATED},
    **{f"trigger, field 2, {name}": (lambda name=name: _pulse(name).second_trigger_s) for name in SIMULATED},
    **{
        f"interlace error, {name}": (lambda name=name: _pulse(name).interlace_error_s)
        for name in ("2 x 22 k / 5 nF", "22 k / 2 nF, 2 x 8.2 k / 5 nF")
    },
    "differentiator 100 pF, 10 k: to a tenth": lambda: differentiator(1.0, 100e-12, 10e3, **SPIKE).width_s,
    "differentiator 100 pF, 10 k: left after 4.76 us": lambda: differentiator(1.0, 100e-12, 10e3, **SPIKE).end_v,
    "droop per line, 0.1 uF and 1 M": lambda: droop_share(1 / 15750, 1e6, 0.1e-6),
    "droop per field, 0.1 uF and 1 M": lambda: droop_share(1 / 60, 1e6, 0.1e-6),
    "droop per line, 0.01 uF and 470 k": lambda: droop_share(1 / 15750, 470e3, 0.01e-6),
    "droop per field, 0.01 uF and 470 k": lambda: droop_share(1 / 60, 470e3, 0.01e-6),
    **{f"bias, {name}": (lambda name=name: _grid(name).mean_v) for name in GRIDS},
    **{f"sync at the plate, {name}": (lambda name=name: _clipped(name).sync_v) for name in PLATES},
    **{f"plate, {name}": (lambda name=name: _clipped(name).plate_v) for name in PLATES},
    **{
        f"dip behind the field sync, {name}, {1e9 * farad:g} nF": (
            lambda name=name, farad=farad: _dip(name, farad)
        )
        for name, farad in RECOVERIES
    },
}


class TestPublished:
    @pytest.mark.parametrize("name", SIMULATED)
    def test_levels_of_the_integrator(self, name):
        """Residue and peaks meet the published simulation to its last digit."""
        made = _pulse(name)

        assert np.allclose(
            SIMULATED[name][:3], (made.residue_v, made.first_peak_v, made.second_peak_v), rtol=0.005, atol=6e-4
        )

    @pytest.mark.parametrize("name", SIMULATED)
    def test_trigger_times_of_the_integrator(self, name):
        """Trigger times meet the published simulation within half a per cent; it lies one sample late."""
        made = _pulse(name)

        assert np.allclose(
            SIMULATED[name][3:], (1e6 * made.first_trigger_s, 1e6 * made.second_trigger_s), rtol=0.005
        )

    @pytest.mark.parametrize(("name", "error_us"), [("22 k / 5 nF", 0.30), ("2 x 22 k / 5 nF", 1.15)])
    def test_interlace_error(self, name, error_us):
        """The fields trigger as far apart as published, within a sample of the published simulation."""
        assert math.isclose(error_us, 1e6 * abs(_pulse(name).interlace_error_s), abs_tol=0.025)

    def test_interlace_error_of_the_short_network(self):
        """A single 50 us section errs by 0.04 us, by hand from the levels it starts from."""
        made = _pulse("10 k / 5 nF")
        wave = integrator_waveform(
            LADDERS["10 k / 5 nF"], standard("525"), np.array([0.0, standard("525").field_s])
        )
        level = 0.5 * np.array([made.first_peak_v, made.second_peak_v])
        times = 50e-6 * np.log((1.0 - wave) / (1.0 - level))

        assert math.isclose(times[1] - times[0], made.interlace_error_s, rel_tol=1e-3)
        assert math.isclose(-0.040e-6, made.interlace_error_s, rel_tol=0.02)


class TestIntegrated:
    @pytest.mark.parametrize("ladder", LADDERS)
    @pytest.mark.parametrize("name", ["525/60", "625/50", "405/50", "819/50"])
    def test_field_pulse(self, ladder, name):
        """Peak and trigger meet an integration of the node equations on the true sync."""
        time, wave = _integrated(LADDERS[ladder], name, 1)
        peak = wave[time > 0.0].max()
        level = 0.5 * (peak + np.interp(0.0, time, wave))
        made = integrated_field_pulse(LADDERS[ladder], standard(name), trigger_v=level)
        trigger = _first_reached(time, wave, level)

        assert math.isclose(peak, made.second_peak_v, rel_tol=0.005)
        assert math.isclose(trigger, made.second_trigger_s, rel_tol=0.005)

    def test_waveform(self):
        """The waveform meets the integration all through the field pulse."""
        ladder = LADDERS["22 k / 2 nF, 2 x 8.2 k / 5 nF"]
        time, wave = _integrated(ladder, "625/50", 2)
        late = time > -3 * standard("625").line_s

        assert np.allclose(wave[late], integrator_waveform(ladder, standard("625"), time[late]), atol=2e-5)

    def test_differentiator(self):
        """Spikes meet a simulation of the network with source resistance and a leaky capacitor."""
        farad, shunt, source, leak = 220e-12, 15e3, 3.3e3, 470e3
        time = np.arange(0.0, 6 / 15750, 1e-8)
        pulse = np.interp(np.mod(time, 1 / 15750), [0.0, 0.25e-6, 4.76e-6, 5.01e-6], [0.0, 1.0, 1.0, 0.0])
        give = 1.0 / (shunt + source)
        network = StateSpace(
            [[-(give + 1.0 / leak) / farad]], [[give / farad]], [[-shunt * give]], [[shunt * give]]
        )
        _, out, _ = lsim(network, pulse, time)
        made = differentiator(
            1.0, farad, shunt, pulse_s=4.76e-6, line_hz=15750.0, source_ohm=source, leak_ohm=leak
        )
        last = out[time >= 5 / 15750]

        assert np.allclose((last.max(), last.min()), (made.peak_v, made.back_v), rtol=0.005)

    @pytest.mark.parametrize(("name", "farad"), RECOVERIES)
    def test_dip_behind_the_field_sync(self, name, farad):
        """The dip meets the bias followed in small steps through whole fields within six per cent."""
        assert math.isclose(_stepped_dip(name, farad), _dip(name, farad), rel_tol=0.06)

    @pytest.mark.parametrize("farad", [22e-9, 2e-9])
    def test_hum_at_the_grid(self, farad):
        """Hum at the grid meets the bias followed in small steps within five per cent."""
        one, parts = standard("625"), dataclasses.replace(PARTS, coupling_f=farad, stray_f=1e-15)
        time, quiet, _ = _stepped_bias(one, parts)
        _, humming, _ = _stepped_bias(one, parts, hum_v=4.0)
        at_grid = 2.0 * np.sin(2.0 * math.pi * 50.0 * time) - (humming - quiet)
        line = round(one.line_s / 2e-7)
        smooth = np.convolve(at_grid[time > 0.02], np.ones(line) / line, "valid")
        settling = separator_grid(line_signal(one, 40.0, 150.0), parts).settling_s

        assert math.isclose(np.ptp(smooth), hum_at_grid_v(4.0, 50.0, settling), rel_tol=0.05)


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("ladder", LADDERS)
    def test_integrator(self, spice, ladder):
        """Peaks and trigger times of both fields meet the simulator within half a per cent."""
        one, network = standard("525"), LADDERS[ladder]
        made = integrated_field_pulse(network, one)
        end = f"v(n{len(network.section_ohm)})"
        found = spice(_ladder_netlist(network, "525"), [end])
        wanted = ((2, made.first_peak_v, made.first_trigger_s), (1, made.second_peak_v, made.second_trigger_s))
        for field, peak, trigger in wanted:
            time = found["time"] - 1e-3 - field * one.field_s
            near = np.abs(time) < 8 * one.line_s
            wave = found[end][near]

            assert math.isclose(wave.max(), peak, rel_tol=0.005)
            assert math.isclose(_first_reached(time[near], wave, 0.5 * peak), trigger, rel_tol=0.005)

    @pytest.mark.parametrize("name", GRIDS)
    def test_bias(self, spice, name):
        """The bias meets the simulated separator grid within five per cent."""
        parts = dataclasses.replace(PARTS, **GRIDS[name])
        mean, tip, blanking, _ = _levels(spice(_grid_netlist(parts), ["v(g)"]), "v(g)")
        made = _grid(name)

        assert math.isclose(mean, made.mean_v, rel_tol=0.05)
        assert math.isclose(tip, made.tip_v, abs_tol=0.15)
        assert math.isclose(blanking, made.blanking_v, abs_tol=0.2)

    @pytest.mark.parametrize("name", PLATES)
    def test_plate(self, spice, tube_netlist, name):
        """Sync, picture and mean at the plate meet the simulator within five per cent of the rail."""
        tube, plate, changes = PLATES[name]
        parts = dataclasses.replace(PARTS, **changes)
        netlist = _plate_netlist(parts, plate, tube, tube_netlist("tube", tube))
        mean, tip, blanking, white = _levels(spice(netlist, ["v(p)"]), "v(p)")
        made = _clipped(name)

        assert math.isclose(blanking - tip, made.sync_v, abs_tol=0.05 * plate.supply_v)
        assert math.isclose(white - blanking, made.picture_v, abs_tol=0.05 * plate.supply_v)
        assert math.isclose(mean, made.plate_v, abs_tol=0.05 * plate.supply_v)


class TestTable:
    @pytest.mark.parametrize("row", yaml.safe_load(TABLE.read_text()), ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        got = CASES[row["case"]]()

        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)

    def test_no_case_is_left_out(self):
        """Every case has its row."""
        assert sorted(CASES) == sorted(row["case"] for row in yaml.safe_load(TABLE.read_text()))
