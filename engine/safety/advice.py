# SPDX-License-Identifier: MIT
"""The one door for whoever shows advice: what may be said now, and what must be read before it.

Diagnosis, expected values, hints on suspects, training, rig and report all come through :func:`advice`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from backporch.engine.knowledge.models import Caution
from backporch.engine.safety.gate import Needs, cautions_of, gate, refusals
from backporch.engine.safety.state import SafetyState

__all__ = ["OF_THE_SET", "Advice", "Hold", "advice", "together"]

OF_THE_SET = frozenset({"forbidden-point", "rated-point", "mains-derived-anode", "metal-cone"})
"""Checks that no change on the bench lifts: they follow from the set and the instrument alone."""


@dataclass(frozen=True)
class Hold:
    """One reason to wait: which check, why, and what to do instead."""

    check: str
    because: str
    instead: str


@dataclass(frozen=True)
class Advice:
    """What whoever shows a step must do: say ``before`` first; where not ``allowed``, show ``holds`` instead."""

    allowed: bool
    before: tuple[str, ...]
    """Cautions in full, in their order; the step stands below them."""
    short: tuple[str, ...]
    """The same cautions in a few words each, for where many steps are shown at once."""
    holds: tuple[Hold, ...] = ()
    """Every reason against the step now, the first of them first."""

    @property
    def never(self) -> Hold | None:
        """The reason that no change on the bench lifts, or None: then not even a value is shown."""
        return next((hold for hold in self.holds if hold.check in OF_THE_SET), None)


def together(words: Iterable[Advice]) -> Advice:
    """Return what must be read before several steps that are shown at once: each caution and reason once."""
    every = tuple(words)
    before = tuple(dict.fromkeys(text for word in every for text in word.before))
    holds = tuple(dict.fromkeys(hold for word in every for hold in word.holds))
    short = tuple(dict.fromkeys(text for word in every for text in word.short))
    return Advice(all(word.allowed for word in every), before, short, holds)


def advice(step: Needs, state: SafetyState, cautions: Mapping[str, Caution]) -> Advice:
    """Return what may be said of a step now.

    Args:
        step: What it needs (:mod:`backporch.engine.session.needs` makes it).
        state: The state of the bench (:func:`backporch.engine.session.danger.safety_state`; without a session
            :func:`backporch.engine.safety.set_facts.state_of_set`, where everything on the bench is unknown).
        cautions: The cautions of the knowledge base.

    Example:
        >>> word = advice(Needs("read-plate", "meter", "on"), SafetyState(), {})
        >>> word.allowed, word.never.check
        (False, 'mains-derived-anode')
    """
    said = tuple(cautions[key].say for key in cautions_of(step, state) if key in cautions)
    short = tuple(cautions[key].short for key in cautions_of(step, state) if key in cautions)
    holds = tuple(Hold(r.check, r.because, r.instead) for r in refusals(step, state))
    return Advice(gate(step, state).allowed, said, short, holds)
