# SPDX-License-Identifier: MIT
"""Specks and patterns from outside and inside the set."""

from __future__ import annotations

from backporch.engine.facts import (
    Finding,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["InterferenceRules"]


class InterferenceRules(RuleBook):
    """Spots, dashes and fine patterns."""

    @Rule(Symptom(name="white-spots"), Trait(name="modulation", value="positive"))
    def white_specks_are_interference_with_positive_modulation(self) -> None:
        """White specks are interference from outside: with positive modulation noise is white.

        Motors and ignitions make it; a peak limiter should cut it.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(Symptom(name="black-spots"), Trait(name="modulation", value="negative"))
    def black_specks_are_interference_with_negative_modulation(self) -> None:
        """Black specks are interference from outside: with negative modulation noise is black.

        Motors and ignitions make it.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(Symptom(name="white-spots"), Trait(name="modulation", value="negative"))
    def white_specks_may_be_sparks_inside(self) -> None:
        """White specks with negative modulation point to sparks inside the set.

        Small breakdowns of the high voltage draw them.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="moderate"))

    @Rule(Symptom(name="black-spots"), Trait(name="modulation", value="positive"))
    def black_specks_may_be_sparks_inside_with_positive_modulation(self) -> None:
        """Black specks with positive modulation point to sparks inside the set.

        Noise from outside would be white.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="moderate"))

    @Rule(Symptom(name="fine-pattern"), Trait(name="sound_takeoff", value="after-video"))
    def a_fine_grain_points_to_the_sound_trap(self) -> None:
        """A fine even grain points to the sound beat that the trap should take out.

        It is the distance between picture and sound carrier.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="weak"))
