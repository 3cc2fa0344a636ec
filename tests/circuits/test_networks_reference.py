"""Filters, sawtooth, retrace, meters and tube slopes agree with a circuit simulator that is given their parts."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import yaml

from backporch.engine.circuits.agc import recovery_s
from backporch.engine.circuits.flyback import retrace, shorted_turns
from backporch.engine.circuits.flyback_yoke import yoke_current_a
from backporch.engine.circuits.heaters_string import Heater
from backporch.engine.circuits.heaters_supply import parallel_winding
from backporch.engine.circuits.high_voltage_charge import discharge
from backporch.engine.circuits.horizontal_drive import charged_sawtooth_v, drive_at_grid_v
from backporch.engine.circuits.horizontal_loop import AfcFilter, direct_share, hum_shift_s
from backporch.engine.circuits.meters import loaded_v
from backporch.engine.circuits.meters_probes import high_voltage_probe
from backporch.engine.circuits.meters_waveform import half_wave_shown
from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.supply_filters import decoupled_rail, rail_impedance_ohm
from backporch.engine.circuits.supply_times import bleed_down, shorted_reservoir_a
from backporch.engine.circuits.sync_integrator import integrated_field_pulse
from backporch.engine.circuits.sync_networks import Ladder, differentiator
from backporch.engine.circuits.sync_recovery import droop_share, hum_at_grid_v
from backporch.engine.circuits.tube_diodes import DiodeModel, diode_current_a, diode_drop_v
from backporch.engine.circuits.tube_fits import tube_model
from backporch.engine.circuits.tube_grid import gas_rise_v
from backporch.engine.circuits.tube_heater import heater_leak
from backporch.engine.circuits.tubes import grid_current_a, plate_current_a, screen_current_a, small_signal
from backporch.engine.circuits.vertical import charged_sawtooth
from backporch.engine.circuits.vertical_output import yoke_voltage
from backporch.engine.circuits.video import rise_time_s
from backporch.engine.circuits.video_drive import drive_kept_share
from backporch.engine.circuits.video_peaking import trap_hz
from backporch.engine.knowledge.library import shipped

TABLE = Path(__file__).parents[1] / "benchmarks" / "reference_table" / "networks.yaml"
LINE = 15750.0
FITS = shipped().tube_fits


@dataclass(frozen=True)
class Check:
    """One quantity: the formula's name, what it computes, the parts, and how the quantity is read off them."""

    formula: str
    computed: Callable[[], float]
    parts: str | Callable[[Callable], str]
    vectors: tuple[str, ...]
    read: Callable[[dict], float]


def _last(vector):
    return lambda found: found[vector][-1]


def _reached(vector, level):
    """Read the time at which a vector first crosses a level."""

    def read(found):
        wave, time = found[vector], found["time"]
        n = int(np.argmax((wave[1:] - level) * (wave[:-1] - level) <= 0.0))
        return time[n] + (time[n + 1] - time[n]) * (level - wave[n]) / (wave[n + 1] - wave[n])

    return read


def _mean(vector, power=1):
    def read(found):
        time, wave = found["time"], found[vector]
        return (np.trapezoid(np.abs(wave) ** power, time) / (time[-1] - time[0])) ** (1 / power)

    return read


def _swing(vector):
    return lambda found: float(np.ptp(found[vector]))


RAIL = {"feed": 10e3, "farads": 10e-6, "load": 20e3, "leak": 100e3}
RAIL_NET = "rail\nv1 s 0 dc 280 ac 0.2\nr1 s r 10k\nc1 r 0 10u\nr2 r 0 20k\nr3 r 0 100k\n"
AFC = AfcFilter(470e3, 4.7e3, 0.1e-6, 1e-9, leak_ohm=3e6)
RING = {"inductance_h": 14.3e-3, "tuning_f": 690e-12, "line_hz": LINE, "loss_ohm": 40e3}
TURNS = {"inductance_h": 15e-3, "turns_share": 0.01, "loop_ohm": 0.3, "coupling": 0.98, "at_hz": 55e3}
WINDING = [Heater(6.3, 0.6), Heater(6.3, 0.3), Heater(6.3, 1.2)]
INTEGRATOR = Ladder((22e3, 8.2e3, 8.2e3), (2e-9, 5e-9, 5e-9))
GAIN = 2.0 * math.pi * 20.0 * 60.0


