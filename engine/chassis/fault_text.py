# SPDX-License-Identifier: MIT
"""Understands a fault as it is written in scenarios and on the command line: C41=leaky:1M, V7:weak,
and between two points b-plus/agc-line=leaky:1M.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from backporch.engine.chassis.hypotheses import Fault, Hypothesis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.node_leaks import ends_of, leak_between
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.knowledge.models import Effect
from backporch.engine.units import parse

__all__ = ["find_fault"]

_OHMS = ("resistance_ohm", "leakage_ohm", "contact_ohm", "heater_cathode_ohm")


def find_fault(
    text: str, hypotheses: Sequence[Hypothesis], chassis: Chassis | None = None
) -> tuple[Hypothesis, Fault]:
    """Return the hypothesis and the fault that ``text`` names.

    Args:
        text: ``PART=MODE``, ``PART:MODE``, or either with ``:SEVERITY`` behind, for example C41=leaky:1M; a
            severity is in ohms for leaks and contacts, in amperes for gas, a factor otherwise.
        hypotheses: All single faults of the chassis.
        chassis: The chassis, for a leak between two of its points: ``b-plus/agc-line=leaky:1M``.
    Raises:
        UnknownWord: there is no such part, or it does not fail in such a way.
        BadInput: the severity is no value, or the mode has none.
    """
    part, _, rest = text.replace("=", ":", 1).partition(":")
    mode, _, severity = rest.partition(":")
    part, mode = part.strip(), mode.strip()
    if chassis is not None and ends_of(part) is not None:
        return leak_between(part, mode, severity, chassis)
    mine = [h for h in hypotheses if h.part and part.lower() in (h.part.lower(), h.owner.lower())]
    if not mine:
        raise UnknownWord("part", part, {h.part for h in hypotheses if h.part})
    found = next((h for h in mine if h.mode == mode), None)
    if found is None:
        raise UnknownWord(f"way for {part} to fail called", mode, {h.mode for h in mine})
    fault = found.fault
    if fault is None:
        raise UnknownWord("part", part, {h.part for h in hypotheses if h.part})
    if severity:
        fault = replace(fault, effects=(_fixed(found, severity), *fault.effects[1:]))
    return found, fault


def _fixed(hypothesis: Hypothesis, severity: str) -> Effect:
    if not hypothesis.effects:
        raise BadInput(f"{hypothesis.id} has no severity; leave {severity!r} out.")
    effect = hypothesis.effects[0]
    unit = "ohm" if effect.parameter in _OHMS else "A" if effect.parameter == "gas_a" else ""
    value = parse(severity, unit)
    return effect.model_copy(update={"low": repr(value), "high": repr(value)})
