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

_TO_A_PART = ("chassis-open", "iron-hot", "cage-open")


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
            for offer in _offers_of(name, measurement, chassis, library):
                found[offer.id] = offer
    return found


def _suits(chassis: Chassis, measurement: Measurement) -> bool:
    """Tell whether the chassis has every trait asked for; traits of the session are checked when it is known."""
    wanted = {trait: allowed for trait, allowed in measurement.traits.items() if hasattr(chassis, trait)}
    return all(str(getattr(chassis, trait)) in allowed for trait, allowed in wanted.items())


def _offers_of(name: str, measurement: Measurement, chassis: Chassis, library: Library) -> Iterator[Offer]:
    if measurement.reading is not None:
        if measurement.reading.point in chassis.test_points:
            yield Offer(name, name, "", measurement, "number")
    elif measurement.observe in PER_TARGET:
        for target in chassis.parts if measurement.observe == "part-test" else chassis.tubes:
            yield Offer(f"{name}@{target}", name, target, _on(target, measurement, chassis, library), "target")
    elif measurement.observe in OBSERVATIONS and (
        not measurement.touches or measurement.touches in chassis.test_points
    ):
        yield Offer(name, name, "", measurement, "outcome")


def _on(target: str, measurement: Measurement, chassis: Chassis, library: Library) -> Measurement:
    """Return a measurement with the minutes and the access that it takes on one part or tube."""
    if target in chassis.tubes:
        stages = {section.stage for section in chassis.tubes[target].sections.values()}
        behind = [name for name, state in library.bench_states.items() if stages & set(state.around)]
        return measurement.model_copy(update={"access": tuple(dict.fromkeys([*measurement.access, *behind]))})
    kind = library.part_kinds[chassis.parts[target].kind]
    access = [state for state in measurement.access if state in kind.access or state not in _TO_A_PART]
    access += [state for state in kind.access if state not in access and state != "spare-at-hand"]
    tools = [tool for tool in measurement.instruments if tool != "soldering-iron" or "iron-hot" in access]
    return measurement.model_copy(
        update={"access": tuple(access), "minutes": kind.test_minutes, "instruments": tuple(tools)}
    )
