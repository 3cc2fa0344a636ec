# SPDX-License-Identifier: MIT
"""What each step needs and endangers, in the words of the gate: offers, repairs, part tests, points, checks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from backporch.engine.chassis.model import Chassis
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Measurement
from backporch.engine.safety.gate import LAMP, Needs, PointClass
from backporch.engine.safety.points import class_of, volts_at
from backporch.engine.session.workbench import Offer, Workbench
from backporch.engine.units import parse

__all__ = ["needed_v", "needs_of", "needs_of_check", "needs_of_part_test", "needs_of_point", "needs_of_repair"]

_IN_VOLTS = ("dc", "pp", "rms")


def needs_of(workbench: Workbench, offer: Offer) -> Needs:
    """Return what an offer needs and endangers, as the gate asks it."""
    measurement = offer.measurement
    return Needs(
        name=offer.id,
        kind=measurement.kind,
        power=measurement.power,
        hazards=frozenset(measurement.hazards) | _around_a_tube(workbench, offer),
        access=frozenset(measurement.access),
        instruments=frozenset(measurement.instruments),
        stage=measurement.stage or "",
        point=_class_at(workbench, measurement),
        instrument_max_v=_rating_v(workbench, measurement),
        tube_role=_tube_role(workbench.chassis, offer.target),
        then_on=measurement.kind == "exchange",
    )


def _class_at(workbench: Workbench, measurement: Measurement) -> PointClass | None:
    in_volts = measurement.reading is None or measurement.reading.quantity in _IN_VOLTS
    if not measurement.point or not in_volts:
        return None
    return class_of(workbench.library.points.get(measurement.point), workbench.volts_at.get(measurement.point))


def needs_of_point(workbench: Workbench, point: str, meter_max_v: float) -> Needs:
    """Return what reading a point with power on needs, with a meter rated for ``meter_max_v`` [V].

    The hazards are those of the measurements that read it; where none does, those of a rail.
    """
    readers = [m for m in workbench.library.measurements.values() if m.reading and m.reading.point == point]
    in_volts = [m for m in readers if m.reading and m.reading.quantity in _IN_VOLTS]
    cold = bool(readers) and not in_volts
    hazards = {h for m in (readers if cold else in_volts) for h in m.hazards} or {"b-plus"}
    return Needs(
        name=f"point-{point}",
        kind="meter",
        power="off" if cold and all(m.power == "off" for m in readers) else "on",
        hazards=frozenset(hazards),
        point=class_of(workbench.library.points.get(point), 0.0 if cold else workbench.volts_at.get(point)),
        instrument_max_v=meter_max_v,
    )


def needed_v(library: Library, chassis: Chassis, point: str) -> float:
    """Return what an instrument must be rated for at a point that is not open to every one, or 0 [V]."""
    rating = library.points.get(point)
    found = class_of(rating, volts_at(chassis).get(point)) if rating is not None else None
    return found.rated_v if found is not None else 0.0


def needs_of_check(check: str) -> Needs:
    """Return what a cold check with power through the lamp needs."""
    return Needs(check, "look", "on", instruments=frozenset({LAMP}), cold_check=True)


def needs_of_part_test(workbench: Workbench, part: str) -> Needs:
    """Return what proving a suspected part needs, as its kind is proved: cold, by another tube, or with power."""
    chassis, kinds = workbench.chassis, workbench.library.part_kinds
    if part not in chassis.tubes and part not in chassis.parts:
        return Needs(f"test-{part}", "part-test", "off", frozenset({"stored-charge"}))
    tube = chassis.tubes.get(part)
    stages = {s.stage for s in tube.sections.values()} if tube else {chassis.parts[part].stage}
    step = kinds[tube.kind if tube else chassis.parts[part].kind].test_step
    hazards = frozenset(_around(workbench, stages) | (set() if step == "powered" else {"stored-charge"}))
    if step == "powered":
        return Needs(f"test-{part}", "meter", "on", hazards | {"b-plus"})
    if step == "exchange":
        role = _tube_role(chassis, part)
        return Needs(f"test-{part}", "exchange", "off", hazards, tube_role=role, then_on=True)
    return Needs(f"test-{part}", "part-test", "off", hazards)


def needs_of_repair(workbench: Workbench, part: str) -> Needs:
    """Return what changing a part needs, as the gate asks it; a tube is changed like an exchange."""
    chassis = workbench.chassis
    tube = part in chassis.tubes
    stages = {s.stage for s in chassis.tubes[part].sections.values()} if tube else {chassis.parts[part].stage}
    hazards = {"stored-charge"} | ({"hot-glass"} if tube else set()) | _around(workbench, stages)
    hazards |= set() if tube else set(_of_part(chassis, part))
    kind = "exchange" if tube else "repair"
    return Needs(f"repair-{part}", kind, "off", frozenset(hazards), tube_role=_tube_role(chassis, part))


def _around_a_tube(workbench: Workbench, offer: Offer) -> frozenset[str]:
    """Return what endangers near the tube that is exchanged: cage and anode lead are not in the step itself."""
    tube = workbench.chassis.tubes.get(offer.target)
    if tube is None:
        return frozenset()
    return frozenset(_around(workbench, {section.stage for section in tube.sections.values()}))


def _around(workbench: Workbench, stages: Iterable[str]) -> set[str]:
    sections = {workbench.library.stages[stage].section for stage in stages}
    hazards = {"high-voltage"} if sections & {"high-voltage", "horizontal", "picture-tube"} else set()
    return hazards | ({"implosion"} if "picture-tube" in sections else set())


def _of_part(chassis: Chassis, name: str) -> Iterator[str]:
    """Give the cautions on what may be fitted in place of a part."""
    part = chassis.parts[name]
    limits = part.kind in ("fuse", "thermistor") or part.role in ("dropper", "surge-resistor", "interlock")
    if limits:
        yield "like-for-like"
    if "capacitor" in part.kind and part.stage in ("mains-input", "signal-source"):
        yield "mains-class"
    if "capacitor" in part.kind and part.stage in _PULSED:
        yield "pulse-rated"


_PULSED = ("damper-boost", "flyback-transformer", "horizontal-yoke", "high-voltage")


def _rating_v(workbench: Workbench, measurement: Measurement) -> float:
    known = workbench.library.instruments
    ratings = [known[workbench.bench.in_hand(name)].max_v for name in measurement.instruments]
    return max((parse(rating, "V") for rating in ratings if rating), default=0.0)


def _tube_role(chassis: Chassis, target: str) -> str:
    tube = chassis.tubes.get(target)
    stages = {section.stage for section in tube.sections.values()} if tube else set()
    return next((s for s in ("horizontal-output", "picture-tube") if s in stages), "")
