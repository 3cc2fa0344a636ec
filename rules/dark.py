# SPDX-License-Identifier: MIT
"""No light, and more than one thing known: the way to light, walked step by step."""

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

__all__ = ["DarkRules"]


class DarkRules(RuleBook):
    """From tube heater to ion-trap magnet, and from mains to B+."""

    @Rule(Condition(name="no-light"), Answer(measurement="look-at-the-picture-tube-heater", outcome="lit"))
    def a_lit_neck_counts_in_the_dark(self) -> None:
        """The picture tube is heated.

        Its neck glows, so the beam is missing for another reason.
        Source: common practice.
        """
        self.declare(Condition(name="tube-heater-lit"))

    @Rule(Condition(name="no-light"), Condition(name="tube-heater-lit"), Condition(name="high-voltage-present"))
    def light_is_lost_in_the_gun(self) -> None:
        """Heater and anode voltage are there: the light is lost in the gun.

        What is left is the bias, the first anode and, where there is one, the ion-trap magnet.
        Source: common practice.
        """
        self.declare(Condition(name="light-lost-in-the-gun"))

    @Rule(
        Condition(name="light-lost-in-the-gun"),
        Trait(name="ion_trap", value="none"),
        NOT(Answer(measurement="turn-brightness", outcome="normal")),
    )
    def a_gun_without_light_may_be_worn_out(self) -> None:
        """The gun itself may give no beam: a worn cathode or an open electrode.

        Heater and anode voltage are there, and there is no magnet that could keep the beam away.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Condition(name="light-lost-in-the-gun"), NOT(Trait(name="ion_trap", value="none")))
    def light_lost_in_a_bent_gun_is_the_magnet(self) -> None:
        """The ion-trap magnet is suspected: a gun with an ion trap gives no light until the magnet is right.

        Heater and anode voltage are there, and turning the magnet costs nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(Condition(name="light-lost-in-the-gun"), Answer(measurement="move-the-ion-trap", outcome="same"))
    def a_magnet_that_brings_nothing_leaves_the_tube(self) -> None:
        """The gun itself may give no beam: a worn cathode or an open electrode.

        Heater and anode voltage are there, and the magnet brings no light anywhere.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(Symptom(name="came-after-moving"), Condition(name="no-light"), NOT(Trait(name="ion_trap", value="none")))
    def a_journey_moves_the_magnet(self) -> None:
        """The ion-trap magnet may have slipped on the journey.

        It is held by a spring or a clamp and lets no light through when it is off its place.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(
        OR(Condition(name="no-light"), Symptom(name="raster-dim"), Symptom(name="neck-shadow")),
        Answer(measurement="move-the-ion-trap", outcome="brighter"),
        NOT(Trait(name="ion_trap", value="none")),
    )
    def a_brighter_place_proves_the_magnet(self) -> None:
        """The ion-trap magnet was out of its place.

        Moving it brought light, or more of it.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="whistle-there"),
        Answer(measurement="test-static-on-glass", outcome="absent"),
    )
    def static_in_the_dark_without_whistle_is_a_clear_sign(self) -> None:
        """The line scan runs and no anode voltage comes of it.

        The whistle is there and the glass pulls nothing.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-missing"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="horizontal-scan-runs"),
        Answer(measurement="look-at-the-high-voltage-filament", outcome="dark"),
    )
    def a_dark_filament_in_the_dark_points_to_the_rectifier(self) -> None:
        """The high-voltage rectifier is not heated although the line scan runs.

        Its filament or the loop of wire that feeds it is open.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="no-light"), Condition(name="horizontal-scan-dead"), Symptom(name="rectifier-filament-dark")
    )
    def a_dark_filament_without_scan_says_nothing_of_it(self) -> None:
        """The high-voltage rectifier need not be at fault.

        Its filament is heated by the line scan, and that does not run.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="moderate"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="horizontal-scan-dead"),
        NOT(Symptom(name="rectifier-overloaded")),
    )
    def a_dead_scan_clears_the_high_voltage_rectifier(self) -> None:
        """The high-voltage rectifier is hardly to blame.

        It stands after the line scan, which does not run, and it shows no overload that could hold the scan
        down.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="weak"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="horizontal-scan-dead"),
        Answer(measurement="look-at-the-output-plate", outcome="normal"),
    )
    def a_grey_plate_without_scan_points_to_the_damper(self) -> None:
        """The output tube takes no heavy current: its plate supply through the damper may be open.

        With its drive lost and its supply whole the plate would turn red.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="horizontal-scan-dead"),
        Answer(measurement="look-at-the-output-plate", outcome="normal"),
        Trait(name="output_bias", value="grid-leak"),
    )
    def a_grey_plate_speaks_for_the_drive(self) -> None:
        """Drive reaches the output tube, or it has no current to be driven.

        A tube that makes its bias from its drive turns red without it.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="against", strength="moderate"))

    @Rule(
        Condition(name="output-overloaded"),
        Condition(name="line-oscillator-runs"),
        Trait(name="output_bias", value="grid-leak"),
    )
    def a_red_plate_without_scan_suspects_the_coupling(self) -> None:
        """The drive is lost between oscillator and output tube.

        The oscillator is found with a radio and the plate is red all the same.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="conclusive"))

    @Rule(Condition(name="output-overloaded"), Condition(name="whistle-there"), NOT(Symptom(name="whistle-wrong")))
    def a_red_plate_with_whistle_points_to_the_load(self) -> None:
        """The output tube is driven and loaded too heavily: the flyback transformer or what hangs on it is
        suspected.

        The whistle is there, so oscillator and drive work.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="strong"))

    @Rule(Condition(name="output-overloaded"), Condition(name="whistle-there"), NOT(Symptom(name="whistle-wrong")))
    def a_red_plate_with_whistle_clears_the_oscillator(self) -> None:
        """The line oscillator works.

        The whistle is there at its right pitch.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="against", strength="strong"))

    @Rule(
        Condition(name="supply-suspected"),
        Answer(measurement="look-at-the-heaters", outcome="all-lit"),
        NOT(Symptom(name="fuse-blows-later")),
    )
    def neither_light_nor_sound_with_lit_tubes_points_to_the_b_plus(self) -> None:
        """The heaters glow and neither light nor sound comes: the B+ is missing.

        Mains and heaters are there, so the fault lies in the rectifier or after it.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="supply-suspected"),
        Answer(measurement="look-at-the-heaters", outcome="all-lit"),
        NOT(Symptom(name="fuse-blows-at-once")),
    )
    def lit_tubes_clear_the_mains_when_light_and_sound_are_lost(self) -> None:
        """The mains comes in.

        All tubes glow.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="against", strength="strong"))

    @Rule(
        Condition(name="supply-suspected"),
        Symptom(name="one-heater-dark"),
        Trait(name="supply", value="transformer"),
    )
    def a_dark_tube_with_light_and_sound_lost_is_the_rectifier(self) -> None:
        """The dark tube is likely the B+ rectifier.

        Of all tubes in a parallel line it is the only one that takes light and sound away at once.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="supply-suspected"),
        Answer(measurement="look-at-the-rectifier", outcome="dark"),
        Trait(name="supply", value="transformer"),
    )
    def a_dark_rectifier_with_light_and_sound_lost(self) -> None:
        """The B+ rectifier is not heated.

        Without it no stage has B+.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="supply-suspected"),
        Answer(measurement="look-at-the-rectifier", outcome="violet"),
        NOT(Symptom(name="set-dead")),
    )
    def a_violet_rectifier_with_light_and_sound_lost(self) -> None:
        """The B+ is shorted behind the rectifier.

        The rectifier is heated and carries far too much, and yet nothing has its supply.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="high-voltage-missing"),
        NOT(Condition(name="horizontal-scan-runs")),
        Member(group="horizontal", stage=MATCH.stage),
        salience=FALLBACK,
    )
    def no_high_voltage_incriminates_the_line_stages(self, stage: str) -> None:
        """No high voltage: the {stage} is suspected.

        It is made from the retrace of the line scan; one of the stages that make it has failed, or the rectifier.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="high-voltage-missing"),
        NOT(Answer(measurement="test-static-on-glass", outcome="present")),
    )
    def no_high_voltage_clears_the_gun_supplies(self) -> None:
        """The brightness and electrode supplies are not the cause.

        Without anode voltage the screen is dark whatever they do.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="against", strength="strong"))

    @Rule(
        Condition(name="no-light"),
        Condition(name="high-voltage-missing"),
        NOT(Symptom(name="picture-tube-heater-dark")),
    )
    def no_high_voltage_speaks_for_the_picture_tube(self) -> None:
        """The picture tube need not be at fault.

        It gets no anode voltage, and its heater is not seen to be dark.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="against", strength="moderate"))
