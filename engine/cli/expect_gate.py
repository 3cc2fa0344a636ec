# SPDX-License-Identifier: MIT
"""The gate's word on the points that expect shows: what is never read, with which instrument, what comes first.

There is no session, so all that stands on the bench is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from backporch.engine.chassis.forbidden import NeverPoint, never_points
from backporch.engine.chassis.model import Chassis
from backporch.engine.cli.setup import make_desk
from backporch.engine.knowledge.library import Library
from backporch.engine.safety.advice import Advice, advice, together
from backporch.engine.safety.set_facts import state_of_set, unstated
from backporch.engine.session.needs import needed_v, needs_of_point

__all__ = ["PointsGate", "points_gate"]


@dataclass(frozen=True)
class PointsGate:
    """What may be shown of the points of a chassis."""

    never: Mapping[str, NeverPoint]
    """Points that are not even shown with a value, each with what to read instead."""
    needed_v: Mapping[str, float]
    """What an instrument must be rated for, of the points that are not open to every one [V]."""
    words: Mapping[str, Advice]
    first: tuple[str, ...]
    """Cautions of the set itself."""

    def cautions(self, points: Iterable[str]) -> tuple[str, ...]:
        """Return what must be known and done before any of these points is read, a sentence or two each."""
        whole = self._together(points)
        before = [f"Not before: {because} {do}" for because, do in self.not_before(points)]
        short = " ".join(whole.short)
        return tuple(dict.fromkeys(text for text in (*self.first, short, *before) if text))

    def in_full(self, points: Iterable[str]) -> tuple[str, ...]:
        """Return the cautions in full."""
        return self._together(points).before

    def not_before(self, points: Iterable[str]) -> list[tuple[str, str]]:
        """Return why nothing may be read yet, each with what to do; what one point alone needs stands by it."""
        holds = [h for h in self._together(points).holds if h.check not in ("forbidden-point", "rated-point")]
        return list(dict.fromkeys((hold.because, hold.instead) for hold in holds))

    def _together(self, points: Iterable[str]) -> Advice:
        return together(self.words[point] for point in points if point in self.words)


def points_gate(library: Library, chassis: Chassis, meter_max_v: float, mains_v: float = 0.0) -> PointsGate:
    """Return the gate's word on every point of a chassis, for a meter's rating and today's mains, if known [V]."""
    desk, state = make_desk(library, chassis), replace(state_of_set(chassis), mains_now_v=mains_v)
    words = {
        point: advice(needs_of_point(desk, point, meter_max_v), state, library.cautions)
        for point in chassis.test_points
    }
    never = dict(never_points(library, chassis))
    for point, word in words.items():
        hold = word.never
        if hold is not None and hold.check != "rated-point":
            known = never.get(point)
            stage, tube, electrode = (known.stage, known.tube, known.electrode) if known else ("", "", "")
            at = chassis.test_points[point].at
            never[point] = NeverPoint(point, stage, at, tube, electrode, hold.instead, hold.because)
    needed = {point: needed_v(library, chassis, point) for point in chassis.test_points}
    said = [c.say for c in library.cautions.values() if c.first and c.traits and c.applies_to(chassis)]
    open_ones = unstated(chassis)
    return PointsGate(
        never, {p: v for p, v in needed.items() if v}, words, tuple([*said, open_ones] if open_ones else said)
    )
