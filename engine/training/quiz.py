# SPDX-License-Identifier: MIT
"""Quizzes on the arithmetic: this set, this test point, this value changed: what should the meter say?

Every seed gives another question, endlessly; the answer is worked out by the simulator, step by step.
Limits: the set is healthy but for the value that the question names; the meter is one of 10 megohms.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from backporch.engine.chassis.metering import as_read
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.parts import Batch, healthy_batch
from backporch.engine.chassis.simulator import Bench, Result, simulate
from backporch.engine.circuits.formula import Step
from backporch.engine.errors import BackporchError, OutOfRange
from backporch.engine.knowledge.library import Library
from backporch.engine.units import parse, show

__all__ = ["Quiz", "Told", "judge", "make_quiz"]

_TRIES = 80
_FACTORS = (0.5, 0.68, 1.5, 2.2, 3.3)
_TOLERANCE = 0.1
_LEAST = {"V": 0.5, "A": 1e-3, "ohm": 1.0, "Hz": 1.0}
_MOST_STEPS = 4
_LONGEST = 110
_NUMBER = re.compile(r"-?[\d.]+( ?[A-Za-z%]+)?")
"""One number with its unit, and no more words."""
_UNITS = {"dc": "V", "pp": "V", "rms": "V", "ohm": "ohm", "amp": "A", "hz": "Hz"}
_QUANTITIES = {
    "dc": "direct volts",
    "pp": "volts peak to peak",
    "rms": "volts RMS",
    "ohm": "ohms",
    "amp": "amperes",
    "hz": "hertz",
}


@dataclass(frozen=True)
class Quiz:
    """One question with its worked solution."""

    seed: int
    chassis: str
    point: str
    question: str
    given: tuple[str, ...]
    """How the healthy reading is computed, a line each."""
    unit: str
    answer: float
    tolerance: float
    """How far off still counts, in the unit of the answer."""
    healthy: float
    """What the set reads with nothing changed."""
    steps: tuple[Step, ...]
    """The computation with the changed value."""


@dataclass(frozen=True)
class Told:
    """How an answer to a question was."""

    right: bool
    text: str


def make_quiz(chassis: Mapping[str, Chassis], library: Library, seed: int) -> Quiz:
    """Return the question of a seed; the same seed always asks the same.

    Args:
        chassis: Sets that may be asked about, by name.
        library: The knowledge base.
        seed: Any whole number.
    Raises:
        OutOfRange: these sets have nothing to ask.
    """
    random = np.random.default_rng([41, abs(seed)])
    plain = chassis[sorted(chassis)[int(random.integers(len(chassis)))]]
    batch = healthy_batch(plain)
    healthy = simulate(plain, batch, _RECORDED)
    keys = sorted(key for key in healthy.steps if _askable(key, healthy, plain, library))
    pairs = [(key, part) for key in keys for part in _parts_near(plain, library, key, healthy)]
    for place in random.permutation(len(pairs))[:_TRIES]:
        key, part = pairs[int(place)]
        factor = float(random.choice(_FACTORS))
        changed = _changed(batch, plain, part, factor)
        if not _moves(key, healthy, simulate(plain, changed)):
            continue
        now = simulate(plain, changed, _RECORDED)
        if _askable(key, now, plain, library) and _tells(key, healthy, now):
            return _asked(seed, plain, key, part, factor, healthy, now)
    raise OutOfRange("No question was found for these sets. Take another seed, or another set.")


_RECORDED = Bench(record=True)


def _changed(batch: Batch, chassis: Chassis, part: str, factor: float) -> Batch:
    index = batch.names.index(part)
    parameter = "capacitance" if "capacitor" in chassis.parts[part].kind else "resistance"
    return replace(batch, faults={(index, parameter): np.array([factor])})


def _askable(key: str, result: Result, chassis: Chassis, library: Library) -> bool:
    """Tell whether a point may be asked: open to a meter, the reading being the last line of its computation."""
    point, _, quantity = key.rpartition(".")
    steps = result.steps.get(key, ())
    if point not in chassis.test_points or not steps or quantity not in _UNITS:
        return False
    if point in library.points and library.points[point].rating == "forbidden":
        return False
    last, unit = steps[-1], _UNITS[quantity]
    if len(last.formula) > _LONGEST or any(mark in last.formula for mark in ";:=") or "," in last.result:
        return False
    try:
        value = parse(last.result, unit)
    except BackporchError:
        return False
    shown = _shown(result, key)
    return abs(shown) > _LEAST[unit] and abs(value - shown) < 0.02 * abs(shown)


def _shown(result: Result, key: str) -> float:
    return float(as_read(result, key).ravel()[0])


def _parts_near(chassis: Chassis, library: Library, key: str, healthy: Result) -> list[str]:
    """Return the parts of the point's own stages that its computation rests on."""
    point = key.rpartition(".")[0]
    stages = {m.stage for m in library.measurements.values() if m.reading and m.reading.point == point}
    used = healthy.parts_behind(key)
    return sorted(
        name
        for name, part in chassis.parts.items()
        if name in used
        and part.stage in stages
        and part.value
        and ("resistor" in part.kind or "capacitor" in part.kind)
    )


