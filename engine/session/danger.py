# SPDX-License-Identifier: MIT
"""What the entries of a session say to the safety gate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from backporch.engine.chassis.model import Chassis
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Measurement
from backporch.engine.safety.gate import Needs, PointClass, Verdict, gate
from backporch.engine.safety.state import Event, SafetyState, after
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE, plain_words
from backporch.engine.session.workbench import Offer, Workbench
from backporch.engine.units import parse

__all__ = [
    "ALARM_ANSWERS",
    "ALARM_SYMPTOMS",
    "DRIVE_PROOFS",
    "alarm_in",
    "checks_after",
    "needs_of",
    "safety_state",
    "verdict",
]

ALARM_SYMPTOMS = {
    "smoke": "smoke",
    "burning-smell": "smoke",
    "high-voltage-arcing": "arcing",
    "output-plate-red": "red-plate",
    "rectifier-violet": "violet-glow",
    "rectifier-overloaded": "violet-glow",
    "tube-blue-haze": "violet-glow",
}
"""Symptoms on which the set goes off at the plug."""

_SIGNS = {
    "smoke": ("smoke", "smoking", "smokes", "it smokes", "burning", "burning smell", "fire", "on fire"),
    "high-voltage-arcing": ("arcing", "arc", "arcs", "it arcs", "sparks", "sparking", "flashover"),
    "output-plate-red": ("red plate", "plate red", "plate is red", "plate glows red", "plate glowing red"),
    "tube-blue-haze": ("violet", "violet glow", "violet haze", "blue haze", "purple glow", "purple haze"),
}


def alarm_in(text: str) -> str | None:
    """Return the alarming symptom that ``text`` reports at any prompt, or None.

    Example:
        >>> alarm_in(" Smoke! "), alarm_in("red plate"), alarm_in("62 V")
        ('smoke', 'output-plate-red', None)
    """
    words = plain_words(text).strip("!. ").removeprefix("there is ").removeprefix("i see ")
    return next((symptom for symptom, said in _SIGNS.items() if words in said), None)


ALARM_ANSWERS = {
    ("look-at-the-output-plate", "red"): "red-plate",
    ("look-at-the-rectifier", "violet"): "violet-glow",
    ("watch-the-lamp", "bright"): "smoke",
    ("watch-the-lamp-of-a-string", "bright"): "smoke",
}
"""Answers on which the set goes off at the plug."""

DRIVE_PROOFS = (
    "read-line-output-grid",
    "drive-at-line-output",
    "bias-with-screen-lifted",
    "drive-with-screen-lifted",
)
"""Readings that prove the drive of the horizontal output tube where they are healthy."""


def safety_state(workbench: Workbench, entries: Sequence[Entry]) -> SafetyState:
    """Return the state of the bench that follows from the chassis and the standing entries."""
    chassis = workbench.chassis
    doubtful = chassis.supply == "series-string" and chassis.chassis_return == "isolated"
    start = SafetyState(
        chassis_return="unknown" if doubtful else chassis.chassis_return,
        heaters="string" if chassis.supply == "series-string" else "parallel",
        envelope=chassis.envelope,
        high_voltage_source=chassis.high_voltage_source,
        rig=bool(workbench.bench.rig),
    )
    return after(start, _events(workbench, entries))


def _events(workbench: Workbench, entries: Iterable[Entry]) -> Iterator[Event]:
    library = workbench.library
    said: dict[str, str] = {}
    for entry in entries:
        if entry.kind == "circumstance" and entry.key == "condition":
            due = entry.value not in library.conditions or library.conditions[entry.value].cold_check
            yield Event("said", "condition", "cold-check" if due else "")
        elif entry.kind == "circumstance":
            yield Event("said", entry.key, entry.value)
        elif entry.kind == "check":
            said = checks_after(library, said, entry)
            wanted = cold_checks_for(library, workbench.chassis)
            passed = all(_passes(library, name, said.get(name, "")) for name in wanted)
            yield Event("cold-check", value="passed" if passed else "stopped")
        elif entry.kind == "symptom" and entry.key in ALARM_SYMPTOMS and entry.value != "no":
            yield Event("alarm", ALARM_SYMPTOMS[entry.key])
        elif entry.kind == "answer":
            yield from _of_answer(workbench, entry)
        elif entry.kind == "act":
            yield from _ACTS.get(entry.key, ())
        elif entry.kind == "resumed" and workbench.chassis.chassis_return != "isolated":
            yield Event("said", "isolation", "unknown")
            yield Event("said", "company", "unknown")
        elif entry.kind == "repair":
            yield Event("power", "off")
            yield Event("repaired", value=entry.value)
            yield Event("power", "on")


_ACTS = {
    "plug-out": (Event("power", "off"),),
    "discharge": (Event("discharged"),),
    "switch-on": (Event("power", "on"),),
}
"""What is done at the bench by itself, outside any test."""


def _of_answer(workbench: Workbench, entry: Entry) -> Iterator[Event]:
    offer = workbench.faults.offers.get(entry.key)
    if offer is None:
        return
    if offer.measurement.power != "either":
        yield Event("power", offer.measurement.power)
    if offer.measurement.kind == "exchange":
        yield Event("power", "on")
    if "set-off-discharged" in offer.measurement.access:
        yield Event("discharged")
    alarm = ALARM_ANSWERS.get((entry.key, entry.value))
    if alarm:
        yield Event("alarm", alarm)
    if entry.key in DRIVE_PROOFS and entry.value != UNSURE:
        yield Event("proved", "horizontal-drive", "good" if _reads_healthy(workbench, entry) else "bad")


def _reads_healthy(workbench: Workbench, entry: Entry) -> bool:
    from backporch.engine.session.assess import read_answer

    reading = read_answer(workbench.faults.offers[entry.key], entry.value)
    band = workbench.faults.bins(entry.key)
    return not isinstance(reading, str) and band.low <= reading.low <= reading.high <= band.high


def cold_checks_for(library: Library, chassis: Chassis) -> list[str]:
    """Return the names of the cold checks that concern a chassis, in their order."""
    return [
        name
        for name, check in library.cold_checks.items()
        if all(str(getattr(chassis, trait)) in values for trait, values in check.traits.items())
    ]


_AGAIN = ("burnt", "b-plus-ohms")
"""Cold checks that are made again after power through the lamp showed a fault."""


def checks_after(library: Library, said: Mapping[str, str], entry: Entry) -> dict[str, str]:
    """Return the standing answers to the cold checks after one more; a bad sign under power arms some again."""
    now = {**said, entry.key: entry.value}
    check = library.cold_checks.get(entry.key)
    if check is not None and check.powered and not _passes(library, entry.key, entry.value):
        now = {name: answer for name, answer in now.items() if name not in _AGAIN}
    return now


def _passes(library: Library, check: str, value: str) -> bool:
    answer = library.cold_checks[check].options.get(value) if check in library.cold_checks else None
    return answer is not None and answer.stop is None


def needs_of(workbench: Workbench, offer: Offer) -> Needs:
    """Return what an offer needs and endangers, as the gate asks it."""
    measurement = offer.measurement
    point = workbench.library.points.get(measurement.reading.point) if measurement.reading else None
    return Needs(
        name=offer.id,
        kind=measurement.kind,
        power=measurement.power,
        hazards=frozenset(measurement.hazards) | _around_a_tube(workbench, offer),
        access=frozenset(measurement.access),
        instruments=frozenset(measurement.instruments),
        stage=measurement.stage or "",
        point=PointClass(point.rating, point.rated_v, point.substitute, point.because) if point else None,
        instrument_max_v=_rating_v(workbench.library, measurement),
        tube_role=_tube_role(workbench.chassis, offer.target),
        then_on=measurement.kind == "exchange",
    )


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
    if offer.measurement.kind != "exchange" or tube is None:
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


def _rating_v(library: Library, measurement: Measurement) -> float:
    ratings = [library.instruments[name].max_v for name in measurement.instruments]
    return max((parse(rating, "V") for rating in ratings if rating), default=0.0)


def _tube_role(chassis: Chassis, target: str) -> str:
    tube = chassis.tubes.get(target)
    stages = {section.stage for section in tube.sections.values()} if tube else set()
    return next((s for s in ("horizontal-output", "picture-tube") if s in stages), "")


def verdict(workbench: Workbench, offer: Offer, entries: Sequence[Entry]) -> Verdict:
    """Return the gate's word on making an offer now."""
    return gate(needs_of(workbench, offer), safety_state(workbench, entries))
