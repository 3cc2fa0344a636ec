# SPDX-License-Identifier: MIT
"""Runs a rule base on facts and keeps, as data, why each thing was concluded.

The engine is built once for a rule base; every run starts from an empty working memory with all
the evidence declared at once, so nothing ever has to be withdrawn and the order in which answers
came cannot matter.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from backporch.engine.deduction import Deduction, Statement, statement
from backporch.engine.errors import BackporchError
from backporch.engine.facts import (
    CIRCUMSTANCES,
    OBSERVATIONS,
    Condition,
    Fact,
    Finding,
    KnowledgeEngine,
    RuleBook,
)
from backporch.engine.usual import UsualSuspect, look_up

__all__ = ["Conclusion", "Deduction", "Inference", "Statement", "statement"]

_MOST_FIRINGS = 5000


@dataclass(frozen=True)
class Conclusion:
    """All that one run of the rule base concluded."""

    deductions: tuple[Deduction, ...]
    """Sorted, so that two runs on the same facts give the same trace."""
    _by_statement: dict[Statement, list[Deduction]] = field(repr=False, compare=False)
    _observed: frozenset[Statement] = field(repr=False, compare=False)

    @property
    def findings(self) -> tuple[Deduction, ...]:
        """The deductions that speak for or against a stage."""
        return tuple(d for d in self.deductions if d.concluded.kind == Finding.__name__)

    @property
    def conditions(self) -> tuple[str, ...]:
        """The names of the conditions that hold."""
        return tuple(
            sorted({d.concluded.get("name") for d in self.deductions if d.concluded.kind == Condition.__name__})
        )

    def only(self, deductions: Iterable[Deduction]) -> Conclusion:
        """Return the same conclusion with these deductions alone."""
        kept = tuple(sorted(deductions))
        return Conclusion(kept, _by_statement(kept), self._observed)

    def support(self, deduction: Deduction) -> frozenset[Statement]:
        """Return the observations that a deduction rests on, by the way that needs the fewest."""
        return self._support(deduction, frozenset())

    def _support(self, deduction: Deduction, path: frozenset[Statement]) -> frozenset[Statement]:
        found: frozenset[Statement] = frozenset()
        for statement_ in deduction.because:
            if statement_ in self._observed:
                found |= {statement_}
            elif statement_ not in path:
                ways = [self._support(way, path | {statement_}) for way in self._by_statement.get(statement_, [])]
                if ways:
                    found |= min(ways, key=lambda way: (len(way), sorted(way)))
        return found

    def chain(self, deduction: Deduction, most: int = 6) -> tuple[Deduction, ...]:
        """Return the deductions that lead to ``deduction``, newest first, at most ``most`` of them."""
        lines: list[Deduction] = []
        queue, seen = [deduction], {deduction.concluded}
        while queue and len(lines) < most:
            step = queue.pop(0)
            lines.append(step)
            for statement_ in step.because:
                ways = self._by_statement.get(statement_, [])
                if ways and statement_ not in seen:
                    seen.add(statement_)
                    queue.append(min(ways, key=lambda way: (len(self.support(way)), way)))
        return tuple(lines)


def _by_statement(deductions: Iterable[Deduction]) -> dict[Statement, list[Deduction]]:
    found: dict[Statement, list[Deduction]] = {}
    for deduction in deductions:
        found.setdefault(deduction.concluded, []).append(deduction)
    return found


class Inference:
    """A rule base ready to run."""

    def __init__(self, books: Sequence[type[RuleBook]], usual: Mapping[str, UsualSuspect] | None = None) -> None:
        """Build the network of all rules in ``books``.

        Args:
            books: the rules.
            usual: the usual suspects of single signs, by name.
        Raises:
            BackporchError: a rule has no docstring (as under ``python -OO``), so nothing could be explained.
        """
        engine_class: Any = type("RuleBase", (*books, _Recorder), {})
        self._engine: _Recorder = engine_class()
        self._patterns: dict[str, set[tuple[tuple[str, str], ...]]] = {}
        for rule in self._engine.get_rules():
            for kind, fixed in _patterns(rule):
                self._patterns.setdefault(kind, set()).add(tuple(sorted(fixed.items())))
        self._usual = dict(usual or {})
        self._docs = {rule.__name__: _split(rule.__name__, rule.__doc__) for rule in self._engine.get_rules()}

    @property
    def rules(self) -> dict[str, tuple[str, str, str]]:
        """Name of each rule with its claim, its reason and its source."""
        return dict(self._docs)

    def _is_read(self, fact: Fact) -> bool:
        """Tell whether some rule could match ``fact``; most circumstances of a chassis are read by none."""
        known = self._patterns.get(type(fact).__name__, ())
        return any(all(fact.get(name) == value for name, value in fixed) for fixed in known)

    def run(self, facts: Iterable[Fact]) -> Conclusion:
        """Chain forward from ``facts`` until nothing new follows."""
        evidence = sorted(facts, key=statement)
        for fact in evidence:
            if not isinstance(fact, (*OBSERVATIONS, *CIRCUMSTANCES)):
                raise TypeError(f"{type(fact).__name__} is derived by rules and cannot be given as evidence")
        self._engine.reset()
        self._engine.fired.clear()
        self._engine.declare(*(fact for fact in evidence if self._is_read(fact)))
        self._engine.run()
        fired = {
            Deduction(concluded, rule, *self._docs[rule], because)
            for rule, because, concluded in self._engine.fired
        }
        known = {statement(fact) for fact in evidence} | {deduction.concluded for deduction in fired}
        deductions = sorted(fired | set(look_up(self._usual, known)))
        observed = frozenset(statement(fact) for fact in evidence if isinstance(fact, OBSERVATIONS))
        return Conclusion(tuple(deductions), _by_statement(deductions), observed)


def _patterns(condition: Any) -> Iterable[tuple[str, dict[str, str]]]:
    """Give each pattern of a rule as the kind of fact and the fields that it fixes."""
    if isinstance(condition, Fact):
        fixed = {str(k): v for k, v in condition.items() if isinstance(v, str) and not str(k).startswith("__")}
        yield type(condition).__name__, fixed
    elif isinstance(condition, Iterable) and not isinstance(condition, str):
        for part in condition:
            yield from _patterns(part)


class _Recorder(KnowledgeEngine):
    """The engine, with a note of which rule declared what and from which facts."""

    def __init__(self) -> None:
        super().__init__()
        self.fired: list[tuple[str, tuple[Statement, ...], Statement]] = []
        self._firing: Any = None

    def declare(self, *facts: Fact) -> Any:
        if self._firing is not None:
            because = tuple(sorted(statement(f) for f in self._firing.facts if type(f).__name__ != "InitialFact"))
            for fact in facts:
                fact.validate()
                self.fired.append((self._firing.rule.__name__, because, statement(fact)))
        return super().declare(*facts)

    def run(self, steps: float = _MOST_FIRINGS) -> None:
        self.running = True
        while self.running:
            added, removed = self.get_activations()
            self.strategy.update_agenda(self.agenda, added, removed)
            activation = self.agenda.get_next()
            if activation is None:
                break
            if steps <= 0:
                raise BackporchError(
                    f"The rule base does not come to an end; last rule {activation.rule.__name__}."
                )
            steps -= 1
            self._firing = activation
            try:
                activation.rule(self, **{k: v for k, v in activation.context.items() if not k.startswith("__")})
            finally:
                self._firing = None
        self.running = False


def _split(name: str, doc: str | None) -> tuple[str, str, str]:
    """Split a rule's docstring into claim, reason and source."""
    text = inspect.cleandoc(doc or "")
    if not text:
        raise BackporchError(
            f"The rule {name} has no docstring, so it cannot explain itself (do not run python with -OO)."
        )
    body, _, source = text.partition("Source:")
    claim, _, reason = body.strip().partition("\n\n")
    return " ".join(claim.split()), " ".join(reason.split()), " ".join(source.split()).rstrip(".")
