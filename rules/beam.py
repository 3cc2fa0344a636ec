# SPDX-License-Identifier: MIT
"""Too little light, too much, or light that will not obey."""

from __future__ import annotations

from backporch.engine.facts import (
    NOT,
    OR,
    Finding,
    Rule,
    RuleBook,
    Symptom,
)

__all__ = ["BeamRules"]


class BeamRules(RuleBook):
    """What brightness, focus and warmth say together."""

    @Rule(
        Symptom(name="raster-dim"),
        OR(Symptom(name="slow-picture"), Symptom(name="better-when-warm")),
        NOT(Symptom(name="raster-too-small")),
    )
    def dim_and_slow_is_a_worn_tube(self) -> None:
        """The picture tube is worn.

        The light comes late and stays poor; the size is right, and so are the supplies.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="raster-dim"),
        NOT(Symptom(name="raster-too-small")),
        NOT(Symptom(name="height-too-small")),
        NOT(Symptom(name="width-too-small")),
    )
    def dim_at_full_size_clears_the_b_plus(self) -> None:
        """The B+ rectifier is hardly to blame.

        A low B+ would shrink the picture before it dims it.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="moderate"))

    @Rule(
        Symptom(name="brightness-stuck-bright"), Symptom(name="blank-raster-no-snow"), Symptom(name="sound-good")
    )
    def stuck_bright_with_picture_lost_is_a_short_in_the_tube(self) -> None:
        """The picture tube may be shorted inside, cathode to heater or to grid.

        Bias and picture are lost at one electrode, while the signal path still carries the sound.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="brightness-stuck-bright"),
        Symptom(name="changes-when-tapped"),
        NOT(Symptom(name="changes-with-control-touch")),
    )
    def stuck_bright_that_a_tap_changes_is_in_the_tube(self) -> None:
        """Something loose inside the picture tube touches.

        A tap changes the light, and the control does not.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="brightness-stuck-bright"),
        Symptom(name="retrace-lines"),
        NOT(Symptom(name="blank-raster-no-snow")),
    )
    def stuck_bright_with_retrace_lines_is_lost_bias(self) -> None:
        """The bias of the picture tube is lost, and with it the blanking.

        The picture is there, so the tube is driven; only its working point is wrong.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="retrace-lines"),
        NOT(Symptom(name="brightness-stuck-bright")),
        NOT(Symptom(name="brightness-follows-contrast")),
    )
    def retrace_lines_at_normal_light_are_blanking(self) -> None:
        """The bias of the picture tube is right, so the blanking pulse is missing.

        The lines show although the light can be set as it should.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="against", strength="moderate"))

    @Rule(Symptom(name="dark-then-flash-off"), Symptom(name="high-voltage-arcing"), NOT(Symptom(name="no-sound")))
    def light_that_goes_when_warm_with_snaps_is_the_high_voltage(self) -> None:
        """Insulation at the high voltage breaks down when it is warm.

        The light goes with snaps while the sound stays.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="conclusive"))
