# SPDX-License-Identifier: MIT
"""A set on a substitute picture tube and yoke: what the rig itself changes."""

from __future__ import annotations

from backporch.engine.facts import (
    OR,
    Finding,
    Rule,
    RuleBook,
    Symptom,
    Trait,
)

__all__ = ["RigRules"]


class RigRules(RuleBook):
    """Differences that the rig makes and that are no fault of the chassis."""

    @Rule(
        Trait(name="rig", value="substitute-tube"),
        OR(Symptom(name="width-too-large"), Symptom(name="width-too-small")),
    )
    def rig_width_is_the_yoke(self) -> None:
        """The width differs because the yoke and the tube differ.

        Another inductance, angle or anode voltage changes the size; the chassis need not be at fault.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="against", strength="moderate"))

    @Rule(
        Trait(name="rig", value="substitute-tube"),
        OR(Symptom(name="height-too-small"), Symptom(name="height-too-large")),
    )
    def rig_height_is_the_yoke(self) -> None:
        """The height differs because the yoke and the tube differ.

        Another inductance, angle or anode voltage changes the size; the chassis need not be at fault.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="against", strength="moderate"))

    @Rule(Trait(name="rig", value="substitute-tube"), Symptom(name="brightness-stuck-bright"))
    def rig_adapter_may_swap_electrodes(self) -> None:
        """On an adapter first grid and first anode are easily swapped.

        Check it pin by pin with the set off before anything else.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Trait(name="rig", value="substitute-tube"), Symptom(name="smeared"))
    def rig_cathode_lead_smears(self) -> None:
        """A long cathode lead takes picture detail.

        Shorten it before the video stage is suspected.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="against", strength="moderate"))
