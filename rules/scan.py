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

    @Rule(Symptom(name="height-too-small"), Symptom(name="top-stretched"), NOT(Symptom(name="width-too-small")))
    def short_and_cramped_below_is_the_output_stage(self) -> None:
        """The vertical output stage runs out of current before the scan is done.

        The picture is short and its bottom cramped: a worn tube, a wrong bias or a dried bypass capacitor.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

    @Rule(Symptom(name="height-too-small"), Symptom(name="bottom-stretched"), NOT(Symptom(name="width-too-small")))
    def short_and_cramped_above_is_the_sawtooth(self) -> None:
        """The sawtooth or its feedback is wrong.

        The picture is short and its top cramped: the scan starts too slowly.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-sawtooth", direction="for", strength="strong"))

    @Rule(Symptom(name="top-stretched"), Symptom(name="fold-over-bottom"), NOT(Symptom(name="fold-over-top")))
    def cramped_and_folded_below_is_a_leaky_coupling(self) -> None:
        """The grid of the vertical output tube is pulled upward.

        Bottom cramped and folded: the coupling capacitor leaks, or the tube draws grid current.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

    @Rule(Symptom(name="fold-over-bottom"), Symptom(name="fold-over-top"), NOT(Symptom(name="picture-rolls")))
    def folded_at_both_ends_is_the_output_stage(self) -> None:
        """The vertical output stage or its transformer is wrong.

        Both ends lie double: it can neither reach its peak nor get back in time.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

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

    @Rule(Symptom(name="keystone-sides"), Symptom(name="came-after-work"), NOT(Symptom(name="raster-tilted")))
    def a_wedge_after_work_is_the_yoke_plug(self) -> None:
        """A half of the vertical yoke winding is out of the circuit since somebody worked on the set.

        A damping part or a plug contact at the yoke was left off.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-yoke", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="picture-mirrored"), Symptom(name="came-after-work"), NOT(Symptom(name="picture-upside-down"))
    )
    def a_mirrored_picture_after_work_is_the_yoke(self) -> None:
        """The leads of the horizontal yoke winding were exchanged.

        A picture is mirrored only when the line scan runs the other way.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="conclusive"))

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
        Symptom(name="neck-shadow"),
        OR(Symptom(name="came-after-work"), Symptom(name="came-after-moving")),
        NOT(Symptom(name="raster-tilted")),
    )
    def a_shadow_after_work_is_the_yoke(self) -> None:
        """The yoke has slipped back on the neck, or a magnet sits elsewhere.

        The set was moved or worked on, and the beam now touches the neck.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="off-centre-vertically"),
        OR(Symptom(name="top-stretched"), Symptom(name="bottom-stretched")),
        NOT(Symptom(name="came-after-moving")),
    )
    def shifted_and_cramped_is_direct_current(self) -> None:
        """Direct current of the vertical output runs through the yoke.

        The picture is shifted and bent at once, which a magnet does not do.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))
