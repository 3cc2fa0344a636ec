# SPDX-License-Identifier: MIT
"""Things that come and go: with heat, with a tap, after a journey."""

from __future__ import annotations

from backporch.engine.facts import (
    OR,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["IntermittentRules"]


class IntermittentRules(RuleBook):
    """Faults that change by themselves or when touched."""

    @Rule(Symptom(name="loses-lock-when-warm"))
    def lock_lost_when_warm_points_to_warm_timing_parts(self) -> None:
        """A lock that is lost with warmth points to a timing part of an oscillator.

        Leaky capacitors leak more and resistors drift as they warm.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="moderate"))

    @Rule(Symptom(name="loses-lock-when-warm"))
    def lock_lost_when_warm_points_to_the_separator(self) -> None:
        """A lock that is lost with warmth may come from the separator.

        Its coupling capacitor leaks more when warm, and its tube may take grid current.
        Source: common practice.
        """
        self.declare(Finding(stage="sync-separator", direction="for", strength="moderate"))

    @Rule(Symptom(name="brightness-pulses"))
    def pulsing_light_points_to_agc(self) -> None:
        """Light that pulses by itself points to an AGC loop that hunts.

        A drifted load or a filter that lost its value lets it swing.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="strong"))

    @Rule(Symptom(name="brightness-pulses"))
    def pulsing_light_may_be_arcing(self) -> None:
        """Light that pulses may come from a high-voltage supply that breaks down and recovers.

        Listen for snapping in the cage.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="moderate"))

    @Rule(Symptom(name="dark-then-flash-off"))
    def a_fading_picture_points_to_the_line_output(self) -> None:
        """A picture that fades within minutes points to a line output stage that tires as it warms.

        A gassy tube or a failing flyback gives out when hot.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="dark-then-flash-off"))
    def a_fading_picture_points_to_the_flyback(self) -> None:
        """A picture that fades within minutes may be a flyback transformer that breaks down when hot.

        Its insulation gives way with heat.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Symptom(name="dark-then-flash-off"))
    def a_fading_picture_points_to_the_rectifier(self) -> None:
        """A picture that fades within minutes may be a tired high-voltage rectifier.

        Its filament gives out when the set is hot.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="moderate"))

    @Rule(
        Symptom(name="picture-intermittent"),
        Trait(name="sound_takeoff", value="after-video"),
        Symptom(name="sound-good"),
    )
    def picture_lost_with_good_sound_points_behind_the_take_off(self) -> None:
        """The picture comes and goes while the sound stays: look behind the point where they part.

        The sound would go as well if the fault lay ahead of it.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-intermittent"))
    def an_intermittent_picture_points_to_tuner_contacts(self) -> None:
        """A picture that comes and goes points to the contacts of the tuner.

        They are moved most and oxidise.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-intermittent"))
    def an_intermittent_picture_points_to_the_lead(self) -> None:
        """A picture that comes and goes may be the signal lead or its plugs.

        A broken lead makes contact when it likes.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(
        Symptom(name="changes-when-tapped"),
        OR(Symptom(name="picture-rolls"), Symptom(name="picture-rolls-up"), Symptom(name="picture-rolls-down")),
    )
    def a_tap_that_stops_the_roll_points_to_a_contact(self) -> None:
        """A roll that a tap changes is a contact, a tube or a cracked part of the vertical stages.

        A drifted part does not mind a tap.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="moderate"))

    @Rule(Symptom(name="changes-when-tapped"), Condition(name="no-light"))
    def a_tap_that_brings_light_points_to_a_contact(self) -> None:
        """Light that a tap brings back is a contact or a joint in the line output stages.

        They run hot, and heat cracks joints.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="changes-when-tapped"))
    def a_tap_that_tells_points_to_contacts(self) -> None:
        """A fault that a tap changes is mechanical: a socket, a joint, a plug or a loose electrode.

        The tuner has the most contacts.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="weak"))

    @Rule(Symptom(name="worse-when-warm"), Symptom(name="height-too-small"))
    def height_lost_with_warmth_points_to_the_output_tube(self) -> None:
        """Height that shrinks with warmth points to the vertical output tube or its bias.

        Grid current grows as the tube warms.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))

    @Rule(Symptom(name="worse-when-warm"), Symptom(name="sound-hum"))
    def hum_that_grows_points_to_a_leaking_filter(self) -> None:
        """Hum that grows with warmth points to a filter capacitor that leaks more as it warms.

        It heats itself.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="moderate"))

    @Rule(Symptom(name="worse-when-warm"))
    def a_fault_that_grows_with_warmth_suspects_hot_stages(self) -> None:
        """A fault that grows with warmth sits where it gets hot.

        The line output stage is the hottest.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="weak"))

    @Rule(Symptom(name="better-when-warm"))
    def a_fault_that_goes_with_warmth_points_to_the_supply(self) -> None:
        """A fault that lessens with warmth points to an electrolytic that recovers or a tube that comes late.

        The rectifier and the filters set how the rails come up.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="moderate"))

    @Rule(Symptom(name="came-after-moving"))
    def a_journey_shakes_magnets(self) -> None:
        """After a journey the magnets on the neck may sit elsewhere.

        They are held by friction.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="moderate"))

    @Rule(Symptom(name="came-after-moving"))
    def a_journey_shakes_plugs(self) -> None:
        """After a journey a plug, a top cap or a tube may sit loose.

        Reseat them with the plug out before anything else.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="weak"))
