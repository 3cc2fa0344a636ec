# SPDX-License-Identifier: MIT
"""The source, its lead and the controls as suspects."""

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
    Trait,
)

__all__ = ["ShortRules", "SourceRules"]


class SourceRules(RuleBook):
    """What feeds the set may be the fault."""

    @Rule(Trait(name="source-proved", value="proved"))
    def a_proved_source_is_cleared(self) -> None:
        """The source and its lead are good.

        They gave a good picture on another set today.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="against", strength="strong"))

    @Rule(Condition(name="both-axes-lost"), Trait(name="source", value="player"))
    def a_player_may_spoil_the_sync(self) -> None:
        """A player may give sync that this set cannot use.

        Copy protection and odd field rates upset old separators.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="moderate"))

    @Rule(Condition(name="vertical-alone-lost"), Trait(name="source", value="generator"))
    def a_generator_may_lack_equalizing_pulses(self) -> None:
        """A generator may give simplified field sync.

        Some have no equalizing pulses or no interlace.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="weak"))

    @Rule(Answer(measurement="exchange-the-source", outcome="cured"))
    def another_source_cures_it(self) -> None:
        """The first source or its lead is the fault.

        With another one the set is well.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="for", strength="conclusive"))

    @Rule(Answer(measurement="exchange-the-source", outcome="same"))
    def another_source_changes_nothing(self) -> None:
        """The source is not the fault.

        Another one shows the same.
        Source: common practice.
        """
        self.declare(Finding(stage="signal-source", direction="against", strength="strong"))


class ShortRules(RuleBook):
    """A short on the B+, followed feed by feed with the plug out."""

    @Rule(Answer(measurement="lift-the-feeds", outcome="tuner"), Member(group="on-rail-tuner", stage=MATCH.stage))
    def a_short_that_goes_with_the_tuner_feed(self, stage: str) -> None:
        """The short lies behind the feed of the tuner: the {stage} is suspected.

        It goes when that feed is lifted.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="conclusive"))

    @Rule(
        OR(
            Answer(measurement="lift-the-feeds", outcome="tuner"),
            Answer(measurement="lift-the-feeds", outcome="video"),
            Answer(measurement="lift-the-feeds", outcome="sync"),
            Answer(measurement="lift-the-feeds", outcome="horizontal"),
            Answer(measurement="lift-the-feeds", outcome="vertical"),
        )
    )
    def a_short_behind_one_feed(self) -> None:
        """The short lies behind one of the B+ feeds.

        It goes when that feed is lifted.
        Source: common practice.
        """
        self.declare(Condition(name="short-behind-a-feed"))

    @Rule(Answer(measurement="lift-the-feeds", outcome="stays"), Member(group="signal", stage=MATCH.stage))
    def a_short_that_stays_clears_what_is_fed(self, stage: str) -> None:
        """The {stage} is not shorted.

        The short stays with its feed lifted.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(Answer(measurement="lift-the-feeds", outcome="stays"))
    def a_short_that_stays_is_at_the_main_line(self) -> None:
        """The short lies at the main B+ line itself.

        It stays with every feed lifted: the filter capacitors and the rectifier are left.
        Source: common practice.
        """
        self.declare(Finding(stage="low-voltage-supply", direction="for", strength="strong"))

    @Rule(Answer(measurement="lift-the-feeds", outcome="no-short"), Condition(name="mains-overloaded"))
    def no_short_when_cold_points_to_the_line_output(self) -> None:
        """Nothing is shorted when cold: the load comes with the warm tubes, and the line output is suspected.

        Without drive it takes far more than all the rest.
        Source: common practice.
        """
        self.declare(Finding(stage="horizontal-output", direction="for", strength="strong"))
