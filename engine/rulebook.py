# SPDX-License-Identifier: MIT
"""The rule base as plain data: what each rule reads and what it concludes.

For tests, for the coverage map and for studies that take rules away; the diagnosis itself does not need it.
"""

from __future__ import annotations

import inspect
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from backporch.engine.deduction import Statement, statement
from backporch.engine.facts import Condition, Fact, RuleBook, Trait
from backporch.engine.usual import UsualSuspect

__all__ = ["ANY", "Clause", "RuleShape", "literals_apart", "reached_stages", "rule_shapes"]

ANY = "*"
"""Stands for a field that a rule leaves open."""


@dataclass(frozen=True, order=True)
class Clause:
    """One thing that must hold (or must not): a fact, or one of several facts."""

    one_of: tuple[Statement, ...]
    negated: bool = False


@dataclass(frozen=True)
class RuleShape:
    """A rule as data."""

    name: str
    book: str
    clauses: tuple[Clause, ...]
    concludes: Statement
    salience: int

    def reads(self, kind: type[Fact], name: str) -> bool:
        """Tell whether the rule asks for a fact of a kind with this name."""
        return any(
            s.kind == kind.__name__ and dict(s.fields).get("name") == name for c in self.clauses for s in c.one_of
        )

    @property
    def standards(self) -> str:
        """What scanning standards the rule holds for: all, or those that it asks for.

        Example:
            >>> from backporch.engine.deduction import Statement
            >>> told = Statement("Condition", (("name", "no-light"),))
            >>> RuleShape("dark", "LightRules", (), told, 0).standards
            'all'
        """
        asked = [
            f"{'not ' if c.negated else ''}{s.get('value')}"
            for c in self.clauses
            for s in c.one_of
            if s.kind == Trait.__name__ and s.get("name") in ("standard", "modulation")
        ]
        return ", ".join(asked) or "all"

    @property
    def needs(self) -> frozenset[str]:
        """The conditions that it reads, denied ones too."""
        found = (s for c in self.clauses for s in c.one_of if s.kind == Condition.__name__)
        return frozenset(s.get("name") for s in found)


def rule_shapes(books: Sequence[type[RuleBook]]) -> tuple[RuleShape, ...]:
    """Return every rule of ``books`` as data, in the order in which they are written."""
    return tuple(
        _shape(book.__name__, name, rule)
        for book in books
        for name, rule in vars(book).items()
        if hasattr(rule, "salience")
    )


def _shape(book: str, name: str, rule: Any) -> RuleShape:
    told: list[Fact] = []

    class Listener:
        def declare(self, *facts: Fact) -> None:
            told.extend(facts)

    body = rule.__wrapped__
    names = list(inspect.signature(body).parameters)[1:]
    body(Listener(), **dict.fromkeys(names, ANY))
    return RuleShape(name, book, tuple(_clauses(rule)), statement(told[0]), int(rule.salience))


def _clauses(condition: Any, negated: bool = False) -> Iterator[Clause]:
    kind = type(condition).__name__
    if isinstance(condition, Fact):
        yield Clause((_fixed(condition),), negated)
    elif kind == "OR":
        yield Clause(tuple(sorted(s for part in condition for c in _clauses(part) for s in c.one_of)), negated)
    elif isinstance(condition, Iterable) and not isinstance(condition, str) and kind != "TEST":
        for part in condition:
            yield from _clauses(part, negated or kind == "NOT")


def _fixed(pattern: Fact) -> Statement:
    fields = (
        (str(k), v if isinstance(v, str) else ANY) for k, v in pattern.items() if not str(k).startswith("__")
    )
    return Statement(type(pattern).__name__, tuple(sorted(fields)))


def literals_apart(one: RuleShape, other: RuleShape) -> int | None:
    """Return in how many words two rules of the same build differ, or None where they are built differently."""
    mine, its = Counter(one.clauses), Counter(other.clauses)
    left, right = sorted((mine - its).elements()), sorted((its - mine).elements())
    if len(left) != len(right) or len(left) > 1:
        return None
    count = _apart(one.concludes, other.concludes)
    for a, b in zip(left, right, strict=True):
        if a.negated != b.negated or len(a.one_of) != 1 or len(b.one_of) != 1:
            return None
        apart = _apart(a.one_of[0], b.one_of[0])
        count = None if count is None or apart is None else count + apart
    return count


def _apart(one: Statement, other: Statement) -> int | None:
    if one.kind != other.kind or [k for k, _ in one.fields] != [k for k, _ in other.fields]:
        return None
    return sum(a != b for a, b in zip(one.fields, other.fields, strict=True))


def reached_stages(
    shapes: Iterable[RuleShape], usual: Mapping[str, UsualSuspect], groups: Mapping[str, Sequence[str]]
) -> dict[str, dict[str, set[str]]]:
    """Return for each sign the stages that it can speak for or against, through any number of steps.

    Args:
        shapes: the rules.
        usual: the usual suspects.
        groups: the stages of each group.
    Returns:
        By sign (a symptom, a condition, or ``measurement=outcome``) the stages, each with its directions.
    """
    direct: dict[str, dict[str, set[str]]] = {}
    leads: dict[str, set[str]] = {}
    for shape in shapes:
        signs = {_sign(s) for c in shape.clauses if not c.negated for s in c.one_of} - {""}
        for sign in signs:
            if shape.concludes.kind == Condition.__name__:
                leads.setdefault(sign, set()).add(shape.concludes.get("name"))
            else:
                for stage in _stages_of(shape, groups):
                    found = direct.setdefault(sign, {}).setdefault(stage, set())
                    found.add(shape.concludes.get("direction"))
    for row in usual.values():
        for stage in [row.stage] if row.stage else groups.get(row.group or "", ()):
            direct.setdefault(row.sign, {}).setdefault(stage, set()).add(row.direction)
    return {sign: _through(sign, direct, leads) for sign in sorted(set(direct) | set(leads))}


def _through(
    sign: str, direct: Mapping[str, Mapping[str, set[str]]], leads: Mapping[str, set[str]]
) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    queue, seen = [sign], {sign}
    while queue:
        at = queue.pop()
        for stage, directions in direct.get(at, {}).items():
            found.setdefault(stage, set()).update(directions)
        fresh = leads.get(at, set()) - seen
        seen |= fresh
        queue += sorted(fresh)
    return found


def _sign(pattern: Statement) -> str:
    fields = dict(pattern.fields)
    if pattern.kind in ("Symptom", "Condition"):
        return fields["name"]
    return f"{fields['measurement']}={fields['outcome']}" if pattern.kind == "Answer" else ""


def _stages_of(shape: RuleShape, groups: Mapping[str, Sequence[str]]) -> Sequence[str]:
    stage = shape.concludes.get("stage")
    if stage != ANY:
        return [stage]
    named = [s.get("group") for c in shape.clauses if not c.negated for s in c.one_of if s.kind == "Member"]
    return [stage for group in named for stage in groups.get(group, ())]
