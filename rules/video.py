# SPDX-License-Identifier: MIT
"""Video: what the lit screen shows or lacks, and how far the signal comes."""

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

__all__ = ["PictureRules"]


class PictureRules(RuleBook):
    """Picture missing, weak, overloaded, spoiled."""

    @Rule(Symptom(name="blank-raster-no-snow"))
    def an_empty_raster_means_no_signal_at_the_tube(self) -> None:
        """The scans and the high voltage work; no signal reaches the picture tube.

        The screen is lit evenly and empty.
        Source: common practice.
        """
        self.declare(Condition(name="raster-present"))

    @Rule(Symptom(name="blank-raster-with-snow"))
    def snow_without_picture_means_that_the_gain_is_there(self) -> None:
        """IF, detector and video work; no signal comes in.

        The noise that dances is made by the first stage and amplified by all that follow.
        Source: common practice.
        """
        self.declare(Condition(name="if-and-video-work"))

    @Rule(Condition(name="if-and-video-work"))
    def snow_points_to_the_source(self) -> None:
        """Snow without picture points to the source or its lead.

        Nothing comes in that could be amplified.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="strong"))

    @Rule(Condition(name="if-and-video-work"))
    def snow_points_to_the_tuner(self) -> None:
        """Snow without picture points to the tuner.

        Its oscillator or its contacts have failed while its noise is still amplified.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="strong"))

    @Rule(Condition(name="if-and-video-work"))
    def snow_clears_the_if(self) -> None:
        """The IF amplifier works.

        It amplifies the noise.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="against", strength="strong"))

    @Rule(Condition(name="if-and-video-work"))
    def snow_clears_the_video(self) -> None:
        """The video amplifier works.

        It brings the noise to the screen.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="against", strength="strong"))

    @Rule(Condition(name="if-and-video-work"))
    def snow_means_that_the_raster_is_there(self) -> None:
        """The scans and the high voltage work.

        The noise is seen over the whole screen.
        Source: common practice.
        """
        self.declare(Condition(name="raster-present"))

    @Rule(Condition(name="raster-present"), Member(group="horizontal", stage=MATCH.stage))
    def a_raster_clears_the_horizontal(self, stage: str) -> None:
        """The {stage} works.

        The raster is there.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="raster-present"), Member(group="vertical", stage=MATCH.stage))
    def a_raster_clears_the_vertical(self, stage: str) -> None:
        """The {stage} works.

        The raster has its height.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Condition(name="raster-present"))
    def a_raster_clears_the_high_voltage(self) -> None:
        """The high-voltage rectifier works.

        The screen is lit.
        Source: common practice.
        """
        self.declare(Finding(stage="high-voltage", direction="against", strength="strong"))

    @Rule(
        Symptom(name="blank-raster-no-snow"),
        Symptom(name="sound-good"),
        Trait(name="sound_takeoff", value="after-video"),
    )
    def good_sound_after_video_points_to_the_coupling(self) -> None:
        """The video stage passes the sound, so the picture is lost after it.

        The sound is taken off behind the video stage.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="blank-raster-no-snow"),
        Symptom(name="sound-good"),
        Trait(name="sound_takeoff", value="after-detector"),
    )
    def good_sound_after_the_detector_points_to_the_video(self) -> None:
        """The detector works, so the picture is lost in the video stage or after it.

        The sound is taken off at the detector.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="strong"))

    @Rule(
        Symptom(name="blank-raster-no-snow"),
        Symptom(name="sound-good"),
        Trait(name="sound_takeoff", value="split"),
    )
    def good_split_sound_clears_the_tuner(self) -> None:
        """The tuner works; the picture is lost in the vision IF, the detector or the video stage.

        Sound goes its own way after the tuner.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="against", strength="strong"))

    @Rule(
        Symptom(name="blank-raster-no-snow"),
        Symptom(name="no-sound"),
        Trait(name="sound_takeoff", value="after-video"),
    )
    def no_sound_either_points_ahead_of_the_take_off(self) -> None:
        """Picture and sound are lost together: look ahead of the point where they part.

        One fault explains both.
        Source: common practice.
        """
        self.declare(Condition(name="signal-lost-before-takeoff"))

    @Rule(Condition(name="signal-lost-before-takeoff"), Member(group="loop-agc", stage=MATCH.stage))
    def lost_signal_incriminates_the_common_path(self, stage: str) -> None:
        """The {stage} is in the path that picture and sound share.

        It can take both away.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Symptom(name="blank-raster-no-snow"), Member(group="loop-agc", stage=MATCH.stage))
    def an_empty_raster_incriminates_the_picture_path(self, stage: str) -> None:
        """An empty raster: the {stage} is suspected.

        Neither picture nor noise comes through.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Symptom(name="blank-raster-no-snow"))
    def an_empty_raster_suspects_the_coupling(self) -> None:
        """An empty raster: the coupling to the picture tube may be open.

        The video stage may work without reaching the tube.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-weak"))
    def a_weak_picture_points_to_the_video(self) -> None:
        """A weak picture points to the video stage.

        A worn tube or a wrong screen voltage lowers its gain.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-weak"))
    def a_weak_picture_points_to_agc(self) -> None:
        """A weak picture points to AGC that is too negative.

        A leak or a wrong delay turns the gain down.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-weak"))
    def a_weak_picture_points_to_the_if(self) -> None:
        """A weak picture points to the IF amplifier.

        Worn tubes and drifted feeds lower its gain.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-weak"))
    def a_weak_picture_points_to_the_detector(self) -> None:
        """A weak picture points to the video detector.

        A worn diode gives too little.
        Source: common practice.
        """
        self.declare(Finding(stage="video-detector", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-weak"))
    def a_weak_picture_points_to_the_contrast_parts(self) -> None:
        """A weak picture points to the contrast control and its coupling.

        A risen track lowers what reaches the tube.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-weak"), Symptom(name="picture-snowy"))
    def weak_with_snow_points_to_the_input(self) -> None:
        """Weak with snow points to the input: source, lead, antenna coil or first tube.

        Noise rises when the signal is already small at the first tube.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-snowy"))
    def snow_in_the_picture_points_to_the_source(self) -> None:
        """Snow in the picture points to a weak source or a bad lead.

        The first tube gets too little.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-overloaded"))
    def a_black_picture_means_overload(self) -> None:
        """The signal is too strong somewhere in the set.

        Black runs together and the sync is squeezed.
        Source: common practice.
        """
        self.declare(Condition(name="overload-likely"))

    @Rule(Symptom(name="picture-negative"))
    def a_negative_picture_means_overload(self) -> None:
        """A negative picture comes from a stage driven far beyond its limits.

        The detector or an IF stage turns the signal over.
        Source: common practice.
        """
        self.declare(Condition(name="overload-likely"))

    @Rule(Condition(name="overload-likely"))
    def overload_points_to_agc(self) -> None:
        """Overload points to missing AGC.

        A leaky or shorted AGC line leaves the gain full on.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="strong"))

    @Rule(Condition(name="overload-likely"))
    def overload_points_to_the_video_stage(self) -> None:
        """Overload may come from a video stage with the wrong bias.

        It runs out of room before the signal does.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="moderate"))

    @Rule(Condition(name="overload-likely"))
    def overload_may_be_the_source(self) -> None:
        """Overload may come from a source that is far too strong.

        Generators and players often give more than a set wants.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(Symptom(name="smeared"))
    def smear_points_to_the_video_stage(self) -> None:
        """Smear points to the video stage.

        A drifted load or a lost bypass takes part of the frequencies.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="strong"))

    @Rule(Symptom(name="smeared"))
    def smear_points_to_the_coupling(self) -> None:
        """Smear points to the coupling to the picture tube.

        A coupling capacitor that lost its value lets the low frequencies sag.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="strong"))

    @Rule(Symptom(name="ringing"))
    def repeated_edges_point_to_the_peaking(self) -> None:
        """Repeated edges point to the peaking coils and their damping.

        An open damping resistor lets them ring.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="strong"))

    @Rule(Symptom(name="ringing"))
    def repeated_edges_may_be_the_video_stage(self) -> None:
        """Repeated edges may come from the peaking of the video stage.

        Its coils ring when their damping is gone.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="ghost"))
    def a_ghost_points_to_the_lead(self) -> None:
        """A second picture to the side points to reflections in the lead or a mismatch.

        The same signal arrives twice.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-soft"))
    def lost_detail_points_to_the_video_load(self) -> None:
        """Lost detail points to the load and the peaking of detector and video stage.

        A load gone high takes the high frequencies.
        Source: common practice.
        """
        self.declare(Finding(stage="video-detector", direction="for", strength="moderate"))

    @Rule(Symptom(name="picture-soft"))
    def lost_detail_points_to_the_video_stage(self) -> None:
        """Lost detail points to the video stage.

        Its load and stray capacitance set the finest detail.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="moderate"))

    @Rule(Symptom(name="sound-bars"))
    def bars_with_sound_point_to_the_trap(self) -> None:
        """Bars that move with the sound point to fine tuning, traps or a microphonic tube.

        Sound gets into the picture path.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="moderate"))

    @Rule(Symptom(name="hum-bar-one"))
    def one_bar_is_mains_rate(self) -> None:
        """One bar is ripple at the mains rate.

        A half-wave supply, one dead half of a full-wave rectifier, or a heater that leaks to its cathode makes it.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-at-mains-rate"))

    @Rule(Symptom(name="hum-bars-two"), Trait(name="rectifier", value="full-wave"))
    def two_bars_are_twice_the_mains_rate(self) -> None:
        """Two bars are ripple at twice the mains rate.

        A full-wave rectifier with a dried-out filter makes it.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-likely"))

    @Rule(Condition(name="ripple-at-mains-rate"), Trait(name="rectifier", value="full-wave"))
    def mains_rate_ripple_points_to_a_leaky_heater(self) -> None:
        """One bar in a set with full-wave rectifier points to a heater that leaks to its cathode.

        The supply itself makes two bars.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="moderate"))

    @Rule(Condition(name="ripple-at-mains-rate"), Trait(name="rectifier", value="full-wave"))
    def mains_rate_ripple_may_be_half_a_rectifier(self) -> None:
        """One bar may mean that half of the rectifier has failed.

        Then the filter is filled at the mains rate only.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="moderate"))

    @Rule(Condition(name="ripple-likely"))
    def ripple_points_to_the_reservoir(self) -> None:
        """Ripple points to the reservoir capacitor.

        A dried-out capacitor leaves the hum in.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Condition(name="ripple-likely"))
    def ripple_points_to_the_decoupling(self) -> None:
        """Ripple points to the filter and decoupling capacitors.

        They take out what the reservoir leaves.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="for", strength="strong"))

    @Rule(Symptom(name="contrast-no-effect"))
    def contrast_without_effect_points_to_its_control(self) -> None:
        """A contrast control without effect points to the control itself.

        Its track or wiper is open.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="strong"))

    @Rule(Symptom(name="picture-tube-video-lost"))
    def bright_and_empty_points_to_the_tube(self) -> None:
        """Bright light and lost picture together point to a short inside the picture tube.

        A heater that touches the cathode shorts the picture and the bias at once.
        Source: common practice.
        """
        self.declare(Finding(stage="picture-tube", direction="for", strength="strong"))

    @Rule(Symptom(name="blank-raster-no-snow"), Symptom(name="no-sound"))
    def one_fault_explains_picture_and_sound(self) -> None:
        """The sound stages are hardly to blame.

        Picture and sound are lost together, and one fault ahead of both is likelier than two.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="against", strength="moderate"))
