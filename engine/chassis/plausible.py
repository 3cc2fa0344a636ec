# SPDX-License-Identifier: MIT
"""What in a chassis file is implausible, and what was expected there.

Looks at part values against the usual range of their role and kind, at ratings against the computed volts, at
heaters against their string or winding, at tube types against those of the set that the file is like, and at
the figures of the simulated receiver. An oddity is a question to the owner, not a proof.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from backporch.engine.chassis.figures import FIGURES, figure_values
from backporch.engine.chassis.model import Chassis, Part, unit_of_kind
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import Result, simulate
from backporch.engine.chassis.stand_in import heater_ratings, stand_in_refusals
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.library import Library
from backporch.engine.units import parse, show

__all__ = ["Oddity", "oddities"]

_KIND_RANGES: Mapping[str, tuple[float, float]] = {
    "electrolytic": (0.5e-6, 2e-3),
    "paper capacitor": (150e-12, 2.5e-6),
    "film capacitor": (150e-12, 2.5e-6),
    "mica capacitor": (2e-12, 22e-9),
    "ceramic capacitor": (0.5e-12, 47e-9),
    "composition resistor": (4.0, 22e6),
    "wirewound resistor": (0.3, 100e3),
}
"""Range of values in which a kind of part was made; common practice, no source."""

_STRESSED_BY: Mapping[tuple[str, str], str] = {
    ("low-voltage-supply", "reservoir"): "reservoir.dc",
    ("rail-decoupling", "b-plus-capacitor"): "b-plus.dc",
    ("rail-decoupling", "capacitor-tuner"): "rail-tuner.dc",
    ("rail-decoupling", "capacitor-video"): "rail-video.dc",
    ("rail-decoupling", "capacitor-sync"): "rail-sync.dc",
    ("rail-decoupling", "capacitor-horizontal"): "rail-horizontal.dc",
    ("rail-decoupling", "capacitor-vertical"): "rail-vertical.dc",
    ("video-output", "screen-bypass"): "video-screen.dc",
    ("horizontal-output", "screen-bypass"): "horizontal-output-screen.dc",
    ("sync-separator", "coupling"): "video-plate.dc",
    ("picture-tube-supplies", "first-anode-bypass"): "picture-tube-first-anode.dc",
}
"""The point whose volts stand across a capacitor."""

_TUBE_FOR: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("high-voltage", "rectifier"): ("high-voltage rectifier",),
    ("damper-boost", "damper"): ("damper",),
    ("low-voltage-supply", "rectifier"): ("wave rectifier",),
    ("horizontal-output", "output"): ("horizontal output",),
    ("horizontal-afc", "detector"): ("diode",),
    ("if-amplifier", "amplifier-1"): ("pentode",),
    ("if-amplifier", "amplifier-2"): ("pentode",),
    ("if-amplifier", "amplifier-3"): ("pentode",),
    ("sound", "limiter"): ("pentode",),
    ("video-output", "amplifier"): ("pentode",),
    ("vertical-oscillator", "oscillator"): ("triode",),
    ("horizontal-oscillator", "oscillator"): ("triode",),
    ("horizontal-oscillator", "oscillator-2"): ("dual triode", "triode and"),
}
"""Words of which one must describe the tube in a role; common practice, no source."""

_RATING_MARGIN = 1.0
_HEATER_SUM = 0.04
_HEATER_RATED = 0.04
_STRING_SPREAD = 0.06


@dataclass(frozen=True)
class Oddity:
    """Something implausible: where, what was found, what was expected, and what to look at."""

    where: str
    found: str
    expected: str
    look: str


def oddities(chassis: Chassis, library: Library, like: Chassis | None = None) -> tuple[Oddity, ...]:
    """Return what is implausible about a chassis, parts first, then tubes, then the receiver as a whole.

    Args:
        chassis: The receiver to look at.
        library: The knowledge base with usual values and tube types.
        like: The receiver that the file says it is like; tube types that differ are compared with it.
    """
    found = [*_values(chassis, library), *_kinds(chassis), *_heaters(chassis, library), *_tubes(chassis, library)]
    if like is not None:
        found += _exchanged(chassis, like, library)
    try:
        result = simulate(chassis, healthy_batch(chassis))
    except (BackporchError, ArithmeticError, ValueError) as error:
        return (
            *found,
            Oddity(
                "the receiver", f"cannot be computed ({error})", "a working receiver", "the values named above"
            ),
        )
    return (*found, *_ratings(chassis, result), *_figures(chassis, result))


def _number(part: Part) -> float | None:
    unit = unit_of_kind(part.kind)
    return parse(part.value, unit) if unit and part.value else None


def _slip(value: float, low: float, high: float) -> str:
    """Say which slip of the pen would bring a value into its range."""
    for factor, slip in ((1e3, "thousand"), (1e6, "million"), (10.0, "ten"), (100.0, "hundred")):
        if low <= value / factor <= high:
            return f"the unit or the decimal point: it is {slip} times what is usual"
        if low <= value * factor <= high:
            return f"the unit or the decimal point: it is a {slip}th of what is usual"
    return "the value and the part that it belongs to"


def _values(chassis: Chassis, library: Library) -> Iterable[Oddity]:
    for name, part in chassis.parts.items():
        usual, value = library.usual_values.get(f"{part.stage} {part.role}"), _number(part)
        if usual is None or value is None:
            continue
        unit = unit_of_kind(part.kind)
        low, high = parse(usual.low, unit), parse(usual.high, unit)
        if not low <= value <= high:
            yield Oddity(
                f"parts.{name}.value",
                f"{part.value} as {part.does or part.role}",
                f"{usual.low} to {usual.high}",
                _slip(value, low, high),
            )


def _kinds(chassis: Chassis) -> Iterable[Oddity]:
    for name, part in chassis.parts.items():
        value = _number(part)
        if part.kind not in _KIND_RANGES or value is None:
            continue
        low, high = _KIND_RANGES[part.kind]
        if not low <= value <= high:
            unit = unit_of_kind(part.kind)
            yield Oddity(
                f"parts.{name}.kind",
                f"{part.value} as {part.kind}",
                f"such parts were made from {show(low, unit)} to {show(high, unit)}",
                "the kind of part and the unit",
            )


def _heaters(chassis: Chassis, library: Library) -> Iterable[Oddity]:
    for name, tube in chassis.tubes.items():
        known = library.tubes.get(tube.type)
        ways = heater_ratings(known) if known else ()
        if not ways or tube.heater == "flyback" or tube.heater == "own-winding":
            continue
        if not any(abs(tube.heater_v / volts - 1) < _HEATER_RATED for volts, _ in ways):
            yield Oddity(
                f"tubes.{name}.heater_v",
                f"{show(tube.heater_v, 'V')} for {tube.type}",
                " or ".join(show(volts, "V") for volts, _ in ways),
                "the tube type and its heater voltage",
            )
    if chassis.supply == "series-string":
        yield from _string(chassis, library)


def _string(chassis: Chassis, library: Library) -> Iterable[Oddity]:
    current = float(chassis.figures.get("string_a", 0.3))
    for name, tube in chassis.tubes.items():
        known = library.tubes.get(tube.type)
        ways = heater_ratings(known) if known else ()
        wrong = all(abs(amperes / current - 1) > _STRING_SPREAD for _, amperes in ways)
        if tube.heater == "string" and ways and wrong:
            yield Oddity(
                f"tubes.{name}.type",
                f"{tube.type}, a {show(ways[0][1], 'A')} heater, in a string of {show(current, 'A')}",
                f"a tube for {show(current, 'A')}",
                "the letters or figures of the type that stand for its heater",
            )
    volts = sum(tube.heater_v for tube in chassis.tubes.values() if tube.heater == "string")
    series = [
        p for p in chassis.parts.values() if p.stage == "heater-supply" and p.role in ("dropper", "thermistor")
    ]
    total = volts + sum(current * (_number(part) or 0.0) for part in series)
    if abs(total / chassis.mains_v - 1) > _HEATER_SUM:
        yield Oddity(
            "the heater string",
            f"heaters and droppers take {show(total, 'V')} at {show(current, 'A')}",
            f"the mains, {show(chassis.mains_v, 'V')}",
            "each heater voltage, the dropper, and the current of the string",
        )


def _tubes(chassis: Chassis, library: Library) -> Iterable[Oddity]:
    for name, tube in chassis.tubes.items():
        if tube.type not in library.tubes and tube.kind != "picture tube":
            yield Oddity(
                f"tubes.{name}.type",
                f"{tube.type}, which is not known here",
                "a registered type",
                "the spelling of the type; a type that is right may stay",
            )
            continue
        for section in tube.sections.values():
            words = _TUBE_FOR.get((section.stage, section.role), ())
            does = library.tubes[tube.type].does if tube.type in library.tubes else "picture tube"
            if words and not any(word in does for word in words):
                yield Oddity(
                    f"tubes.{name}.type",
                    f"{tube.type}, a {does}, as {section.role.replace('-', ' ')} of the stage {section.stage}",
                    f"a {words[0]}" if words[0] != "wave rectifier" else "a rectifier",
                    "the tube type and the number of the tube",
                )


def _exchanged(chassis: Chassis, like: Chassis, library: Library) -> Iterable[Oddity]:
    for name, tube in chassis.tubes.items():
        before = like.tubes.get(name)
        if before is None or before.type == tube.type or tube.kind == "picture tube":
            continue
        for reason in stand_in_refusals(
            before.type, tube.type, library, series_string=chassis.supply == "series-string"
        ):
            yield Oddity(
                f"tubes.{name}.type",
                f"{tube.type} where {like.name} has {before.type}",
                f"{before.type} or a type that may stand in for it",
                reason.rstrip("."),
            )


def _ratings(chassis: Chassis, result: Result) -> Iterable[Oddity]:
    for name, part in chassis.parts.items():
        point = _STRESSED_BY.get((part.stage, part.role))
        if (
            point is None
            or point not in result.values
            or not part.rating
            or not part.rating.rstrip().endswith("V")
        ):
            continue
        volts, rated = float(result.values[point][0]), parse(part.rating, "V")
        if volts > rated * _RATING_MARGIN:
            yield Oddity(
                f"parts.{name}.rating",
                f"rated {part.rating} with {show(volts, 'V')} across it",
                f"a rating above {show(volts, 'V')}",
                "the rating, and the values that set the volts there",
            )


def _figures(chassis: Chassis, result: Result) -> Iterable[Oddity]:
    for title, value in figure_values(chassis, result).items():
        figure = FIGURES[title]
        low, high = figure.low, figure.high
        if not math.isfinite(value) or not low <= value <= high:
            yield Oddity(
                title,
                f"{value:.3g} {figure.unit}".strip(),
                f"{low:.3g} to {high:.3g} {figure.unit}".strip(),
                figure.look,
            )
