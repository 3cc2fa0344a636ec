"""The vertical oscillator and output stage of a simulated set against their circuits, with the same parts."""

from __future__ import annotations

import numpy as np
import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import draw_batch, healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.chassis.simulator.near import NearTable
from backporch.engine.chassis.simulator.tube_models import model_of
from backporch.engine.circuits.vertical_oscillator import BlockingOscillator, BlockingParts, blocking_oscillator
from backporch.engine.knowledge.library import shipped

DRAWS = 24


def solved(chassis: Chassis, result: Result) -> BlockingOscillator:
    """Return the blocking oscillator of each set, its circuit solved."""
    batch, stage, saw = result.batch, "vertical-oscillator", "vertical-sawtooth"
    kind = next(t.type for t in chassis.tubes.values() for s in t.sections.values() if s.stage == stage)
    parts = BlockingParts(
        grid_ohm=batch.ohms(stage, "grid-resistor") + batch.ohms(stage, "hold") * batch.position(stage, "hold"),
        grid_f=batch.farads(stage, "grid-capacitor"),
        plate_winding_h=batch.henries(stage, "transformer"),
        charging_ohm=batch.ohms(saw, "charging") + batch.ohms(saw, "height") * batch.position(saw, "height"),
        sawtooth_f=batch.farads(saw, "capacitor"),
        peaking_ohm=batch.ohms(saw, "peaking"),
        turns_ratio=float(chassis.figures.get("vertical_blocking_turns", 1.0)),
        coupling=float(chassis.figures.get("vertical_blocking_coupling", 0.8)),
    )
    return blocking_oscillator(parts, model_of(kind, "triode"), result.inner["boosted_v"])


@pytest.mark.parametrize("name", ["plover-17", "curlew-19", "teal-14"])
def test_free_rate_is_that_of_the_circuit(name: str) -> None:
    """Within tolerance the rate is within 3 % of the solved circuit, the sawtooth foot 8 %, the pulse 16 %."""
    chassis = load_chassis(name, shipped())
    result = simulate(chassis, draw_batch(chassis, DRAWS, seed=11, mains_spread=0.03))
    wanted = solved(chassis, result)

    np.testing.assert_allclose(result.inner["field_free_hz"], wanted.frequency_hz, rtol=0.03)
    np.testing.assert_allclose(result.inner["saw_foot_v"], wanted.plate_low_v, rtol=0.08)
    np.testing.assert_allclose(result.inner["vertical_pulse_s"], wanted.pulse_s, rtol=0.16)


def test_far_parts_are_solved_again() -> None:
    """A timing resistor of four times its value is not taken along the slopes of the drawing."""
    table = NearTable(lambda x: np.exp(2.0 * np.abs(x)) + 0.0, np.array([1.0]), np.array([True]))

    assert table(np.array([[1.1]]))[0, 0] == pytest.approx(np.exp(2.2), rel=1e-6)
    assert table(np.array([[-3.0]]))[0, 0] == pytest.approx(np.exp(6.0), rel=1e-6)


def test_nominal_set_is_as_drawn() -> None:
    """The healthy set fills its mask with a straight picture, and its sawtooth stands where the figures say."""
    chassis = load_chassis("plover-17", shipped())
    result = simulate(chassis, healthy_batch(chassis))

    assert float(result.picture["height"][0]) == pytest.approx(1.0, abs=0.04)
    assert abs(float(result.picture["vertical_nonlinearity"][0])) < 0.06
    assert float(result.inner["saw_v"][0]) == pytest.approx(float(chassis.figures["vertical_sawtooth_v"]), rel=0.1)
