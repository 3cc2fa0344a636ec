# SPDX-License-Identifier: MIT
"""Leakage between any two named points of a chassis: dirt or a burnt track on a board or a socket.

Written ``POINT/POINT=leaky:OHMS``, for example ``b-plus/agc-line=leaky:1M``; a point is a test point of the
chassis file, a pin such as ``V7.2`` that one of them lies on, or ``chassis``.
Limits: each point counts as a source with a resistance; the stages follow the current into a grid or control
line and the load on a rail, screen or anode.  Elsewhere the two readings move alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from backporch.engine.chassis.hypotheses import Fault, Hypothesis
from backporch.engine.chassis.model import Chassis
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.models import Effect
from backporch.engine.units import parse

__all__ = ["GROUND", "INTO_GRID", "LOADED", "ends_of", "leak_between"]

GROUND = "chassis"
_MODE = "leaky"
_USUAL = ("100 k", "10 M")
_PIN = re.compile(r"(V\d+)\.(\d+)")

INTO_GRID: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "agc-line": ("if-amplifier", "amplifier-1"),
        "tuner-agc": ("tuner", "rf"),
        "afc-line": ("horizontal-oscillator", "oscillator"),
        "video-grid": ("video-output", "amplifier"),
        "sync-separator-grid": ("sync-separator", "separator"),
        "sync-amplifier-grid": ("sync-amplifier", "amplifier"),
        "vertical-oscillator-grid": ("vertical-oscillator", "oscillator"),
        "vertical-output-grid": ("vertical-output", "output"),
        "horizontal-output-grid": ("horizontal-output", "output"),
        "picture-tube-grid": ("picture-tube", "tube"),
    }
)
"""Points where a current lifts a grid, with stage and role of its tube."""
LOADED: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "reservoir": ("low-voltage-supply", "reservoir"),
        "b-plus": ("rail-decoupling", "b-plus-capacitor"),
        **{f"rail-{n}": ("rail-decoupling", f"capacitor-{n}") for n in ("tuner", "video", "sync", "horizontal")},
        "rail-vertical": ("rail-decoupling", "capacitor-vertical"),
        "boosted-b-plus": ("damper-boost", "filter-capacitor"),
        "tuner-b-plus": ("tuner", "plate-bypass"),
        **{f"if-{n}-screen": ("if-amplifier", f"bypass-{n}") for n in (1, 2, 3)},
        "video-screen": ("video-output", "screen-bypass"),
        "horizontal-output-screen": ("horizontal-output", "screen-bypass"),
        "picture-tube-first-anode": ("picture-tube-supplies", "first-anode-bypass"),
        "picture-tube-focus": ("picture-tube-supplies", "focus-bypass"),
    }
)
"""Points that a current loads, with the capacitor across which the leak then lies."""


def ends_of(part: str) -> tuple[str, str] | None:
    """Return the two points of a leak between points, or None for the name of a part.

    Example:
        >>> ends_of("b-plus/agc-line"), ends_of("C41")
        (('b-plus', 'agc-line'), None)
    """
    first, mark, second = part.partition("/")
    return (first, second) if mark else None


def leak_between(part: str, mode: str, severity: str, chassis: Chassis) -> tuple[Hypothesis, Fault]:
    """Return a leak between two points as a hypothesis and a fault.

    Args:
        part: The two points with a stroke between them.
        mode: ``leaky``, the only way.
        severity: Its resistance as text, or "" for some value from 100 k to 10 M.
        chassis: The chassis.
    Raises:
        UnknownWord: the chassis has no such point.
        BadInput: both ends are the same point, or the mode is another.
    """
    ends = ends_of(part) or (part, "")
    first, second = (_point(end.strip(), chassis) for end in ends)
    if first == second:
        raise BadInput(f"{part!r} leaks to itself; name two points, for example b-plus/agc-line=leaky.")
    if mode != _MODE:
        raise UnknownWord("way for two points to fail called", mode, [_MODE])
    low, high = (repr(parse(severity, "ohm")),) * 2 if severity else _USUAL
    effect = Effect(parameter="leakage_ohm", low=low, high=high)
    name = f"{first}/{second}"
    title = f"leakage from {first} to {second}"
    found = Hypothesis(
        f"{name}:{_MODE}", name, name, _MODE, "rail-decoupling", "board", title, (effect,), 0.0, 0.0, False
    )
    return found, Fault(name, _MODE, (effect,))


def _point(name: str, chassis: Chassis) -> str:
    """Return the test point of that name, or the one on that pin."""
    if name == GROUND or name in chassis.test_points:
        return name
    pin = _PIN.fullmatch(name)
    if pin:
        wanted = re.compile(rf"\b{pin.group(1)} pin {pin.group(2)}\b")
        for point, place in chassis.test_points.items():
            if wanted.search(place.at):
                return point
        raise BadInput(f"No test point of this chassis lies on {pin.group(1)} pin {pin.group(2)}.")
    raise UnknownWord("point", name, [*chassis.test_points, GROUND])
