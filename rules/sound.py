# SPDX-License-Identifier: MIT
"""Sound, smell, heat and history as witnesses."""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
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

    @Rule(Symptom(name="no-sound"))
    def no_sound_points_to_the_sound_stages(self) -> None:
        """No sound points to the sound stages.

        A picture without sound is lost after the point where they part.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="sound-weak"), Symptom(name="sound-distorted")))
    def poor_sound_points_to_the_sound_stages(self) -> None:
        """Weak or distorted sound points to the sound stages.

        A leaky coupling or a worn output tube is common.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="for", strength="strong"))

    @Rule(Symptom(name="sound-hum"))
    def hum_points_to_the_filter(self) -> None:
        """Hum points to the reservoir and filter capacitors.

        They dry out with age.
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

    @Rule(Symptom(name="sound-buzz"), Trait(name="sound_takeoff", value="after-video"))
    def buzz_may_be_overload(self) -> None:
        """Buzz may come from an overloaded picture path.

        The sync cuts the sound carrier off in each field.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="moderate"))

    @Rule(
        Symptom(name="sound-good"), Trait(name="sound_takeoff", value="after-video"), Symptom(name="picture-weak")
    )
    def good_sound_with_weak_picture_clears_the_input(self) -> None:
        """The tuner brings enough signal.

        The sound that comes with it is good.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="against", strength="moderate"))

    @Rule(Symptom(name="sound-crackles"))
    def crackles_point_to_contacts(self) -> None:
        """Crackles point to a dirty control or a bad joint in the sound stages.

        Contacts that open for a moment are heard.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="for", strength="strong"))

    @Rule(Symptom(name="sync-jumps-with-sound"))
    def a_picture_that_jumps_with_sound_points_to_decoupling(self) -> None:
        """A picture that jumps with the sound points to poor decoupling of the B+.

        The sound output shakes the rail that the oscillators live from.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="strong"))


class BenchRules(RuleBook):
    """Smell, heat, touch and history."""

    @Rule(OR(Symptom(name="smoke"), Symptom(name="burning-smell")))
    def smoke_points_to_an_overload(self) -> None:
        """Smoke or a burning smell means that a part carries far too much.

        A shorted capacitor behind it is the usual reason.
        Source: common practice.
        """
        self.declare(Condition(name="overload-current"))

    @Rule(Condition(name="overload-current"))
    def an_overload_points_to_the_feeds(self) -> None:
        """An overload points to a feed resistor and the capacitor behind it.

        The resistor burns because the capacitor is shorted.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="strong"))

    @Rule(Condition(name="overload-current"))
    def an_overload_may_be_the_supply(self) -> None:
        """An overload may be in rectifier or mains transformer.

        They carry everything.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="moderate"))

    @Rule(Condition(name="overload-current"))
    def an_overload_may_be_the_line_output(self) -> None:
        """An overload may be in the line output stage.

        Its screen resistor and flyback run hot.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="rotten-smell"))
    def a_foul_smell_points_to_a_selenium_rectifier(self) -> None:
        """A foul smell points to a failing selenium rectifier.

        Leave the room to air; the fumes are harmful.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(Symptom(name="part-very-hot"), Symptom(name="sound-hum"))
    def heat_with_hum_points_to_the_supply(self) -> None:
        """A hot part and hum point to the supply.

        A leaky filter capacitor heats itself and hums.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="changes-with-control-touch"))
    def crackling_controls_point_to_their_tracks(self) -> None:
        """A picture that jumps as a control is turned points to that control.

        Tracks and wipers get dirty.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="weak"))

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

    @Rule(Symptom(name="varies-with-channel"))
    def one_channel_only_points_to_the_tuner(self) -> None:
        """A fault on one channel only points to the tuner contacts.

        Everything after the tuner is shared by all channels.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="conclusive"))

    @Rule(Symptom(name="varies-with-mains"))
    def a_fault_that_follows_the_mains_points_to_the_supply(self) -> None:
        """A fault that follows the mains points to a supply with nothing in hand.

        A worn rectifier leaves no reserve.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="part-burnt"))
    def a_burnt_part_means_too_much_current(self) -> None:
        """A burnt or swollen part carried far too much.

        What drew the current is usually the capacitor or the tube behind it.
        Source: common practice.
        """
        self.declare(Condition(name="overload-current"))

    @Rule(Condition(name="overload-current"))
    def an_overload_may_be_the_flyback(self) -> None:
        """An overload may be in the flyback transformer.

        Its insulation chars and then conducts.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Condition(name="overload-current"))
    def an_overload_may_be_on_the_mains_side(self) -> None:
        """An overload may be on the mains side.

        An old capacitor across the mains shorts and burns.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="moderate"))
