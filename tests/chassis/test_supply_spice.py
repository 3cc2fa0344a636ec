"""The B+ supply of a receiver against a circuit simulator, healthy and with faults."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from backporch.engine.chassis.faults import read_fault
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.parts import Batch, healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.knowledge.library import shipped

SpiceRun = Callable[[str, list[str]], dict[str, np.ndarray]]

FAULTS = ("", "C2=low-capacitance:0.4", "C3=low-capacitance:0.2", "V20=weak:0.6", "R1=high:3", "C3=leaky:8k")


def netlist(batch: Batch, load_ohm: float, tube_ohm: float, figures: dict[str, float | str]) -> str:
    """Return the supply of the part list as a netlist, with the set as one resistance."""

    def value(role: str, stage: str = "low-voltage-supply") -> float:
        return float(np.ravel(batch.value(stage, role))[0])

    def farads(role: str, stage: str) -> float:
        return float(np.ravel(batch.farads(stage, role))[0])

    peak = value("transformer") * np.sqrt(2.0)
    series = float(figures["source_ohm"]) + float(np.ravel(batch.ohms("low-voltage-supply", "surge-resistor"))[0])
    rails = "rail-decoupling"
    leak = float(np.ravel(batch.leak(rails, "b-plus-capacitor"))[0])
    return f"""B+ supply
V1 a 0 SIN(0 {peak} 60)
V2 0 b SIN(0 {peak} 60)
R1 a a1 {series + tube_ohm}
R2 b b1 {series + tube_ohm}
D1 a1 r ideal
D2 b1 r ideal
C1 r 0 {farads("reservoir", "low-voltage-supply")} IC=300
L1 r c {value("choke", rails)} IC=0.25
R3 c p {figures["choke_ohm"]}
C2 p 0 {farads("b-plus-capacitor", rails)} IC=285
R4 p 0 {load_ohm}
R5 p 0 {leak}
.model ideal D(N=0.02 IS=1e-12)
.tran 50u 1.2 1.0 50u UIC
"""


@pytest.mark.spice
@pytest.mark.parametrize("fault", FAULTS)
def test_reservoir_and_b_plus(spice: SpiceRun, fault: str) -> None:
    """Direct voltages agree within 4 %, the ripple of the reservoir within 12 %."""
    library = shipped()
    chassis = load_chassis("plover-17", library)
    faults = [read_fault(fault, chassis, library)] if fault else []
    batch = healthy_batch(chassis, faults)
    result = simulate(chassis, batch)
    b_plus = float(result.values["b-plus.dc"][0])
    leak = float(np.ravel(batch.leak("rail-decoupling", "b-plus-capacitor"))[0])
    load = b_plus / (float(result.inner["b_plus_current"][0]) - b_plus / leak)
    emission = float(np.ravel(batch.emission("low-voltage-supply", "rectifier"))[0])
    tube = float(chassis.figures.get("rectifier_ohm", 95.0)) / emission**1.2
    found = spice(netlist(batch, load, tube, chassis.figures), ["v(r)", "v(p)"])
    late = found["time"] > found["time"][-1] - 0.1
    reservoir, rail = found["v(r)"][late], found["v(p)"][late]

    assert float(result.values["reservoir.dc"][0]) == pytest.approx(reservoir.mean(), rel=0.04)
    assert b_plus == pytest.approx(rail.mean(), rel=0.04)
    assert float(result.values["reservoir.pp"][0]) == pytest.approx(np.ptp(reservoir), rel=0.12)
