# SPDX-License-Identifier: MIT
"""Figures by which a receiver is judged plausible: each with the range a designer of the time would have kept.

The ranges are common practice, no source, but for the tube maxima, which name their type beside them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.simulator import Result
from backporch.engine.units import parse

__all__ = ["FIGURES", "Figure", "figure_values", "heater_sum"]

_Compute = Callable[[Chassis, Result], float]


@dataclass(frozen=True)
class Figure:
    """One figure of a receiver: how it is computed, its range, and what to look at when it lies outside."""

    compute: _Compute
    low: float
    high: float
    source: str
    look: str
    unit: str = ""


def heater_sum(chassis: Chassis, _result: Result | None = None) -> float:
    """Return heaters and droppers against the mains of a string, or the winding's volts against 6.3 V."""
    supply = [p for p in chassis.parts.values() if p.stage == "heater-supply"]
    if chassis.supply == "transformer":
        return sum(parse(p.value or "0", "V") for p in supply if p.role == "winding") / 6.3
    heaters = sum(t.heater_v for t in chassis.tubes.values() if t.heater == "string")
    ohms = sum(parse(p.value or "0", "ohm") for p in supply if p.role in ("dropper", "thermistor"))
    return (heaters + ohms * float(chassis.figures["string_a"])) / chassis.mains_v


def figure_values(chassis: Chassis, result: Result) -> dict[str, float]:
    """Return the value of each figure for a simulated receiver, by title."""
    return {title: figure.compute(chassis, result) for title, figure in FIGURES.items()}


def _point(key: str) -> _Compute:
    return lambda _c, r: float(r.values[key][0])


def _inner(key: str, factor: float = 1.0) -> _Compute:
    return lambda _c, r: factor * float(r.inner[key][0])


def _shown(key: str) -> _Compute:
    return lambda _c, r: float(r.picture[key][0])


def _field_hz(chassis: Chassis) -> float:
    return 60.0 if chassis.standard == "525/60" else 50.0


def _output_watts(_chassis: Chassis, result: Result) -> float:
    plate = float(result.values["vertical-output-plate.dc"][0] - result.values["vertical-output-cathode.dc"][0])
    return plate * float(result.inner["vertical_a"][0])


def _video_watts(_chassis: Chassis, result: Result) -> float:
    return float(result.values["video-plate.dc"][0]) * float(result.inner["video_a"][0]) / 1.2


def _bias(_chassis: Chassis, result: Result) -> float:
    return float(result.values["picture-tube-cathode.dc"][0] - result.values["picture-tube-grid.dc"][0])


def _sawtooth_share(_chassis: Chassis, result: Result) -> float:
    rail = max(float(result.values[key][0]) for key in ("boosted-b-plus.dc", "b-plus.dc"))
    return float(result.values["vertical-sawtooth.pp"][0]) / rail


_PRACTICE = "common practice, no source"
_RAILS = "the supply: rectifier, reservoir, mains, and the resistors of the rails"
_TIMING = "the time constant: grid capacitor, grid resistor and hold control of the vertical oscillator"
_FIELD = "the charging resistor, height control and capacitor of the sawtooth, and the vertical output stage"
_LINE = "the horizontal output stage, its drive, screen resistor and grid leak, and the flyback"

FIGURES: Mapping[str, Figure] = MappingProxyType(
    {
        "B+": Figure(_point("b-plus.dc"), 190, 310, _PRACTICE, _RAILS, "V"),
        "B+ ripple": Figure(_point("b-plus.pp"), 0.05, 3.0, _PRACTICE, "the filter capacitors and the choke", "V"),
        "B+ current": Figure(
            _inner("b_plus_current"), 0.15, 0.36, "common practice; 5U4GB 0.3 A, PY33 0.325 A", _RAILS, "A"
        ),
        "tuner rail": Figure(_point("rail-tuner.dc"), 110, 190, _PRACTICE, "the resistor of the tuner rail", "V"),
        "heaters against the mains": Figure(
            heater_sum, 0.97, 1.03, "Ohm's law", "heater voltages, dropper and thermistor"
        ),
        "video signal at the plate": Figure(
            _point("video-plate.pp"),
            40,
            110,
            "common practice: 40 to 100 V at the tube",
            "plate load, cathode and screen resistors of the video stage",
            "V",
        ),
        "dissipation of the video tube": Figure(
            _video_watts,
            1.0,
            9.0,
            "PL83 9 W; 12BY7A 6.5 W, from memory, to verify",
            "cathode and screen resistors of the video stage",
            "W",
        ),
        "separator bias": Figure(
            _point("sync-separator-grid.dc"),
            -70,
            -10,
            "common practice: near the signal's peak",
            "grid leak and coupling capacitor of the separator",
            "V",
        ),
        "vertical free-run against the field rate": Figure(
            lambda c, r: float(r.inner["field_free_hz"][0]) / _field_hz(c),
            0.92,
            0.995,
            "common practice: a few per cent slow",
            _TIMING,
        ),
        "lowest vertical hold against the field rate": Figure(
            lambda c, r: float(r.picture["hold_low_hz"][0]) / _field_hz(c),
            0.6,
            0.9,
            "common practice: about 40 to 70 Hz for 60",
            _TIMING,
        ),
        "sawtooth against its rail": Figure(_sawtooth_share, 0.008, 0.6, "it cannot exceed the rail", _FIELD),
        "dissipation of the vertical output tube": Figure(
            _output_watts,
            2.0,
            9.5,
            "6S4A 8.5 W, PCL85 7 to 8 W, from memory, to verify",
            "cathode resistor and grid leak of the vertical output stage",
            "W",
        ),
        "vertical yoke current": Figure(
            _inner("vertical_pp_a"), 0.25, 0.6, "yoke classes by angle, from memory, to verify", _FIELD, "A"
        ),
        "height": Figure(_shown("height"), 0.93, 1.07, "the mask is filled", _FIELD),
        "width": Figure(_shown("width"), 0.93, 1.07, "the mask is filled", _LINE),
        "drive at the grid of the horizontal output tube": Figure(
            _point("horizontal-output-grid.pp"),
            60,
            180,
            "common practice: 80 to 180 V",
            "the horizontal oscillator and the drive capacitors",
            "V",
        ),
        "bias of the horizontal output tube": Figure(
            _point("horizontal-output-grid.dc"), -60, -25, _PRACTICE, _LINE, "V"
        ),
        "cathode current of the horizontal output tube": Figure(
            _point("horizontal-output-cathode-current.amp"),
            0.06,
            0.17,
            "6BQ6 0.112 A, 6DQ6 0.14 to 0.175 A, PL36 0.2 A",
            _LINE,
            "A",
        ),
        "boosted B+": Figure(
            _point("boosted-b-plus.dc"),
            400,
            900,
            "common practice: 450 to 700, European 500 to 900 V",
            "the boost capacitor, the flyback and the drive",
            "V",
        ),
        "retrace against the line period": Figure(
            lambda _c, r: float(r.inner["retrace_s"][0]) * float(r.inner["line_hz"][0]),
            0.1,
            0.19,
            "must fit the line blanking",
            "flyback, yoke inductance and tuning",
        ),
        "picture tube bias at cut-off": Figure(
            _bias,
            25,
            90,
            "-28 to -72 V at 300 V of first anode, scaled; from memory, to verify",
            "brightness control, cathode divider and first-anode feed",
            "V",
        ),
        "high-voltage regulation": Figure(
            _inner("anode_ohm", 1e-6), 2, 15, "common practice: 5 to 10 megohms", _LINE, "Mohm"
        ),
    }
)
"""The figures by title."""
