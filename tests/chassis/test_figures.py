"""Twenty figures of each receiver that were named in advance as plausible."""

from __future__ import annotations

import math

import pytest

from backporch.engine.chassis.figures import FIGURES
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.circuits.flyback_yoke import NECK_M, full_scan_a
from backporch.engine.knowledge.library import shipped
from backporch.engine.units import parse

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")


def anode_for_size(chassis: Chassis, result: Result) -> float:
    """Return the anode voltage over what is usual for the size of the tube."""
    usual = {"17": 13e3, "24": 16.5e3, "19": 15e3, "14": 11e3}[chassis.name[-2:]]
    return float(result.picture["anode_v"][0]) / usual


@pytest.fixture(scope="module")
def results() -> dict[str, tuple[Chassis, Result]]:
    """Simulate each nominal receiver once."""
    library = shipped()
    chassis = {name: load_chassis(name, library) for name in CHASSIS}
    return {name: (c, simulate(c, healthy_batch(c))) for name, c in chassis.items()}


@pytest.mark.parametrize("name", CHASSIS)
@pytest.mark.parametrize("figure", FIGURES)
def test_figure_is_plausible(results: dict[str, tuple[Chassis, Result]], name: str, figure: str) -> None:
    """Each figure lies where a designer of the time would have put it."""
    entry = FIGURES[figure]
    value = entry.compute(*results[name])

    assert math.isfinite(value)
    assert entry.low <= value <= entry.high


@pytest.mark.parametrize("name", CHASSIS)
def test_anode_voltage_suits_the_size(results: dict[str, tuple[Chassis, Result]], name: str) -> None:
    """The anode voltage is near what is common practice for a tube of that size."""
    assert 0.85 <= anode_for_size(*results[name]) <= 1.15


@pytest.mark.parametrize("name", CHASSIS)
def test_anode_voltage_suits_the_registered_tube(results: dict[str, tuple[Chassis, Result]], name: str) -> None:
    """What flyback and rectifier make lies between 0.85 of the tube's usual anode voltage and its most."""
    chassis, result = results[name]
    anode = shipped().picture_tubes[chassis.tubes[chassis.picture_tube].type].anode

    assert 0.85 * anode.usual <= float(result.picture["anode_v"][0]) <= anode.most


@pytest.mark.parametrize("name", CHASSIS)
def test_cut_off_lies_in_the_spread_of_the_registered_tube(
    results: dict[str, tuple[Chassis, Result]], name: str
) -> None:
    """The bias at which the picture goes dark is one that a good tube of the type may have."""
    chassis, result = results[name]
    spread = shipped().picture_tubes[chassis.tubes[chassis.picture_tube].type].cut_off
    share = float(result.values["picture-tube-first-anode.dc"][0]) / spread.first_anode
    rated = float(chassis.figures.get("cut_off_v", 50.0)) / 300.0 * spread.first_anode

    assert share > 0.5
    assert 0.9 * spread.least <= rated <= 1.1 * spread.most


def wanted_scan_a(chassis: Chassis) -> float:
    """Return the current that scans the chassis's tube with its yoke, by the law of deflection."""
    angle = shipped().picture_tubes[chassis.tubes[chassis.picture_tube].type].angle_degrees
    winding = next(p for p in chassis.parts.values() if (p.stage, p.role) == ("horizontal-yoke", "winding"))
    anode_v = float(chassis.figures.get("anode_v", 14e3))
    return float(full_scan_a(parse(winding.value or "", "H"), anode_v, math.radians(angle), NECK_M[round(angle)]))


@pytest.mark.parametrize("name", CHASSIS)
def test_full_scan_takes_the_current_of_the_law(results: dict[str, tuple[Chassis, Result]], name: str) -> None:
    """What fills the screen follows from yoke, anode voltage, angle and neck, and the output stage gives it."""
    chassis, result = results[name]
    wanted = wanted_scan_a(chassis)

    assert float(chassis.figures["horizontal_full_a"]) == pytest.approx(wanted, rel=0.003)
    assert float(result.inner["yoke_pp_a"][0]) == pytest.approx(wanted, rel=0.03)


@pytest.mark.parametrize("name", CHASSIS)
def test_size_of_the_chassis(results: dict[str, tuple[Chassis, Result]], name: str) -> None:
    """Each receiver is complete: all stages, well over a hundred parts."""
    chassis = results[name][0]

    assert len(chassis.stages) == 31
    assert 110 <= len(chassis.parts) + len(chassis.tubes) <= 200
