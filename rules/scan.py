# SPDX-License-Identifier: MIT
"""Size and shape where two or more signs meet."""

from __future__ import annotations

from backporch.engine.facts import (
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

__all__ = ["ScanRules"]


class ScanRules(RuleBook):
    """Which scan is short, and what its shape says of the reason."""

    @Rule(
        Symptom(name="height-too-small"),
        NOT(Symptom(name="width-too-small")),
        NOT(Symptom(name="raster-dim")),
        NOT(Symptom(name="sound-hum")),
    )
    def short_alone_clears_the_b_plus(self) -> None:
        """The B+ rectifier is hardly to blame.

        Width and light are as they should be, and both live from it.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="moderate"))

    @Rule(
        Symptom(name="width-too-small"),
        NOT(Symptom(name="height-too-small")),
        NOT(Symptom(name="sound-hum")),
        NOT(Symptom(name="sound-weak")),
    )
    def narrow_alone_clears_the_b_plus(self) -> None:
        """The B+ rectifier is hardly to blame.

        The height is right, and it lives from the same B+.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="weak"))

    @Rule(
        Symptom(name="height-too-small"),
        NOT(Symptom(name="width-too-small")),
        NOT(Symptom(name="raster-dim")),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def short_alone_clears_the_line_output(self, stage: str) -> None:
        """The {stage} works.

        Width and light are right; only the height is wrong.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(
        Symptom(name="width-too-small"),
        NOT(Symptom(name="height-too-small")),
        NOT(Symptom(name="single-horizontal-line")),
        Member(group="vertical", stage=MATCH.stage),
    )
    def narrow_alone_clears_the_vertical(self, stage: str) -> None:
        """The {stage} works.

        Only the width is wrong; the height is made by others.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Symptom(name="height-too-small"),
        Condition(name="vertical-sync-lost"),
        NOT(Symptom(name="width-too-small")),
    )
    def short_that_rolls_is_the_common_supply(self) -> None:
        """Rate and height are wrong together: what feeds oscillator and sawtooth is suspected.

        One sagging vertical rail changes both.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="moderate"))

    @Rule(
        Symptom(name="height-too-small"),
        Condition(name="vertical-rate-far-off"),
        NOT(Symptom(name="top-stretched")),
    )
    def short_that_rolls_is_the_timing_of_the_sawtooth(self) -> None:
        """The vertical oscillator runs at a rate far off, and the height follows.

        A faster beat leaves the sawtooth less time to grow.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="height-too-small"),
        Answer(measurement="turn-height", outcome="changes"),
        NOT(Symptom(name="keystone-sides")),
    )
    def a_height_that_follows_its_control_clears_the_yoke(self) -> None:
        """The vertical yoke winding is good.

        The height follows its control, and both sides are alike.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-yoke", direction="against", strength="strong"))

    @Rule(Condition(name="vertical-scan-collapsed"), Symptom(name="sound-good"), NOT(Symptom(name="sound-hum")))
    def a_line_with_sound_clears_the_b_plus(self) -> None:
        """The B+ rectifier works.

        There is light and the sound is good.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="strong"))

    @Rule(
        Condition(name="vertical-scan-collapsed"),
        Answer(measurement="turn-height", outcome="no-effect"),
        Answer(measurement="turn-vertical-linearity", outcome="no-effect"),
    )
    def a_line_with_lost_height_control_is_after_the_sawtooth(self) -> None:
        """Nothing of the sawtooth comes through: the vertical output stage is suspected.

        Neither height nor linearity brings the least movement.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="vertical-scan-collapsed"),
        Symptom(name="changes-when-tapped"),
        NOT(Symptom(name="came-after-work")),
    )
    def a_tap_that_opens_the_line_is_a_contact(self) -> None:
        """A contact of the vertical output opens and closes: tube, socket or yoke plug.

        The height comes back when something is moved.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

    @Rule(Symptom(name="width-too-small"), Symptom(name="worse-when-warm"), NOT(Symptom(name="height-too-small")))
    def narrow_and_warm_is_the_output_tube(self) -> None:
        """The horizontal output tube tires as it warms.

        The width goes first where its emission falls or it turns gassy.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="width-too-small"),
        OR(Symptom(name="fold-over-left"), Symptom(name="fold-over-right")),
        NOT(Symptom(name="raster-dim")),
    )
    def narrow_with_fold_is_the_drive(self) -> None:
        """The drive of the output tube has the wrong size or shape.

        The width is lost and a side lies double, while the anode voltage is right.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="strong"))

    @Rule(Symptom(name="width-too-small"), Symptom(name="left-stretched"), NOT(Symptom(name="height-too-small")))
    def narrow_dim_and_left_stretched_is_the_damper(self) -> None:
        """The damper gives the wrong first half of each line.

        It makes the left side of the picture and gives back its energy for the width.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="picture-mirrored"), Symptom(name="picture-upside-down"), NOT(Symptom(name="raster-tilted"))
    )
    def mirrored_both_ways_is_a_turned_yoke(self) -> None:
        """The yoke sits half a turn round on the neck.

        Both scans run the other way at once.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="strong"))

    @Rule(
        Symptom(name="height-too-small"),
        Symptom(name="hold-at-end"),
        NOT(Symptom(name="width-too-small")),
    )
    def short_with_the_hold_at_its_end_is_the_timing(self) -> None:
        """A timing part of the vertical oscillator has moved: rate and height are off together.

        A leaky timing capacitor or a low supply changes both, and the hold control makes up for it.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))
