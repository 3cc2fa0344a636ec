# SPDX-License-Identifier: MIT
"""Sync: which axis is lost, and whether before or after the separator."""

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
    Trait,
)

__all__ = ["SyncLossRules"]


class SyncLossRules(RuleBook):
    """Which axis is lost, and whether sync is lost before or after the separator."""

    @Rule(
        OR(
            Symptom(name="picture-rolls-up"),
            Symptom(name="picture-rolls-down"),
            Symptom(name="picture-rolls"),
            Symptom(name="rolls-slowly"),
            Symptom(name="rolls-fast"),
        )
    )
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
        NOT(Condition(name="signal-is-poor")),
        NOT(Condition(name="sync-crushed-at-the-screen")),
        NOT(Symptom(name="picture-leans")),
        NOT(Symptom(name="bends-at-top")),
        NOT(Symptom(name="lines-tear")),
        salience=FALLBACK,
    )
    def only_the_vertical_is_lost(self) -> None:
        """Only the vertical sync is lost; the lines hold, and the picture is good.

        Sync is separated, or the lines would tear as well.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-alone-lost"))

    @Rule(
        Condition(name="horizontal-sync-lost"),
        NOT(Condition(name="vertical-sync-lost")),
        NOT(Condition(name="both-axes-lost")),
        NOT(Condition(name="signal-is-poor")),
        salience=FALLBACK,
    )
    def only_the_horizontal_is_lost(self) -> None:
        """Only the line sync is lost; the picture does not roll and is not poor.

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
        Member(group="loop-agc", stage=MATCH.stage),
    )
    def crushed_sync_incriminates_the_picture_path(self, stage: str) -> None:
        """Sync is crushed on the way: the {stage} is suspected.

        AGC, IF and video set how much of the sync survives.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(
        Condition(name="sync-good-at-the-screen"),
        Condition(name="both-axes-lost"),
        NOT(Symptom(name="picture-weak")),
        NOT(Symptom(name="picture-overloaded")),
    )
    def good_sync_and_full_contrast_but_both_lost(self) -> None:
        """A full picture with whole sync comes in, and it holds neither up and down nor sideways: the
        separator or its feed is at fault.

        Nothing ahead of it is short of signal or overloaded.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="sync-crushed-at-the-screen"),
        Condition(name="both-axes-lost"),
        Condition(name="overload-likely"),
    )
    def crushed_sync_with_overload_is_agc(self) -> None:
        """The AGC lets the signal grow until the sync is squeezed out.

        Neither lines nor picture hold, the bar shows no sync, and the picture is overloaded.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="sync-crushed-at-the-screen"),
        Condition(name="both-axes-lost"),
        Symptom(name="picture-weak"),
    )
    def crushed_sync_with_a_weak_picture_is_video(self) -> None:
        """The video stage works at a wrong point and cuts the sync.

        The signal is not too large, and yet the sync is gone in the picture.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="sync-crushed-at-the-screen"),
        Condition(name="both-axes-lost"),
        NOT(Symptom(name="line-pulls-with-white")),
    )
    def lock_lost_with_crushed_bar_clears_the_separator(self) -> None:
        """The sync separator is hardly to blame.

        The sync is already gone in the picture that is shown.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="against", strength="moderate"))

    @Rule(
        Answer(measurement="clamp-the-agc", outcome="cured"),
        NOT(Trait(name="source", value="player")),
    )
    def a_clamped_agc_that_cures_it(self) -> None:
        """The AGC is at fault.

        With its line held by a battery the trouble is gone.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="overload-likely"),
        Answer(measurement="clamp-the-agc", outcome="same"),
        NOT(Symptom(name="picture-snowy")),
    )
    def a_clamped_agc_that_changes_nothing(self) -> None:
        """The AGC is not at fault.

        The overload stays although its line is held by a battery.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="against", strength="strong"))

    @Rule(
        Condition(name="overload-likely"),
        Answer(measurement="clamp-the-agc", outcome="same"),
        NOT(Symptom(name="sound-buzz")),
    )
    def overload_that_agc_does_not_cure_is_video(self) -> None:
        """The overload arises in the video stage.

        Less gain ahead of it changes nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="strong"))

    @Rule(
        Symptom(name="loses-lock-on-channel-change"),
        NOT(Symptom(name="loses-lock-with-contrast")),
        NOT(Symptom(name="picture-overloaded")),
        Member(group="vertical", stage=MATCH.stage),
    )
    def lock_lost_on_a_channel_change_only(self, stage: str) -> None:
        """The {stage} is sound.

        Once the signal has settled the picture holds.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))
