# SPDX-License-Identifier: MIT
"""Heaters and mains: what glows, what does not, and where the supply stops."""

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

__all__ = ["HeaterRules"]


class HeaterRules(RuleBook):
    """Dark, bright and flickering heaters."""

    @Rule(Symptom(name="set-dead"))
    def a_dead_set_means_no_mains(self) -> None:
        """No mains reaches the set.

        Nothing glows, hums or lights.
        Source: common practice.
        """
        self.declare(Condition(name="mains-missing"))

    @Rule(Condition(name="mains-missing"))
    def no_mains_points_to_the_input(self) -> None:
        """No mains points to cord, plug, switch, fuse and interlock.

        They come first and wear most.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="conclusive"))

    @Rule(Condition(name="mains-missing"), Trait(name="supply", value="series-string"))
    def no_mains_may_be_an_open_string(self) -> None:
        """Nothing glows: the heater string may be open.

        One open heater darkens all of them.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Condition(name="mains-missing"), Member(group="signal", stage=MATCH.stage))
    def no_mains_clears_the_signal_stages(self, stage: str) -> None:
        """The {stage} cannot darken the whole set.

        It takes only a small part of the supply.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="mains-missing"), Member(group="sync", stage=MATCH.stage))
    def no_mains_clears_the_sync_stages(self, stage: str) -> None:
        """The {stage} cannot darken the whole set.

        It takes only a small part of the supply.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="mains-missing"), Member(group="vertical", stage=MATCH.stage))
    def no_mains_clears_the_vertical_stages(self, stage: str) -> None:
        """The {stage} cannot darken the whole set.

        It takes only a small part of the supply.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="mains-missing"), Member(group="horizontal", stage=MATCH.stage))
    def no_mains_clears_the_horizontal_stages(self, stage: str) -> None:
        """The {stage} cannot darken the whole set.

        It stands after the rectifier, and the heaters do not.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Symptom(name="all-heaters-dark"))
    def all_heaters_dark_points_to_the_heater_supply(self) -> None:
        """All heaters dark points to the heater supply.

        Winding, feed, dropper or one open heater in a string.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="conclusive"))

    @Rule(Symptom(name="all-heaters-dark"))
    def all_heaters_dark_may_be_the_mains(self) -> None:
        """All heaters dark may mean that no mains comes in.

        Switch and fuse come first.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="strong"))

    @Rule(Symptom(name="some-heaters-dark"), Trait(name="supply", value="transformer"))
    def part_dark_points_to_the_heater_line(self) -> None:
        """Part of the tubes dark points to an open joint in the heater line.

        Tubes beyond the break get nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="conclusive"))

    @Rule(Symptom(name="some-bright-some-dark"), Trait(name="supply", value="series-string"))
    def bright_and_dark_means_a_heater_short(self) -> None:
        """Bright and dark together mean that a heater touches its cathode or the string is shorted part-way.

        The tubes on the mains side get what the others miss.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="conclusive"))

    @Rule(Symptom(name="heaters-too-bright"))
    def bright_heaters_point_to_the_supply(self) -> None:
        """Heaters too bright point to high mains, a wrong tap or a shorted dropper.

        All get too much.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="heaters-too-bright"))
    def bright_heaters_may_be_the_tap(self) -> None:
        """Heaters too bright may be the mains tap.

        It was set for another house.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="strong"))

    @Rule(Symptom(name="heaters-flicker"))
    def flickering_heaters_point_to_contacts(self) -> None:
        """Heaters that flicker point to a contact in the heater line.

        A joint, a socket or a switch opens now and then.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="heaters-flicker"))
    def flickering_heaters_may_be_the_switch(self) -> None:
        """Heaters that flicker may be the mains switch or plug.

        Worn contacts open for a moment.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-tube-heater-dark"))
    def a_dark_neck_suspects_the_tube(self) -> None:
        """A dark neck suspects the picture tube, its socket or its heater feed.

        All other tubes glow.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-tube-heater-dark"))
    def a_dark_neck_suspects_the_heater_line(self) -> None:
        """A dark neck may be an open feed to the picture tube.

        A joint or a socket contact is enough.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="moderate"))

    @Rule(Symptom(name="rectifier-violet"))
    def a_violet_rectifier_points_to_an_overload(self) -> None:
        """A violet or red rectifier carries far too much current.

        Reservoir or B+ is shorted, or the tube is gassy.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="rectifier-violet"))
    def a_violet_rectifier_may_be_a_shorted_rail(self) -> None:
        """A violet or red rectifier may feed a shorted rail.

        A filter capacitor that breaks down takes all.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="strong"))

    @Rule(Condition(name="supply-suspected"))
    def a_lost_supply_points_to_the_rectifier(self) -> None:
        """Light and sound lost together point to the B+ rectifier.

        All stages live from it.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Condition(name="supply-suspected"))
    def a_lost_supply_points_to_the_mains(self) -> None:
        """Light and sound lost together may mean that no mains comes in.

        Look whether the heaters glow.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="moderate"))

    @Rule(Condition(name="supply-suspected"))
    def a_lost_supply_points_to_the_feeds(self) -> None:
        """Light and sound lost together may be an open choke or dropper.

        One open part can take the main rail away.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="moderate"))

    @Rule(Condition(name="rails-good"))
    def good_rails_clear_the_rectifier(self) -> None:
        """The B+ rectifier works.

        The sound lives from it.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="strong"))

    @Rule(Condition(name="rails-good"))
    def good_rails_clear_the_mains(self) -> None:
        """The mains comes in.

        The set plays.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="against", strength="strong"))

    @Rule(Condition(name="rails-good"))
    def good_sound_clears_the_tuner(self) -> None:
        """The tuner works.

        The sound comes through it.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="against", strength="strong"))

    @Rule(Condition(name="rails-good"))
    def good_sound_clears_the_if(self) -> None:
        """The IF amplifier works.

        The sound comes through it.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="against", strength="strong"))

    @Rule(Symptom(name="slow-start"))
    def a_slow_start_points_to_heaters_or_rectifier(self) -> None:
        """A slow start points to low heater voltage or a tired rectifier.

        Cathodes come late.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="moderate"))

    @Rule(Symptom(name="slow-start"))
    def a_slow_start_may_be_the_heater_supply(self) -> None:
        """A slow start may come from low heater voltage.

        Thermistor, dropper or tap leaves too little.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="moderate"))

    @Rule(Symptom(name="one-heater-dark"), Trait(name="supply", value="transformer"))
    def one_dark_tube_points_to_its_socket(self) -> None:
        """One dark tube among lit ones has an open heater or a bad socket contact.

        In a parallel line each tube stands for itself.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="tube-blue-haze"))
    def blue_haze_suspects_the_output_stages(self) -> None:
        """A blue-violet haze between electrodes is gas, most often in a tube that works hard.

        The horizontal output tube works hardest.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="tube-blue-haze"))
    def blue_haze_suspects_the_vertical_output(self) -> None:
        """A blue-violet haze may be gas in the vertical output tube.

        It runs hot and carries a high plate voltage.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="moderate"))

    @Rule(Condition(name="rails-good"))
    def good_sound_clears_the_feeds(self) -> None:
        """The filter and the feeds of the rails are good enough for the sound.

        It hangs on the same B+.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="against", strength="weak"))
