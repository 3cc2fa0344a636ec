# SPDX-License-Identifier: MIT
"""Reads a fault as a person writes it: C41=leaky, C41=leaky:1M, V7A=weak:0.3, R12=open.

Limits: a mode with several effects takes a value for its first effect only.
"""

from __future__ import annotations

from collections.abc import Iterable

from backporch.engine.chassis.hypotheses import Fault, Hypothesis, all_hypotheses
from backporch.engine.chassis.model import Chassis
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.library import Library
from backporch.engine.units import parse

__all__ = ["read_fault", "read_faults"]


def read_fault(text: str, chassis: Chassis, library: Library) -> Fault:
    """Return the fault that ``text`` names.

    Raises:
        BadInput: it is not written as ``part=mode`` or ``part=mode:value``.
        UnknownWord: the chassis has no such part, or the part no such way to fail.
    """
    part, equals, rest = text.replace(" ", "").partition("=")
    if not equals or not part or not rest:
        raise BadInput(f"{text!r} is not a fault. Write part=mode or part=mode:value, for example C41=leaky:1M.")
    mode, _, value = rest.partition(":")
    return _with_value(_find(part, mode, all_hypotheses(chassis, library)), value)


def read_faults(texts: Iterable[str], chassis: Chassis, library: Library) -> tuple[Fault, ...]:
    """Return all faults that are named; see :func:`read_fault`."""
    return tuple(read_fault(text, chassis, library) for text in texts)


def _find(part: str, mode: str, hypotheses: Iterable[Hypothesis]) -> Hypothesis:
    listed = [h for h in hypotheses if h.part]
    of_part = [h for h in listed if h.part == part or h.owner == part]
    if not of_part:
        raise UnknownWord("part", part, {h.part for h in listed})
    for hypothesis in of_part:
        if hypothesis.mode == mode:
            return hypothesis
    raise UnknownWord(f"way for {part} to fail,", mode, {h.mode for h in of_part})


def _with_value(hypothesis: Hypothesis, value: str) -> Fault:
    if not value:
        return Fault(hypothesis.part, hypothesis.mode, hypothesis.effects)
    if not hypothesis.effects:
        raise BadInput(f"{hypothesis.id} takes no value.")
    first = hypothesis.effects[0]
    unit = "ohm" if first.parameter.endswith("_ohm") else ("A" if first.parameter.endswith("_a") else "")
    number = parse(value, unit)
    fixed = first.model_copy(update={"low": number, "high": number, "spread": "linear"})
    return Fault(hypothesis.part, hypothesis.mode, (fixed, *hypothesis.effects[1:]))
