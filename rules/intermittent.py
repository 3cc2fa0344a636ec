# SPDX-License-Identifier: MIT
"""Things that come and go: with heat, with a tap, after a journey."""

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

__all__ = ["IntermittentRules"]


class IntermittentRules(RuleBook):
    """Faults that change by themselves or when touched."""

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

    @Rule(
        Symptom(name="changes-when-tapped"),
        OR(Symptom(name="picture-rolls"), Symptom(name="picture-rolls-up"), Symptom(name="picture-rolls-down")),
    )
    def a_tap_that_stops_the_roll_points_to_a_contact(self) -> None:
        """A roll that a tap changes is a contact, a tube or a cracked part of the vertical stages.

        A drifted part does not mind a tap.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="changes-when-tapped"), Condition(name="no-light"))
    def a_tap_that_brings_light_points_to_a_contact(self) -> None:
        """Light that a tap brings back is a contact or a joint in the line output stages.

        They run hot, and heat cracks joints.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="came-after-work"), Condition(name="no-light"), Member(group="horizontal", stage=MATCH.stage)
    )
    def work_makes_the_dead_line_scan_suspect(self, stage: str) -> None:
        """The {stage} was perhaps wired or fitted wrongly.

        The light was lost when somebody worked on the set; look at top caps, plugs and the polarity of parts.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(
        Symptom(name="came-after-work"), Condition(name="both-axes-lost"), Member(group="sync", stage=MATCH.stage)
    )
    def work_makes_the_sync_stages_suspect(self, stage: str) -> None:
        """The {stage} was perhaps wired or fitted wrongly.

        The sync was lost when somebody worked on the set.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Symptom(name="came-after-moving"), Condition(name="no-light"), Symptom(name="no-high-voltage-signs"))
    def moved_without_light_is_the_anode_lead(self) -> None:
        """A lead of the high-voltage side may be off: top cap, rectifier or anode connector.

        The set was moved, and no sign of high voltage is left. Reseat them only with the set off and
        discharged.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="worse-when-warm"), Symptom(name="picture-weak"), Member(group="loop-agc", stage=MATCH.stage)
    )
    def warm_weak_picture_is_a_tube_of_the_path(self, stage: str) -> None:
        """A tube or capacitor of the {stage} may give out as it warms.

        The picture pales with time.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(
        Symptom(name="worse-when-warm"), Symptom(name="high-voltage-arcing"), NOT(Symptom(name="came-after-work"))
    )
    def warm_arcing_is_the_flyback(self) -> None:
        """The insulation of the flyback transformer softens as it warms.

        The snapping comes with time.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="loses-lock-when-warm"), Condition(name="overload-likely"), NOT(Symptom(name="hold-drifts"))
    )
    def warm_loss_of_lock_with_overload_is_grid_current(self) -> None:
        """A tube under AGC takes grid current when warm and spoils the AGC line.

        The lock goes with time and the picture overloads.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(Symptom(name="hold-drifts"), Condition(name="vertical-sync-lost"), NOT(Symptom(name="lines-tear")))
    def a_drifting_hold_that_stops_the_picture_is_timing(self) -> None:
        """A timing part of the vertical oscillator creeps with warmth.

        The picture rolls, and the hold control brings it back each time.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-oscillator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="hold-drifts"), Condition(name="horizontal-sync-lost"), NOT(Symptom(name="picture-rolls")))
    def a_drifting_hold_of_the_lines_is_timing(self) -> None:
        """A timing part of the line oscillator creeps with warmth.

        The lines slip, and the hold control brings them back each time.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="conclusive"))

    @Rule(Symptom(name="better-when-warm"), Condition(name="ripple-likely"), NOT(Symptom(name="smoke")))
    def better_when_warm_with_hum_is_a_dry_electrolytic(self) -> None:
        """An electrolytic capacitor has dried out and recovers a little with warmth.

        The hum is worst in the first minutes.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))
