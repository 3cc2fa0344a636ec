# SPDX-License-Identifier: MIT
"""What would tell something now and is withheld by the gate, with what to do instead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from backporch.engine.safety.gate import Needs, gate
from backporch.engine.safety.state import SafetyState

__all__ = ["Held", "held_back"]


@dataclass(frozen=True)
class Held:
    """Useful tests that the gate withholds for one reason, and what to do instead."""

    check: str
    kinds: frozenset[str]
    because: str
    instead: str


def held_back(useful: Iterable[Needs], state: SafetyState) -> tuple[Held, ...]:
    """Return what the gate withholds of ``useful``, gathered by the check that refuses, in their order."""
    found: dict[str, Held] = {}
    for step in useful:
        word = gate(step, state)
        if not word.allowed:
            before = found[word.check].kinds if word.check in found else frozenset[str]()
            found[word.check] = Held(word.check, before | {step.kind}, word.because, word.instead)
    return tuple(found.values())
