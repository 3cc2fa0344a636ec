# SPDX-License-Identifier: MIT
"""Sound, smell, heat and history as witnesses."""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
    NOT,
    OR,
    Condition,
    Finding,
    Member,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["BenchRules", "SoundRules"]


class SoundRules(RuleBook):
    """What the loudspeaker tells."""

    @Rule(OR(Symptom(name="sound-weak"), Symptom(name="sound-distorted")))
    def poor_sound_points_to_the_sound_stages(self) -> None:
        """Weak or distorted sound points to the sound stages.

        A leaky coupling or a worn output tube is common.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="sound-hum"), Symptom(name="picture-weaves")))
    def hum_and_weaving_come_from_ripple(self) -> None:
        """Ripple gets where it does not belong.

        It is heard as hum, or it sways the lines; dried-out capacitors are the usual reason.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-likely"))

    @Rule(Symptom(name="sound-buzz"), Trait(name="sound_takeoff", value="after-video"))
    def buzz_points_to_sound_alignment(self) -> None:
        """Buzz that changes with the picture points to the sound detector or an overloaded video stage.

        Picture content gets through to the sound.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="for", strength="strong"))


class BenchRules(RuleBook):
    """Smell, heat, touch and history."""

    @Rule(OR(Symptom(name="smoke"), Symptom(name="burning-smell")))
    def smoke_points_to_an_overload(self) -> None:
        """Smoke or a burning smell means that a part carries far too much.

        A shorted capacitor behind it is the usual reason.
        Source: common practice.
        """
        self.declare(Condition(name="overload-current"))

    @Rule(
        OR(Symptom(name="part-very-hot"), Symptom(name="worse-when-warm")),
        Symptom(name="sound-hum"),
    )
    def heat_with_hum_points_to_the_supply(self) -> None:
        """A filter capacitor leaks: it heats itself, leaks more, and hums.

        A part of the supply gets hot, or the hum grows as the set warms.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="came-after-work"),
        Trait(name="last-event", value="tubes-changed"),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def changed_tubes_make_their_stages_suspect(self, stage: str) -> None:
        """The {stage} is suspected because tubes were changed.

        A wrong or exchanged tube fits the socket and not the circuit.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="weak"))

    @Rule(Symptom(name="part-burnt"))
    def a_burnt_part_means_too_much_current(self) -> None:
        """A burnt or swollen part carried far too much.

        What drew the current is usually the capacitor or the tube behind it.
        Source: common practice.
        """
        self.declare(Condition(name="overload-current"))

    @Rule(
        Condition(name="overload-current"),
        Condition(name="output-overloaded"),
        NOT(Symptom(name="rectifier-violet")),
    )
    def smoke_with_a_red_plate_is_the_line_output(self) -> None:
        """The line output stage carries the overload.

        Its plate is red, and something burns.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="overload-current"),
        Symptom(name="fuse-blows-at-once"),
        NOT(Symptom(name="fuse-blows-later")),
    )
    def smoke_with_the_fuse_at_once_is_the_mains_side(self) -> None:
        """The short is on the mains side or in the mains transformer.

        It is there before any tube is warm.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="part-very-hot"),
        NOT(Symptom(name="sound-hum")),
        NOT(Symptom(name="hum-bar-one")),
        NOT(Symptom(name="hum-bars-two")),
    )
    def a_hot_part_without_hum_is_no_filter(self) -> None:
        """A part that gets far too hot is overloaded by what stands behind it.

        A feed resistor or the line output runs hot when what they feed is shorted.
        Source: common practice.
        """
        self.declare(Condition(name="overload-current"))
