# SPDX-License-Identifier: MIT
"""What a chassis and a session say to the rules: circumstances and observations as facts."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from backporch.engine.chassis.model import Chassis
from backporch.engine.facts import Answer, Fact, Fed, Looped, Member, Passed, Symptom, Traced, Trait
from backporch.engine.knowledge.library import Library
from backporch.engine.session.entry import Entry
from backporch.engine.session.questions import UNSURE

_OPENS = {"clamp-the-agc": "agc", "ground-the-afc-line": "afc"}
"""Measurements that open a loop, after which tracing inside it has a meaning."""

__all__ = ["ahead_of", "chassis_facts", "groups_of", "passed_facts", "session_facts"]

_TRACED_LOOPS = ("agc", "boost")
_BEATS_BY_ITSELF = ("vertical-oscillator", "horizontal-oscillator")
"""Stages that the signal locks and does not feed: their output is there without it."""

_TRAITS = (
    "standard",
    "supply",
    "rectifier",
    "chassis_return",
    "envelope",
    "high_voltage_source",
    "sound_takeoff",
    "ion_trap",
    "output_bias",
    "modulation",
    "horizontal_sync",
)


def ahead_of(chassis: Chassis, stage: str, stop: Collection[str] = ()) -> tuple[str, ...]:
    """Return the stages that the signal passes before it comes to ``stage``, loops left out of account.

    The order is fixed: nearest first, then alphabetical.  What lies before a stage of ``stop`` is left out.
    """
    found: list[str] = []
    queue = sorted(chassis.stages[stage].after) if stage in chassis.stages else []
    while queue:
        name = queue.pop(0)
        if name not in found and name != stage:
            found.append(name)
            if name in chassis.stages and name not in stop:
                queue.extend(sorted(chassis.stages[name].after))
    return tuple(found)


def groups_of(library: Library) -> dict[str, tuple[str, ...]]:
    """Return the stages of each section and each loop, in the order of the table."""
    groups: dict[str, tuple[str, ...]] = {}
    for name, stage in library.stages.items():
        for group in (stage.section, f"loop-{stage.loop}" if stage.loop else ""):
            if group:
                groups[group] = (*groups.get(group, ()), name)
    return groups


def passed_facts(chassis: Chassis, stage: str) -> Iterator[Passed]:
    """Give what the signal passes before the input and before the output of a stage, nearest first."""
    ahead = ahead_of(chassis, stage, _BEATS_BY_ITSELF)
    for port in ("in", "out"):
        passed = () if port == "out" and stage in _BEATS_BY_ITSELF else ahead
        yield from (Passed(first=name, stage=stage, port=port) for name in passed)


def _looped_facts(library: Library, chassis: Chassis, stage: str) -> Iterator[Looped]:
    """Give the stages that the loop of AGC or boost joins with one; of the AFC loop tracing tells nothing."""
    loop = library.stage(stage).loop
    if loop in _TRACED_LOOPS:
        others = (name for name in chassis.stages if name != stage and library.stage(name).loop == loop)
        yield from (Looped(stage=stage, other=name) for name in others)


def chassis_facts(library: Library, chassis: Chassis, traced: Collection[str] = ()) -> Iterator[Fact]:
    """Give the circumstances that the chassis sets.

    Groups of stages: the section by its name, ``loop-agc`` and so on, ``on-<rail>`` for what a rail
    feeds, and ``ahead-of-<stage>`` for what lies before a stage in the signal path.

    Args:
        library: Has the stages.
        chassis: The receiver.
        traced: The stages whose signal path is told, since something was traced there.
    """
    for name in _TRAITS:
        yield Trait(name=name, value=str(getattr(chassis, name)))
    for name, circuit in chassis.stages.items():
        stage = library.stage(name)
        yield Member(group=stage.section, stage=name)
        if stage.loop:
            yield Member(group=f"loop-{stage.loop}", stage=name)
        if name in traced:
            yield from passed_facts(chassis, name)
            yield from _looped_facts(library, chassis, name)
        for upstream in ahead_of(chassis, name):
            yield Member(group=f"ahead-of-{name}", stage=upstream)
        for rail in circuit.rails:
            yield Fed(stage=name, rail=rail, maker=chassis.rails[rail].maker)
            yield Member(group=f"on-{rail}", stage=name)


def session_facts(library: Library, entries: Iterable[Entry]) -> Iterator[Fact]:
    """Give what the person said: circumstances, symptoms, outcomes of looks and controls, traced ports."""
    for entry in entries:
        if entry.value == UNSURE:
            continue
        if entry.kind == "circumstance":
            yield Trait(name=entry.key, value=entry.value)
        elif entry.kind == "symptom" and entry.value != "no":
            yield Symptom(name=entry.key)
        elif entry.kind == "trace":
            stage, _, port = entry.key.partition(".")
            yield Traced(stage=stage, port=port, state=entry.value)
        elif entry.kind == "answer":
            if entry.key in _OPENS:
                yield Trait(name=f"loop-{_OPENS[entry.key]}-opened", value="yes")
            measurement = library.measurements.get(entry.key.partition("@")[0])
            if measurement is not None and measurement.outcomes and "@" not in entry.key:
                yield Answer(measurement=entry.key, outcome=entry.value)
