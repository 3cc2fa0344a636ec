"""The sync separator with its integrator, as a receiver has them, against a circuit simulator."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from backporch.engine.chassis.faults import read_fault
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.scanning import standard
from backporch.engine.circuits.scanning_waveform import BROAD, composite_sync
from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.knowledge.library import shipped

SpiceRun = Callable[[str, list[str]], dict[str, np.ndarray]]

LINES, KEPT = 220, 4
SEPARATOR_FAULTS = ("", "C23=leaky:3M", "R29=high:3", "R30=high:2.5", "V11A=weak:0.4", "C24=open")
INTEGRATOR_FAULTS = ("", "C26=low-capacitance:0.3", "C26=leaky:30k", "R34=high:3", "R34=open", "C27=leaky:20k")
EDGE_S = 5e-8


def faulty(fault: str) -> Result:
    """Simulate plover-17 with a fault."""
    library = shipped()
    chassis = load_chassis("plover-17", library)
    return simulate(chassis, healthy_batch(chassis, [read_fault(fault, chassis, library)] if fault else []))


def ohms(result: Result, stage: str, role: str) -> float:
    """Return the resistance in a role, its fault included."""
    return float(np.ravel(result.batch.ohms(stage, role))[0])


def farads(result: Result, stage: str, role: str) -> float:
    """Return the capacitance in a role, its fault included."""
    return float(np.ravel(result.batch.farads(stage, role))[0])


def leak(result: Result, stage: str, role: str) -> float:
    """Return the leakage across a part."""
    return float(np.ravel(result.batch.leak(stage, role))[0])


def triode(t: TubeModel) -> str:
    """Write a triode with its grid current as a subcircuit "plate grid cathode"."""

    def soft(text: str) -> str:
        return f"(({text})>35 ? ({text}) : ln(1+exp(min({text},35))))"

    pull = "max(v(p,k),1e-6)"
    drive = f"{t.kp}*({1 / float(t.mu)!r}+(v(g,k)+{t.contact_v})/sqrt({t.kvb}+{pull}^2))"
    grid = f"(0.13*{soft(f'(v(g,k)+{t.grid_contact_v})/0.13')})"
    return f""".subckt tube p g k
be e 0 v={pull}/{t.kp}*{soft(drive)}
re e 0 1g
bp p k i={2 * float(t.emission_share) / float(t.kg1)}*max(v(e),1e-30)^{t.exponent}
bg g k i={float(t.grid_perv) * float(t.emission_share)}*{grid}^1.5
rp p k 10g
rg g k 10g
.ends"""


def line_of(result: Result) -> str:
    """Return one line of video at the plate of the video tube as corners: blanking, white, blanking, pulse."""
    times = standard("525/60")
    tip = float(result.inner["video_tip_v"][0])
    black = tip - float(result.inner["video_sync_v"][0])
    peak = tip - float(result.inner["video_pp_v"][0])
    line, pulse, white = times.line_s, times.line_sync_s, 0.5 * times.active_line_s
    start = 0.5 * (line - pulse - white)
    corners = [(0.0, black), (start, black), (start + EDGE_S, peak), (start + white, peak)]
    corners += [(start + white + EDGE_S, black), (line - pulse, black), (line - pulse + EDGE_S, tip)]
    corners += [(line - EDGE_S, tip), (line, black)]
    return " ".join(f"{at:.9e} {volts:.6g}" for at, volts in corners)


def separator_netlist(result: Result, tube: TubeModel) -> str:
    """Return the separator from the video plate to its own plate."""
    stage, line = "sync-separator", standard("525/60").line_s
    return f"""separator of a receiver
