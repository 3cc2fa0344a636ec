# SPDX-License-Identifier: MIT
"""High voltage: whistle, arcs, red plates and fuses."""

from __future__ import annotations

from backporch.engine.facts import (
    Condition,
    Finding,
    Rule,
    RuleBook,
    Symptom,
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

    @Rule(Symptom(name="rectifier-filament-dark"), Condition(name="horizontal-scan-runs"))
    def a_dark_filament_with_running_scan_points_to_the_rectifier(self) -> None:
        """The scan runs and its rectifier stays dark: the rectifier or its filament winding is open.

        The winding gets its pulses.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Condition(name="high-voltage-missing"), Condition(name="horizontal-scan-runs"))
    def scan_without_high_voltage_points_to_the_rectifier(self) -> None:
        """The scan runs and there is no anode voltage: the high-voltage rectifier is the first suspect.

        It is the only stage between them.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="whistle-wrong"), Condition(name="no-light"))
    def a_strained_whistle_in_the_dark_points_to_an_overload(self) -> None:
        """A strained whistle and no light: something swallows the power of the line output.

        The high-voltage rectifier and what hangs on it come first, for they can be unloaded with the plug out.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))
