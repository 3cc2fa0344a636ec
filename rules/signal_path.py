# SPDX-License-Identifier: MIT
"""Picture and sound as witnesses for each other."""

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

__all__ = ["SignalPathRules"]


class SignalPathRules(RuleBook):
    """How far the signal comes, from more than one sign."""

    @Rule(
        Condition(name="ripple-at-mains-rate"),
        NOT(Trait(name="rectifier", value="full-wave")),
        NOT(Symptom(name="sound-good")),
    )
    def one_bar_at_half_wave_is_ripple(self) -> None:
        """The ripple of the supply is seen.

        This rectifier fills its reservoir once in each mains cycle, so its hum makes one bar.
        Source: common practice.
        """
        self.declare(Condition(name="ripple-likely"))

    @Rule(Condition(name="ripple-at-mains-rate"), Symptom(name="sound-good"), NOT(Symptom(name="picture-rolls")))
    def one_bar_with_clean_sound_clears_the_supply(self) -> None:
        """The B+ rectifier and its reservoir are hardly to blame.

        The sound lives from the same B+ and is clean.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="against", strength="moderate"))

    @Rule(
        Condition(name="ripple-at-mains-rate"),
        Symptom(name="sound-good"),
        Trait(name="rectifier", value="full-wave"),
        Member(group="loop-agc", stage=MATCH.stage),
    )
    def one_bar_with_clean_sound_is_a_leaky_heater(self, stage: str) -> None:
        """A heater that leaks to its cathode in the {stage} may put the bar in the picture.

        The supply would make two bars and would be heard.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(Symptom(name="hum-bars-two"), Symptom(name="sound-hum"), Trait(name="rectifier", value="full-wave"))
    def two_bars_and_hum_are_the_reservoir(self) -> None:
        """The reservoir or filter capacitor has dried out.

        Ripple at twice the mains rate is seen and heard.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="if-and-video-work"),
        Trait(name="source-proved", value="proved"),
        NOT(Answer(measurement="wiggle-the-lead", outcome="changes")),
    )
    def snow_with_a_proved_source_is_the_tuner(self) -> None:
        """The tuner is suspected.

        Noise comes through everything after it, and the source and its lead are proved.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="conclusive"))

    @Rule(Symptom(name="picture-weak"), Symptom(name="picture-snowy"), Trait(name="source-proved", value="proved"))
    def weak_and_snowy_from_a_proved_source(self) -> None:
        """The first tube or the contacts of the tuner are suspected.

        The signal is proved, and it is small already where the noise arises.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="picture-weak"),
        NOT(Symptom(name="picture-snowy")),
        NOT(Symptom(name="sound-weak")),
        NOT(Symptom(name="varies-with-channel")),
    )
    def weak_without_snow_clears_the_tuner(self) -> None:
        """The tuner brings enough signal.

        With too little of it noise would rise in the picture and the sound would suffer.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="against", strength="moderate"))

    @Rule(
        Symptom(name="picture-weak"),
        OR(Symptom(name="sound-weak"), Symptom(name="no-sound")),
        Member(group="loop-agc", stage=MATCH.stage),
        NOT(Trait(name="sound_takeoff", value="split")),
    )
    def weak_picture_and_weak_sound_share_a_stage(self, stage: str) -> None:
        """The {stage} is in the path that picture and sound share.

        Both are too small at once.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(
        Condition(name="overload-likely"),
        Symptom(name="sound-buzz"),
        NOT(Trait(name="sound_takeoff", value="split")),
    )
    def negative_with_buzz_is_agc(self) -> None:
        """The AGC lets the signal grow far too large.

        The picture is overloaded and the sync is heard as a buzz.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(
        Condition(name="signal-lost-before-takeoff"),
        Answer(measurement="look-at-a-free-channel", outcome="blank"),
        NOT(Answer(measurement="clamp-the-agc", outcome="cured")),
    )
    def empty_raster_and_silence_without_noise_is_the_if(self) -> None:
        """Not even noise comes through: the IF amplifier or the detector does not work.

        A dead tuner would still leave the noise of the stages behind it.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="for", strength="strong"))

    @Rule(
        Condition(name="signal-lost-before-takeoff"),
        Answer(measurement="look-at-a-free-channel", outcome="blank"),
        NOT(Symptom(name="picture-intermittent")),
    )
    def empty_raster_and_silence_without_noise_clears_the_source(self) -> None:
        """The source is not to blame.

        A set that works shows noise without any source.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="against", strength="strong"))

    @Rule(
        Condition(name="signal-lost-before-takeoff"),
        Answer(measurement="clamp-the-agc", outcome="cured"),
        NOT(Symptom(name="picture-snowy")),
    )
    def silence_and_empty_raster_that_the_agc_clamp_cures(self) -> None:
        """The AGC had cut the gain off altogether.

        With its line held by a battery picture and sound come back.
        Source: common practice.
        """
        self.declare(Finding(stage="agc", direction="for", strength="conclusive"))

    @Rule(Symptom(name="smeared"), Symptom(name="picture-weak"), NOT(Symptom(name="brightness-follows-contrast")))
    def smear_with_weak_picture_is_the_coupling(self) -> None:
        """The coupling to the picture tube has lost its low frequencies.

        Large areas sag and the contrast goes with them.
        Source: common practice.
        """
        self.declare(Finding(stage="video-coupling", direction="for", strength="conclusive"))

    @Rule(Symptom(name="picture-soft"), Symptom(name="picture-weak"), NOT(Symptom(name="smeared")))
    def soft_and_weak_is_the_detector_or_its_load(self) -> None:
        """The video stage works into a wrong load.

        Gain and fine detail are lost together.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="varies-with-channel"),
        Trait(name="source-proved", value="proved"),
        Member(group="loop-agc", stage=MATCH.stage),
    )
    def one_channel_with_a_proved_source(self, stage: str) -> None:
        """The {stage} is sound.

        Other channels come through it well.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Symptom(name="fine-pattern"),
        Answer(measurement="wiggle-the-lead", outcome="changes"),
        NOT(Answer(measurement="exchange-the-source", outcome="same")),
    )
    def a_pattern_that_leaves_with_the_lead_is_from_outside(self) -> None:
        """The pattern comes in through the signal lead.

        It changes as the lead is moved.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="strong"))

    @Rule(
        Symptom(name="picture-intermittent"),
        OR(Symptom(name="no-sound"), Symptom(name="changes-when-tapped")),
        NOT(Trait(name="sound_takeoff", value="split")),
    )
    def a_picture_that_goes_with_the_sound_is_a_contact(self) -> None:
        """A contact of the tuner opens and closes.

        The picture comes and goes with the sound, or with a tap, and picture and sound part only after the tuner.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="for", strength="strong"))

    @Rule(Condition(name="if-and-video-work"), Symptom(name="no-sound"), NOT(Symptom(name="sound-hum")))
    def snow_and_silence_share_a_cause(self) -> None:
        """The sound stages are hardly to blame.

        Picture and sound are both missing while the noise comes through; one fault is likelier than two.
        Source: common practice.
        """
        self.declare(Finding(stage="sound", direction="against", strength="strong"))

    @Rule(
        OR(Symptom(name="blank-raster-no-snow"), Symptom(name="blank-raster-with-snow")),
        Symptom(name="no-sound"),
        Trait(name="sound_takeoff", value="split"),
    )
    def with_split_sound_both_lost_clears_the_video(self) -> None:
        """The video stage is not to blame.

        The sound leaves the picture long before it, and the sound is lost too.
        Source: common practice.
        """
        self.declare(Finding(stage="video-output", direction="against", strength="strong"))

    @Rule(
        OR(Symptom(name="blank-raster-no-snow"), Symptom(name="picture-weak")),
        OR(Symptom(name="no-sound"), Symptom(name="sound-weak")),
        NOT(Trait(name="sound_takeoff", value="after-video")),
    )
    def before_the_sound_leaves_tuner_and_if_are_shared(self) -> None:
        """The IF amplifier is suspected: it carries picture and sound as far as they go together.

        Both are lost or weak, and in this set they part before the video stage.
        Source: common practice.
        """
        self.declare(Finding(stage="if-amplifier", direction="for", strength="conclusive"))

    @Rule(Symptom(name="fine-pattern"), Symptom(name="varies-with-channel"), NOT(Symptom(name="ringing")))
    def a_pattern_on_one_channel_comes_from_outside(self) -> None:
        """Another signal comes in beside the wanted one.

        It has one frequency, so it shows on the channel that lies near to it.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="conclusive"))

    @Rule(
        Symptom(name="fine-pattern"), Symptom(name="varies-with-channel"), NOT(Symptom(name="changes-when-tapped"))
    )
    def a_pattern_on_one_channel_clears_the_contacts(self) -> None:
        """The contacts of the tuner are hardly to blame.

        They lose a channel; they do not draw a pattern over it.
        Source: common practice.
        """
        self.declare(Finding(stage="tuner", direction="against", strength="weak"))

    @Rule(Symptom(name="picture-weaves"), Symptom(name="hum-bar-one"), Symptom(name="sound-good"))
    def hum_that_is_seen_and_not_heard_clears_the_feeds(self) -> None:
        """The filter and feeds of the B+ are hardly to blame.

        Bar and weave are seen, and the sound that shares the B+ is clean.
        Source: common practice.
        """
        self.declare(Finding(stage="rail-decoupling", direction="against", strength="moderate"))

    @Rule(
        Symptom(name="blank-raster-no-snow"),
        Trait(name="modulation", value="positive"),
        NOT(Trait(name="source-proved", value="proved")),
    )
    def an_empty_raster_may_lack_its_signal_with_positive_modulation(self) -> None:
        """The source or its lead may give nothing.

        With positive modulation a missing signal leaves the screen dark and nearly still, with weak snow.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="strong"))
