"""Twenty figures of each receiver that were named in advance as plausible."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.knowledge.library import shipped
from backporch.engine.units import parse

CHASSIS = ("plover-17", "dunlin-24", "curlew-19", "teal-14")
Figure = Callable[[Chassis, Result], float]


def point(key: str) -> Figure:
    """Return a reading."""
    return lambda _c, r: float(r.values[key][0])


def inner(key: str, factor: float = 1.0) -> Figure:
    """Return a quantity between the stages."""
    return lambda _c, r: factor * float(r.inner[key][0])


def shown(key: str) -> Figure:
    """Return a quantity of the picture."""
    return lambda _c, r: float(r.picture[key][0])


def heater_sum(chassis: Chassis, _result: Result) -> float:
    """Return heaters and dropper against the mains of a string, or the winding's volts over 6.3."""
    if chassis.supply == "transformer":
        return float(parse(chassis.parts["T2"].value or "0", "V")) / 6.3
    heaters = sum(t.heater_v for t in chassis.tubes.values() if t.heater == "string")
    current = float(chassis.figures["string_a"])
    roles = ("dropper", "thermistor")
    series = [p for p in chassis.parts.values() if p.stage == "heater-supply" and p.role in roles]
    dropped = sum(parse(p.value or "0", "ohm") * current for p in series)
    return (heaters + dropped) / chassis.mains_v


def output_watts(chassis: Chassis, result: Result) -> float:
    """Return the plate dissipation of the vertical output tube."""
    plate = float(result.values["vertical-output-plate.dc"][0] - result.values["vertical-output-cathode.dc"][0])
    del chassis
    return plate * float(result.inner["vertical_a"][0])


def video_watts(_chassis: Chassis, result: Result) -> float:
    """Return the plate dissipation of the video tube."""
    return float(result.values["video-plate.dc"][0]) * float(result.inner["video_a"][0]) / 1.2


def anode_for_size(chassis: Chassis, result: Result) -> float:
    """Return the anode voltage over what is usual for the size of the tube."""
    usual = {"17": 13e3, "24": 16.5e3, "19": 15e3, "14": 11e3}[chassis.name[-2:]]
    return float(result.picture["anode_v"][0]) / usual


FIGURES: dict[str, tuple[Figure, float, float, str]] = {
    "B+ [V]": (point("b-plus.dc"), 190, 310, "common practice: 190 to 290 V and more with a transformer"),
    "B+ ripple [Vpp]": (point("b-plus.pp"), 0.05, 3.0, "common practice"),
    "B+ current [A]": (inner("b_plus_current"), 0.15, 0.36, "common practice; 5U4GB 0.3 A, PY33 0.325 A"),
    "tuner rail [V]": (point("rail-tuner.dc"), 110, 190, "common practice"),
    "heaters over mains": (heater_sum, 0.97, 1.03, "Ohm's law"),
    "video plate signal [Vpp]": (point("video-plate.pp"), 40, 110, "common practice: 40 to 100 V at the tube"),
    "video dissipation [W]": (video_watts, 1.0, 9.0, "PL83 9 W; 12BY7A 6.5 W, from memory, to verify"),
    "separator bias [V]": (point("sync-separator-grid.dc"), -70, -10, "common practice: near the signal's peak"),
    "vertical free-run over field rate": (
        lambda c, r: float(r.inner["field_free_hz"][0]) / (60 if c.standard == "525/60" else 50),
        0.92,
        0.995,
        "common practice: a few per cent slow",
    ),
    "vertical hold low end over field rate": (
        lambda c, r: float(r.picture["hold_low_hz"][0]) / (60 if c.standard == "525/60" else 50),
        0.6,
        0.9,
        "common practice: about 40 to 70 Hz for 60",
    ),
    "vertical output dissipation [W]": (
        output_watts,
        2.0,
        9.5,
        "6S4A 8.5 W, PCL85 7 to 8 W, from memory, to verify",
    ),
    "vertical yoke current [A]": (
        inner("vertical_pp_a"),
        0.25,
        0.6,
        "yoke classes by angle, from memory, to verify",
    ),
    "height": (shown("height"), 0.93, 1.07, "the mask is filled"),
    "width": (shown("width"), 0.93, 1.07, "the mask is filled"),
    "line drive at the grid [Vpp]": (point("horizontal-output-grid.pp"), 60, 180, "common practice: 80 to 180 V"),
    "line output bias [V]": (point("horizontal-output-grid.dc"), -60, -25, "common practice"),
    "line output cathode current [A]": (
        point("horizontal-output-cathode-current.amp"),
        0.06,
        0.17,
        "6BQ6 0.112 A, 6DQ6 0.14 to 0.175 A, PL36 0.2 A",
    ),
    "boosted B+ [V]": (point("boosted-b-plus.dc"), 400, 900, "common practice: 450 to 700, European 500 to 900 V"),
    "retrace over line period": (
        lambda _c, r: float(r.inner["retrace_s"][0]) * float(r.inner["line_hz"][0]),
        0.1,
        0.19,
        "must fit the line blanking",
    ),
    "anode voltage over usual": (anode_for_size, 0.85, 1.15, "common practice by tube size"),
    "cut-off against bias [V]": (
        lambda _c, r: float(r.values["picture-tube-cathode.dc"][0] - r.values["picture-tube-grid.dc"][0]),
        25,
        90,
        "-28 to -72 V at 300 V of first anode, scaled; from memory, to verify",
    ),
    "high-voltage regulation [Mohm]": (inner("anode_ohm", 1e-6), 2, 15, "common practice: 5 to 10 megohms"),
}


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
    compute, low, high, _source = FIGURES[figure]
    value = compute(*results[name])

    assert math.isfinite(value)
    assert low <= value <= high


@pytest.mark.parametrize("name", CHASSIS)
def test_size_of_the_chassis(results: dict[str, tuple[Chassis, Result]], name: str) -> None:
    """Each receiver is complete: all stages, well over a hundred parts."""
    chassis = results[name][0]

    assert len(chassis.stages) == 31
    assert 110 <= len(chassis.parts) + len(chassis.tubes) <= 200