def _retrace_net():
    """Return winding, tuning and loss, from the end of a trace that the damper held at one volt of scan."""
    found = retrace(1.0, **RING)
    start = found.trace_s / RING["inductance_h"] / (1.0 + found.returned_share)
    return f"""retrace
l1 p 0 {RING["inductance_h"]} ic={-start}
c1 p 0 {RING["tuning_f"]} ic=-1
r1 p 0 {RING["loss_ohm"]}
.tran 1n 14u 0 2n uic
"""


def _yoke_net():
    """Return a yoke on a steady voltage, from the current that a lossless retrace turns round."""
    swing = yoke_current_a(198.0, 10.3e-3, 54e-6, 14.0)
    return f"yoke\nv1 1 0 198\nr1 1 2 14\nl1 2 0 10.3m ic={-swing / 2}\n.tran 0.05u 54u 0 0.05u uic\n"


def _pulses(line, pulse):
    """Return four lines of a pulse with edges of a quarter of a microsecond."""
    return f"pulse(0 1 {line - pulse} 0.25u 0.25u {pulse - 0.25e-6} {line})"


def _integrator_net():
    """Return the ladder driven by line sync, then by the field pulse of 625 lines that follows a whole line."""
    one = standard("625")
    corners, time, half = [(0.0, 0.0)], 1e-6, one.half_line_s
    pulses = [(30, 2 * half, one.line_sync_s), *((5, half, width) for width in (one.equalizing_s, one.broad_s))]
    for count, pitch, width in [*pulses, (5, half, one.equalizing_s)]:
        for _ in range(count):
            corners += [(time, 0.0), (time + 1e-8, 1.0), (time + width, 1.0), (time + width + 1e-8, 0.0)]
            time += pitch
    shape = " ".join(f"{at:.9g} {value:g}" for at, value in corners)
    net = f"integrator\nv1 0a 0 pwl({shape})\n"
    for n, (ohm, farad) in enumerate(zip(INTEGRATOR.section_ohm, INTEGRATOR.section_f, strict=True)):
        net += f"r{n} {n}a {n + 1}a {ohm}\nc{n} {n + 1}a 0 {farad}\n"
    return net + f".tran 0.1u {time} 0 0.1u\n"


def _loop_net(hum_hz):
    """Return the AFC loop as parts: phase as the charge of a farad, detector and oscillator as sources."""
    return f"""loop
vh h 0 dc 0 ac 1
b1 d 0 v=-20*v(phi)
r1 d x {AFC.series_ohm}
r2 x y {AFC.damping_ohm}
c2 y 0 {AFC.damping_f}
c3 x 0 {AFC.smoothing_f}
r3 x 0 {AFC.leak_ohm}
g1 0 phi x 0 {2 * math.pi * 60.0}
g2 0 phi h 0 {2 * math.pi * 60.0}
cp phi 0 1
rp phi 0 1e12
.ac lin 1 {hum_hz} {hum_hz}
"""


def _tube_net(name, kind, plate, grid, screen=0.0):
    """Return a writer of a tube at fixed voltages with small signals at the grid."""

    def write(tube_netlist):
        tube = tube_model(FITS[name].model)
        pins = "p g 0 s" if tube.screened else "p g 0"
        return (
            f"{kind}\n{tube_netlist('tube', tube)}vp p 0 dc {plate}\nvs s 0 {screen}\n"
            f"vg g 0 dc {grid} ac 1\nx1 {pins} tube\nrs s 0 1g\n"
        )

    return write


def _point(name, *volts):
    return lambda write: _tube_net(name, "currents", *volts)(write) + ".op\n"


def _slope(name, *volts):
    return lambda write: _tube_net(name, "slopes", *volts)(write) + ".ac lin 1 1k 1k\n"


def _model(name):
    return tube_model(FITS[name].model)


