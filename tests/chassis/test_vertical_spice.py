"""The vertical oscillator with its output stage, as a receiver has them, against a circuit simulator."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from backporch.engine.chassis.faults import read_fault
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Bench, Result, simulate
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.tube_curves import TubeModel
from backporch.engine.knowledge.library import shipped

SpiceRun = Callable[[str, list[str]], dict[str, np.ndarray]]
Write = Callable[[str, TubeModel], str]

FAULTS = (
    "",
    "R41=high:1.5",
    "C35=low-capacitance:0.6",
    "V14=weak:0.6",
    "C37=low-capacitance:0.05",
    "R45=high:1.6",
    "R45=low:0.4",
    "C36=leaky:20M",
    "C36=leaky:3M",
)
OSCILLATOR, SAWTOOTH, OUTPUT, YOKE = "vertical-oscillator", "vertical-sawtooth", "vertical-output", "vertical-yoke"
LASTS_S, SETTLED_S = 0.8, 0.55
BLANKED_S = 1.25e-3
BOUNDS = {"rate": 0.02, "grid": 0.05, "sawtooth": 0.03, "foot": 0.03, "cathode": 0.08, "plate": 0.01, "yoke": 0.05}


def faulty(fault: str) -> Result:
    """Simulate plover-17 with a fault, without a signal, so that the oscillator runs by itself."""
    library = shipped()
    chassis = load_chassis("plover-17", library)
    faults = [read_fault(fault, chassis, library)] if fault else []
    return simulate(chassis, healthy_batch(chassis, faults), Bench(signal="none"))


def netlist(result: Result, write: Write) -> str:
    """Return oscillator, sawtooth and output stage as the part list has them, with their faults."""
    batch, figures = result.batch, load_chassis("plover-17", shipped()).figures

    def ohms(stage: str, role: str) -> float:
        return float(np.ravel(batch.ohms(stage, role))[0])

    def farads(stage: str, role: str) -> float:
        return float(np.ravel(batch.farads(stage, role))[0])

    def track(stage: str, role: str) -> float:
        return ohms(stage, role) * float(np.ravel(batch.position(stage, role))[0])

    def tube(name: str, kind: str, section: str, stage: str, role: str) -> str:
        share = float(np.ravel(batch.emission(stage, role))[0])
        return write(name, replace(model_of(kind, section), emission_share=min(share, 1.0)))

    def inside(name: str) -> float:
        return float(result.inner[name][0])

    winding = float(np.ravel(batch.henries(OSCILLATOR, "transformer"))[0])
    primary = float(np.ravel(batch.henries(OUTPUT, "transformer"))[0])
    yoke = float(np.ravel(batch.henries(YOKE, "winding"))[0])
    ratio, damping = (
        float(figures["vertical_transformer_ratio"]),
        ohms(YOKE, "damping-a") + ohms(YOKE, "damping-b"),
    )
    cathode = ohms(OUTPUT, "cathode") + track(OUTPUT, "linearity")
    start = inside("saw_foot_v") + inside("saw_v")
    return f"""vertical deflection of a receiver
{tube("first", "6C4", "triode", OSCILLATOR, "oscillator")}{tube("last", "6S4A", "output", OUTPUT, "output")}
vb b 0 {inside("boosted_v")}
rc b n {ohms(SAWTOOTH, "charging") + track(SAWTOOTH, "height")}
cs n m {farads(SAWTOOTH, "capacitor")} ic={start}
rp m 0 {ohms(SAWTOOTH, "peaking")}
cn n 0 50p
r1 n w 200
l1 w p {winding}
cw p w 200p
rl p w 100k
l2 h 0 {winding}
k12 l1 l2 0.8
r2 h j 300
cg j g {farads(OSCILLATOR, "grid-capacitor")} ic=60
rg g 0 {ohms(OSCILLATOR, "grid-resistor") + track(OSCILLATOR, "hold")}
ck g 0 5p
x1 p g 0 first
vr r 0 {inside("rail:vertical")}
cc n e {farads(OUTPUT, "coupling")} ic={inside("saw_dc_v")}
rx n e {float(np.ravel(batch.leak(OUTPUT, "coupling"))[0])}
re e 0 {ohms(OUTPUT, "grid-leak")}
rk k 0 {cathode}
cb k 0 {farads(OUTPUT, "cathode-bypass")} ic={float(result.values["vertical-output-cathode.dc"][0])}
x2 o e k last
rw r v 420
l3 v o {primary}
cv o v 1.5n
e2 y 0 v o {1.0 / ratio}
vm y z 0
f1 v o vm {1.0 / ratio}
ry z q {float(figures["vertical_yoke_ohm"]) + 5.0}
ly q 0 {yoke}
rd z 0 {damping}
.options method=gear reltol=1e-4
.tran 5u {LASTS_S} {SETTLED_S} 20u uic
"""


def pulses(time: np.ndarray, grid: np.ndarray) -> np.ndarray:
    """Return when a grid falls through half its depth."""
    level = 0.5 * grid.min()
    falls = time[:-1][(grid[:-1] > level) & (grid[1:] <= level)]
    kept = [falls[0]]
    for fall in falls[1:]:
        if fall - kept[-1] > 2e-3:
            kept.append(fall)
    return np.array(kept)


def seen(time: np.ndarray, sawtooth: np.ndarray, fell: np.ndarray) -> np.ndarray:
    """Return which moments belong to the visible part of the last field: between two tops of the sawtooth."""
    tops = []
    for fall in fell[-2:]:
        near = np.flatnonzero((time > fall - 3e-3) & (time <= fall))
        tops.append(time[near[np.argmax(sawtooth[near])]])
    return (time > tops[0] + BLANKED_S) & (time < tops[1])


def measured(found: dict[str, np.ndarray]) -> dict[str, float]:
    """Return rate, and the readings of whole cycles."""
    time = found["time"]
    fell = pulses(time, found["v(g)"])
    rate = (len(fell) - 1) / (fell[-1] - fell[0])
    cycles = int((time[-1] - time[0]) * rate)
    even = np.linspace(time[-1] - cycles / rate, time[-1], 200_001)
    v = {name: np.interp(even, time, wave) for name, wave in found.items() if name != "time"}
    visible = seen(time, found["v(n,m)"], fell)
    saw = v["v(n,m)"]
    return {
        "rate": rate,
        "grid": v["v(g)"].mean(),
        "sawtooth": float(np.ptp(saw)),
        "foot": float(saw.min()),
        "cathode": v["v(k)"].mean(),
        "plate": v["v(o)"].mean(),
        "yoke": float(np.ptp(found["i(ly)"][visible])),
    }


def shown(result: Result) -> dict[str, float]:
    """Return the same of the simulated set."""
    values = {name: float(result.values[f"{name}.dc"][0]) for name in ("vertical-oscillator-grid",)}
    return {
        "rate": float(result.inner["field_free_hz"][0]),
        "grid": values["vertical-oscillator-grid"],
        "sawtooth": float(result.inner["saw_v"][0]),
        "foot": float(result.inner["saw_foot_v"][0]),
        "cathode": float(result.values["vertical-output-cathode.dc"][0]),
        "plate": float(result.values["vertical-output-plate.dc"][0]),
        "yoke": float(result.inner["vertical_pp_a"][0]),
    }


@pytest.mark.spice
@pytest.mark.parametrize("fault", FAULTS)
def test_vertical_oscillator_with_output(spice: SpiceRun, tube_netlist: Write, fault: str) -> None:
    """Rate within 2 %, sawtooth 3 %, direct voltages 1 to 8 %, yoke current 5 %, with grid current or without."""
    result = faulty(fault)
    found = measured(spice(netlist(result, tube_netlist), ["v(g)", "v(n,m)", "v(k)", "v(o)", "i(ly)"]))

    for name, value in shown(result).items():
        assert value == pytest.approx(found[name], rel=BOUNDS[name]), name
