# SPDX-License-Identifier: MIT
"""What kind of thing a sign is a sign of, and so which sections of the set can be left alone."""

from __future__ import annotations

from backporch.engine.facts import (
    AND,
    FALLBACK,
    NOT,
    OR,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
)

__all__ = ["WhereRules"]


class WhereRules(RuleBook):
    """A sign of one section speaks for the innocence of the others."""

    @Rule(
        OR(
            Symptom(name="all-heaters-dark"),
            Symptom(name="some-heaters-dark"),
            Symptom(name="heaters-too-bright"),
            Symptom(name="some-bright-some-dark"),
            Symptom(name="heaters-flicker"),
            Symptom(name="picture-tube-heater-dark"),
        )
    )
    def wrong_heaters_are_a_matter_of_the_heater_line(self) -> None:
        """The heaters are not fed as they should be.

        That is a matter of mains and heater line, whatever else is seen.
        Source: common practice.
        """
        self.declare(Condition(name="heaters-wrong"))

    @Rule(
        OR(
            Symptom(name="no-high-voltage-signs"),
            Symptom(name="high-voltage-arcing"),
            Symptom(name="high-voltage-corona"),
            Symptom(name="rectifier-filament-dark"),
            Symptom(name="rectifier-overloaded"),
            Symptom(name="output-plate-red"),
            Symptom(name="whistle-wrong"),
            Symptom(name="blooming"),
            Symptom(name="dark-then-flash-off"),
            Condition(name="whistle-absent"),
        )
    )
    def signs_of_the_line_scan_are_its_own(self) -> None:
        """Something is wrong with the line scan or the high voltage that is made from it.

        No other section shows such signs.
        Source: common practice.
        """
        self.declare(Condition(name="line-scan-in-trouble"))

    @Rule(
        OR(
            Symptom(name="raster-dim"),
            Symptom(name="defocused"),
            Symptom(name="brightness-stuck-bright"),
            Symptom(name="brightness-stuck-dim"),
            Symptom(name="ion-burn"),
            Symptom(name="slow-picture"),
            Symptom(name="retrace-lines"),
            Symptom(name="picture-tube-video-lost"),
        )
    )
    def light_of_the_wrong_kind_is_a_matter_of_the_tube(self) -> None:
        """The light itself is wrong, at full size.

        The picture tube and what feeds its electrodes make the light.
        Source: common practice.
        """
        self.declare(Condition(name="light-is-wrong"))

    @Rule(
        OR(
            Symptom(name="height-too-small"),
            Symptom(name="height-too-large"),
            Symptom(name="height-slow"),
            Symptom(name="top-stretched"),
            Symptom(name="bottom-stretched"),
            Symptom(name="fold-over-top"),
            Symptom(name="fold-over-bottom"),
            Symptom(name="keystone-sides"),
            Symptom(name="picture-upside-down"),
        )
    )
    def height_is_a_matter_of_the_vertical_scan(self) -> None:
        """The raster is wrong from top to bottom.

        Light is there, and the vertical scan alone sets the height.
        Source: common practice.
        """
        self.declare(Condition(name="height-shape-wrong"))

    @Rule(
        OR(
            Symptom(name="width-too-small"),
            Symptom(name="width-too-large"),
            Symptom(name="left-stretched"),
            Symptom(name="right-stretched"),
            Symptom(name="middle-cramped"),
            Symptom(name="fold-over-left"),
            Symptom(name="fold-over-right"),
            Symptom(name="keystone-top"),
            Symptom(name="vertical-bars-left"),
            Symptom(name="drive-line"),
            Symptom(name="single-vertical-line"),
            Symptom(name="picture-mirrored"),
        )
    )
    def width_is_a_matter_of_the_line_scan(self) -> None:
        """The raster is wrong from side to side.

        Light is there, and the line scan alone sets the width.
        Source: common practice.
        """
        self.declare(Condition(name="width-shape-wrong"))

    @Rule(
        OR(
            Symptom(name="off-centre-vertically"),
            Symptom(name="off-centre-horizontally"),
            Symptom(name="raster-tilted"),
            Symptom(name="neck-shadow"),
            Symptom(name="picture-mirrored"),
            Symptom(name="picture-upside-down"),
        )
    )
    def place_is_a_matter_of_the_neck(self) -> None:
        """The raster has its shape and sits in the wrong place.

        What sits on the neck places it.
        Source: common practice.
        """
        self.declare(Condition(name="place-is-wrong"))

    @Rule(
        OR(
            AND(Condition(name="height-shape-wrong"), NOT(Symptom(name="rolls-fast"))),
            Condition(name="width-shape-wrong"),
            Condition(name="place-is-wrong"),
            Condition(name="rails-low"),
        )
    )
    def a_raster_of_the_wrong_shape_is_no_matter_of_the_signal(self) -> None:
        """Size, shape or place of the raster is wrong.

        It would be so without any picture; a height that goes with a rate far off may come from the sync path.
        Source: common practice.
        """
        self.declare(Condition(name="shape-is-wrong"))

    @Rule(
        OR(
            Symptom(name="no-sound"),
            Symptom(name="sound-weak"),
            Symptom(name="sound-distorted"),
            Symptom(name="sound-crackles"),
        )
    )
    def wrong_sound_is_no_matter_of_the_scans(self) -> None:
        """The sound is wrong.

        Scans and picture tube have no part in it.
        Source: common practice.
        """
        self.declare(Condition(name="sound-alone-wrong"))

    @Rule(OR(Symptom(name="fuse-blows-at-once"), Symptom(name="fuse-blows-later")))
    def a_blown_fuse_means_a_heavy_load(self) -> None:
        """Something takes far more current than it should.

        Only supply and line output can take so much.
        Source: common practice.
        """
        self.declare(Condition(name="mains-overloaded"))

    @Rule(
        OR(
            Symptom(name="picture-jitters"),
            Symptom(name="lines-paired"),
            Condition(name="vertical-rate-far-off"),
            Condition(name="vertical-rate-near"),
        )
    )
    def a_disturbed_field_is_no_matter_of_the_lines(self) -> None:
        """The picture is disturbed from top to bottom and its lines hold.

        What works at the line rate has no part in it.
        Source: common practice.
        """
        self.declare(Condition(name="field-is-disturbed"))

    @Rule(
        OR(
            Symptom(name="picture-jitters"),
            Symptom(name="lines-paired"),
            Symptom(name="hold-drifts"),
            Symptom(name="hold-at-end"),
            Symptom(name="loses-lock-with-contrast"),
            Symptom(name="loses-lock-on-channel-change"),
            Symptom(name="loses-lock-when-warm"),
            Symptom(name="sync-jumps-with-sound"),
        )
    )
    def a_picture_hardly_held_is_still_a_picture(self) -> None:
        """Light, both scans and a picture signal are there.

        Otherwise nobody could see how the picture holds.
        Source: common practice.
        """
        self.declare(Condition(name="picture-is-seen"))

    @Rule(
        OR(
            Symptom(name="picture-weak"),
            Symptom(name="picture-snowy"),
            Condition(name="overload-likely"),
        )
    )
    def a_poor_picture_makes_poor_sync(self) -> None:
        """The picture signal itself is poor, and the sync comes with it.

        Sync is the last part of the same signal.
        Source: common practice.
        """
        self.declare(Condition(name="signal-is-poor"))

    @Rule(Condition(name="signal-is-poor"), Condition(name="picture-is-seen"))
    def poor_sync_with_a_poor_picture_lies_ahead(self) -> None:
        """The picture is poor and does not hold: the cause of both lies ahead of the sync stages.

        One fault is likelier than two.
        Source: common practice.
        """
        self.declare(Condition(name="sync-suffers-with-the-picture"))

    @Rule(
        OR(Symptom(name="picture-weak"), Symptom(name="picture-snowy")),
        OR(Symptom(name="sound-weak"), Symptom(name="no-sound")),
    )
    def picture_and_sound_weak_together(self) -> None:
        """The sound stages are not to blame.

        Picture and sound are weak together, so the cause lies where both still run together.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="against", strength="strong"))

    @Rule(Condition(name="sync-suffers-with-the-picture"), Symptom(name="picture-overloaded"))
    def an_overloaded_picture_that_slips_is_the_agc(self) -> None:
        """The AGC is suspected first.

        The picture is far too strong and does not hold: the gain is not held back, and the sync is squeezed out.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="vertical-sync-lost"),
        OR(Symptom(name="picture-leans"), Symptom(name="bends-at-top"), Symptom(name="lines-tear")),
        NOT(Condition(name="both-axes-lost")),
        NOT(Condition(name="signal-is-poor")),
        salience=FALLBACK,
    )
    def loose_on_both_axes_points_to_the_separator(self) -> None:
        """Poor sync from the separator is likelier than two faults, one for each direction.

        The picture rolls and its lines do not stand still either, and the picture itself is good.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="strong"))
