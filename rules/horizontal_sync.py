# SPDX-License-Identifier: MIT
"""Line sync: tearing, floating and bending."""

from __future__ import annotations

from backporch.engine.facts import (
    FALLBACK,
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

__all__ = ["HorizontalSyncRules"]


class HorizontalSyncRules(RuleBook):
    """Tearing, floating and bending: phase detector, oscillator, or what reaches them."""

    @Rule(
        Condition(name="horizontal-alone-lost"),
        Answer(measurement="turn-horizontal-hold", outcome="straight-for-a-moment"),
    )
    def lines_straight_for_a_moment_clear_the_oscillator(self) -> None:
        """The line oscillator reaches the right rate.

        The hold control brings the picture upright for a moment.
        Source: common practice.
        """
        self.declare(Condition(name="line-rate-reached"))

    @Rule(Condition(name="line-rate-reached"), Condition(name="horizontal-alone-lost"))
    def line_rate_reached_incriminates_the_phase_detector(self) -> None:
        """The rate is right and nothing holds it: the phase detector or what feeds it is at fault.

        Without its correction the picture floats through.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="horizontal-alone-lost"),
        Answer(measurement="turn-horizontal-hold", outcome="cannot-reach"),
    )
    def line_hold_out_of_reach_points_to_the_oscillator(self) -> None:
        """The hold control does not reach the line rate: the oscillator's timing parts have moved.

        Or the phase detector pushes it aside, which grounding its output shows.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="conclusive"))

    @Rule(
        OR(Condition(name="horizontal-alone-lost"), Condition(name="lines-disturbed")),
        Answer(measurement="ground-the-afc-line", outcome="drifts-through"),
        Trait(name="horizontal_sync", value="afc"),
    )
    def an_open_loop_that_drifts_through_clears_the_oscillator(self) -> None:
        """The line oscillator is sound.

        With its correction taken away it comes to the right rate and drifts through, as it should.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="against", strength="strong"))

    @Rule(
        OR(Condition(name="horizontal-alone-lost"), Condition(name="lines-disturbed")),
        Answer(measurement="ground-the-afc-line", outcome="steadies"),
        Trait(name="horizontal_sync", value="afc"),
    )
    def an_open_loop_that_steadies_blames_the_phase_detector(self) -> None:
        """The correction itself upsets the lines: the phase detector is at fault.

        The picture is steadier without it.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="conclusive"))

    @Rule(
        OR(Condition(name="horizontal-alone-lost"), Condition(name="lines-disturbed")),
        Answer(measurement="ground-the-afc-line", outcome="cannot-reach"),
        NOT(Symptom(name="whistle-missing")),
    )
    def an_open_loop_out_of_reach_blames_the_oscillator(self) -> None:
        """The line oscillator cannot reach the line rate by itself.

        It was tried with the correction taken away.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="floats-sideways"),
        Condition(name="sync-good-at-the-screen"),
        Trait(name="horizontal_sync", value="afc"),
    )
    def a_floating_picture_with_whole_sync_is_the_comparison(self) -> None:
        """The phase detector compares nothing.

        Whole sync comes in, the rate is right, and nothing holds the phase.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="horizontal-alone-lost"),
        Trait(name="horizontal_sync", value="direct"),
        NOT(Answer(measurement="turn-horizontal-hold", outcome="cannot-reach")),
    )
    def direct_sync_lost_sideways_is_the_sync_amplifier(self) -> None:
        """The line pulse does not reach the line oscillator: the sync amplifier is suspected.

        This set locks each line by its own pulse and has no phase detector.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-amplifier", direction="for", strength="strong"))

    @Rule(Symptom(name="lines-tear"), Symptom(name="loses-lock-with-contrast"), NOT(Symptom(name="picture-weak")))
    def tearing_that_contrast_makes_is_overload(self) -> None:
        """The tearing comes from overload, not from the line stages.

        It comes as the contrast goes up.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="against", strength="strong"))

    @Rule(
        Symptom(name="picture-weaves"),
        Symptom(name="hum-bar-one"),
        Symptom(name="sound-good"),
        Trait(name="rectifier", value="full-wave"),
    )
    def weaving_without_hum_in_the_sound_is_a_leaky_heater(self) -> None:
        """A heater leaks to its cathode in the picture or sync path.

        One bar and a weave, and the sound that shares the supply is clean.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="for", strength="strong"))

    @Rule(
        Symptom(name="bends-at-top"), NOT(Symptom(name="lines-tear")), NOT(Symptom(name="line-pulls-with-white"))
    )
    def bent_top_alone_clears_the_separator(self) -> None:
        """The sync separator is hardly to blame.

        Below the top the lines lie straight, so the sync that comes is clean.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="against", strength="weak"))

    @Rule(
        Symptom(name="whistle-wrong"),
        Answer(measurement="turn-horizontal-hold", outcome="cannot-reach"),
        NOT(Condition(name="no-light")),
        salience=FALLBACK,
    )
    def a_strained_rate_that_hold_cannot_reach(self) -> None:
        """The timing of the line oscillator is far off.

        The pitch is wrong and the hold control does not bring it back.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="conclusive"))
