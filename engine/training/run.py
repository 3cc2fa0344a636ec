# SPDX-License-Identifier: MIT
"""Where a lesson stands, as a value: what was done, what it told and cost, how it ended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backporch.engine.planning.problem import Power
from backporch.engine.session.entry import Entry
from backporch.engine.training.act import Act
from backporch.engine.training.danger import Unsafe

__all__ = ["HINT_MINUTES", "TOLD_BITS", "Ending", "Moment", "Run"]

Ending = Literal["", "found", "wrong", "unsupported", "unsafe", "given-up"]

HINT_MINUTES = {1: 1.0, 2: 2.0, 3: 4.0}
"""Price of a hint by its depth [min]."""
TOLD_BITS = 0.02
"""A test that is expected to tell less than this tells nothing [bit]."""


@dataclass(frozen=True)
class Moment:
    """One thing that was done: what it answered, what it cost, what it told."""

    act: Act
    title: str
    answer: str = ""
    minutes: float = 0.0
    clock: float = 0.0
    """Minutes since the start of the lesson, this one included."""
    bits: float = 0.0
    """What a test was expected to tell before it was made [bit]."""
    gained: float = 0.0
    """How far the odds moved by its answer [bit]."""
    support: float = 0.0
    """Share of the faulty part after it, the larger one of two."""
    before: float = 0.0
    """Share of the faulty part before it."""
    known: bool = False
    """Whether the answers support the name of a faulty part after it."""

    @property
    def useless(self) -> bool:
        """Whether it was a test that could tell nothing."""
        return self.made and self.bits < TOLD_BITS

    @property
    def made(self) -> bool:
        """Whether it was a test that was made, and not one that was stopped before it began."""
        return self.act.kind == "test" and self.minutes > 0


@dataclass(frozen=True)
class Run:
    """Where a lesson stands."""

    entries: tuple[Entry, ...]
    """What is known of the set as it is now, as a session has it."""
    states: frozenset[str] = frozenset()
    power: Power = "on"
    clock: float = 0.0
    moments: tuple[Moment, ...] = ()
    mended: frozenset[str] = frozenset()
    read: frozenset[str] = frozenset()
    """Cautions that were read."""
    ending: Ending = ""
    unsafe: Unsafe | None = None
    positions: tuple[tuple[str, float], ...] = ()
    """Where controls stand that were turned, by part."""

    @property
    def hints(self) -> tuple[int, ...]:
        """The depths of the hints taken."""
        return tuple(int(m.act.key) for m in self.moments if m.act.kind == "hint")

    @property
    def hints_since_test(self) -> tuple[int, ...]:
        """The depths of the hints taken since the last test or name: asked for again, they say the same."""
        last = max((n for n, m in enumerate(self.moments) if m.act.kind in ("test", "turn", "name")), default=-1)
        return tuple(int(m.act.key) for m in self.moments[last + 1 :] if m.act.kind == "hint")

    @property
    def searched(self) -> float:
        """Minutes of searching: tests, hints, controls; changing the named part costs everybody the same [min]."""
        return sum(m.minutes for m in self.moments if m.act.kind != "name")

    @property
    def last_test(self) -> Moment | None:
        """The last test made."""
        return next((m for m in reversed(self.moments) if m.act.kind == "test"), None)
