# SPDX-License-Identifier: MIT
"""Raster: size, shape and place, and what they say about scan, supply and yoke."""

from __future__ import annotations

from backporch.engine.facts import (
    OR,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
)

__all__ = ["ShapeRules"]


class ShapeRules(RuleBook):
    """Height, width, linearity, fold-over, position."""

    @Rule(Symptom(name="single-horizontal-line"))
    def a_line_across_means_no_vertical_scan(self) -> None:
        """There is no vertical scan.

        The beam moves sideways and nothing moves it up and down.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-scan-collapsed"))

    @Rule(Symptom(name="height-too-small"), Symptom(name="width-too-small"))
    def small_both_ways_points_to_the_rails(self) -> None:
        """Too small both ways points to a low B+.

        Both scans are fed by it.
        Source: common practice.
        """
        self.declare(Condition(name="rails-low"))

    @Rule(Symptom(name="raster-too-small"))
    def small_all_round_points_to_the_rails(self) -> None:
        """Small all round points to a low B+.

        Both scans are fed by it.
        Source: common practice.
        """
        self.declare(Condition(name="rails-low"))

    @Rule(Symptom(name="raster-too-large"))
    def large_all_round_points_to_low_high_voltage(self) -> None:
        """Large all round points to a low anode voltage.

        A slower beam is bent further.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-low"))

    @Rule(OR(Symptom(name="top-stretched"), Symptom(name="bottom-stretched")))
    def uneven_height_points_to_the_vertical_output(self) -> None:
        """Uneven height points to the vertical output stage.

        Bias, cathode bypass and linearity parts shape the scan.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="top-stretched"), Symptom(name="bottom-stretched")))
    def uneven_height_may_be_the_sawtooth(self) -> None:
        """Uneven height may come from the sawtooth.

        A leaky capacitor or a low supply bends it.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-sawtooth", direction="for", strength="moderate"))

    @Rule(OR(Symptom(name="left-stretched"), Symptom(name="right-stretched")))
    def uneven_width_points_to_boost_and_linearity(self) -> None:
        """Uneven width points to the damper and its linearity parts.

        They shape the first half of each line.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="off-centre-vertically"), Symptom(name="off-centre-horizontally")))
    def a_shifted_picture_points_to_centring(self) -> None:
        """A shifted picture points to centring.

        The magnet or lever was moved, or direct current runs in the yoke.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(Symptom(name="single-spot"))
    def a_spot_means_that_both_scans_are_gone(self) -> None:
        """Neither scan runs, and the tube still has its anode voltage.

        It comes from another source than the line output, or from the charge left at switch-off.
        Source: common practice.
        """
        self.declare(Condition(name="both-scans-gone"))
