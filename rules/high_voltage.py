# SPDX-License-Identifier: MIT
"""High voltage: whistle, arcs, red plates and fuses."""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
    Condition,
    Finding,
    Member,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["HighVoltageRules"]


class HighVoltageRules(RuleBook):
    """What the high-voltage side shows."""

    @Rule(Symptom(name="output-plate-red"))
    def a_red_plate_means_too_much_current(self) -> None:
        """The horizontal output tube takes far too much current.

        Drive is missing, or the load is shorted.
        Source: common practice.
        """
        self.declare(Condition(name="output-overloaded"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_points_to_lost_drive(self) -> None:
        """A red plate points to lost drive.

        Without drive a grid-leak biased tube has no bias and conducts all the time.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="strong"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_points_to_the_oscillator(self) -> None:
        """A red plate points to a stopped line oscillator.

        It makes the drive.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="strong"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_points_to_the_flyback(self) -> None:
        """A red plate points to shorted turns in the flyback transformer.

        They load the tube as a short.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_points_to_the_damper(self) -> None:
        """A red plate points to damper and boost capacitor.

        A short there loads the stage.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="moderate"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_points_to_the_yoke(self) -> None:
        """A red plate points to shorted turns in the horizontal yoke winding.

        They load the stage like shorted turns in the flyback.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="moderate"))

    @Rule(Condition(name="output-overloaded"), Member(group="sync", stage=MATCH.stage))
    def a_red_plate_clears_the_sync(self, stage: str) -> None:
        """The {stage} cannot make a plate red.

        It does not load the output stage.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Symptom(name="rectifier-filament-dark"), Condition(name="horizontal-scan-runs"))
    def a_dark_filament_with_running_scan_points_to_the_rectifier(self) -> None:
        """The scan runs and its rectifier stays dark: the rectifier or its filament winding is open.

        The winding gets its pulses.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="rectifier-overloaded"))
    def an_overloaded_rectifier_points_to_its_load(self) -> None:
        """A blue glow or red plate in the high-voltage rectifier points to a short behind it.

        The filter capacitor or the rectifier itself leaks.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="high-voltage-arcing"))
    def arcing_points_to_insulation(self) -> None:
        """Sparks point to insulation that has failed in flyback or high-voltage parts.

        Dust, damp and cracked insulation let the voltage over.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="strong"))

    @Rule(Symptom(name="high-voltage-arcing"))
    def arcing_points_to_the_high_voltage_parts(self) -> None:
        """Sparks point to the rectifier socket, the anode lead or its cap.

        They carry the full voltage.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="strong"))

    @Rule(Symptom(name="high-voltage-corona"))
    def corona_points_to_sharp_edges(self) -> None:
        """A steady hiss points to sharp edges or poor insulation at high voltage.

        The air itself leads a little.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="strong"))

    @Rule(Symptom(name="high-voltage-corona"))
    def corona_may_be_the_flyback(self) -> None:
        """A steady hiss may come from the flyback winding.

        Old wax and rubber crack.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Symptom(name="whistle-wrong"))
    def a_wrong_whistle_points_to_the_oscillator(self) -> None:
        """A whistle of the wrong pitch is a line oscillator far off its rate.

        Its timing parts have moved.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="strong"))

    @Rule(Symptom(name="fuse-blows-at-once"))
    def a_fuse_that_blows_at_once_points_to_the_mains_side(self) -> None:
        """A fuse that blows at once points to a short on the mains side or at the rectifier.

        The tubes are still cold and take nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="strong"))

    @Rule(Symptom(name="fuse-blows-at-once"))
    def a_fuse_that_blows_at_once_points_to_the_supply(self) -> None:
        """A fuse that blows at once points to the rectifier, its reservoir or the mains transformer.

        They are live from the first moment.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="fuse-blows-later"))
    def a_fuse_that_blows_later_points_to_b_plus(self) -> None:
        """A fuse that blows as the tubes warm points to a short on the B+.

        The load comes with the warm rectifier.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="strong"))

    @Rule(Symptom(name="fuse-blows-later"))
    def a_fuse_that_blows_later_points_to_the_output(self) -> None:
        """A fuse that blows as the tubes warm points to the line output stage.

        It takes the most current once it is warm.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="whistle-missing"), Trait(name="hearing", value="hears"))
    def a_missing_whistle_suspects_the_oscillator(self) -> None:
        """A missing whistle suspects the line oscillator.

        Nothing happens without its beat.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="moderate"))

    @Rule(Condition(name="high-voltage-missing"), Condition(name="horizontal-scan-runs"))
    def scan_without_high_voltage_points_to_the_rectifier(self) -> None:
        """The scan runs and there is no anode voltage: the high-voltage rectifier is the first suspect.

        It is the only stage between them.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Condition(name="output-overloaded"))
    def a_red_plate_suspects_the_tube_itself(self) -> None:
        """A red plate may be the horizontal output tube itself.

        A gassy tube or a leak to its grid takes the bias away.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="whistle-wrong"))
    def a_strained_whistle_points_to_a_loaded_flyback(self) -> None:
        """A strained whistle points to a flyback transformer that is loaded too heavily.

        Shorted turns and failing insulation drag it down.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Symptom(name="whistle-wrong"))
    def a_strained_whistle_points_to_the_high_voltage(self) -> None:
        """A strained whistle points to a short behind the high-voltage rectifier.

        It loads the flyback once the rectifier is warm.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="moderate"))

    @Rule(Symptom(name="whistle-wrong"), Condition(name="no-light"))
    def a_strained_whistle_in_the_dark_points_to_an_overload(self) -> None:
        """A strained whistle and no light: something swallows the power of the line output.

        The high-voltage rectifier and what hangs on it come first, for they can be unloaded with the plug out.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="strong"))
