# SPDX-License-Identifier: MIT
"""Light: none, little, or more than wanted, and how far the way to it is open.

The order of the no-light rules is that of the trade: tube heater, line scan, anode voltage, bias, first
anode, and the ion-trap magnet last.
"""

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
    Trait,
)

__all__ = ["LightRules"]


class LightRules(RuleBook):
    """No light, little light, light that cannot be changed."""

    @Rule(Symptom(name="no-raster"))
    def dark_screen_means_no_light(self) -> None:
        """No light comes from the picture tube.

        Beam, anode voltage or bias is missing.
        Source: common practice.
        """
        self.declare(Condition(name="no-light"))

    @Rule(Answer(measurement="listen-for-the-whistle", outcome="heard"), Trait(name="hearing", value="hears"))
    def a_heard_whistle_counts_for_good_ears(self) -> None:
        """The line whistle is there.

        Somebody who hears it on other sets hears it here.
        Source: common practice.
        """
        self.declare(Condition(name="whistle-there"))

    @Rule(Symptom(name="whistle-present"), Trait(name="hearing", value="hears"))
    def a_whistle_named_counts_for_good_ears(self) -> None:
        """The line whistle is there.

        It was heard without being asked for, by somebody who can hear it.
        Source: common practice.
        """
        self.declare(Condition(name="whistle-there"))

    @Rule(
        OR(
            Answer(measurement="listen-for-the-whistle", outcome="not-heard"),
            Symptom(name="whistle-missing"),
        ),
        Trait(name="hearing", value="hears"),
    )
    def silence_counts_for_good_ears(self) -> None:
        """The line whistle is missing.

        Somebody who hears the whistle of other sets does not hear this one.
        Source: common practice.
        """
        self.declare(Condition(name="whistle-absent"))

    @Rule(Answer(measurement="listen-with-a-radio", outcome="heard"))
    def a_radio_finds_the_line_oscillator(self) -> None:
        """The line oscillator runs.

        A radio or a phone finds what follows the hold control; that may be the oscillator alone.
        Source: common practice.
        """
        self.declare(Condition(name="line-oscillator-runs"))

    @Rule(Answer(measurement="listen-with-a-radio", outcome="not-heard"))
    def a_radio_finds_nothing(self) -> None:
        """The line whistle is missing.

        Neither radio nor phone finds anything that follows the hold control.
        Source: common practice.
        """
        self.declare(Condition(name="whistle-absent"))

    @Rule(Condition(name="no-light"), Condition(name="whistle-there"))
    def a_whistle_means_that_the_line_scan_runs(self) -> None:
        """The line oscillator and output stage run, although there is no light.

        The whistle comes from the flyback transformer and needs both.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-scan-runs"))

    @Rule(Condition(name="no-light"), Condition(name="whistle-absent"), NOT(Symptom(name="set-dead")))
    def silence_means_that_the_line_scan_is_dead(self) -> None:
        """The line scan does not run.

        Nothing beats at the line rate, in a set that has its mains.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-scan-dead"))

    @Rule(Condition(name="no-light"), Answer(measurement="test-static-on-glass", outcome="present"))
    def static_means_high_voltage(self) -> None:
        """The anode voltage is present.

        Only high voltage makes the glass pull a hair or paper.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-present"))

    @Rule(Condition(name="high-voltage-present"))
    def high_voltage_means_that_the_line_scan_runs(self) -> None:
        """The line scan runs.

        The high voltage is made from its retrace.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-scan-runs"))

    @Rule(Condition(name="no-light"), Symptom(name="no-high-voltage-signs"))
    def no_static_means_no_high_voltage(self) -> None:
        """The anode voltage is missing.

        Nothing of its usual signs is there.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-missing"))

    @Rule(Condition(name="no-light"), Trait(name="ion_trap", value="single"))
    def no_light_suspects_the_ion_trap(self) -> None:
        """No light: the ion-trap magnet may be out of place.

        A gun with an ion trap gives no light until the magnet is right.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="strong"))

    @Rule(
        Condition(name="horizontal-scan-runs"),
        Condition(name="no-light"),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def a_running_scan_clears_the_horizontal_stages(self, stage: str) -> None:
        """The {stage} works well enough to make the scan.

        The line scan runs, so the light is lost after it.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Condition(name="horizontal-scan-runs"),
        Condition(name="no-light"),
        NOT(Answer(measurement="test-static-on-glass", outcome="present")),
    )
    def a_running_scan_points_to_the_high_voltage_rectifier(self) -> None:
        """The high-voltage rectifier is the first suspect between a running line scan and a dark tube.

        It is a tube that works hard, and nobody has seen its voltage yet.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="horizontal-scan-dead"),
        Condition(name="no-light"),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def a_dead_scan_incriminates_the_horizontal_stages(self, stage: str) -> None:
        """The line scan does not run: the {stage} is suspected.

        One of the stages that make or load the line scan has failed.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(Condition(name="horizontal-scan-dead"), Condition(name="no-light"))
    def a_dead_scan_clears_the_electrode_supplies(self) -> None:
        """The brightness and electrode supplies are not the cause.

        Without line scan the screen is dark whatever they do.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="against", strength="moderate"))

    @Rule(Condition(name="high-voltage-present"), Condition(name="no-light"))
    def anode_voltage_present_clears_the_rectifier(self) -> None:
        """The high-voltage rectifier works.

        The anode voltage is there.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="strong"))

    @Rule(
        Condition(name="high-voltage-present"),
        Condition(name="no-light"),
        NOT(Symptom(name="picture-tube-heater-dark")),
        NOT(Answer(measurement="look-at-the-picture-tube-heater", outcome="dark")),
    )
    def anode_voltage_present_points_to_the_gun(self) -> None:
        """Anode voltage without light points to the supplies of the gun.

        The bias of its grid, the voltage of its first anode, and then the ion trap come next.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="strong"))

    @Rule(
        Condition(name="no-light"),
        Symptom(name="picture-tube-heater-dark"),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def a_dark_neck_is_reason_enough(self, stage: str) -> None:
        """The {stage} need not be at fault.

        A cold picture tube stays dark whatever the line scan does.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="weak"))

    @Rule(Condition(name="no-light"), Symptom(name="sound-good"), Trait(name="sound_takeoff", value="after-video"))
    def good_sound_clears_rails_and_signal(self) -> None:
        """Mains, B+ and the signal path as far as the video stage work.

        The sound is taken off after the video stage and is good.
        Source: common practice.
        """
        self.declare(Condition(name="rails-good"))

    @Rule(Condition(name="no-light"), Symptom(name="no-sound"))
    def no_light_and_no_sound_points_to_the_supply(self) -> None:
        """Neither light nor sound: the supply that both share is suspected.

        One missing rail is likelier than two faults.
        Source: common practice.
        """
        self.declare(Condition(name="supply-suspected"))

    @Rule(Symptom(name="raster-dim"), Trait(name="ion_trap", value="single"))
    def a_dim_raster_points_to_the_magnet(self) -> None:
        """A dim raster points to an ion-trap magnet out of place.

        A moved magnet lets only part of the beam through.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="moderate"))
