# SPDX-License-Identifier: MIT
"""Which measurements of the knowledge base can be made on a chassis, and on what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.observations import OBSERVATIONS, PER_TARGET
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Measurement

__all__ = ["Offer", "all_offers"]


@dataclass(frozen=True)
class Offer:
    """A measurement as it can be made on this chassis."""

    id: str
    """``measurement``, or ``measurement@target``."""
    name: str
    target: str
    measurement: Measurement
    kind: Literal["number", "outcome", "target"]


def all_offers(chassis: Chassis, library: Library) -> dict[str, Offer]:
    """Return every measurement that the chassis allows and that the virtual chassis can answer."""
    found: dict[str, Offer] = {}
    for name, measurement in library.measurements.items():
        if _suits(chassis, measurement):
            for offer in _offers_of(name, measurement, chassis):
                found[offer.id] = offer
    return found


def _suits(chassis: Chassis, measurement: Measurement) -> bool:
    """Tell whether the chassis has every trait asked for; traits of the session are checked when it is known."""
    wanted = {trait: allowed for trait, allowed in measurement.traits.items() if hasattr(chassis, trait)}
    return all(str(getattr(chassis, trait)) in allowed for trait, allowed in wanted.items())


def _offers_of(name: str, measurement: Measurement, chassis: Chassis) -> Iterator[Offer]:
    if measurement.reading is not None:
        if measurement.reading.point in chassis.test_points:
            yield Offer(name, name, "", measurement, "number")
    elif measurement.observe in PER_TARGET:
        targets = chassis.tubes if measurement.observe == "exchange-tube" else (*chassis.parts, *chassis.tubes)
        for target in targets:
            yield Offer(f"{name}@{target}", name, target, measurement, "target")
    elif measurement.observe in OBSERVATIONS:
        yield Offer(name, name, "", measurement, "outcome")
