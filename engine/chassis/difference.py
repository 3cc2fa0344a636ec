# SPDX-License-Identifier: MIT
"""How two chassis differ: what their files say, and what a healthy set of each would read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import healthy_batch
from backporch.engine.chassis.simulator import simulate
from backporch.engine.units import show

__all__ = ["Difference", "differences", "reading_differences"]

_SKIPPED = frozenset({"schema_", "name", "title", "like", "story", "parts", "tubes", "test_points", "figures"})
_READ_APART = 0.05
_LEAST = {"dc": 0.5, "pp": 0.5, "rms": 0.1, "amp": 0.002, "ohm": 1.0}
_UNITS = {"dc": "V", "pp": "V", "rms": "V", "ohm": "ohm", "amp": "A", "hz": "Hz"}


@dataclass(frozen=True)
class Difference:
    """One thing that differs: where, and how it stands in each; "" where it is missing."""

    where: str
    first: str
    second: str


def differences(first: Chassis, second: Chassis) -> tuple[Difference, ...]:
    """Return what the files of two chassis say differently: traits, stages, parts, tubes."""
    found: list[Difference] = []
    for field in type(first).model_fields:
        if field in _SKIPPED or field in ("rails", "stages"):
            continue
        one, other = str(getattr(first, field)), str(getattr(second, field))
        if one != other:
            found.append(Difference(field, one, other))
    found += _of({k: v.circuit for k, v in first.stages.items()}, {k: v.circuit for k, v in second.stages.items()})
    found += _of(_parts(first), _parts(second))
    found += _of({k: v.type for k, v in first.tubes.items()}, {k: v.type for k, v in second.tubes.items()})
    return tuple(found)


def _parts(chassis: Chassis) -> dict[str, str]:
    return {
        name: ", ".join(text for text in (part.value, part.kind, f"{part.stage}: {part.role}") if text)
        for name, part in chassis.parts.items()
    }


def _of(first: Mapping[str, str], second: Mapping[str, str]) -> Iterable[Difference]:
    for key in {**first, **second}:
        one, other = first.get(key, ""), second.get(key, "")
        if one != other:
            yield Difference(key, one, other)


def reading_differences(first: Chassis, second: Chassis) -> tuple[Difference, ...]:
    """Return the points at which a healthy set of each would read over 5 % apart, as they would be read."""
    one, other = simulate(first, healthy_batch(first)), simulate(second, healthy_batch(second))
    found = []
    for key in one.values:
        point, _, quantity = key.rpartition(".")
        if key not in other.values or point not in first.test_points or point not in second.test_points:
            continue
        a, b = float(one.values[key][0]), float(other.values[key][0])
        if abs(a - b) > max(_READ_APART * max(abs(a), abs(b)), _LEAST.get(quantity, 0.0)):
            unit, kind = _UNITS[quantity], {"pp": " peak to peak"}.get(quantity, "")
            found.append(Difference(point, show(a, unit) + kind, show(b, unit) + kind))
    return tuple(found)
