# SPDX-License-Identifier: MIT
"""The source, its lead and the controls as suspects."""

from __future__ import annotations

from backporch.engine.facts import (
    Answer,
    Condition,
    Finding,
    Rule,
    RuleBook,
    Trait,
)

__all__ = ["SourceRules"]


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