def _moves(key: str, healthy: Result, now: Result) -> bool:
    """Tell whether the change moves the reading by a fifth or more."""
    return abs(_shown(now, key) - _shown(healthy, key)) >= 0.2 * abs(_shown(healthy, key))


def _tells(key: str, healthy: Result, now: Result) -> bool:
    """Tell whether one number of the last line follows from the part, the others being as they were."""
    before, after = healthy.steps[key], now.steps[key]
    if before[-1].formula != after[-1].formula:
        return False
    old, new = _numbers(before[-1].numbers), _numbers(after[-1].numbers)
    said = {step.result for step in _moved(before, after)}
    strange = [b for a, b in zip(old, new, strict=False) if a != b and b not in said]
    return len(old) == len(new) and old != new and len(strange) <= 1


def _numbers(text: str) -> list[str]:
    return [" ".join(found.split()) for found in re.findall(r"-?[\d.]+ ?[A-Za-z%]*", text)]


def _moved(healthy: Sequence[Step], now: Sequence[Step]) -> list[Step]:
    """Return what came shortly before the last line and was moved by the change too."""
    pairs = zip(healthy[-3:-1], now[-3:-1], strict=False)
    return [b for a, b in pairs if a.result != b.result and _NUMBER.fullmatch(b.result)]


def _asked(seed: int, chassis: Chassis, key: str, part: str, factor: float, healthy: Result, now: Result) -> Quiz:
    name, _, quantity = key.rpartition(".")
    point, entry, unit = chassis.test_points[name], chassis.parts[part], _UNITS[quantity]
    value_unit = "F" if "capacitor" in entry.kind else "ohm"
    value = parse(str(entry.value), value_unit)
    answer = _shown(now, key)
    return Quiz(
        seed=seed,
        chassis=chassis.name,
        point=name,
        question=(
            f"{chassis.title}. {part} ({entry.does or entry.kind}) has changed from {show(value, value_unit)} to "
            f"{show(factor * value, value_unit, 2)}; all else is as it should be. The meter is at {point.at}, "
            f"against {point.reference}, on {_QUANTITIES[quantity]}. What should it say?"
        ),
        given=tuple(_given(healthy.steps[key], now.steps[key])),
        unit=unit,
        answer=answer,
        tolerance=max(_TOLERANCE * abs(answer), _LEAST[unit] / 10),
        healthy=_shown(healthy, key),
        steps=tuple(step for step in now.steps[key] if "," not in step.result)[-_MOST_STEPS:],
    )


def _given(healthy: Sequence[Step], now: Sequence[Step]) -> list[str]:
    """Return the healthy last line, and what came before it where the change moved that too."""
    last = healthy[-1]
    lines = [f"{last.quantity} = {last.formula}", f"In the healthy set: {last.numbers} = {last.result}"]
    return lines + [
        f"What came before has moved: {step.quantity} = {step.result}" for step in _moved(healthy, now)
    ]


def judge(quiz: Quiz, value: float) -> Told:
    """Return whether an answer is within the tolerance, and what to say.

    Args:
        quiz: The question.
        value: What was answered, in SI units.
    """
    off = abs(value - quiz.answer)
    should = f"{show(quiz.answer, quiz.unit)}, give or take {show(quiz.tolerance, quiz.unit, 2)}"
    if off <= quiz.tolerance:
        return Told(True, f"Right. It should say {should}.")
    if abs(value + quiz.answer) <= quiz.tolerance:
        return Told(False, f"The size is right, the sign is not. It should say {should}.")
    if abs(value - quiz.healthy) <= quiz.tolerance:
        return Told(False, f"That is the healthy set; the change was not counted in. It should say {should}.")
    way = "more" if value < quiz.answer else "less"
    return Told(False, f"It should say {way}: {should}.")
