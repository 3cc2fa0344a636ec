# SPDX-License-Identifier: MIT
"""Video: what the lit screen shows or lacks, and how far the signal comes."""

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
    def snow_means_that_the_raster_is_there(self) -> None:
        """The scans and the high voltage work.

        The noise is seen over the whole screen.
        Source: common practice.
        """
        self.declare(Condition(name="raster-present"))

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

    @Rule(Symptom(name="picture-weak"), Symptom(name="picture-snowy"))
    def weak_with_snow_points_to_the_input(self) -> None:
        """Weak with snow points to the input: source, lead, antenna coil or first tube.

        Noise rises when the signal is already small at the first tube.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="strong"))

    @Rule(
        OR(
            Symptom(name="picture-overloaded"),
            Symptom(name="picture-negative"),
            Symptom(name="loses-lock-with-contrast"),
        )
    )
    def squeezed_black_or_sync_means_overload(self) -> None:
        """The signal is too strong somewhere in the set.

        Black runs together, black and white change over, or the sync is squeezed out as the contrast goes up.
        Source: common practice.
        """
        self.declare(Condition(name="overload-likely"))

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

    @Rule(Symptom(name="blank-raster-no-snow"), Symptom(name="no-sound"))
    def one_fault_explains_picture_and_sound(self) -> None:
        """The sound stages are hardly to blame.

        Picture and sound are lost together, and one fault ahead of both is likelier than two.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="against", strength="moderate"))

    @Rule(
        OR(
            Symptom(name="picture-weak"),
            Symptom(name="picture-negative"),
            Symptom(name="picture-overloaded"),
            Symptom(name="picture-snowy"),
            Symptom(name="smeared"),
            Symptom(name="ringing"),
            Symptom(name="ghost"),
            Symptom(name="picture-soft"),
            Symptom(name="fine-pattern"),
            Symptom(name="sound-bars"),
            Symptom(name="contrast-no-effect"),
            Symptom(name="white-spots"),
            Symptom(name="black-spots"),
            Symptom(name="picture-intermittent"),
        )
    )
    def a_spoilt_picture_is_drawn_on_a_raster(self) -> None:
        """The scans and the high voltage work.

        The picture is spoilt, but it is drawn over the screen.
        Source: common practice.
        """
        self.declare(Condition(name="raster-present"))

    @Rule(
        OR(Symptom(name="hum-bar-one"), Symptom(name="hum-bars-two")),
        Answer(measurement="silence-the-stages", outcome="goes-at-the-if"),
    )
    def a_bar_that_goes_at_the_if_comes_from_ahead(self) -> None:
        """The hum comes in ahead of the detector: a tube of the IF amplifier or the tuner leaks.

        The bar goes when the last IF tube is silenced.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="for", strength="conclusive"))

    @Rule(
        OR(Symptom(name="hum-bar-one"), Symptom(name="hum-bars-two")),
        Answer(measurement="silence-the-stages", outcome="goes-at-the-video"),
    )
    def a_bar_that_goes_at_the_video_grid_is_there(self) -> None:
        """The hum comes in at the video tube.

        The bar goes when its grid alone is silenced.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="strong"))

    @Rule(
        OR(Symptom(name="hum-bar-one"), Symptom(name="hum-bars-two")),
        Answer(measurement="silence-the-stages", outcome="stays"),
    )
    def a_bar_that_stays_comes_by_rail_or_tube(self) -> None:
        """The hum comes in by the B+, or in the picture tube: the IF amplifier is cleared.

        The bar stays although the signal stages are silenced.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="against", strength="conclusive"))

    @Rule(
        OR(Symptom(name="hum-bar-one"), Symptom(name="hum-bars-two")),
        Answer(measurement="silence-the-stages", outcome="goes-at-the-if"),
        Member(group="power", stage=MATCH.stage),
    )
    def a_bar_that_goes_at_the_if_clears_the_supply(self, stage: str) -> None:
        """The {stage} is not to blame for the bar.

        Ripple of the B+ would stay when the IF tube is silenced.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))
