# SPDX-License-Identifier: MIT
"""Raster: light, size, shape, focus, and what they say about scan, supply and tube."""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
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

__all__ = ["LightRules", "ShapeRules"]


class LightRules(RuleBook):
    """No light, little light, light that cannot be changed."""

    @Rule(Symptom(name="no-raster"))
    def dark_screen_means_no_light(self) -> None:
        """No light comes from the picture tube.

        Beam, anode voltage or bias is missing.
        Source: common practice.
        """
        self.declare(Condition(name="no-light"))

    @Rule(
        Condition(name="no-light"),
        Answer(measurement="listen-for-the-whistle", outcome="heard"),
        Trait(name="hearing", value="hears"),
    )
    def a_whistle_means_that_the_line_scan_runs(self) -> None:
        """The line oscillator and output stage run, although there is no light.

        The whistle comes from the flyback transformer and needs both.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-scan-runs"))

    @Rule(
        Condition(name="no-light"),
        Answer(measurement="listen-for-the-whistle", outcome="not-heard"),
        Trait(name="hearing", value="hears"),
    )
    def silence_means_that_the_line_scan_is_dead(self) -> None:
        """The line scan does not run.

        Somebody who hears the whistle of other sets does not hear this one.
        Source: common practice.
        """
        self.declare(Condition(name="horizontal-scan-dead"))

    @Rule(Condition(name="no-light"), Symptom(name="whistle-missing"), Trait(name="hearing", value="hears"))
    def a_missing_whistle_means_that_the_line_scan_is_dead(self) -> None:
        """The line scan does not run.

        Its whistle is missing for somebody who can hear it.
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

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_output_tube(self) -> None:
        """No light: the horizontal output tube is among the first suspects.

        Without line scan there is no high voltage, and this tube works hardest.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_line_oscillator(self) -> None:
        """No light: the line oscillator may not run.

        Without it the output stage has no drive.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-oscillator", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_damper(self) -> None:
        """No light: the damper or its feed may be open.

        The output plate takes its current through it.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_flyback(self) -> None:
        """No light: the flyback transformer may be faulty.

        Everything that makes the high voltage goes through it.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_drive(self) -> None:
        """No light: the drive may not reach the output tube.

        A coupling or shaping part between oscillator and output stops the scan.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_high_voltage_rectifier(self) -> None:
        """No light: the high-voltage rectifier may have failed.

        The scan may run and the anode still get nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="strong"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_picture_tube(self) -> None:
        """No light: the picture tube itself may be at fault.

        A dead heater or worn cathode gives no beam.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="moderate"))

    @Rule(Condition(name="no-light"))
    def no_light_suspects_the_electrode_supplies(self) -> None:
        """No light: the supplies of the gun may be wrong.

        Bias beyond cut-off or a missing first anode stops the beam.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="strong"))

    @Rule(Condition(name="no-light"), Trait(name="ion_trap", value="single"))
    def no_light_suspects_the_ion_trap(self) -> None:
        """No light: the ion-trap magnet may be out of place.

        A gun with an ion trap gives no light until the magnet is right.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="strong"))

    @Rule(Condition(name="no-light"), Member(group="sync", stage=MATCH.stage))
    def no_light_says_nothing_against_sync(self, stage: str) -> None:
        """The {stage} does not make the light.

        Without sync the picture slips, but the screen stays lit.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Condition(name="no-light"), Member(group="vertical", stage=MATCH.stage))
    def no_light_clears_the_vertical(self, stage: str) -> None:
        """The {stage} does not make the light.

        Without vertical scan a bright line remains.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

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
        Condition(name="horizontal-scan-dead"),
        Condition(name="no-light"),
        Member(group="horizontal", stage=MATCH.stage),
    )
    def a_dead_scan_incriminates_the_horizontal_stages(self, stage: str) -> None:
        """The line scan does not run: the {stage} is suspected.

        One of the stages that make or load the line scan has failed.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Condition(name="horizontal-scan-dead"), Condition(name="no-light"))
    def a_dead_scan_clears_the_electrode_supplies(self) -> None:
        """The brightness and electrode supplies are not the cause.

        Without line scan the screen is dark whatever they do.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="against", strength="moderate"))

    @Rule(Condition(name="horizontal-scan-runs"), Condition(name="no-light"))
    def a_running_scan_points_to_rectifier_or_gun(self) -> None:
        """The scan runs and the screen is dark: look at high-voltage rectifier, bias and first anode.

        What is left is the anode supply and the gun.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="moderate"))

    @Rule(Condition(name="high-voltage-present"), Condition(name="no-light"))
    def anode_voltage_present_clears_the_rectifier(self) -> None:
        """The high-voltage rectifier works.

        The anode voltage is there.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="strong"))

    @Rule(Condition(name="high-voltage-present"), Condition(name="no-light"))
    def anode_voltage_present_points_to_the_gun(self) -> None:
        """Anode voltage without light points to the supplies of the gun.

        Bias within cut-off, first anode, and then the ion trap come next.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="strong"))

    @Rule(Condition(name="no-light"), Symptom(name="picture-tube-heater-dark"))
    def a_dark_neck_points_to_the_tube_heater(self) -> None:
        """A dark neck means that the picture tube has no heater current.

        Its socket, its heater or the heater feed is open.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

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

    @Rule(Symptom(name="raster-dim"))
    def a_dim_raster_points_to_the_tube(self) -> None:
        """A dim raster points to a worn picture tube.

        Emission falls with age long before a tube goes dark.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Symptom(name="raster-dim"))
    def a_dim_raster_points_to_the_electrode_supplies(self) -> None:
        """A dim raster points to a low first-anode supply or a wrong bias.

        They set how much of the beam is let through.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="strong"))

    @Rule(Symptom(name="raster-dim"), Trait(name="ion_trap", value="single"))
    def a_dim_raster_points_to_the_magnet(self) -> None:
        """A dim raster points to an ion-trap magnet out of place.

        A moved magnet lets only part of the beam through.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="moderate"))

    @Rule(Symptom(name="raster-dim"), Symptom(name="raster-too-small"))
    def dim_and_small_points_to_low_rails(self) -> None:
        """Dim and small together point to a low B+.

        Every stage gets too little.
        Source: common practice.
        """
        self.declare(Condition(name="rails-low"))

    @Rule(Symptom(name="raster-dim"), Symptom(name="raster-too-large"))
    def dim_and_large_points_to_low_high_voltage(self) -> None:
        """Dim and large together point to a low anode voltage.

        A slow beam is bent more and lights less.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-low"))

    @Rule(Symptom(name="blooming"))
    def blooming_points_to_the_high_voltage_rectifier(self) -> None:
        """A picture that swells points to a high-voltage supply that gives way under load.

        A worn rectifier or a risen series resistance drops the anode voltage as the beam grows.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="conclusive"))

    @Rule(Symptom(name="brightness-stuck-bright"))
    def stuck_bright_points_to_the_bias(self) -> None:
        """Brightness that cannot be turned down points to a lost bias.

        A leaky coupling or an open divider leaves the grid too near the cathode.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="strong"))

    @Rule(Symptom(name="brightness-stuck-bright"))
    def stuck_bright_points_to_the_tube(self) -> None:
        """Brightness that cannot be turned down points to a short inside the picture tube.

        Heater to cathode or grid to cathode takes the control away.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Symptom(name="brightness-stuck-bright"))
    def stuck_bright_points_to_the_coupling(self) -> None:
        """Brightness that cannot be turned down points to a leaky video coupling.

        Plate voltage of the video stage shifts the cathode.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="moderate"))

    @Rule(Symptom(name="brightness-follows-contrast"))
    def brightness_that_follows_contrast_points_to_the_coupling(self) -> None:
        """Brightness that moves with contrast points to a leaky coupling to the picture tube.

        The direct voltage of the video stage comes through with the picture.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="strong"))

    @Rule(Symptom(name="brightness-stuck-dim"))
    def stuck_dim_points_to_the_control(self) -> None:
        """Brightness that does not change points to the control or its feed.

        Its track or its feed resistor is open.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="conclusive"))

    @Rule(Symptom(name="slow-picture"))
    def a_slow_silvery_picture_points_to_a_worn_tube(self) -> None:
        """A slow and silvery picture points to a worn picture tube.

        A tired cathode takes minutes to give what is left.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(Symptom(name="defocused"))
    def defocus_points_to_focus_parts(self) -> None:
        """A picture out of focus points to the focus supply or magnet.

        They bring the beam to a point.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="strong"))

    @Rule(Symptom(name="defocused"))
    def defocus_points_to_the_focus_voltage(self) -> None:
        """A picture out of focus may have a wrong focus or first-anode voltage.

        Dividers of high value drift upward.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="moderate"))

    @Rule(Symptom(name="ion-burn"))
    def a_burnt_patch_points_to_the_screen(self) -> None:
        """A patch that stays at one place is in the screen itself.

        Ions or a standing spot have burnt it.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="conclusive"))

    @Rule(Symptom(name="neck-shadow"))
    def a_shadowed_corner_points_to_the_neck(self) -> None:
        """A shadowed corner points to magnets or a yoke in the wrong place.

        The beam touches the neck on its way.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="conclusive"))

    @Rule(Symptom(name="retrace-lines"))
    def retrace_lines_point_to_blanking(self) -> None:
        """Retrace lines point to lost retrace blanking.

        Its pulse comes through one capacitor and one resistor.
        Source: common practice.
        """
        self.declare(Finding(stage="retrace-blanking", direction="for", strength="conclusive"))

    @Rule(Symptom(name="retrace-lines"))
    def retrace_lines_point_to_bias(self) -> None:
        """Retrace lines also appear where the brightness stands too high.

        The blanking no longer reaches cut-off.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube-supplies", direction="for", strength="moderate"))


class ShapeRules(RuleBook):
    """Height, width, linearity, fold-over, position."""

    @Rule(Symptom(name="single-horizontal-line"))
    def a_line_across_means_no_vertical_scan(self) -> None:
        """There is no vertical scan.

        The beam moves sideways and nothing moves it up and down.
        Source: common practice.
        """
        self.declare(Condition(name="vertical-scan-collapsed"))

    @Rule(Condition(name="vertical-scan-collapsed"), Member(group="vertical", stage=MATCH.stage))
    def a_line_across_incriminates_the_vertical(self, stage: str) -> None:
        """A line across points to the vertical scan: the {stage} is suspected.

        Oscillator, sawtooth, output or yoke has stopped.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(Condition(name="vertical-scan-collapsed"), Member(group="horizontal", stage=MATCH.stage))
    def a_line_across_clears_the_horizontal(self, stage: str) -> None:
        """The {stage} works.

        A line across needs the line scan and the high voltage.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="vertical-scan-collapsed"))
    def a_line_across_clears_the_high_voltage(self) -> None:
        """The high-voltage rectifier works.

        There is light.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="strong"))

    @Rule(Condition(name="vertical-scan-collapsed"), Member(group="signal", stage=MATCH.stage))
    def a_line_across_says_nothing_of_the_signal(self, stage: str) -> None:
        """The {stage} does not make the height.

        A set without signal still fills the screen.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Condition(name="vertical-scan-collapsed"), Member(group="sync", stage=MATCH.stage))
    def a_line_across_clears_the_sync(self, stage: str) -> None:
        """The {stage} does not make the height.

        Without sync the raster is still full.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(Symptom(name="single-vertical-line"))
    def a_line_down_points_to_the_yoke(self) -> None:
        """A line down the middle points to the horizontal winding of the yoke or its contacts.

        High voltage is there, so the flyback runs; only the coils get nothing.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="conclusive"))

    @Rule(Symptom(name="height-too-small"))
    def too_little_height_points_to_the_sawtooth(self) -> None:
        """Too little height points to the sawtooth and its charging resistors.

        A charging resistor gone high is common.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-sawtooth", direction="for", strength="strong"))

    @Rule(Symptom(name="height-too-small"))
    def too_little_height_points_to_the_output(self) -> None:
        """Too little height points to the vertical output stage.

        A worn tube or a wrong bias gives too little current.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))

    @Rule(Symptom(name="height-too-small"))
    def too_little_height_may_be_a_rail(self) -> None:
        """Too little height may be a low vertical or boosted rail.

        The sawtooth grows from the rail.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="weak"))

    @Rule(Symptom(name="height-too-small"), Symptom(name="width-too-small"))
    def small_both_ways_points_to_the_rails(self) -> None:
        """Too small both ways points to a low B+.

        Both scans are fed by it.
        Source: common practice.
        """
        self.declare(Condition(name="rails-low"))

    @Rule(Symptom(name="raster-too-small"))
    def small_all_round_points_to_the_rails(self) -> None:
        """Small all round points to a low B+.

        Both scans are fed by it.
        Source: common practice.
        """
        self.declare(Condition(name="rails-low"))

    @Rule(Condition(name="rails-low"))
    def low_rails_point_to_the_rectifier(self) -> None:
        """A low B+ points to the rectifier and reservoir.

        A worn rectifier or dried reservoir lowers every rail.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Condition(name="rails-low"))
    def low_rails_may_be_the_feeds(self) -> None:
        """A low B+ may come from a feed or a load.

        A leaky filter capacitor or a risen resistor lowers it.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="moderate"))

    @Rule(Condition(name="rails-low"))
    def low_rails_may_be_the_mains(self) -> None:
        """A low B+ may come from low mains or a wrong tap.

        The first reading of a session is the mains at the set.
        Source: common practice.
        """
        self.declare(Finding(stage="mains-input", direction="for", strength="moderate"))

    @Rule(Symptom(name="width-too-small"))
    def too_little_width_points_to_the_output_tube(self) -> None:
        """Too little width points to the horizontal output tube and its supplies.

        Worn emission or a low screen voltage cuts the width first.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="strong"))

    @Rule(Symptom(name="width-too-small"))
    def too_little_width_points_to_the_damper(self) -> None:
        """Too little width points to damper and boost.

        Part of each line comes from the energy that they return.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="moderate"))

    @Rule(Symptom(name="width-too-small"))
    def too_little_width_points_to_the_drive(self) -> None:
        """Too little width points to weak drive.

        The output tube is not opened fully.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="moderate"))

    @Rule(Symptom(name="width-too-small"), Symptom(name="height-too-small"), Symptom(name="raster-dim"))
    def small_and_dim_points_to_the_boost(self) -> None:
        """Width, height and light low together point to the boosted B+.

        Height and first anode are often fed from it.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="moderate"))

    @Rule(Symptom(name="raster-too-large"))
    def large_all_round_points_to_low_high_voltage(self) -> None:
        """Large all round points to a low anode voltage.

        A slower beam is bent further.
        Source: common practice.
        """
        self.declare(Condition(name="high-voltage-low"))

    @Rule(Condition(name="high-voltage-low"))
    def low_anode_voltage_points_to_the_rectifier(self) -> None:
        """A low anode voltage points to the high-voltage rectifier.

        Width and drive would fall as well if the scan were weak.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="for", strength="strong"))

    @Rule(Condition(name="high-voltage-low"))
    def low_anode_voltage_may_be_the_flyback(self) -> None:
        """A low anode voltage may come from the flyback transformer.

        Losses there take from the anode first.
        Source: common practice.
        """
        self.declare(Finding(stage="flyback-transformer", direction="for", strength="moderate"))

    @Rule(OR(Symptom(name="top-stretched"), Symptom(name="bottom-stretched")))
    def uneven_height_points_to_the_vertical_output(self) -> None:
        """Uneven height points to the vertical output stage.

        Bias, cathode bypass and linearity parts shape the scan.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="top-stretched"), Symptom(name="bottom-stretched")))
    def uneven_height_may_be_the_sawtooth(self) -> None:
        """Uneven height may come from the sawtooth.

        A leaky capacitor or a low supply bends it.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-sawtooth", direction="for", strength="moderate"))

    @Rule(Symptom(name="fold-over-bottom"))
    def fold_over_at_the_bottom_points_to_the_output(self) -> None:
        """Fold-over at the bottom points to the vertical output stage.

        A leaky coupling capacitor or a worn tube stops the scan before its end.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="conclusive"))

    @Rule(Symptom(name="fold-over-top"))
    def fold_over_at_the_top_points_to_slow_retrace(self) -> None:
        """Fold-over at the top points to a slow retrace of the vertical output.

        The beam is still on its way when the picture begins.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-output", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="fold-over-left"), Symptom(name="fold-over-right")))
    def fold_over_at_a_side_points_to_the_line_output(self) -> None:
        """Fold-over at a side points to damper, drive or retrace of the line output.

        The line begins or ends at the wrong moment.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="moderate"))

    @Rule(OR(Symptom(name="fold-over-left"), Symptom(name="fold-over-right")))
    def fold_over_at_a_side_points_to_the_drive(self) -> None:
        """Fold-over at a side points to the drive.

        The output tube opens too early or closes too late.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-drive", direction="for", strength="moderate"))

    @Rule(Symptom(name="vertical-bars-left"))
    def stripes_at_the_left_point_to_ringing(self) -> None:
        """Stripes at the left point to ringing of the yoke or the flyback.

        A balancing or damping part has gone.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="strong"))

    @Rule(OR(Symptom(name="left-stretched"), Symptom(name="right-stretched")))
    def uneven_width_points_to_boost_and_linearity(self) -> None:
        """Uneven width points to the damper and its linearity parts.

        They shape the first half of each line.
        Source: common practice.
        """
        self.declare(Finding(stage="damper-boost", direction="for", strength="strong"))

    @Rule(Symptom(name="keystone-sides"))
    def one_side_taller_points_to_the_vertical_yoke(self) -> None:
        """One side taller than the other points to one half of the vertical yoke winding.

        A shorted or shunted half bends the beam on one side only.
        Source: common practice.
        """
        self.declare(Finding(stage="vertical-yoke", direction="for", strength="conclusive"))

    @Rule(Symptom(name="keystone-top"))
    def one_edge_wider_points_to_the_horizontal_yoke(self) -> None:
        """Top and bottom of different width point to one half of the horizontal yoke winding.

        A shorted half bends the beam in one part of the picture only.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="conclusive"))

    @Rule(Symptom(name="raster-tilted"))
    def a_tilted_picture_points_to_the_neck(self) -> None:
        """A tilted picture is a yoke turned on the neck.

        It is put right with the yoke clamp, with the set off.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="moderate"))

    @Rule(OR(Symptom(name="off-centre-vertically"), Symptom(name="off-centre-horizontally")))
    def a_shifted_picture_points_to_centring(self) -> None:
        """A shifted picture points to centring.

        The magnet or lever was moved, or direct current runs in the yoke.
        Source: common practice.
        """
        self.declare(Finding(stage="neck-magnets", direction="for", strength="strong"))

    @Rule(Symptom(name="single-spot"))
    def a_spot_means_that_both_scans_are_gone(self) -> None:
        """Neither scan runs, and the tube still has its anode voltage.

        It comes from another source than the line output, or from the charge left at switch-off.
        Source: common practice.
        """
        self.declare(Condition(name="both-scans-gone"))

    @Rule(Condition(name="both-scans-gone"), Member(group="vertical", stage=MATCH.stage))
    def a_spot_suspects_the_vertical(self, stage: str) -> None:
        """A spot in the middle: the {stage} gives no scan.

        Something that both scans need, or both yoke plugs, is gone.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Condition(name="both-scans-gone"))
    def a_spot_suspects_the_yoke_plug(self) -> None:
        """A spot in the middle points to the yoke plug.

        It carries both scans.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-yoke", direction="for", strength="strong"))