CHECKS = {
    "rail of 280 V through 10 k, leaky: voltage": Check(
        "supply_filters.decoupled_rail",
        lambda: decoupled_rail(280.0, 0.2, 120.0, 10e3, 10e-6, 20e3, 100e3).dc_v,
        RAIL_NET + ".op\n",
        ("v(r)",),
        _last("v(r)"),
    ),
    "rail of 280 V through 10 k, leaky: ripple": Check(
        "supply_filters.decoupled_rail",
        lambda: decoupled_rail(280.0, 0.2, 120.0, 10e3, 10e-6, 20e3, 100e3).ripple_v,
        RAIL_NET + ".ac lin 1 120 120\n",
        ("vm(r)",),
        _last("vm(r)"),
    ),
    "impedance of a rail at 60 Hz": Check(
        "supply_filters.rail_impedance_ohm",
        lambda: rail_impedance_ohm(3.3e3, 40e-6, 60.0, 15e3),
        "rail\ni1 0 r dc 0 ac 1\nr1 r 0 3.3k\nc1 r 0 40u\nr2 r 0 15k\n.ac lin 1 60 60\n",
        ("vm(r)",),
        _last("vm(r)"),
    ),
    "bleed-down of 100 uF through 100 k from 300 V to 50 V": Check(
        "supply_times.bleed_down",
        lambda: bleed_down(300.0, 50.0, 100e-6, 100e3).time_s,
        "bleed\nc1 a 0 100u ic=300\nr1 a 0 100k\n.tran 10m 25 0 10m uic\n",
        ("v(a)",),
        _reached("v(a)", 50.0),
    ),
    "discharge of 2 nF at 18 kV through 1 M to 50 V": Check(
        "high_voltage_charge.discharge",
        lambda: discharge(18e3, 50.0, 2e-9, 1e6).time_s,
        "anode\nc1 a 0 2n ic=18k\nr1 a 0 1meg\n.tran 5u 15m 0 5u uic\n",
        ("v(a)",),
        _reached("v(a)", 50.0),
    ),
    "differentiator of 220 pF and 15 k: peak": Check(
        "sync_networks.differentiator",
        lambda: differentiator(1.0, 220e-12, 15e3, pulse_s=4.76e-6, line_hz=LINE, source_ohm=3.3e3).peak_v,
        f"spike\nv1 1 0 {_pulses(1 / LINE, 4.76e-6)}\nr1 1 2 3.3k\nc1 2 o 220p\nr2 o 0 15k\n"
        f".tran 20n {6 / LINE} {4 / LINE} 20n\n",
        ("v(o)",),
        lambda found: found["v(o)"].max(),
    ),
    "integrator of three sections, 625 lines: peak": Check(
        "sync_integrator.integrated_field_pulse",
        lambda: integrated_field_pulse(INTEGRATOR, standard("625")).second_peak_v,
        _integrator_net(),
        ("v(3a)",),
        lambda found: found["v(3a)"].max(),
    ),
    "droop of a field on 0.1 uF and 1 M": Check(
        "sync_recovery.droop_share",
        lambda: droop_share(1 / 60, 1e6, 0.1e-6),
        f"droop\nc1 g 0 0.1u ic=1\nr1 g 0 1meg\n.tran 10u {1 / 60} 0 10u uic\n",
        ("v(g)",),
        lambda found: 1.0 - found["v(g)"][-1],
    ),
    "hum of 5 V behind a bias that follows in 2 ms": Check(
        "sync_recovery.hum_at_grid_v",
        lambda: hum_at_grid_v(5.0, 60.0, 2e-3),
        "hum\nv1 1 0 dc 0 ac 5\nc1 1 g 20n\nr1 g 0 100k\n.ac lin 1 60 60\n",
        ("vm(g)",),
        _last("vm(g)"),
    ),
    "vertical sawtooth of 500 V, 2.2 M, 0.047 uF, leak 10 M": Check(
        "vertical.charged_sawtooth",
        lambda: charged_sawtooth(500.0, 2.2e6, 0.047e-6, 15.9e-3, 10e6, 20.0).amplitude_v,
        "saw\nv1 1 0 500\nr1 1 c 2.2meg\nc1 c 0 0.047u ic=20\nr2 c 0 10meg\n.tran 10u 15.9m 0 10u uic\n",
        ("v(c)",),
        lambda found: found["v(c)"][-1] - 20.0,
    ),
    "horizontal sawtooth of 250 V, 470 k, 680 pF, leak 2 M": Check(
        "horizontal_drive.charged_sawtooth_v",
        lambda: charged_sawtooth_v(250.0, 470e3, 680e-12, 54e-6, 2e6),
        "saw\nv1 1 0 250\nr1 1 c 470k\nc1 c 0 680p ic=0\nr2 c 0 2meg\n.tran 50n 54u 0 50n uic\n",
        ("v(c)",),
        _last("v(c)"),
    ),
    "drive behind 470 pF onto 120 pF": Check(
        "horizontal_drive.drive_at_grid_v",
        lambda: drive_at_grid_v(100.0, 470e-12, 120e-12),
        f"drive\nv1 1 0 dc 0 ac 100\nc1 1 g 470p\nc2 g 0 120p\nr1 g 0 1g\n.ac lin 1 {LINE} {LINE}\n",
        ("vm(g)",),
        _last("vm(g)"),
    ),
    "AFC filter with a leak: share": Check(
        "horizontal_loop.direct_share",
        lambda: direct_share(AFC),
        "afc\nv1 d 0 1\nr1 d x 470k\nr2 x y 4.7k\nc2 y 0 0.1u\nr3 x 0 3meg\n.op\n",
        ("v(x)",),
        _last("v(x)"),
    ),
    "AFC loop, 1 V of hum at 60 Hz: shift": Check(
        "horizontal_loop.hum_shift_s",
        lambda: hum_shift_s(AFC, 20.0, 60.0, 1.0, 60.0, LINE),
        _loop_net(60.0),
        ("vm(phi)",),
        lambda found: found["vm(phi)"][-1] / (2 * math.pi * LINE),
    ),
    "retrace of 14.3 mH, 690 pF, 40 k: time": Check(
        "flyback.retrace",
        lambda: retrace(1.0, **RING).retrace_s,
        _retrace_net(),
        ("v(p)",),
        lambda found: _reached("v(p)", -1.0)({k: v[found["time"] > 2e-6] for k, v in found.items()}),
    ),
    "retrace of 14.3 mH, 690 pF, 40 k: pulse": Check(
        "flyback.retrace",
        lambda: retrace(1.0, **RING).pulse_v,
        _retrace_net(),
        ("v(p)",),
        lambda found: found["v(p)"].max(),
    ),
    "winding with ten of a thousand turns shorted": Check(
        "flyback.shorted_turns",
        lambda: _impedance(shorted_turns(**TURNS)),
        f"""shorted turns
i1 0 p dc 0 ac 1
l1 p 0 {TURNS["inductance_h"]}
l2 q 0 {TURNS["inductance_h"] * TURNS["turns_share"] ** 2}
k1 l1 l2 {TURNS["coupling"]}
r1 q 0 {TURNS["loop_ohm"]}
rp p 0 1g
.ac lin 1 55k 55k
""",
        ("vm(p)",),
        _last("vm(p)"),
    ),
    "yoke of 10.3 mH and 14 ohm: current": Check(
        "flyback_yoke.yoke_current_a",
        lambda: yoke_current_a(198.0, 10.3e-3, 54e-6, 14.0),
        _yoke_net(),
        ("i(l1)",),
        _swing("i(l1)"),
    ),
    "heaters of 2.1 A on a winding: voltage": Check(
        "heaters_supply.parallel_winding",
        lambda: parallel_winding(6.72, 0.2, WINDING).winding_v,
        "winding\nv1 1 0 6.72\nr1 1 h 0.2\nr2 h 0 10.5\nr3 h 0 21\nr4 h 0 5.25\n.op\n",
        ("v(h)",),
        _last("v(h)"),
    ),
    "100 V behind 1 M on 11 M": Check(
        "meters.loaded_v",
        lambda: loaded_v(100.0, 1e6, 11e6),
        "meter\nv1 1 0 100\nr1 1 p 1meg\nr2 p 0 11meg\n.op\n",
        ("v(p)",),
        _last("v(p)"),
    ),
    "15 kV behind 5 M on a probe for 11 M with a meter of 10 M": Check(
        "meters_probes.high_voltage_probe",
        lambda: high_voltage_probe(15e3, 5e6, 1089e6, 10e6, 100.0).shown_v,
        "probe\nv1 1 0 15k\nr1 1 p 5meg\nr2 p m 1089meg\nr3 m 0 10meg\n.options gmin=1e-18\n.op\n",
        ("v(m)",),
        lambda found: 100.0 * found["v(m)"][-1],
    ),
    "half-waves of 230 V: true RMS": Check(
        "meters_waveform.half_wave_shown",
        lambda: half_wave_shown(230.0).rms_v,
        f"string\nv1 1 0 sin(0 {230 * math.sqrt(2)} 50)\nd1 1 s ideal\nr1 s 0 100\n"
        ".model ideal d(is=1e-12 n=0.02)\n.tran 10u 40m 20m 10u\n",
        ("v(s)",),
        _mean("v(s)", 2),
    ),
    "half-waves of 230 V: mean": Check(
        "meters_waveform.half_wave_shown",
        lambda: half_wave_shown(230.0).dc_v,
        f"string\nv1 1 0 sin(0 {230 * math.sqrt(2)} 50)\nd1 1 s ideal\nr1 s 0 100\n"
        ".model ideal d(is=1e-12 n=0.02)\n.tran 10u 40m 20m 10u\n",
        ("v(s)",),
        _mean("v(s)"),
    ),
    "AGC line of 1 M and 0.22 uF in a loop of ten": Check(
        "agc.recovery_s",
        lambda: recovery_s(1e6, 0.22e-6, 10.0),
        "agc\nb1 d 0 v=1-10*v(a)\nr1 d a 1meg\nc1 a 0 0.22u ic=0\n.tran 50u 0.3 0 50u uic\n",
        ("v(a)",),
        _reached("v(a)", (1.0 - math.exp(-1.0)) / 11.0),
    ),
    "short of 2.2 k across a drive of 4.7 k": Check(
        "video_drive.drive_kept_share",
        lambda: drive_kept_share(4.7e3, 2.2e3),
        "drive\nv1 1 0 1\nr1 1 k 4.7k\nr2 k 0 2.2k\n.op\n",
        ("v(k)",),
        _last("v(k)"),
    ),
    "leak of 100 k from a heater at 60 V": Check(
        "tube_heater.heater_leak",
        lambda: heater_leak(60.0, 100e3, 1e3, 5e-3, 1e-6, 60.0).hum_rms_v,
        "leak\nv1 h 0 dc 0 ac 60\nr1 h k 100k\nr2 k 0 1k\ng1 k 0 k 0 5m\nc1 k 0 1u\n.ac lin 1 60 60\n",
        ("vm(k)",),
        _last("vm(k)"),
    ),
    "detector diode at 10 mA": Check(
        "tube_diodes.diode_drop_v",
        lambda: diode_drop_v(DiodeModel(plate_perv=1.9e-3), 0.01),
        "diode\ni1 0 p 10m\nb1 p 0 i=1.9m*max(v(p),0)^1.5\nr1 p 0 1g\n.op\n",
        ("v(p)",),
        _last("v(p)"),
    ),
    "6SN7GTB at 180 V and -4 V: plate current": Check(
        "tubes.plate_current_a",
        lambda: plate_current_a(_model("6SN7GTB"), 180.0, -4.0),
        _point("6SN7GTB", 180.0, -4.0),
        ("i(vp)",),
        lambda found: -found["i(vp)"][-1],
    ),
    "EF80 at 170 V and -3 V: plate current": Check(
        "tubes.plate_current_a",
        lambda: plate_current_a(_model("EF80"), 170.0, -3.0, 170.0),
        _point("EF80", 170.0, -3.0, 170.0),
        ("i(vp)",),
        lambda found: -found["i(vp)"][-1],
    ),
    "EF80 at 60 V and -3 V: screen current": Check(
        "tubes.screen_current_a",
        lambda: screen_current_a(_model("EF80"), 60.0, -3.0, 170.0),
        _point("EF80", 60.0, -3.0, 170.0),
        ("i(vs)",),
        lambda found: -found["i(vs)"][-1] - 170e-9,
    ),
    "12AU7 with its grid at +2 V: grid current": Check(
        "tubes.grid_current_a",
        lambda: grid_current_a(_model("12AU7"), 2.0),
        _point("12AU7", 150.0, 2.0),
        ("i(vg)",),
        lambda found: -found["i(vg)"][-1],
    ),
    "12AX7 at 200 V and -1.5 V: mutual conductance": Check(
        "tubes.small_signal",
        lambda: small_signal(_model("12AX7"), 200.0, -1.5).transconductance_a_per_v,
        _slope("12AX7", 200.0, -1.5),
        ("mag(i(vp))",),
        _last("mag(i(vp))"),
    ),
    "step behind 3.5 MHz: rise": Check(
        "video.rise_time_s",
        lambda: rise_time_s(3.5e6),
        f"rise\nv1 1 0 pwl(0 0 1p 1)\nr1 1 o 1k\nc1 o 0 {1.0 / (2 * math.pi * 3.5e9)}\n.tran 0.1n 400n 0 0.2n\n",
        ("v(o)",),
        lambda found: _reached("v(o)", 0.9)(found) - _reached("v(o)", 0.1)(found),
    ),
    "trap of 25 uH and 50 pF: frequency": Check(
        "video_peaking.trap_hz",
        lambda: trap_hz(25e-6, 50e-12),
        "trap\ni1 0 p dc 0 ac 1\nl1 p 0 25u\nc1 p 0 50p\nr1 p 0 100k\n.ac lin 4001 4.4meg 4.6meg\n",
        ("mag(v(p))",),
        lambda found: found["time"][np.argmax(found["mag(v(p))"])],
    ),
    "shorted reservoir behind 5 ohm, half wave": Check(
        "supply_times.shorted_reservoir_a",
        lambda: shorted_reservoir_a(117.0, 5.0, half_waves=1.0),
        f"short\nv1 1 0 sin(0 {117 * math.sqrt(2)} 60)\nr1 1 2 5\nd1 2 0 ideal\n"
        ".model ideal d(is=1e-12 n=0.02)\n.tran 10u 50m 16.6666667m 10u\n",
        ("i(v1)",),
        _mean("i(v1)", 2),
    ),
    "yoke of 50 mH and 60 ohm under a ramp of 0.35 A: voltage": Check(
        "vertical_output.yoke_voltage",
        lambda: yoke_voltage(50e-3, 60.0, 0.35, 15.9e-3),
        "yoke\ni1 0 1 pwl(0 0 15.9m 0.35)\nr1 1 2 60\nl1 2 0 50m\nr2 1 0 1g\n.tran 5u 15.8999m 0 5u\n",
        ("v(1)",),
        _last("v(1)"),
    ),
    "gas of 2 uA through 1 M: rise": Check(
        "tube_grid.gas_rise_v",
        lambda: gas_rise_v(2e-6, 1e6),
        "gas\ni1 0 g 2u\nr1 g 0 1meg\n.op\n",
        ("v(g)",),
        _last("v(g)"),
    ),
    "detector diode at 5 V: current": Check(
        "tube_diodes.diode_current_a",
        lambda: diode_current_a(DiodeModel(plate_perv=1.9e-3), 5.0),
        "diode\nv1 p 0 5\nb1 p 0 i=1.9m*max(v(p),0)^1.5\n.op\n",
        ("i(v1)",),
        lambda found: -found["i(v1)"][-1],
    ),
}


