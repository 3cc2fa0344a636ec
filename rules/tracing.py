# SPDX-License-Identifier: MIT
"""Signal tracing: what is good at one place clears all before it, what is bad at another was lost on the way.

Good in and bad out incriminates, and two dead stages blame their rail.  Inside a loop what is bad in one place
may be made in any other; there the stage itself is blamed only when the loop is opened.
"""

from __future__ import annotations

from backporch.engine.facts import (
    MATCH,
    NOT,
    OR,
    TEST,
    Fed,
    Finding,
    Looped,
    Member,
    Passed,
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
        Traced(stage=MATCH.stage, port=MATCH.port, state="good"),
        Passed(first=MATCH.first, stage=MATCH.stage, port=MATCH.port),
        NOT(Member(group="loop-afc", stage=MATCH.stage)),
    )
    def good_further_on_clears_what_was_passed(self, first: str) -> None:
        """The {stage} does its work.

        What comes through it is good further on.
        Source: common practice.
        """
        self.declare(Finding(stage=first, direction="against", strength="strong"))

    @Rule(
        OR(
            Traced(stage=MATCH.stage, port=MATCH.port, state="absent"),
            Traced(stage=MATCH.stage, port=MATCH.port, state="weak"),
        ),
        Passed(first=MATCH.first, stage=MATCH.stage, port=MATCH.port),
    )
    def bad_further_on_may_be_lost_before(self, first: str) -> None:
        """The signal may be lost in the {stage}.

        What comes through it is weak or missing further on.
        Source: common practice.
        """
        self.declare(Finding(stage=first, direction="for", strength="moderate"))

    @Rule(_BAD_OUT)
    def bad_out_may_be_lost_in_the_stage(self, stage: str) -> None:
        """The signal may be lost in the {stage}.

        What should come out of it is weak or missing; whether it goes in well is not known yet.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="moderate"))

    @Rule(
        _BAD_OUT,
        NOT(Traced(stage=MATCH.stage, port="supply", state="good")),
        Fed(stage=MATCH.stage, maker=MATCH.maker),
    )
    def bad_out_may_be_a_missing_supply(self, maker: str) -> None:
        """A stage may lack its supply: the {stage} is suspected a little.

        What should come out of that stage is weak or missing, and its supply was not measured.
        Source: common practice.
        """
        self.declare(Finding(stage=maker, direction="for", strength="weak"))

    @Rule(
        _BAD_OUT,
        Looped(stage=MATCH.stage, other=MATCH.other),
    )
    def bad_out_in_a_loop_may_be_made_anywhere_in_it(self, other: str) -> None:
        """The signal may be lost in the {stage}.

        It forms a loop with a stage whose output is weak or missing, and a fault runs round a loop.
        Source: common practice.
        """
        self.declare(Finding(stage=other, direction="for", strength="moderate"))

    @Rule(
        Traced(stage=MATCH.good, port="out", state="good"),
        _BAD_OUT,
        Passed(first=MATCH.good, stage=MATCH.stage, port="out"),
    )
    def good_before_and_bad_out_is_lost_up_to_here(self, stage: str) -> None:
        """The signal is lost not later than in the {stage}.

        Further ahead it is still good, and here it comes out weak or not at all.
        Source: common practice.
        """
        self.declare(Finding(stage=stage, direction="for", strength="strong"))

    @Rule(
        Traced(stage=MATCH.good, port="out", state="good"),
        _BAD_OUT,
        Passed(first=MATCH.between, stage=MATCH.stage, port="out"),
        Passed(first=MATCH.good, stage=MATCH.stage, port="out"),
        NOT(Passed(first=MATCH.between, stage=MATCH.good, port="out")),
        TEST(lambda good, between: good != between),
    )
    def good_before_and_bad_behind_is_lost_between(self, between: str) -> None:
        """The signal may be lost in the {stage}.

        It is good further ahead, and weak or missing behind this stage.
        Source: common practice.
        """
        self.declare(Finding(stage=between, direction="for", strength="strong"))

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
