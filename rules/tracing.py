# SPDX-License-Identifier: MIT
"""Signal tracing: good in and bad out incriminates, good out clears, two dead stages blame their rail.

Inside a loop in and out have no meaning; there tracing waits until the loop is opened.
"""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
    NOT,
    OR,
    TEST,
    Fed,
    Finding,
    Member,
    Rule,
    RuleBook,
    Traced,
    Trait,
)

__all__ = ["TracingRules"]

_BAD_OUT = OR(
    Traced(stage=MATCH.stage, port="out", state="absent"), Traced(stage=MATCH.stage, port="out", state="weak")
)


class TracingRules(RuleBook):
    """Follow the signal from stage to stage."""

    @Rule(
        Traced(stage=MATCH.stage, port="in", state="good"),
        Traced(stage=MATCH.stage, port="supply", state="good"),
        _BAD_OUT,
        NOT(Member(group="loop-agc", stage=MATCH.stage)),
        NOT(Member(group="loop-afc", stage=MATCH.stage)),
        NOT(Member(group="loop-boost", stage=MATCH.stage)),
    )
    def good_in_bad_out_incriminates(self, stage: str) -> None:
        """The signal is lost in the {stage}.

        It goes in good, the supply is good, and it does not come out.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="conclusive"))

    @Rule(
        Traced(stage=MATCH.stage, port="in", state="good"),
        Traced(stage=MATCH.stage, port="supply", state="good"),
        _BAD_OUT,
        Member(group="loop-agc", stage=MATCH.stage),
        Trait(name="loop-agc-opened", value="yes"),
    )
    def good_in_bad_out_incriminates_in_an_opened_loop(self, stage: str) -> None:
        """With the AGC clamped, the signal is lost in the {stage}.

        It goes in good, the supply is good, and it does not come out; the loop no longer hides it.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="conclusive"))

    @Rule(
        Traced(stage=MATCH.stage, port="out", state="good"),
        NOT(Member(group="loop-afc", stage=MATCH.stage)),
        NOT(Member(group="loop-boost", stage=MATCH.stage)),
    )
    def good_out_clears_the_stage(self, stage: str) -> None:
        """The {stage} does its work.

        What should come out of it comes out.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Traced(stage="sync-separator", port="out", state="good"),
        Member(group="ahead-of-sync-separator", stage=MATCH.stage),
    )
    def good_sync_out_clears_what_lies_ahead(self, stage: str) -> None:
        """The {stage} passes the sync whole.

        Good sync comes out of the separator, which lies behind it.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="strong"))

    @Rule(
        Traced(stage=MATCH.stage, port="in", state="absent"),
        Traced(stage=MATCH.stage, port="supply", state="good"),
    )
    def nothing_in_clears_the_stage(self, stage: str) -> None:
        """Nothing goes into the {stage}, so nothing can come out.

        The fault lies ahead of it.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="against", strength="moderate"))

    @Rule(
        Traced(stage=MATCH.stage, port="supply", state="absent"),
        Fed(stage=MATCH.stage, rail=MATCH.rail, maker=MATCH.maker),
        Fed(stage=MATCH.other, rail=MATCH.rail),
        Traced(stage=MATCH.other, port="supply", state="absent"),
        TEST(lambda stage, other: stage < other),
    )
    def two_dead_stages_on_one_rail_blame_the_rail(self, maker: str) -> None:
        """Two stages on one rail have no supply: the {stage} that makes the rail is suspected.

        One cause is likelier than two.
        Source: common practice.
        """
        self.declare(Finding(stage=maker, direction="for", strength="strong"))