def _impedance(left):
    """Return the size of the impedance of an inductance with a loss across it."""
    reactance = 2 * math.pi * TURNS["at_hz"] * left.inductance_h
    return abs(1.0 / (1.0 / (1j * reactance) + 1.0 / left.loss_ohm))


ROWS = yaml.safe_load(TABLE.read_text(encoding="utf-8")) if TABLE.exists() else []


@pytest.mark.spice
class TestSimulated:
    @pytest.mark.parametrize("name", CHECKS)
    def test_parts_say_the_same(self, spice, tube_netlist, name):
        """The formula meets a simulation of its parts within half a per cent, and the table has that figure."""
        check = CHECKS[name]
        parts = check.parts if isinstance(check.parts, str) else check.parts(tube_netlist)
        found = check.read(spice(parts, list(check.vectors)))
        row = next(row for row in ROWS if row["case"] == name)

        assert math.isclose(found, check.computed(), rel_tol=0.005)
        assert math.isclose(found, row["expected"], rel_tol=1e-3)


class TestTable:
    @pytest.mark.parametrize("row", ROWS, ids=lambda row: row["case"])
    def test_row_is_what_the_code_gives(self, row):
        """Each row of the reference table is what the code computes today."""
        check = CHECKS[row["case"]]
        got = check.computed()

        assert row["formula"] == check.formula
        assert math.isclose(row["got"], got, rel_tol=1e-3)
        assert math.isclose(row["error"], got / row["expected"] - 1.0, abs_tol=1.5e-3)

    def test_no_case_is_left_out(self):
        """Every case has its row."""
        assert sorted(CHECKS) == sorted(row["case"] for row in ROWS)
