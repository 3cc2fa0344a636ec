# SPDX-License-Identifier: MIT
"""The vocabulary of the rules, and all that a rule file needs to import."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backporch.engine.facts.gateway import AND, MATCH, NOT, OR, TEST, Fact, KnowledgeEngine, Rule
from backporch.engine.facts.vocabulary import (
    CIRCUMSTANCES,
    DERIVED,
    DIRECTIONS,
    OBSERVATIONS,
    STRENGTHS,
    Answer,
    Condition,
    Fed,
    Finding,
    Looped,
    Member,
    Passed,
    Symptom,
    Traced,
    Trait,
)

__all__ = [
    "AND",
    "CIRCUMSTANCES",
    "DERIVED",
    "DIRECTIONS",
    "FALLBACK",
    "MATCH",
    "NOT",
    "OBSERVATIONS",
    "OR",
    "STRENGTHS",
    "TEST",
    "Answer",
    "Condition",
    "Fact",
    "Fed",
    "Finding",
    "KnowledgeEngine",
    "Looped",
    "Member",
    "Passed",
    "Rule",
    "RuleBook",
    "Symptom",
    "Traced",
    "Trait",
]

FALLBACK = -10
"""The salience of a rule with NOT over a derived fact: it waits until all that derives has derived."""


class RuleBook:
    """Base of the classes that hold rules, one for each section of the receiver."""

    if TYPE_CHECKING:

        def declare(self, *facts: Fact) -> object:
            """Derive facts."""
