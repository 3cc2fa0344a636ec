# SPDX-License-Identifier: MIT
"""The nouns that rules reason with.

Observations (:class:`Symptom`, :class:`Answer`, :class:`Traced`) come from the person at the bench.
Circumstances (:class:`Trait`, :class:`Passed`, :class:`Looped`, :class:`Fed`, :class:`Member`) come from the
chassis, the bench and the session.  :class:`Condition` and :class:`Finding` are derived by rules and by
nothing else.
"""

from __future__ import annotations

from backporch.engine.facts.gateway import Fact, Field

__all__ = [
    "CIRCUMSTANCES",
    "DERIVED",
    "DIRECTIONS",
    "OBSERVATIONS",
    "STRENGTHS",
    "Answer",
    "Condition",
    "Fed",
    "Finding",
    "Looped",
    "Member",
    "Passed",
    "Symptom",
    "Traced",
    "Trait",
]

STRENGTHS = ("weak", "moderate", "strong", "conclusive")
"""The words for how much a finding weighs; their likelihood ratios stand in kb/strengths.yaml."""

DIRECTIONS = ("for", "against")
"""Whether a finding speaks for a stage being faulty or against it."""


class Symptom(Fact):
    """Something seen, heard or smelt without any test: a key of kb/symptoms."""

    name = Field(str, mandatory=True)


class Answer(Fact):
    """The outcome of a look, a control or another test with named outcomes: keys of kb/measurements."""

    measurement = Field(str, mandatory=True)
    outcome = Field(str, mandatory=True)


class Traced(Fact):
    """What a signal tracer, scope or meter says of one port of one stage.

    ``port`` is "in", "out" or "supply"; ``state`` is "good", "weak" or "absent".
    """

    stage = Field(str, mandatory=True)
    port = Field(str, mandatory=True)
    state = Field(str, mandatory=True)


class Trait(Fact):
    """A circumstance of the chassis, the bench or the session, for example sound_takeoff: after_video."""

    name = Field(str, mandatory=True)
    value = Field(str, mandatory=True)


class Passed(Fact):
    """On this chassis the signal passes the stage ``first`` before it comes to the ``port`` of ``stage``.

    ``port`` is "in" or "out".  An oscillator beats by itself: what locks it is passed before its "in",
    and is not passed before its "out" or anything behind it.
    """

    first = Field(str, mandatory=True)
    stage = Field(str, mandatory=True)
    port = Field(str, mandatory=True)


class Looped(Fact):
    """On this chassis a closed loop joins ``stage`` with ``other``, so that a fault of one shows at both."""

    stage = Field(str, mandatory=True)
    other = Field(str, mandatory=True)


class Fed(Fact):
    """On this chassis ``stage`` takes its supply from ``rail``, which the stage ``maker`` makes."""

    stage = Field(str, mandatory=True)
    rail = Field(str, mandatory=True)
    maker = Field(str, mandatory=True)


class Member(Fact):
    """``stage`` belongs to a named ``group``, for example a section or a loop."""

    group = Field(str, mandatory=True)
    stage = Field(str, mandatory=True)


class Condition(Fact):
    """A state of the set that follows from what was seen, for example horizontal-scan-runs."""

    name = Field(str, mandatory=True)


class Finding(Fact):
    """A stage stands more suspected ("for") or less ("against"), with a strength in words."""

    stage = Field(str, mandatory=True)
    direction = Field(str, mandatory=True)
    strength = Field(str, mandatory=True)


OBSERVATIONS = (Symptom, Answer, Traced)
CIRCUMSTANCES = (Trait, Passed, Looped, Fed, Member)
DERIVED = (Condition, Finding)
