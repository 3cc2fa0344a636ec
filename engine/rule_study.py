# SPDX-License-Identifier: MIT
"""What each rule is good for: an example in which it fires, and what changes when it is taken away.

For tests and studies; the diagnosis itself does not need it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

from backporch.engine import facts as vocabulary
from backporch.engine.deduction import Deduction, Statement, statement
from backporch.engine.facts import Condition, Fact, Member, RuleBook, Trait
from backporch.engine.inference import Conclusion, Inference
from backporch.engine.rulebook import ANY, RuleShape

__all__ = ["Example", "example_of", "fires", "left_without", "ways_to_fire", "without_rule"]

_MOST_WAYS = 400
_STAGES = ("sync-separator", "vertical-output", "if-amplifier", "tuner")
"""Stages tried where a rule leaves the stage open."""


@dataclass(frozen=True)
class Example:
    """Facts under which a rule fires, and the same with one of them left out."""

    facts: tuple[Fact, ...]
    near_miss: tuple[Fact, ...]


def ways_to_fire(shape: RuleShape, shapes: Sequence[RuleShape], depth: int = 0) -> list[frozenset[Statement]]:
    """Return sets of observations and circumstances that make a rule fire, conditions traced back; few first."""
    ways: set[frozenset[Statement]] = {frozenset()}
    for clause in shape.clauses:
        if clause.negated:
            continue
        options: set[frozenset[Statement]] = set()
        for pattern in clause.one_of:
            if pattern.kind != Condition.__name__:
                options.add(frozenset({pattern}))
            elif depth < 8:
                makers = (s for s in shapes if s.concludes == pattern)
                options |= {way for maker in makers for way in ways_to_fire(maker, shapes, depth + 1)}
        joined = {way | option for way, option in product(ways, options)}
        ways = set(sorted(joined, key=lambda w: (len(w), sorted(w)))[:_MOST_WAYS])
    return sorted(ways, key=lambda w: (len(w), sorted(w)))


def example_of(
    shape: RuleShape, shapes: Sequence[RuleShape], inference: Inference, circumstances: Sequence[Fact]
) -> Example | None:
    """Return facts under which a rule fires, with a near miss, or None where none is found.

    Args:
        shape: the rule.
        shapes: all rules, to trace conditions back.
        inference: the rule base, ready to run.
        circumstances: what a chassis says; traits that the rule asks for take the place of its own.
    """
    for way in ways_to_fire(shape, shapes):
        for stage in _STAGES:
            wanted = [_fact(s, stage) for s in sorted(way)]
            base = _with_traits(circumstances, wanted)
            seen = [f for f in wanted if type(f) in vocabulary.OBSERVATIONS]
            loose = [f for f in wanted if isinstance(f, Trait)]
            if not fires(shape.name, inference.run([*base, *loose, *seen])):
                if ANY in {v for s in way for _, v in s.fields}:
                    continue
                break
            for left_out in (*seen, *loose):
                miss = (*base, *(f for f in (*loose, *seen) if f is not left_out))
                if not fires(shape.name, inference.run(miss)):
                    return Example((*base, *loose, *seen), miss)
            break
    return None


def fires(name: str, conclusion: Conclusion) -> bool:
    """Tell whether a rule fired."""
    return any(deduction.rule == name for deduction in conclusion.deductions)


def without_rule(books: Sequence[type[RuleBook]], name: str) -> tuple[type[RuleBook], ...]:
    """Return the books with one rule left out."""
    return tuple(
        type(book.__name__, (RuleBook,), {k: v for k, v in vars(book).items() if k not in (name, "__dict__")})
        for book in books
    )


def left_without(conclusion: Conclusion, name: str) -> Conclusion:
    """Return what stands without a rule or row, what rests on nothing else gone as well.

    What a rule that denies a condition would then conclude is left out of account.
    """
    kept = [d for d in conclusion.deductions if d.rule != name]
    derived = {d.concluded for d in conclusion.deductions}
    known: set[Statement] = set()
    standing: set[Deduction] = set()
    grown = True
    while grown:
        grown = False
        for deduction in kept:
            if deduction not in standing and all(s in known or s not in derived for s in deduction.because):
                standing.add(deduction)
                known.add(deduction.concluded)
                grown = True
    return conclusion.only(standing)


def _fact(pattern: Statement, stage: str) -> Fact:
    fields = {name: stage if value == ANY else value for name, value in pattern.fields}
    made: Any = getattr(vocabulary, pattern.kind)
    return made(**fields)  # type: ignore[no-any-return]


def _with_traits(circumstances: Iterable[Fact], wanted: Sequence[Fact]) -> list[Fact]:
    """Return the circumstances with the traits taken out that the wanted facts give another value."""
    names = {f["name"] for f in wanted if isinstance(f, Trait)}
    extra = [f for f in wanted if isinstance(f, Member) and f["stage"] != ""]
    known = {statement(f) for f in circumstances}
    kept = [f for f in circumstances if not (isinstance(f, Trait) and f["name"] in names)]
    return kept + [f for f in extra if statement(f) not in known and f["group"].startswith("loop-")]
