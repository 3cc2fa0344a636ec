# SPDX-License-Identifier: MIT
"""Facts and conclusions as plain data, as a trace keeps them."""

from __future__ import annotations

from dataclasses import dataclass

from backporch.engine.facts import Fact

__all__ = ["Deduction", "Statement", "statement"]


@dataclass(frozen=True, order=True)
class Statement:
    """A fact as plain data: its kind and its fields, sorted by name."""

    kind: str
    fields: tuple[tuple[str, str], ...]

    def get(self, name: str) -> str:
        """Return the field called ``name``."""
        return dict(self.fields)[name]

    def __str__(self) -> str:
        return f"{self.kind}({', '.join(f'{name}={value}' for name, value in self.fields)})"


@dataclass(frozen=True, order=True)
class Deduction:
    """One firing of a rule, or one row of the usual suspects: what it concluded, and from which statements."""

    concluded: Statement
    rule: str
    claim: str
    reason: str
    source: str
    because: tuple[Statement, ...]
    usual: bool = False
    """Whether it comes from the table of usual suspects and not from a rule."""


def statement(fact: Fact) -> Statement:
    """Return a fact as plain data."""
    return Statement(type(fact).__name__, tuple(sorted((str(k), str(v)) for k, v in fact.as_dict().items())))
