# SPDX-License-Identifier: MIT
"""A set on a substitute picture tube and yoke: what the rig itself does, and what it cannot do.

What the rig is computed to change in size, detail and light is left out of the symptoms before any rule
reads them; these rules are about what no arithmetic foresees.
"""

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

__all__ = ["RigRules"]


class RigRules(RuleBook):
    """Tube, yoke, adapter, coating, heater and leads of the rig as suspects."""

    @Rule(
        Trait(name="rig-yoke", value="other"),
        OR(Symptom(name="width-too-small"), Symptom(name="width-too-large")),
        NOT(Symptom(name="raster-dim")),
    )
    def the_width_of_another_yoke_is_no_fault(self) -> None:
        """The horizontal output tube need not be at fault.

        Another yoke has another width, and the light is as it should be.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="against", strength="moderate"))

    @Rule(
        Trait(name="rig-yoke", value="other"),
        OR(Symptom(name="height-too-small"), Symptom(name="height-too-large")),
        NOT(Symptom(name="fold-over-bottom")),
    )
    def the_height_of_another_yoke_is_no_fault(self) -> None:
        """The vertical output stage need not be at fault.

        Another yoke has another height, and nothing lies double.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="against", strength="moderate"))

    @Rule(
        Trait(name="rig-yoke", value="other"),
        OR(Symptom(name="picture-mirrored"), Symptom(name="picture-upside-down")),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def a_mirrored_rig_is_wired_the_other_way(self, stage: str) -> None:
        """The {stage} need not be at fault.

        The leads of the rig's yoke are the other way round; exchange them at its plug, with the set off.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Trait(name="rig-yoke", value="other"),
        Condition(name="supply-suspected"),
        NOT(Symptom(name="set-dead")),
    )
    def a_yoke_plug_may_carry_the_supply(self) -> None:
        """The set's own yoke plug is off, and with it a link that carried the B+ or closed an interlock.

        Many plugs carry more than the scan; light and sound go together when such a link is open.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="conclusive"))

    @Rule(
        Trait(name="rig-adapter", value="unchecked"),
        OR(Symptom(name="brightness-stuck-bright"), Symptom(name="brightness-stuck-dim")),
        NOT(Symptom(name="retrace-lines")),
    )
    def an_unchecked_adapter_may_exchange_electrodes(self) -> None:
        """On the adapter first grid and first anode may be exchanged.

        The brightness control then does nothing, or the wrong thing. Check it pin by pin with the set off.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        Trait(name="rig-adapter", value="unchecked"),
        Condition(name="no-light"),
        Condition(name="high-voltage-present"),
    )
    def an_unchecked_adapter_may_keep_it_dark(self) -> None:
        """On the adapter two electrodes may be exchanged, so that the beam is cut off.

        Anode voltage is there and no light. Check the adapter pin by pin with the set off.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(
        Trait(name="rig-adapter", value="unchecked"),
        Symptom(name="picture-negative"),
        NOT(Symptom(name="sound-buzz")),
        NOT(Symptom(name="picture-overloaded")),
    )
    def an_unchecked_adapter_may_feed_the_other_electrode(self) -> None:
        """On the adapter the picture may go to the first grid in place of the cathode, or the other way round.

        Either makes light of dark. Check the adapter pin by pin with the set off.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        NOT(Trait(name="rig-coating", value="bonded")),
        Trait(name="rig", value="substitute-tube"),
        OR(Symptom(name="high-voltage-arcing"), Symptom(name="high-voltage-corona")),
    )
    def sparks_without_a_bonded_coating_are_the_rig(self) -> None:
        """The sparks come from the rig's tube: its coating is missing or not bonded.

        The glass charges like a capacitor whose one plate hangs free, and sparks over to the nearest metal.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(
        NOT(Trait(name="rig-coating", value="bonded")),
        Trait(name="rig", value="substitute-tube"),
        Symptom(name="high-voltage-arcing"),
        NOT(Symptom(name="burning-smell")),
    )
    def sparks_without_a_bonded_coating_clear_the_flyback(self) -> None:
        """The flyback transformer need not be at fault.

        A tube whose coating is not bonded sparks by itself, and nothing smells burnt.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="against", strength="moderate"))

    @Rule(
        Trait(name="rig-lead", value="long"),
        OR(Symptom(name="smeared"), Symptom(name="picture-soft"), Symptom(name="ringing")),
        NOT(Symptom(name="picture-weak")),
    )
    def a_long_cathode_lead_smears(self) -> None:
        """The video stage need not be at fault.

        A long cathode lead takes picture detail, and the contrast is right. Shorten it first.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="against", strength="moderate"))

    @Rule(
        Trait(name="rig-heater", value="in-string"),
        OR(Symptom(name="heaters-too-bright"), Symptom(name="slow-start"), Symptom(name="some-bright-some-dark")),
        Trait(name="supply", value="series-string"),
    )
    def another_heater_upsets_the_string(self) -> None:
        """The rig's picture tube has another heater than the string is made for.

        Its current or its voltage differs, and all the others get what it leaves.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(
        Trait(name="rig-heater", value="own-supply"),
        Trait(name="supply", value="series-string"),
        OR(Symptom(name="all-heaters-dark"), Symptom(name="set-dead")),
    )
    def a_string_without_its_resistor_is_open(self) -> None:
        """The string may be open where the set's own picture tube was taken out.

        A resistor must stand in place of its heater.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(
        Trait(name="rig", value="substitute-tube"),
        Condition(name="no-light"),
        Condition(name="high-voltage-present"),
        NOT(Trait(name="rig-magnet", value="none")),
    )
    def a_tube_with_a_trap_needs_its_magnet(self) -> None:
        """The rig's tube may lack its ion-trap magnet, or it sits in the wrong place.

        Such a gun gives no light without it, whatever the chassis does.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(
        Trait(name="rig", value="substitute-tube"),
        Symptom(name="neck-shadow"),
        NOT(Trait(name="rig-angle", value="enough")),
    )
    def a_yoke_for_less_angle_shadows_the_corners(self) -> None:
        """The beam may touch the neck: perhaps the yoke of the rig is made for less angle than its tube.

        A long yoke bends the beam too early for a wide-angle tube. Push it up to the flare, or take another.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(
        Trait(name="rig", value="substitute-tube"),
        OR(Symptom(name="brightness-stuck-bright"), Symptom(name="picture-tube-video-lost")),
        Symptom(name="sound-good"),
        Trait(name="rig-heater", value="own-supply"),
    )
    def a_heater_source_that_is_not_isolated_upsets_the_cathode(self) -> None:
        """The source that heats the rig's tube may not be isolated.

        Then heater and cathode stand far apart, and a small leak between them takes bias and picture away.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))
