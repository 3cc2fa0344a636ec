# SPDX-License-Identifier: MIT
"""Specks and patterns from outside and inside the set."""

from __future__ import annotations

from backporch.engine.facts import (
    NOT,
    OR,
    Answer,
    Condition,
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
        self.declare(Finding(stage="signal-source", direction="for", strength="conclusive"))

    @Rule(Symptom(name="black-spots"), Trait(name="modulation", value="negative"))
    def black_specks_are_interference_with_negative_modulation(self) -> None:
        """Black specks are interference from outside: with negative modulation noise is black.

        Motors and ignitions make it.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="conclusive"))

    @Rule(Symptom(name="white-spots"), Trait(name="modulation", value="negative"))
    def white_specks_may_be_sparks_inside(self) -> None:
        """White specks with negative modulation point to sparks inside the set.

        Small breakdowns of the high voltage draw them.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="black-spots"), Trait(name="modulation", value="positive"))
    def black_specks_may_be_sparks_inside_with_positive_modulation(self) -> None:
        """Black specks with positive modulation point to sparks inside the set.

        Noise from outside would be white.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="fine-pattern"), Trait(name="sound_takeoff", value="after-video"))
    def a_fine_grain_points_to_the_sound_trap(self) -> None:
        """A fine even grain points to the sound beat that the trap should take out.

        It is the distance between picture and sound carrier.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="weak"))

    @Rule(OR(Symptom(name="fine-pattern"), Symptom(name="white-spots"), Symptom(name="black-spots")))
    def patterns_and_dashes_are_disturbances(self) -> None:
        """Something disturbs the picture that does not belong to it.

        It comes in with the signal, by the mains, or is made in the set.
        Source: common practice.
        """
        self.declare(Condition(name="picture-disturbed"))

    @Rule(Condition(name="picture-disturbed"), Answer(measurement="take-the-lead-off", outcome="goes"))
    def a_disturbance_that_goes_with_the_lead_comes_with_it(self) -> None:
        """The disturbance comes in with the signal.

        It goes when the signal lead is taken off.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="conclusive"))

    @Rule(Condition(name="picture-disturbed"), Answer(measurement="take-the-lead-off", outcome="stays"))
    def a_disturbance_that_stays_does_not_come_by_the_lead(self) -> None:
        """The source and its lead are cleared.

        The disturbance stays when the lead is taken off.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="against", strength="conclusive"))

    @Rule(
        Condition(name="picture-disturbed"),
        Answer(measurement="take-the-lead-off", outcome="stays"),
        NOT(Symptom(name="high-voltage-arcing")),
    )
    def a_disturbance_that_stays_may_come_by_the_mains(self) -> None:
        """The disturbance may come in by the mains.

        It stays without the signal lead, and no sparks are seen in the set.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="strong"))