vs s 0 pwl({line_of(result)}) r=0
rs s n1 {ohms(result, stage, "input-resistor") + 3e3}
rn n1 n2 {ohms(result, stage, "noise-resistor")}
cn n1 n2 {farads(result, stage, "noise-capacitor")}
cc n2 g {farads(result, stage, "coupling")} ic={stored_v(result)}
rl n2 g {leak(result, stage, "coupling")}
cs g 0 10p
rg g 0 {ohms(result, stage, "grid-leak")}
vb b 0 {float(result.inner["rail:sync"][0])}
rp b p {ohms(result, stage, "plate-load")}
cp p 0 5p
x1 p g 0 tube
{triode(tube)}
.options method=gear
.tran 0.2u {LINES * line} {(LINES - KEPT) * line} 0.2u uic
"""


def stored_v(result: Result) -> float:
    """Return about what the coupling capacitor holds, from which the simulator settles soon."""
    times = standard("525/60")
    sync, whole = (float(result.inner[name][0]) for name in ("video_sync_v", "video_pp_v"))
    white = 0.5 * times.active_line_s / times.line_s
    mean = sync * (1.0 - times.line_sync_s / times.line_s) + (whole - sync) * white
    return float(result.inner["video_tip_v"][0]) - mean + 28.0


@pytest.mark.spice
@pytest.mark.parametrize("fault", SEPARATOR_FAULTS)
def test_separator(spice: SpiceRun, fault: str) -> None:
    """Bias within 9 %, separated sync and what is left of the picture within 6 % of the rail."""
    result = faulty(fault)
    emission = float(np.ravel(result.batch.emission("sync-separator", "separator"))[0])
    tube = replace(model_of("12AU7", "triode"), emission_share=min(emission, 1.0))
    found = spice(separator_netlist(result, tube), ["v(g)", "v(p)"])
    line, pulse = standard("525/60").line_s, standard("525/60").line_sync_s
    time = np.linspace(found["time"][0], found["time"][0] + (KEPT - 0.01) * line, 20_001)
    grid, plate = (np.interp(time, found["time"], found[name]) for name in ("v(g)", "v(p)"))
    phase = np.mod(time, line)
    tip = plate[(phase > line - pulse + 4e-7) & (phase < line - 4e-7)].mean()
    blank = plate[(phase > line - pulse - 3e-6) & (phase < line - pulse - 1e-7)].mean()
    rail = float(result.inner["rail:sync"][0])

    assert float(result.values["sync-separator-grid.dc"][0]) == pytest.approx(grid.mean(), rel=0.09, abs=0.3)
    assert float(result.inner["separated_v"][0]) == pytest.approx(blank - tip, abs=0.06 * rail)
    assert float(result.values["sync-separator-plate.pp"][0]) == pytest.approx(np.ptp(plate), abs=0.08 * rail)


def sync_of(share: float) -> str:
    """Return a frame of composite sync of unit height as corners, the broad pulses at ``share`` of it."""
    train = composite_sync(standard("525/60"), 2)
    shift = 1e-6 - float(train.on_s[0])
    corners = [(0.0, 0.0)]
    for on, off, kind in zip(train.on_s + shift, train.off_s + shift, train.kind, strict=True):
        height = share if kind == BROAD else 1.0
        corners += [(on, 0.0), (on + EDGE_S, height), (off, height), (off + EDGE_S, 0.0)]
    corners.append((2.0 * standard("525/60").field_s, 0.0))
    return " ".join(f"{at:.9e} {volts:.6g}" for at, volts in corners)


@pytest.mark.spice
@pytest.mark.parametrize("fault", INTEGRATOR_FAULTS)
def test_integrator(spice: SpiceRun, fault: str) -> None:
    """With the true serrated waveform the swing of the integrator, and how far the vertical pulse
    stands above its mean, meet the simulator within 3 %."""
    result = faulty(fault)
    stage = "vertical-integrator"
    seconds = farads(result, "sync-separator", "coupling") * ohms(result, "sync-separator", "grid-leak")
    share = seconds / (seconds + 150e-6)
    netlist = f"""integrator of a receiver
vs s 0 pwl({sync_of(share)}) r=0
r1 s a {ohms(result, stage, "resistor-1")}
c1 a 0 {farads(result, stage, "capacitor-1") + 60e-12}
l1 a 0 {leak(result, stage, "capacitor-1")}
r2 a o {ohms(result, stage, "resistor-2")}
c2 o 0 {farads(result, stage, "capacitor-2") + 60e-12}
l2 o 0 {leak(result, stage, "capacitor-2")}
.tran 1u 50m 16.633m 1u
""".replace("\nl1", "\nrl1").replace("\nl2", "\nrl2")
    found = spice(netlist, ["v(o)"])
    height = float(result.inner["sync_up_v"][0])
    output = found["v(o)"]
    mean = np.trapezoid(output, found["time"]) / np.ptp(found["time"])
    coupling = farads(result, stage, "coupling")
    passed = coupling / (coupling + 8e-10) * float(result.inner["sync_purity"][0]) ** 0.7
    arrives = float(result.inner["vertical_pulse_v"][0]) / passed

    swing = float(result.values["integrator-output.pp"][0]) / height

    assert swing == pytest.approx(np.ptp(output), rel=0.03, abs=2e-3)
    assert arrives / height == pytest.approx(output.max() - mean, rel=0.03, abs=2e-3)
