# SPDX-License-Identifier: MIT
"""Heaters and mains: what glows, what does not, and where the supply stops."""

from __future__ import annotations

from backporch.engine.facts import (
    NOT,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["HeaterRules"]


class HeaterRules(RuleBook):
    """Dark, bright and flickering heaters."""

    @Rule(
        Symptom(name="set-dead"),
        NOT(Symptom(name="fuse-blows-at-once")),
        NOT(Symptom(name="fuse-blows-later")),
    )
    def a_dead_set_means_no_mains(self) -> None:
        """No mains reaches the set.

        Nothing glows, hums or lights, and no fuse blows that would tell of a heavy load.
        Source: common practice.
        """
        self.declare(Condition(name="mains-missing"))

    @Rule(Condition(name="mains-missing"), Trait(name="supply", value="series-string"))
    def no_mains_may_be_an_open_string(self) -> None:
        """Nothing glows: the heater string may be open.

        One open heater darkens all of them.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

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

    @Rule(Symptom(name="one-heater-dark"), Trait(name="supply", value="transformer"))
    def one_dark_tube_points_to_its_socket(self) -> None:
        """One dark tube among lit ones has an open heater or a bad socket contact.

        In a parallel line each tube stands for itself.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Condition(name="picture-is-seen"), Trait(name="supply", value="transformer"))
    def a_picture_clears_a_parallel_heater_line(self) -> None:
        """The heater winding works.

        A picture is seen; a single cold tube behind a bad joint is still possible.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="against", strength="moderate"))

    @Rule(Condition(name="picture-is-seen"), Trait(name="supply", value="series-string"))
    def a_picture_hardly_clears_a_string(self) -> None:
        """The heater string is not open.

        A picture is seen; but the current in the string may still be wrong.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="against", strength="weak"))

    @Rule(Symptom(name="some-heaters-dark"), Trait(name="supply", value="series-string"))
    def part_of_a_string_dark_is_a_short_part_way(self) -> None:
        """The string is shorted part of the way, most often by a heater that touches its cathode.

        In an open string no tube would glow.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(
        Symptom(name="one-heater-dark"),
        Trait(name="supply", value="series-string"),
        NOT(Symptom(name="heaters-too-bright")),
    )
    def one_dark_tube_in_a_string_is_shorted(self) -> None:
        """The dark tube is passed by: its heater is shorted, or its place is bridged.

        The current goes on to all the others.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="heaters-too-bright"),
        Trait(name="supply", value="series-string"),
        Symptom(name="came-after-work"),
    )
    def bright_heaters_in_a_string_after_work(self) -> None:
        """The dropper or the thermistor was bridged or replaced by a smaller one.

        Every tube gets too much since somebody worked on the set.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="slow-start"),
        Trait(name="supply", value="series-string"),
        NOT(Symptom(name="raster-too-small")),
    )
    def slow_start_in_a_string_is_its_current(self) -> None:
        """The heater string gets too little current.

        The B+ is right once the set runs; a thermistor or dropper has risen.
        Source: common practice.
        """
        self.declare(Finding(stage="heater-supply", direction="for", strength="strong"))

    @Rule(Symptom(name="slow-start"), Condition(name="rails-low"), NOT(Symptom(name="heaters-flicker")))
    def slow_and_small_is_the_rectifier(self) -> None:
        """The B+ rectifier is tired.

        The set comes late, and small when it comes.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="fuse-blows-later"),
        Condition(name="output-overloaded"),
        NOT(Symptom(name="rectifier-violet")),
    )
    def a_fuse_that_blows_later_with_a_red_plate(self) -> None:
        """The line output stage blows the fuse.

        Its plate turns red before the fuse goes.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="against", strength="moderate"))
