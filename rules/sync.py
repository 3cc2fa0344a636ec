# SPDX-License-Identifier: MIT
"""Sync: rolling, tearing, jitter, bending, floating, and what each says about where sync is lost."""

from __future__ import annotations

from backporch.engine.facts import (
    FALLBACK,
    MATCH,
    NOT,
    OR,
    Answer,
    Condition,
    Finding,
    Member,
    Rule,
    RuleBook,
    Symptom,
)

__all__ = ["HorizontalSyncRules", "SyncLossRules", "VerticalSyncRules"]


class SyncLossRules(RuleBook):
    """Which axis is lost, and whether sync is lost before or after the separator."""

    @Rule(OR(Symptom(name="picture-rolls-up"), Symptom(name="picture-rolls-down"), Symptom(name="picture-rolls")))
    def rolling_means_vertical_sync_is_lost(self) -> None:
        """The vertical oscillator is not held by the sync.

        A picture that rolls is drawn at another rate than the pictures arrive.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-sync-lost"))

    @Rule(OR(Symptom(name="diagonal-bars"), Symptom(name="bars-slope-left"), Symptom(name="bars-slope-right")))
    def slanted_bars_mean_horizontal_sync_is_lost(self) -> None:
        """The line oscillator is not held by the sync.

        Slanted bars are lines drawn at another rate than they arrive.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-sync-lost"))

    @Rule(Condition(name="vertical-sync-lost"), Condition(name="horizontal-sync-lost"))
    def rolling_and_bars_mean_both_are_lost(self) -> None:
        """Both oscillators run without sync.

        One cause ahead of both is likelier than two causes at once.
        Source: common practice.
        """
        self.declare(Condition(name="both-axes-lost"))

    @Rule(Symptom(name="both-sync-lost"))
    def neither_holds_means_both_are_lost(self) -> None:
        """Both oscillators run without sync.

        Neither hold control brings the picture to rest.
        Source: common practice.
        """
        self.declare(Condition(name="both-axes-lost"))

    @Rule(
        Condition(name="vertical-sync-lost"),
        NOT(Condition(name="horizontal-sync-lost")),
        NOT(Condition(name="both-axes-lost")),
        salience=FALLBACK,
    )
    def only_the_vertical_is_lost(self) -> None:
        """Only the vertical sync is lost; the lines hold.

        Sync is separated, or the lines would tear as well.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-alone-lost"))

    @Rule(
        Condition(name="horizontal-sync-lost"),
        NOT(Condition(name="vertical-sync-lost")),
        NOT(Condition(name="both-axes-lost")),
        salience=FALLBACK,
    )
    def only_the_horizontal_is_lost(self) -> None:
        """Only the line sync is lost; the picture does not roll.

        Sync is separated, or the picture would roll as well.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-alone-lost"))

    @Rule(
        OR(
            Condition(name="vertical-sync-lost"),
            Condition(name="horizontal-sync-lost"),
            Condition(name="both-axes-lost"),
        )
    )
    def a_picture_that_slips_is_still_a_picture(self) -> None:
        """Light, both scans and a picture signal are there.

        Otherwise nobody could see the picture slip.
        Source: common practice.
        """
        self.declare(Condition(name="picture-is-seen"))

    @Rule(
        OR(
            Symptom(name="floats-sideways"),
            Symptom(name="split-by-bar"),
            Symptom(name="bends-at-top"),
            Symptom(name="picture-weaves"),
            Symptom(name="picture-leans"),
            Symptom(name="lines-tear"),
            Symptom(name="line-pulls-with-white"),
        )
    )
    def disturbed_lines_are_a_fault_of_the_lines(self) -> None:
        """The picture is there and only its lines are disturbed.

        A fault of the lines leaves height and rolling alone.
        Source: common practice.
        """
        self.declare(Condition(name="lines-disturbed"))

    @Rule(Condition(name="lines-disturbed"))
    def disturbed_lines_show_a_picture(self) -> None:
        """Light, both scans and a picture signal are there.

        Otherwise nobody could see the lines disturbed.
        Source: common practice.
        """
        self.declare(Condition(name="picture-is-seen"))

    @Rule(Condition(name="lines-disturbed"), Member(group="vertical", stage=MATCH.stage))
    def disturbed_lines_clear_the_vertical(self, stage: str) -> None:
        """The {stage} is not to blame for lines that are disturbed.

        It works at the field rate.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Condition(name="picture-is-seen"), Member(group="sound", stage=MATCH.stage))
    def a_slipping_picture_clears_the_sound(self, stage: str) -> None:
        """The {stage} cannot make a picture slip.

        They have no part in sync or scan.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="conclusive"))

    @Rule(Condition(name="picture-is-seen"), Member(group="picture-tube", stage=MATCH.stage))
    def a_slipping_picture_clears_the_picture_tube(self, stage: str) -> None:
        """The {stage} cannot make a picture slip.

        The tube draws whatever it gets.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="picture-is-seen"))
    def a_picture_clears_the_mains_input(self) -> None:
        """Mains comes in.

        A picture is seen.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="against", strength="strong"))

    @Rule(Condition(name="picture-is-seen"))
    def a_picture_clears_the_heaters(self) -> None:
        """The heater supply works.

        A picture is seen.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="against", strength="strong"))

    @Rule(Condition(name="picture-is-seen"))
    def a_picture_clears_the_high_voltage(self) -> None:
        """The high-voltage rectifier works.

        A picture is seen.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="strong"))

    @Rule(Condition(name="vertical-alone-lost"), Member(group="signal", stage=MATCH.stage))
    def steady_lines_speak_for_the_picture_path(self, stage: str) -> None:
        """The {stage} is hardly to blame.

        Its sync is good enough for the lines, and the picture is there.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Condition(name="vertical-alone-lost"))
    def steady_lines_clear_the_phase_detector(self) -> None:
        """The phase detector works: the lines are steady.

        It has no part in the vertical.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="against", strength="strong"))

    @Rule(Condition(name="both-axes-lost"))
    def both_lost_points_to_the_separator(self) -> None:
        """Both axes without sync point to the sync separator.

        It is the last stage that both oscillators share.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="moderate"))

    @Rule(Condition(name="both-axes-lost"))
    def both_lost_points_to_the_sync_amplifier(self) -> None:
        """Both axes without sync point to the sync amplifier as well.

        It hands the separated sync to both oscillators.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-amplifier", direction="for", strength="moderate"))

    @Rule(Condition(name="both-axes-lost"), Member(group="loop-agc", stage=MATCH.stage))
    def both_lost_may_begin_in_the_picture_path(self, stage: str) -> None:
        """Sync may already be crushed in the {stage}.

        Overload, hum or a drifted video stage takes the sync before the separator sees it.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="weak"))

    @Rule(Answer(measurement="look-at-the-blanking-bar", outcome="sync-darker"), Condition(name="picture-is-seen"))
    def a_dark_sync_bar_clears_the_picture_path(self) -> None:
        """Sync is whole as far as the picture tube.

        In the rolled picture the sync is darker than the blanking around it.
        Source: common practice.
        """
        self.declare(Condition(name="sync-good-at-the-screen"))

    @Rule(Answer(measurement="look-at-the-blanking-bar", outcome="same-grey"), Condition(name="picture-is-seen"))
    def a_grey_sync_bar_means_crushed_sync(self) -> None:
        """Sync is crushed before it reaches the picture tube.

        In the rolled picture the sync is no darker than the blanking around it.
        Source: common practice.
        """
        self.declare(Condition(name="sync-crushed-at-the-screen"))

    @Rule(Condition(name="sync-good-at-the-screen"), Condition(name="both-axes-lost"))
    def good_sync_but_both_lost_incriminates_the_separator(self) -> None:
        """Good sync goes in and neither axis holds: the sync separator or its feed has lost it.

        What arrives at the screen also arrives at the separator, unless its own feed is open.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="strong"))

    @Rule(
        Condition(name="sync-good-at-the-screen"),
        Condition(name="both-axes-lost"),
        Member(group="ahead-of-sync-separator", stage=MATCH.stage),
    )
    def good_sync_at_the_screen_clears_what_lies_ahead(self, stage: str) -> None:
        """The {stage} passes the sync whole.

        It lies ahead of the point where the blanking bar was seen to be good.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(
        Condition(name="sync-crushed-at-the-screen"),
        Condition(name="both-axes-lost"),
        Member(group="loop-agc", stage=MATCH.stage),
    )
    def crushed_sync_incriminates_the_picture_path(self, stage: str) -> None:
        """Sync is crushed on the way: the {stage} is suspected.

        AGC, IF and video set how much of the sync survives.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Condition(name="sync-crushed-at-the-screen"), Member(group="vertical", stage=MATCH.stage))
    def crushed_sync_clears_the_vertical_stages(self, stage: str) -> None:
        """The {stage} is not to blame for sync that is already crushed.

        It comes after the point where the sync was lost.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Symptom(name="loses-lock-with-contrast"))
    def lock_lost_with_contrast_points_to_overload(self) -> None:
        """More contrast takes the lock away: the sync is squeezed out as the signal grows.

        The AGC lets too much through, or the video stage runs out of room.
        Source: common practice.
        """
        self.declare(Condition(name="overload-likely"))

    @Rule(Symptom(name="loses-lock-on-channel-change"))
    def slow_lock_after_a_break_points_to_agc(self) -> None:
        """A break in the signal takes the lock for a while: the AGC recovers too slowly.

        Its filter capacitors set how quickly it follows.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="moderate"))

    @Rule(Symptom(name="line-pulls-with-white"))
    def white_pulls_lines_when_video_leaks_into_sync(self) -> None:
        """Picture content reaches the sync: the separator does not clip clean.

        Its bias or supply lets part of the picture through.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="strong"))


class VerticalSyncRules(RuleBook):
    """Rolling and jitter: sync path, oscillator rate, or supply."""

    @Rule(Condition(name="vertical-alone-lost"))
    def vertical_alone_points_to_its_sync_path(self) -> None:
        """Only the vertical slips: its own sync path is the first suspect.

        The integrator is the one part of the sync that the lines do not need.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="strong"))

    @Rule(Condition(name="vertical-alone-lost"))
    def vertical_alone_points_to_its_oscillator(self) -> None:
        """Only the vertical slips: its oscillator may run at a rate the sync cannot hold.

        A drifted timing part moves it out of the range in which it locks.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="strong"))

    @Rule(Condition(name="vertical-alone-lost"))
    def vertical_alone_may_be_weak_separation(self) -> None:
        """Weakly separated sync is often missed in the vertical first.

        The line oscillator has its own flywheel or a stronger pulse and holds longer.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="weak"))

    @Rule(Condition(name="vertical-alone-lost"), Member(group="horizontal", stage=MATCH.stage))
    def steady_lines_clear_the_horizontal(self, stage: str) -> None:
        """The {stage} works: the lines are steady.

        A rolling picture with steady lines needs a sound line scan.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

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
    def rate_reached_without_lock_incriminates_the_sync_path(self) -> None:
        """The rate is right and the sync does not take hold: the vertical sync path is at fault.

        Between separator and oscillator only the integrator is left.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="strong"))

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
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="strong"))

    @Rule(Symptom(name="rolls-fast"))
    def a_fast_roll_means_a_rate_far_off(self) -> None:
        """The vertical rate is far off.

        Lost sync alone leaves the rate near the right one, where somebody had set it.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-rate-far-off"))

    @Rule(Condition(name="vertical-rate-far-off"))
    def a_rate_far_off_points_to_the_oscillator(self) -> None:
        """The vertical oscillator's timing parts are suspected.

        Only its time constant moves the rate so far.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="strong"))

    @Rule(Symptom(name="hold-drifts"))
    def a_creeping_hold_points_to_warm_timing_parts(self) -> None:
        """A hold that creeps as the set warms points to a timing part or tube of an oscillator.

        Resistors, leaky capacitors and tubes change with heat.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-jitters"))
    def jitter_points_to_line_pulses_in_the_vertical(self) -> None:
        """Jitter points to line pulses or hum in the vertical sync path.

        An integrator that lost a section lets line pulses through to trigger early.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-jitters"))
    def jitter_points_to_poor_decoupling(self) -> None:
        """Jitter points to ripple or line pulses on the vertical rail.

        A dried-out capacitor lets other stages shake the oscillator.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="moderate"))

    @Rule(Symptom(name="lines-paired"))
    def pairing_points_to_the_integrator(self) -> None:
        """Lines in pairs mean that the two fields start at unequal moments.

        Line pulses in the vertical sync shift one field against the other.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-integrator", direction="for", strength="moderate"))

    @Rule(Condition(name="vertical-sync-lost"), Symptom(name="sound-hum"))
    def hum_with_rolling_points_to_the_supply(self) -> None:
        """Rolling with hum in the sound points to ripple on the B+.

        One dried-out capacitor disturbs both.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-likely"))


class HorizontalSyncRules(RuleBook):
    """Tearing, floating and bending: phase detector, oscillator, or what reaches them."""

    @Rule(Condition(name="horizontal-alone-lost"))
    def horizontal_alone_points_to_the_phase_detector(self) -> None:
        """Only the lines are lost: the phase detector is suspected.

        It alone compares the line oscillator with the sync.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="strong"))

    @Rule(Condition(name="horizontal-alone-lost"))
    def horizontal_alone_points_to_the_oscillator(self) -> None:
        """Only the lines are lost: the line oscillator may run too far off to be held.

        Its timing parts and its hold control set the rate.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="strong"))

    @Rule(Condition(name="horizontal-alone-lost"), Member(group="vertical", stage=MATCH.stage))
    def a_picture_that_does_not_roll_clears_the_vertical(self, stage: str) -> None:
        """The {stage} works: the picture does not roll.

        Vertical scan and sync are sound where only the lines are lost.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

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

    @Rule(Symptom(name="floats-sideways"))
    def a_floating_picture_has_no_phase_correction(self) -> None:
        """A picture that floats sideways runs at the right rate without correction.

        The phase detector gets no sync, gets no pulse from the flyback, or gives no voltage.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="strong"))

    @Rule(Symptom(name="split-by-bar"))
    def a_split_picture_is_locked_in_the_wrong_phase(self) -> None:
        """The rate is held and the phase is wrong: the comparison pulse comes at the wrong time.

        The parts that shape the pulse from the flyback to the phase detector set the phase.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="strong"))

    @Rule(Symptom(name="lines-tear"))
    def tearing_lines_point_to_weak_sync(self) -> None:
        """Lines that tear at random point to weak or dirty sync.

        Noise and picture content take the place of missing sync.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="moderate"))

    @Rule(Symptom(name="lines-tear"))
    def tearing_lines_point_to_the_phase_detector(self) -> None:
        """Lines that tear point to the filter of the phase detector.

        A capacitor that lost its value lets the correction follow every disturbance.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="moderate"))

    @Rule(Symptom(name="bends-at-top"))
    def a_bent_top_points_to_the_phase_detector_filter(self) -> None:
        """A bent top points to the filter of the phase detector.

        It has not yet recovered from the field pulses when the picture begins.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-weaves"))
    def weaving_points_to_ripple(self) -> None:
        """Weaving verticals follow ripple that reaches the line oscillator.

        The ripple comes from the supply or from a heater that leaks to its cathode.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-likely"))

    @Rule(Symptom(name="picture-leans"))
    def leaning_points_to_the_phase_detector(self) -> None:
        """Verticals that lean or bend point to an unbalanced phase detector.

        A weak diode or a drifted load makes the correction lean on the picture.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-afc", direction="for", strength="moderate"))

    @Rule(Symptom(name="hold-drifts"))
    def a_creeping_hold_may_be_the_line_oscillator(self) -> None:
        """A hold that creeps as the set warms may be that of the line oscillator.

        Its timing parts change with heat like those of the vertical.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="moderate"))
