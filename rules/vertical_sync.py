# SPDX-License-Identifier: MIT
"""Vertical sync: rolling and jitter."""

from __future__ import annotations

from backporch.engine.facts import (
    NOT,
    Answer,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["VerticalSyncRules"]


class VerticalSyncRules(RuleBook):
    """Rolling and jitter: sync path, oscillator rate, or supply."""

    @Rule(
        Condition(name="vertical-alone-lost"),
        Answer(measurement="turn-vertical-hold", outcome="stops-but-slips"),
    )
    def a_moment_of_rest_clears_the_oscillator(self) -> None:
        """The hold control can stop the picture for a moment: the oscillator reaches the right rate.

        What is missing is the sync that would keep it there.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-rate-reached"))

    @Rule(Condition(name="vertical-rate-reached"), Condition(name="vertical-alone-lost"))
    def rate_reached_speaks_for_the_oscillator(self) -> None:
        """The vertical oscillator is not to blame.

        It can be tuned through the right rate.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="against", strength="moderate"))

    @Rule(
        Condition(name="vertical-alone-lost"),
        Answer(measurement="turn-vertical-hold", outcome="cannot-stop"),
    )
    def hold_that_cannot_reach_points_to_the_time_constant(self) -> None:
        """The hold control does not reach the field rate: the time constant of the oscillator has moved.

        Timing resistor, timing capacitor, the control's track and their supply set the rate.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="hold-at-end"), Condition(name="vertical-sync-lost"))
    def hold_at_its_end_points_to_the_time_constant(self) -> None:
        """A hold control at its end has used up its range: the time constant has moved.

        The control was set to balance a part that drifted.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="rolls-fast"))
    def a_fast_roll_means_a_rate_far_off(self) -> None:
        """The vertical rate is far off.

        Lost sync alone leaves the rate near the right one, where somebody had set it.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-rate-far-off"))

    @Rule(
        Condition(name="vertical-rate-reached"),
        Condition(name="vertical-alone-lost"),
        Condition(name="sync-good-at-the-screen"),
    )
    def rate_reached_and_sync_seen_is_the_integrator(self) -> None:
        """Good sync comes as far as the screen and the rate can be reached: the vertical sync path has lost it.

        Lines hold, so the separator works; only the way to the vertical oscillator is left.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="vertical-rate-reached"), Symptom(name="lines-paired"), NOT(Symptom(name="picture-jitters"))
    )
    def rate_reached_with_pairing_is_the_integrator(self) -> None:
        """The vertical pulse is weak and unclean: the integrator is suspected.

        It can be brought to rest for a moment, and the fields do not interlace.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="vertical-alone-lost"),
        Answer(measurement="turn-vertical-hold", outcome="cannot-stop"),
        NOT(Symptom(name="lines-tear")),
    )
    def a_rate_out_of_reach_clears_the_sync_path(self) -> None:
        """The vertical sync path is hardly to blame.

        Sync could not hold a rate that the control cannot even reach.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="against", strength="moderate"))

    @Rule(Symptom(name="rolls-slowly"), NOT(Symptom(name="hold-at-end")), NOT(Symptom(name="rolls-fast")))
    def a_slow_roll_means_a_rate_nearly_right(self) -> None:
        """The vertical rate is nearly right and nothing holds it.

        The picture drifts through slowly with the control in its usual place.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-rate-near"))

    @Rule(
        Condition(name="vertical-rate-near"),
        Condition(name="vertical-alone-lost"),
        NOT(Answer(measurement="turn-vertical-hold", outcome="locks")),
    )
    def a_rate_nearly_right_points_to_the_sync_path(self) -> None:
        """The vertical sync path is suspected.

        The oscillator is where it should be and does not get its pulse.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="hold-drifts"), Symptom(name="changes-when-tapped"), NOT(Symptom(name="lines-tear")))
    def a_hold_that_drifts_and_answers_to_taps_is_a_tube(self) -> None:
        """The tube of the vertical oscillator or its socket is suspected.

        The rate creeps with heat and jumps with a tap.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-jitters"), Symptom(name="lines-paired"), NOT(Symptom(name="sound-hum")))
    def jitter_with_pairing_is_line_pulses(self) -> None:
        """Line pulses reach the vertical oscillator.

        The picture trembles and the fields fall on each other: the integrator no longer keeps the lines out.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="picture-jitters"), Symptom(name="sync-jumps-with-sound"), NOT(Symptom(name="lines-paired"))
    )
    def jitter_with_loud_sound_clears_the_sync_path(self) -> None:
        """The vertical sync path is not to blame.

        The picture trembles with the sound, so the common B+ carries it.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="against", strength="moderate"))

    @Rule(
        Symptom(name="lines-paired"),
        Trait(name="standard", value="405/50"),
        NOT(Symptom(name="picture-jitters")),
    )
    def pairing_alone_is_common_without_equalizing_pulses(self) -> None:
        """The B+ feeds need not be at fault for lines in pairs.

        This standard has no equalizing pulses, and some pairing is common; a picture that trembles is not.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="against", strength="strong"))
